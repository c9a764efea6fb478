"""Nothing of a lot that is held back leaves."""

from __future__ import annotations

from datetime import date

import pytest
from seasons import write_season

from certgen.dossier.seed_for_sale import offer_seed
from certgen.examination import examine

PAPER = "letters/growing-out.txt"


@pytest.fixture
def held(seasons, tmp_path):
    """The result of one line to lot L1, which was held; with a movement of it on a day."""

    def build(when, on=date(2026, 10, 31), kind="sold", papers=True, **incident):
        line = seasons.one_line()
        told = {
            "incident": "E1", "date": "2026-09-01", "kind": "complaint", "about": ["L1"],
            "action": "grown out", "held_from": "2026-09-01", "evidence": PAPER,
        }  # fmt: skip
        sale = {**seasons.sale("M1", "L1", 1), "date": when, "kind": kind}
        if not papers:
            sale = {**seasons.movement("M1", "L1", kind, 1), "date": when, "party": "the seed bench"}
        write_season(tmp_path, **{**line, "movements": [sale], "incidents": [{**told, **incident}]})
        path = tmp_path / "evidence" / PAPER
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("All true to the variety.\n", encoding="utf-8")
        result = examine(tmp_path, on)
        assert () == tuple(result.errors)
        return result

    return build


def messages(result):
    """What the rule says."""
    return [(gap.weight, gap.message) for gap in result.gaps if gap.rule == "sold-while-held"]


@pytest.mark.parametrize(
    ("when", "incident", "rejected"),
    [
        (date(2026, 8, 31), {}, False),
        (date(2026, 9, 1), {}, True),
        (date(2026, 10, 20), {}, True),
        (date(2026, 10, 4), {"released": "2026-10-05"}, True),
        (date(2026, 10, 5), {"released": "2026-10-05"}, False),
        (date(2026, 10, 20), {"released": "2026-10-05", "evidence": "letters/none.txt"}, True),
        (date(2026, 10, 20), {"about": ["X1"]}, True),
        (date(2026, 10, 20), {"about": ["H1"]}, True),
        (date(2026, 10, 20), {"about": ["B1"]}, True),
        (date(2026, 10, 20), {"about": ["T1"]}, True),
        (date(2026, 10, 20), {"about": ["S1"]}, False),
        (date(2026, 10, 20), {"closed": "2026-10-06"}, True),
    ],
)
def test_seed_that_left_during_a_hold_is_rejected(held, when, incident, rejected):
    """From the first day to the day before its release, which a paper has to show; closing lifts nothing."""
    result = held(when, **incident)

    assert ["rejects"] * rejected == [weight for weight, _ in messages(result)]
    assert (1_000 if rejected else 0) == result.lots["L1"].rejected_mg


def test_a_hold_is_told_with_its_days(held):
    """And a release that nothing shows is said to be that."""
    ((_, told),) = messages(held(date(2026, 10, 20), released="2026-10-05", evidence="letters/none.txt"))

    assert (
        "Seed of lot L1 was sold on 20 October 2026, and incident E1 holds the lot from 1 September 2026 on; "
        "that it was released on 5 October 2026 nothing shows."
    ) == told


@pytest.mark.parametrize(("kind", "found"), [("sown", 1), ("sampled", 0), ("discarded", 0)])
def test_what_stays_on_the_farm_may_be_sampled(held, kind, found):
    """Nor is it sown: what is in question doesn't go into the ground."""
    assert found == len(messages(held(date(2026, 9, 14), kind=kind, papers=False)))


@pytest.mark.parametrize("kind", ["transferred", "sampled"])
def test_a_present_leaves_as_a_sale_does(held, kind):
    """Seed that is handed over, or given as a sample with the papers of a dispatch, is in other hands."""
    assert ["rejects"] == [weight for weight, _ in messages(held(date(2026, 9, 14), kind=kind))]


def test_what_is_blended_from_a_held_lot_is_held(seasons, tmp_path):
    """Else the seed would leave by another number."""
    line = seasons.one_line()
    blend = seasons.lot("L2", [{"lot": "L1", "weight": "2 g"}], 2)
    told = {
        "incident": "E1", "date": "2026-09-01", "kind": "complaint", "about": ["L1"],
        "held_from": "2026-09-01",
    }  # fmt: skip
    sale = {**seasons.sale("M1", "L2", 1), "date": date(2026, 9, 20)}
    lots = [*line["lots"], blend]
    write_season(tmp_path, **{**line, "lots": lots, "movements": [sale], "incidents": [told]})

    assert ["rejects"] == [weight for weight, _ in messages(examine(tmp_path, date(2026, 10, 31)))]


@pytest.mark.parametrize(("on", "offered"), [(date(2026, 10, 4), False), (date(2026, 10, 5), True)])
def test_nothing_of_a_held_lot_is_offered(held, on, offered):
    """It is traced, and there; the plan says who holds it."""
    (lot,) = offer_seed(held(date(2026, 8, 31), on=on, released="2026-10-05"))

    assert offered == (lot.seed.offered_mg > 0)
    assert ("" if offered else "incident E1 holds the lot") == lot.why
