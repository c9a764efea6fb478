"""Shapes of what is said of many records at once: pools, rounds, letters, sheets, land and machines."""

from __future__ import annotations

from datetime import date, timedelta
from math import isqrt

from bench.shapes.records import LINE, lot, picking, planting, run, sample, tree
from bench.shapes.registry import Records, joined, listed, shape


def rounds_by(
    who: str, count: int, over: str = "B1 to B{1}", since: date | None = None, kind: str = "check"
) -> Records:
    """So many rounds by somebody over as many bags; `over` may name the round's number and the last bag's.

    With `since` each is a day after the one before, otherwise all are in one month.
    """

    def day(number: int) -> date:
        return date(2026, 2, number % 28 + 1) if since is None else since + timedelta(number)

    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0, covered: 2026-02-01" for one in range(1, count)),
            "rounds": (
                f"round: R{one}, kind: {kind}, date: {day(one)}, by: {who}, "
                f"bags: [{over.format(one, count)}], condition: intact"
                for one in range(count)
            ),
        },
    )


@shape
def one_pool_of_all_trees(records: int) -> Records:
    """One sample of all trees, and it is positive."""
    return joined(
        LINE,
        {"trees": map(tree, range(1, records))},
        {
            "screening": [
                sample("SP", f"trees: {listed('T', range(records))}").replace("negative", "positive"),
                sample("SQ", f"trees: {listed('T', range(records))}"),
            ]
        },
    )


@shape
def all_pools_of_all_trees(references: int) -> Records:
    """Very many pools, each of all trees."""
    count = isqrt(references)
    return joined(
        LINE,
        {"trees": map(tree, range(1, count))},
        {
            "screening": (
                sample(f"SP{one}", f"trees: {listed('T', range(count))}").replace(
                    "negative", ("negative", "positive")[one % 2]
                )
                for one in range(count)
            )
        },
    )


@shape
def rounds_over_wide_ranges(records: int) -> Records:
    """Rounds that each walked all bags."""
    return rounds_by("KV", records // 2)


@shape
def rounds_nobody_walked(records: int) -> Records:
    """Rounds over all bags that nobody answers for."""
    return rounds_by("nobody", records // 2)


@shape
def rounds_nobody_walked_over_other_ranges(records: int) -> Records:
    """Rounds that nobody answers for, no two over the same bags."""
    return rounds_by("nobody", records // 2, "B{0} to B{1}")


@shape
def rounds_on_other_days(records: int) -> Records:
    """Rounds over all bags, each on a day of its own."""
    return rounds_by("KV", records // 2, since=date(2026, 2, 1))


@shape
def rounds_on_other_days_over_other_ranges(records: int) -> Records:
    """Rounds on other days, no two over the same bags."""
    return rounds_by("KV", records // 2, "B{0} to B{1}", since=date(2026, 2, 1))


@shape
def rounds_before_bags_were_put_on(records: int) -> Records:
    """Rounds over all bags that looked at them long before they hung."""
    return rounds_by("KV", records // 2, since=date(1990, 1, 1))


@shape
def storms_over_all_bags(records: int) -> Records:
    """Rounds after storms over all bags, and incidents of storms on their block."""
    return joined(
        rounds_by("KV", records // 2, kind="storm"),
        {
            "incidents": (
                f"incident: I{one}, date: 2026-02-10, kind: {('storm', 'torn bags')[one % 2]}, about: [F1]"
                for one in range(records // 4)
            )
        },
    )


@shape
def rounds_by_trees(records: int) -> Records:
    """Rounds nobody answers for, each over the bags of other trees."""
    count = records // 4
    return joined(
        LINE,
        {
            "trees": map(tree, range(1, count)),
            "bagging": (f"bag: B{one}, tree: T{one}, covered: 2026-02-01" for one in range(1, count)),
            "rounds": (
                f"round: R{one}, kind: check, date: {date(2026, 2, 2) + timedelta(one % 300)}, by: nobody, "
                f"trees: [T{one % count + 1} to T{count}], condition: intact"
                for one in range(2 * count)
            ),
        },
    )


@shape
def one_round_with_exceptions(references: int) -> Records:
    """One round with exceptions without end, no two about the same bags."""
    count = references // 2
    exceptions = ", ".join(f"{{about: [B{one} to B{count}], condition: torn}}" for one in range(1, count))
    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0, covered: 2026-02-01" for one in range(1, count)),
            "rounds": [
                f"round: R1, kind: check, date: 2026-02-10, by: KV, bags: [B1], exceptions: [{exceptions}]"
            ],
        },
    )


@shape
def one_letter_with_exceptions(references: int) -> Records:
    """One letter with exceptions without end, no two about the same samples."""
    count = references // 2
    exceptions = ", ".join(f"{{samples: [S{one} to S{count}], controls: failed}}" for one in range(1, count))
    return joined(
        LINE,
        {
            "screening": (f"sample: S{one}, tree: T0" for one in range(1, count)),
            "letters": [
                f"letter: W1, report: R1, samples: [S1 to S9], result: negative, exceptions: [{exceptions}]"
            ],
        },
    )


@shape
def letters_over_all_samples(records: int) -> Records:
    """Letters that each tell of all samples, and of many exceptions."""
    count = records // 2
    return joined(
        LINE,
        {
            "screening": (f"sample: S{one}, tree: T0" for one in range(1, count)),
            "letters": (
                f"letter: W{one}, laboratory: a laboratory, report: R{one}, samples: [S1 to S{count}], "
                "result: negative, controls: passed"
                for one in range(count)
            ),
        },
    )


@shape
def runs_on_one_machine(records: int) -> Records:
    """Runs of one day on one machine that nobody cleaned."""
    return joined(
        LINE,
        {
            "batches": (f"{run(f'E{one}', f'[H{one}]')}, equipment: [a pulper]" for one in range(1, records)),
            "lots": [lot("L1", "[{batch: E1, weight: 1 g}]")],
        },
    )


@shape
def runs_of_two_statuses(records: int) -> Records:
    """Organic and conventional runs by turns on one machine, day after day, some with a cleaning between."""
    count = records // 3
    days = [date(2010, 1, 1) + timedelta(one) for one in range(2 * count)]
    return joined(
        LINE,
        {
            "batches": (
                f"{run(f'E{one}', f'[H{one}]', str(days[one]))}, equipment: [a pulper]".replace(
                    "organic", ("organic", "conventional")[one % 2]
                )
                for one in range(1, 2 * count)
            ),
            "cleaning": (
                f"cleaning: C{one}, date: {days[one]}, method: washed, equipment: [a pulper]"
                for one in range(count)
            ),
            "lots": [lot("L1", "[{batch: E2, weight: 1 g}]")],
        },
    )


@shape
def runs_on_all_machines(references: int) -> Records:
    """Runs that each went over all machines, with cleanings between."""
    count = isqrt(references // 2)
    machines = listed("m", range(count))
    return joined(
        LINE,
        {
            "batches": (
                f"{run(f'E{one}', f'[H{one}]', f'2026-07-{one % 28 + 1:02d}')}, equipment: {machines}"
                for one in range(1, count)
            ),
            "cleaning": (
                f"cleaning: C{one}, date: 2026-07-{one % 28 + 1:02d}, method: washed, equipment: {machines}, "
                f"before: E{one}"
                for one in range(1, count)
            ),
        },
    )


@shape
def inputs_on_one_block(records: int) -> Records:
    """Everything imaginable was put on one block, under one approval."""
    count = records // 3
    return joined(
        LINE,
        {
            "materials": (f"material: K{one}, name: a spray, maker: own" for one in range(count)),
            "inputs": (
                f"input: I{one}, date: 2026-02-0{one % 9 + 1}, block: F1, material: a spray, "
                f"approval: K{one}, days_to_harvest: 3 d, scouting: [W{one}]"
                for one in range(count)
            ),
            "scouting": (
                f"scouting: W{one}, date: 2026-02-01, block: F1, by: KV, pest: aphids" for one in range(count)
            ),
        },
    )


@shape
def pickings_since_inputs(records: int) -> Records:
    """Inputs that nothing allows, on one block, each with a day of its own between the pickings."""
    count = records // 2
    days = [date(2010, 1, 1) + timedelta(one) for one in range(count)]
    return joined(
        LINE,
        {
            "harvests": (
                picking(f"H{one}", "[B0]").replace("2026-06-25", str(days[one])) for one in range(1, count)
            ),
            "inputs": (
                f"input: I{one}, date: {days[one]}, block: F1, material: a spray" for one in range(count)
            ),
        },
    )


@shape
def pickings_since_drifts(records: int) -> Records:
    """Drifts onto one block, each with a day of its own between the pickings."""
    count = records // 2
    days = [date(2010, 1, 1) + timedelta(one) for one in range(count)]
    return joined(
        LINE,
        {
            "harvests": (
                picking(f"H{one}", "[B0]").replace("2026-06-25", str(days[one])) for one in range(1, count)
            ),
            "incidents": (
                f"incident: I{one}, date: {days[one]}, kind: drift, about: [F1]" for one in range(count)
            ),
        },
    )


@shape
def plantings_on_one_block(records: int) -> Records:
    """Plantings of one block, each of a variety of its own."""
    return joined(
        LINE,
        {"plantings": (planting(f"G{one}", "{supplier: a nursery}", f"V{one}") for one in range(1, records))},
    )


@shape
def sheets_of_all_samples(records: int) -> Records:
    """Sheets to the laboratory that each list all samples."""
    count = records // 2
    return joined(
        LINE,
        {
            "screening": (sample(f"S{one}", "tree: T0, mark: T0") for one in range(1, count)),
            "submissions": (
                f"submission: U{one}, kind: to the laboratory, date: 2026-01-06, samples: [S1 to S{count}], "
                f"bags: [{{bag: '1', seal: '{one}'}}]"
                for one in range(count)
            ),
        },
    )


@shape
def observations_of_all_trees(references: int) -> Records:
    """Observations of all trees, of different sexes."""
    count = isqrt(references)
    return joined(
        LINE,
        {
            "trees": map(tree, range(1, count)),
            "observations": (
                f"observation: O{one}, date: 2026-02-01, trees: {listed('T', range(count))}, kind: sex, "
                f"seen: a flower, sex: {('female', 'hermaphrodite')[one % 2]}"
                for one in range(count)
            ),
        },
    )
