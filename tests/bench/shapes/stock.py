"""Shapes of what becomes of lots: movements, recalls, tests, visits, incidents."""

from __future__ import annotations

from math import isqrt

from bench.shapes.records import LINE, TESTS, bag, lot, move, planting, seed_test
from bench.shapes.registry import Records, joined, listed, shape


@shape
def one_lot_with_all_movements(records: int) -> Records:
    """One lot that is sold by the milligram."""
    return joined(LINE, {"movements": (move(f"M{one}", "L0") for one in range(records))})


@shape
def one_lot_counted_daily(records: int) -> Records:
    """One lot that is counted, received, returned and sold without end."""
    kinds = ("counted", "received", "sold", "returned")
    return joined(
        LINE,
        {
            "movements": (
                move(f"M{one}", "L0", ", party: a nursery", kinds[one % 4]) for one in range(records)
            )
        },
    )


@shape
def lots_with_movements(records: int) -> Records:
    """Unproven lots, each sold once."""
    count = records // 2
    return joined(
        LINE,
        {
            "lots": (lot(f"L{one}", "[]", "1 g") for one in range(1, count)),
            "movements": (move(f"M{one}", f"L{one}") for one in range(1, count)),
        },
    )


@shape
def movements_on_one_document(records: int) -> Records:
    """Every movement goes on the same paper."""
    return joined(
        LINE,
        {"movements": (move(f"M{one}", "L0", ", party: a nursery, document: D1") for one in range(records))},
    )


@shape
def explanations_of_one_gap(records: int) -> Records:
    """Explanations without end of one and the same."""
    return joined(
        LINE,
        {
            "explanations": (
                f"rule: bag-untagged, about: [B{one % 2}], reason: it was so, by: KV, date: 2026-03-01"
                for one in range(records)
            )
        },
    )


@shape
def visits_and_findings(records: int) -> Records:
    """Visits, each with a finding and a request about one lot."""
    count = records // 3
    return joined(
        LINE,
        {
            "visits": (
                f"visit: V{one}, kind: yearly, from: 2026-09-01, inspector: RT, "
                "exercises: [{kind: trace-back, about: [L0], outcome: differs}], "
                f"findings: [{{finding: N{one}, kind: quantity, about: [L0], ground: too little}}], "
                "requests: [{asked: a paper, by: 2026-10-01}]"
                for one in range(count)
            )
        },
    )


@shape
def incidents_and_holds(records: int) -> Records:
    """Incidents that each hold one lot."""
    return joined(
        LINE,
        {
            "incidents": (
                f"incident: I{one}, date: 2026-08-0{one % 9 + 1}, about: [L0], held_from: 2026-08-10, "
                f"kind: {('mixing', 'drift', 'other')[one % 3]}"
                for one in range(records)
            )
        },
    )


@shape
def incidents_about_all_bags(references: int) -> Records:
    """Incidents that are each about all bags."""
    count = isqrt(references)
    return joined(
        LINE,
        {
            "bagging": (bag(f"B{one}", "T0") for one in range(1, count)),
            "incidents": (
                f"incident: I{one}, date: 2026-08-01, kind: torn bags, about: {listed('B', range(count))}"
                for one in range(count)
            ),
        },
    )


@shape
def recalls_of_one_lot(records: int) -> Records:
    """Recalls of one lot, each with a notice."""
    return joined(
        LINE,
        {
            "movements": (
                move(f"M{one}", "L0", f", party: N{one}, document: D{one}") for one in range(records // 2)
            ),
            "recalls": (
                f"recall: C{one}, opened: 2026-10-01, about: [L0], "
                f"kind: {('recall', 'drill', 'complaint')[one % 3]}, "
                f"notices: [{{party: N{one}, lot: L0, document: D{one}, weight: 1 g}}]"
                for one in range(records // 2)
            ),
        },
    )


@shape
def one_recall_of_all(records: int) -> Records:
    """One recall of one lot with a notice to each of very many buyers."""
    notices = ", ".join(
        f"{{party: N{one}, lot: L0, document: D{one}, weight: 1 g}}" for one in range(records // 2)
    )
    return joined(
        LINE,
        {
            "movements": (
                move(f"M{one}", "L0", f", party: N{one}, document: D{one}") for one in range(records // 2)
            ),
            "recalls": [f"recall: C1, kind: recall, opened: 2026-10-01, about: [L0], notices: [{notices}]"],
        },
    )


@shape
def recalls_of_all_lots(records: int) -> Records:
    """Recalls of one tree, from which very many lots come that were all sold."""
    count = records // 4
    return joined(
        LINE,
        {
            "lots": (lot(f"L{one}", "[{batch: E0, weight: 1 g}]", "1 g") for one in range(1, count)),
            "movements": (
                move(f"M{one}", f"L{one}", f", party: N{one}, document: D{one}") for one in range(1, count)
            ),
            "recalls": (
                f"recall: C{one}, opened: 2026-10-01, about: [T0], kind: recall" for one in range(2 * count)
            ),
        },
    )


@shape
def gaps_at_one_long_name(records: int) -> Records:
    """Bags whose tags say otherwise than a planting whose variety has a name of half a megabyte."""
    count = records // 2
    return joined(
        LINE,
        {
            "plantings": [planting("P2", "{supplier: a nursery}", "x" * (100 * records))],
            "trees": ["tree: T1, planting: P2, sex: hermaphrodite"],
            "bagging": (bag(f"B{one}", "T1") for one in range(1, count)),
        },
    )


@shape
def inputs_of_one_long_name(records: int) -> Records:
    """Inputs of one approved material whose name is half a megabyte long."""
    return joined(
        LINE,
        {
            "materials": [f"material: K1, name: {'x' * (50 * records)}, maker: own"],
            "inputs": (
                f"input: I{one}, date: 2026-02-01, block: F1, material: a spray, approval: K1"
                for one in range(records // 2)
            ),
        },
    )


@shape
def tests_of_one_lot(records: int) -> Records:
    """One lot that was tested without end."""
    return joined(
        LINE,
        {"tests": (seed_test(f"G{one}", "L0", TESTS[one % 3]) for one in range(records))},
    )
