"""Suspect seed that has left: to whom how much went on which paper, and the draft of a notice to each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.records.quantities import format_mass
from certgen.rules.wording import day

if TYPE_CHECKING:
    from datetime import date

    from certgen.examination import Result
    from certgen.rules import Gap

SUSPECT: Final = "suspect-seed-left"
NOT_OURS: Final = "What becomes of the seed is not ours to decide."
KEPT_BACK: Final = "What is left of these lots is kept back until you have decided."


@dataclass(frozen=True, slots=True)
class Suspect:
    """One delivery of seed that isn't traced. `number` is the gap's; `why` are the gaps that the lot has."""

    movement: str
    lot: str
    variety: str
    weight_mg: int
    party: str
    document: str
    day: date
    standing: str
    number: int
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Notice:
    """A draft about suspect seed to a party or the certifier, for the operation to look over and sign."""

    party: str
    deliveries: tuple[Suspect, ...]
    lines: tuple[str, ...]


def list_suspect(result: Result) -> tuple[Suspect, ...]:
    """Every delivery of seed that isn't traced, the rejected first, then by day."""
    moves, lots = result.case.columns("movements"), result.case.columns("lots")
    told = ("weight_mg", "party", "document", "date")
    weights, parties, documents, days = (moves.values(name) for name in told)
    varieties = lots.values("variety")
    suspect = []
    reasons: dict[str, tuple[str, ...]] = {}
    for number, gap in enumerate(result.gaps, start=1):
        if gap.rule == SUSPECT and gap.lots:
            row, lot = moves.first("movement")[gap.id], gap.lots[0]
            # A lot may have been sold in thousands of deliveries.
            if lot not in reasons:
                reasons[lot] = tuple(other.message for other in _reasons(result, lot))
            suspect.append(
                Suspect(
                    gap.id,
                    lot,
                    str(varieties[lots.first("lot")[lot]]),
                    int(weights[row]),
                    parties[row] or "",
                    documents[row] or "",
                    days[row],
                    "rejected" if gap.weight == "rejects" else "unproven",
                    number,
                    reasons[lot],
                )
            )
    return tuple(
        sorted(
            suspect, key=lambda delivery: (delivery.standing != "rejected", delivery.day, delivery.movement)
        )
    )


def _reasons(result: Result, lot: str) -> list[Gap]:
    """What makes a lot doubtful, the worst first, without what is said of its deliveries."""
    gaps = [gap for gap in result.gaps_of_lot(lot) if gap.weight != "advice" and gap.rule != SUSPECT]
    return sorted(gaps, key=lambda gap: gap.weight != "rejects")


def draft_notices(result: Result) -> tuple[Notice, ...]:
    """A notice to each party that holds suspect seed, and one to the certifier about all of it."""
    suspect = list_suspect(result)
    parties: dict[str, list[Suspect]] = {}
    for delivery in suspect:
        parties.setdefault(delivery.party, []).append(delivery)
    operation = result.season.details.operation
    notices = [
        Notice(party or "a buyer whom the records don't name", tuple(held), _to_buyer(result, held))
        for party, held in parties.items()
    ]
    if suspect:
        notices.append(
            Notice(operation.certifier or "the certifier", suspect, _to_certifier(result, suspect))
        )
    return tuple(notices)


def _to_buyer(result: Result, held: list[Suspect]) -> tuple[str, ...]:
    lots = "this lot" if len({delivery.lot for delivery in held}) == 1 else "these lots"
    return (
        f"Our records do not bear out what we told you of seed that you had of us. As of {day(result.on)}:",
        *(_say(delivery) for delivery in held),
        f"{ask_to_keep(lots)} We have told our certifier. {NOT_OURS}",
        sign_off(result),
    )


def ask_to_keep(lots: str) -> str:
    """What a holder of seed in doubt is asked to do with "this lot" or "these lots"."""
    return (
        f"Please keep what is left of {lots} apart, sow and sell none of it, and tell us how much you still "
        "have and where the rest went."
    )


def sign_off(result: Result) -> str:
    """Who writes."""
    operation = result.season.details.operation
    return f"{operation.name}{f', {operation.responsible}' if operation.responsible else ''}"


def _to_certifier(result: Result, suspect: tuple[Suspect, ...]) -> tuple[str, ...]:
    operation = result.season.details.operation
    reasons = dict.fromkeys(reason for delivery in suspect for reason in delivery.why)
    return (
        (
            f"Seed that is not traced has left {operation.name} "
            f"({operation.certificate or 'no certificate number in the records'}). As of {day(result.on)}:"
        ),
        *(
            f"{_say(delivery)} To {delivery.party or 'a buyer whom the records don’t name'}."
            for delivery in suspect
        ),
        "What the records say:",
        *reasons,
        KEPT_BACK,
    )


def _say(delivery: Suspect) -> str:
    paper = f", document {delivery.document}" if delivery.document else ", no document"
    return (
        f"{format_mass(delivery.weight_mg)} of lot {delivery.lot} ({delivery.variety}), delivered on "
        f"{day(delivery.day)}{paper}. The lot is {delivery.standing}."
    )
