"""Shapes of lots: blended of one another in chains, circles and all at once, or of what no record bears."""

from __future__ import annotations

from math import isqrt

from bench.shapes.records import (
    LAND,
    LINE,
    TESTS,
    bag,
    blend,
    lot,
    lots_of_their_own,
    move,
    picking,
    planting,
    run,
    seed_test,
)
from bench.shapes.registry import Records, joined, shape


@shape
def blends_of_all_earlier(references: int) -> Records:
    """Each lot blends every lot before it."""
    return joined(LINE, {"lots": (blend(one, range(one)) for one in range(1, isqrt(2 * references) + 1))})


@shape
def blends_of_runs_and_lots(references: int) -> Records:
    """Each lot has a run of its own, unexplained, and blends every lot before it."""
    count = isqrt(2 * references) + 1
    return joined(
        LINE,
        {"batches": (run(f"E{one}", f"[H{one}]") for one in range(1, count))},
        {
            "lots": (
                lot(
                    f"L{one}",
                    f"[{{batch: E{one}, weight: 1 g}}, "
                    + ", ".join(f"{{lot: L{part}, weight: 1 g}}" for part in range(one))
                    + "]",
                )
                for one in range(1, count)
            )
        },
    )


@shape
def blends_of_few_earlier(records: int) -> Records:
    """Each lot blends the three lots before it."""
    return joined(LINE, {"lots": (blend(one, range(max(0, one - 3), one)) for one in range(1, records))})


@shape
def blends_of_halves(records: int) -> Records:
    """A binary tree of blends over runs of absent pickings."""
    half = records // 4
    return joined(
        LAND,
        {"batches": (run(f"E{one}", f"[H{one}]") for one in range(half))},
        {
            "lots": [
                *(
                    lot(f"L{one}", f"[{{batch: E{one - half}, weight: 100 g}}]")
                    for one in range(half, 2 * half)
                ),
                *(blend(one, (2 * one, 2 * one + 1)) for one in range(half - 1, 0, -1)),
            ]
        },
    )


@shape
def cycle_of_blends(records: int) -> Records:
    """One circle of lots, each blended into the next."""
    return joined(LINE, {"lots": (blend(one, [(one + 1) % records or 1]) for one in range(1, records))})


@shape
def cycles_of_two(records: int) -> Records:
    """Many pairs of lots, each blended into the other."""
    return joined(
        LINE, {"lots": (blend(one, [one + 1 if one % 2 else one - 1]) for one in range(1, records))}
    )


@shape
def lots_of_themselves(records: int) -> Records:
    """Many lots that are blended into themselves."""
    return joined(LINE, {"lots": (blend(one, [one]) for one in range(1, records))})


@shape
def chain_of_blends(records: int) -> Records:
    """Each lot is blended of the one before it."""
    return joined(LINE, {"lots": (blend(one, [one - 1]) for one in range(1, records))})


@shape
def chain_of_plantings(records: int) -> Records:
    """Seed, planting, tree, bag, picking, run, lot, and on from that lot's seed, through all generations."""
    numbers = range(1, records // 6)
    return joined(
        LINE,
        {
            "plantings": (planting(f"G{one}", f"{{lot: L{one - 1}}}") for one in numbers),
            "trees": (f"tree: T{one}, planting: G{one}, sex: hermaphrodite" for one in numbers),
            "bagging": (bag(f"B{one}", f"T{one}") for one in numbers),
            "harvests": (picking(f"H{one}", f"[B{one}]") for one in numbers),
        },
        lots_of_their_own(len(numbers) + 1, "100 g"),
    )


@shape
def absent_references(records: int) -> Records:
    """Every record names something that no record bears."""
    count = records // 8
    return {
        "trees": (f"tree: T{one}, planting: XP{one}, sex: female" for one in range(count)),
        "screening": (f"sample: S{one}, tree: XT{one}" for one in range(count)),
        "bagging": (f"bag: B{one}, tree: XU{one}, pollen_parent: XV{one}" for one in range(count)),
        "harvests": (picking(f"H{one}", f"[XB{one}]") for one in range(count)),
        "batches": (run(f"E{one}", f"[XH{one}]") for one in range(count)),
        "lots": (lot(f"L{one}", f"[{{batch: XE{one}, weight: 1 g}}]") for one in range(count)),
        "movements": (move(f"M{one}", f"XL{one}") for one in range(count)),
        "tests": (seed_test(f"G{one}", f"XM{one}", TESTS[0]) for one in range(count)),
    }


@shape
def lots_of_absent_runs(records: int) -> Records:
    """Lots of runs that no record bears."""
    return joined(
        LINE, {"lots": (lot(f"L{one}", f"[{{batch: X{one}, weight: 1 g}}]") for one in range(1, records))}
    )


@shape
def one_lot_of_absent_runs(references: int) -> Records:
    """One lot of very many runs that no record bears."""
    parts = ", ".join(f"{{batch: X{one}, weight: 1 g}}" for one in range(references))
    return joined(LINE, {"lots": [lot("L1", f"[{parts}]", "100 kg")]})


@shape
def one_lot_of_unproven_runs(records: int) -> Records:
    """One lot of very many runs, each with gaps of its own."""
    parts = ", ".join(f"{{batch: E{one}, weight: 1 g}}" for one in range(1, records))
    return joined(
        LINE,
        {
            "batches": (run(f"E{one}", f"[H{one}]") for one in range(1, records)),
            "lots": [lot("L1", f"[{parts}]", "100 kg")],
        },
    )


@shape
def lots_with_one_number(records: int) -> Records:
    """Every lot bears the same number."""
    return joined(LINE, {"lots": (lot("L0", "[{batch: E0, weight: 1 g}]", "1 g") for _ in range(records))})


@shape
def lots_left_out(records: int) -> Records:
    """Every lot has a slip that leaves it out."""
    return joined(
        LINE,
        {
            "lots": (
                lot(f"L{one}", f"[{{lot: L{one - 1}, weight: 1 g}}]", "1 oops") for one in range(1, records)
            )
        },
    )


@shape
def bought_seed(records: int) -> Records:
    """Lots of bought seed, each of one supplier with one certificate."""
    return joined(
        LINE,
        {
            "lots": (
                lot(f"L{one}", f"[{{supplier: N{one % 7}, certificate: EX-{one % 5}, weight: 1 g}}]", "1 g")
                for one in range(1, records)
            )
        },
    )
