"""Faults of recalls, drills and complaints."""

# ruff: noqa: D103 (a fault is named by its rule)
from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from planting import plants

if TYPE_CHECKING:
    from plot import Plot, Record


def _sale(plot: Plot) -> Record:
    """The one delivery of a lot that is in no other."""
    blended = {part.get("lot") for one in plot.all("lots") for part in one.get("sources", ())}
    moves = plot.all("movements")

    def alone(move: Record) -> bool:
        others = [one for one in moves if one["lot"] == move["lot"] and one is not move]
        return (
            move.get("party") is not None
            and move["lot"] not in blended
            and all(one["kind"] not in {"sold", "transferred", "returned", "sown"} for one in others)
            and all(one.get("party") is None for one in others)
        )

    return plot.choose([one for one in plot.out() if alone(one)])


def _call(plot: Plot, lot: str, kind: str = "recall", **more: Any) -> Record:
    """A recall of the season's last day, settled by a paper."""
    return plot.add(
        "recalls", **{
            "kind": kind, "opened": plot.end, "about": [lot], "certifier_notified": plot.end,
            "closed": plot.end, "evidence": plot.add_file("settled.txt"), **more,
        }
    )  # fmt: skip


def _hold(plot: Plot, lot: str) -> Record:
    return plot.add_incident(
        kind="recall", date=plot.end, about=[lot], held_from=plot.end, closed=plot.end,
        certifier_notified=plot.end, evidence=plot.add_file("held.txt"),
    )  # fmt: skip


def _tell(plot: Plot, move: Record, **more: Any) -> Record:
    """The notice about one delivery, answered in full."""
    weight = move["weight"]
    return {
        "party": move["party"], "lot": move["lot"], "weight": weight, "told_on": plot.end,
        "answered_on": plot.end, "sown": weight, **more,
    }  # fmt: skip


def _called(plot: Plot, **notice: Any) -> Record:
    """A recall that is in order but for its one notice."""
    move = _sale(plot)
    _hold(plot, move["lot"])
    told = {key: value for key, value in _tell(plot, move, **notice).items() if value is not None}
    return _call(plot, move["lot"], notices=[told])


@plants
def recall_unresolved(plot: Plot) -> Any:
    tested = {one["lot"] for one in plot.rows("tests") if one["date"] >= plot.end}
    lot = plot.choose([one for one in plot.rows("lots") if one["lot"] not in tested])
    made = plot.add("recalls", kind="complaint", opened=plot.end, about=[lot["lot"]], closed=plot.end)
    return "recalls", made, "evidence"


@plants
def recall_without_hold(plot: Plot) -> Any:
    move = _sale(plot)
    return "recalls", _call(plot, move["lot"], notices=[_tell(plot, move)]), "opened"


@plants
def recall_holder_untold(plot: Plot) -> Any:
    move = _sale(plot)
    _hold(plot, move["lot"])
    return "recalls", _call(plot, move["lot"]), "notices"


@plants
def recall_weight_differs(plot: Plot) -> Any:
    return "recalls", _called(plot, weight="900 g", sown="900 g"), "notices", 0, "weight"


@plants
def recall_party_unsupplied(plot: Plot) -> Any:
    made = _called(plot)
    other = {**made["notices"][0], "party": "Gorsehill Growers"}
    made["notices"].append(other)
    return "recalls", made, "notices", 1, "party"


@plants
def recall_answer_differs(plot: Plot) -> Any:
    sown = plot.random.choice((None, "900 g"))
    return "recalls", _called(plot, sown=sown), "notices", 0, "answered_on"


@plants
def recall_return_unbooked(plot: Plot) -> Any:
    move = _sale(plot)
    _hold(plot, move["lot"])
    told = _tell(plot, move, sent_back=move["weight"])
    del told["sown"]
    return "recalls", _call(plot, move["lot"], notices=[told]), "notices", 0, "sent_back"


@plants
def recall_closed_unanswered(plot: Plot) -> Any:
    return "recalls", _called(plot, answered_on=None, sown=None), "closed"


@plants
def complaint_unanswered(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    early = plot.end - timedelta(days=60)
    plot.need(plot.start < early)
    return "recalls", _call(plot, lot["lot"], kind="complaint", opened=early), "closed"


@plants
def drill_outdated(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    early = plot.start - timedelta(days=400)
    plot.need(not plot.all("recalls"))
    made = _call(plot, lot["lot"], kind="drill", opened=early, closed=early, certifier_notified=early)
    return "recalls", made, "opened"
