"""Shapes of bags, pickings and runs: very many of one, or one of very many."""

from __future__ import annotations

from math import isqrt

from bench.shapes.records import (
    LINE,
    TESTS,
    bag,
    lot,
    lots_of_their_own,
    move,
    one_lot_of_bags,
    one_lot_of_pickings,
    one_run_of_bags,
    picking,
    planting,
    run,
    sample,
    seed_test,
    tree,
)
from bench.shapes.registry import Records, joined, listed, shape


@shape
def bare_samples(records: int) -> Records:
    """Samples of which only the number is known: a gap at each, and nothing rests on them."""
    return joined(LINE, {"screening": (f"sample: S{one}" for one in range(1, records))})


@shape
def bare_bags_in_one_lot(records: int) -> Records:
    """Bags of which only number and tree are known, all picked, all in one lot: many gaps at each."""
    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0" for one in range(1, records)),
        },
        one_lot_of_bags(records),
    )


@shape
def bare_bags_in_many_lots(references: int) -> Records:
    """Bare bags in one run from which very many lots are packed: gaps times lots is a square."""
    count = references // 2
    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0" for one in range(1, count)),
        },
        one_run_of_bags(count),
        {"lots": (lot(f"L{one}", "[{batch: E1, weight: 1 g}]", "1 g") for one in range(1, count))},
    )


@shape
def unscreened_trees_of_one_lot(records: int) -> Records:
    """A bag on each of very many trees that nobody screened, all in one lot."""
    count = records // 2
    return joined(
        LINE,
        {
            "trees": map(tree, range(1, count)),
            "bagging": (bag(f"B{one}", f"T{one}") for one in range(1, count)),
        },
        one_lot_of_bags(count),
    )


@shape
def one_bag_in_all_pickings(records: int) -> Records:
    """One bag that every picking names."""
    return joined(
        LINE,
        {
            "harvests": (picking(f"H{one}", "[B0]") for one in range(1, records)),
        },
        one_lot_of_pickings(records),
    )


@shape
def one_bag_in_pickings_runs_and_lots(records: int) -> Records:
    """One bag that every picking names, each picking with a run and a lot of its own."""
    count = records // 3
    return joined(
        LINE,
        {
            "harvests": (picking(f"H{one}", "[B0]") for one in range(1, count)),
        },
        lots_of_their_own(count),
    )


@shape
def one_picking_of_all_bags(records: int) -> Records:
    """One picking that names every bag."""
    return joined(
        LINE,
        {
            "bagging": (bag(f"B{one}", "T0") for one in range(1, records)),
        },
        one_lot_of_bags(records),
    )


@shape
def all_pickings_of_all_bags(references: int) -> Records:
    """Every picking names every bag."""
    count = isqrt(references)
    return joined(
        LINE,
        {
            "bagging": (bag(f"B{one}", "T0") for one in range(1, count)),
            "harvests": (picking(f"H{one}", listed("B", range(1, count)), count) for one in range(1, count)),
        },
        one_lot_of_pickings(count),
    )


@shape
def runs_of_all_pickings(references: int) -> Records:
    """Every run took every picking, and every lot every run."""
    count = isqrt(references // 2)
    return joined(
        LINE,
        {
            "bagging": (bag(f"B{one}", "T0") for one in range(1, count)),
            "harvests": (picking(f"H{one}", f"[B{one}]") for one in range(1, count)),
            "batches": (run(f"E{one}", listed("H", range(1, count))) for one in range(1, count)),
            "lots": (
                lot(
                    f"L{one}",
                    f"[{', '.join(f'{{batch: E{part}, weight: 1 g}}' for part in range(1, count))}]",
                )
                for one in range(1, count)
            ),
        },
    )


@shape
def bags_with_one_number(records: int) -> Records:
    """Every bag bears the same number."""
    return joined(LINE, {"bagging": (bag("B0", "T0") for _ in range(records))})


@shape
def records_with_one_number(records: int) -> Records:
    """In every table all records bear one and the same number."""
    count = records // 7
    return joined(
        LINE,
        {
            "trees": ("tree: T0, planting: P1, sex: hermaphrodite" for _ in range(count)),
            "screening": (sample("S0", "tree: T0, mark: T0") for _ in range(count)),
            "harvests": (picking("H0", "[B0]") for _ in range(count)),
            "batches": (run("E0", "[H0]") for _ in range(count)),
            "lots": (lot("L0", "[{batch: E0, weight: 1 g}]") for _ in range(count)),
            "movements": (move("M0", "L0") for _ in range(count)),
            "tests": (seed_test("G0", "L0", TESTS[0]) for _ in range(count)),
        },
    )


@shape
def one_tree_with_all_bags(records: int) -> Records:
    """One unscreened tree with every bag, each picked, run and packed by itself."""
    count = records // 4
    return joined(
        LINE,
        {
            "trees": ["tree: T1, planting: P1, sex: hermaphrodite"],
            "bagging": (bag(f"B{one}", "T1") for one in range(1, count)),
            "harvests": (picking(f"H{one}", f"[B{one}]") for one in range(1, count)),
        },
        lots_of_their_own(count),
    )


@shape
def one_tree_with_all_samples(records: int) -> Records:
    """One tree that was sampled without end, now positive, now negative."""
    return joined(
        LINE,
        {
            "screening": (
                sample(f"S{one}", "tree: T0, mark: T0").replace(
                    "negative", "negative" if one % 2 else "positive"
                )
                for one in range(1, records)
            )
        },
    )


@shape
def evidence_without_end(references: int) -> Records:
    """Each record names very many papers, and none of them is there."""
    count = isqrt(references)
    papers = listed("p/", range(count)).replace(",", ".txt,").replace("]", ".txt]")
    return joined(
        LINE, {"bagging": (f"{bag(f'B{one}', 'T0')}, evidence: {papers}" for one in range(1, count))}
    )


@shape
def records_left_out(records: int) -> Records:
    """Every record has a slip that leaves it out: all is checked a second time."""
    return joined(
        LINE,
        {
            "bagging": (
                bag(f"B{one}", "T0").replace("2026-02-22", "2026-02-31") for one in range(1, records)
            ),
            "harvests": [picking("H1", listed("B", range(1, records)), records)],
        },
    )


@shape
def lots_and_lots_left_out(records: int) -> Records:
    """Lots that are read, and as many that a slip leaves out: each of these may speak of any."""
    count = records // 2
    read = [lot(f"L{one}", "[{batch: E0, weight: 1 g}]", "1 g") for one in range(1, count)]
    slipped = (one.replace("L", "M", 1).replace("2026-08", "2026-28") for one in read)
    return joined(LINE, {"lots": read}, {"lots": slipped})


@shape
def looks_at_one_bag(references: int) -> Records:
    """One bag that was looked at without end."""
    looks = ", ".join("{date: 2026-02-05, condition: intact}" for _ in range(references))
    return joined(LINE, {"bagging": [f"bag: B1, tree: T0, covered: 2026-02-01, checks: [{looks}]"]})


@shape
def plantings_of_one_lot(records: int) -> Records:
    """Plantings that were all sown of one unproven lot, each with a tree and a bag."""
    count = records // 4
    return joined(
        LINE,
        {
            "lots": [lot("LX", "[]", "1 kg")],
            "movements": (move(f"M{one}", "LX", f", planting: G{one}", "sown") for one in range(1, count)),
            "plantings": (planting(f"G{one}", "{lot: LX}") for one in range(1, count)),
            "trees": (f"tree: T{one}, planting: G{one}, sex: hermaphrodite" for one in range(1, count)),
            "bagging": (bag(f"B{one}", f"T{one}") for one in range(1, count)),
        },
        one_run_of_bags(count),
        {"lots": [lot("L1", "[{batch: E1, weight: 1 g}]")]},
    )
