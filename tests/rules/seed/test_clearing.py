"""When the results were in that had cleared the parents of a lot's seed."""

from __future__ import annotations

from datetime import date, timedelta

from seasons import COVERED, without

from certgen.rules.seed.clearing import NEVER, list_cleared

FIRST, SECOND, THIRD = (date(2026, 9, day) for day in (1, 2, 3))


def test_the_earliest_results_that_rule_out_every_event_count(seasons, stocked, case_of) -> None:
    """Of leaves cut until the day of the bag: a later leaf says nothing of the flower under it."""

    def cleared(*samples):
        return list_cleared(case_of(stocked(screening=samples)))

    second, third = (seasons.sample(f"S{day.day}", "T1", reported=day) for day in (SECOND, THIRD))
    late = seasons.sample("S1", "T1", reported=FIRST, collected=COVERED + timedelta(1))
    assert {"L1": SECOND} == cleared(third, late, second)
    assert {"L1": THIRD} == cleared(third, {**second, "collected": COVERED + timedelta(1)})
    assert {"L1": NEVER} == cleared(without(third, "reported"))
    assert {} == cleared(late)


def test_a_blend_waits_for_the_last_of_all_that_went_into_it(seasons, stocked, case_of) -> None:
    """Through any number of lots, in whatever order they are written, and round a circle."""
    made = {"L1": {"batch": "X1"}, "L4": {"lot": "L3"}, "L3": {"lot": "L2"}, "L2": {"lot": "L1"}}
    lots = [seasons.lot(name, [{**source, "weight": "1 g"}], 8) for name, source in made.items()]
    lots[-1]["sources"] = (
        *lots[-1]["sources"],
        {"lot": "L4", "weight": "1 g"},
        {"lot": "L9", "weight": "1 g"},
    )
    lots.append(seasons.lot("L9", [{"batch": "X9", "weight": "8 g"}], 8))
    season = stocked(
        trees=[seasons.tree("T1"), seasons.tree("T9")],
        screening=[seasons.sample("S1", "T1", reported=FIRST), seasons.sample("S9", "T9", reported=SECOND)],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B9", "T9")],
        harvests=[seasons.harvest("H1", ["B1"]), seasons.harvest("H9", ["B9"])],
        batches=[seasons.batch("X1", ["H1"]), seasons.batch("X9", ["H9"])],
        lots=lots,
    )
    assert {"L1": FIRST} | dict.fromkeys(("L2", "L3", "L4", "L9"), SECOND) == list_cleared(case_of(season))
