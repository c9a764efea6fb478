"""Seasons of awkward shapes: what nobody keeps, and what must end soon all the same.

    python tests/bench/shapes.py SHAPE FOLDER RECORDS

Each shape writes about so many records (of a dense shape: references) that all lean on one thing, and gives
the bytes written. The same arguments give the same bytes.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from math import isqrt
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from bench.seasons import SEASON

Records = Mapping[str, Iterable[str]]
Draw = TypeVar("Draw", bound=Callable[[int], Records])
_SHAPES: dict[str, Callable[[int], Records]] = {}

BLOCK = (
    "block: F1, status: organic, organic_since: 2015-01-01, last_prohibited_substance: none known, "
    "area: 4 ha, boundary: a hedge, buffer: 15 m, nearest_same_crop: 2000 m"
)


def planting(number: str, origin: str, variety: str = "Callow Bell") -> str:
    """A planting of organic seed."""
    return (
        f"planting: {number}, block: F1, variety: {variety}, planted: 2024-03-01, material: seed, "
        f"material_status: organic, origin: {origin}"
    )


def seed_test(number: str, of: str, result: str) -> str:
    """A test of a lot."""
    return f"test: {number}, lot: {of}, date: 2026-09-01, kind: {result}"


LAND = MappingProxyType(
    {
        "blocks": (BLOCK,),
        "plantings": (planting("P1", "{supplier: a nursery, certificate: EX-0044}"),),
    }
)


def shape(draw: Draw) -> Draw:
    """Registers a shape under its function's name with hyphens."""
    name = draw.__name__.replace("_", "-")
    if name in _SHAPES or not draw.__doc__:
        message = f"shape {name} needs a name of its own and a docstring"
        raise ValueError(message)
    _SHAPES[name] = draw
    return draw


def shapes() -> tuple[str, ...]:
    """The names of all shapes."""
    return tuple(_SHAPES)


def write_shape(name: str, folder: Path, records: int) -> int:
    """Writes a season of a shape into a new folder; gives the bytes written."""
    folder.mkdir(parents=True)
    text = "".join(
        f"{table}:\n{''.join(f'- {{{record}}}' + chr(10) for record in lines)}"
        for table, lines in _SHAPES[name](records).items()
    )
    return (folder / "season.yaml").write_bytes(SEASON.encode()) + (folder / "records.yaml").write_bytes(
        text.encode()
    )


def joined(*parts: Records) -> Records:
    """Several tables' records as one file's."""
    found: dict[str, list[str]] = defaultdict(list)
    for part in parts:
        for table, records in part.items():
            found[table] += records
    return found


def listed(stem: str, numbers: Iterable[int]) -> str:
    """`[L1, L2]`."""
    return f"[{', '.join(f'{stem}{number}' for number in numbers)}]"


def trees(count: int) -> Records:
    """Trees on sound land, each with a clean sample."""
    return joined(
        LAND,
        {
            "trees": (f"tree: T{one}, planting: P1, sex: hermaphrodite" for one in range(count)),
            "screening": (sample(f"S{one}", f"tree: T{one}, mark: T{one}") for one in range(count)),
        },
    )


def sample(number: str, of: str) -> str:
    """A clean sample of what is told in `of`."""
    return (
        f"sample: {number}, {of}, collected: 2026-01-05, method: gus, laboratory: a laboratory, "
        "submitted: 2026-01-06, "
        f"controls: passed, result: negative, reported: 2026-01-15, report: R{number}"
    )


def bag(number: str, tree: str) -> str:
    """A sound bag."""
    return (
        f"bag: {number}, tree: {tree}, covered: 2026-02-01, stage: closed bud, flower: hermaphrodite, "
        f"tag: {{date: 2026-02-01, variety: Callow Bell, tree: {tree}}}, secured: yes, bag_use: new, "
        "uncovered: 2026-02-22, outcome: set, fruit_marked: yes"
    )


def picking(number: str, bags: str, fruits: int = 1) -> str:
    """A picking of listed bags."""
    return (
        f"harvest: {number}, date: 2026-06-25, bags: {bags}, fruits: {fruits}, weight: {fruits * 600} g, "
        "status: organic"
    )


def run(number: str, harvests: str, day: str = "2026-07-05") -> str:
    """An extraction run of listed pickings."""
    return f"batch: {number}, date: {day}, harvests: {harvests}, status: organic, dry_weight: 1000 g"


def lot(number: str, sources: str, weight: str = "100 g") -> str:
    """A lot of listed sources."""
    return (
        f"lot: {number}, variety: Callow Bell, packed: 2026-08-01, sources: {sources}, weight: {weight}, "
        "status: organic"
    )


def blend(number: int, parts: Iterable[int]) -> str:
    """A lot blended of a gram each of others."""
    return lot(f"L{number}", f"[{', '.join(f'{{lot: L{part}, weight: 1 g}}' for part in parts)}]")


#: One sound line: a tree, its bag, the picking, the run and the lot.
LINE = MappingProxyType(
    joined(
        trees(1),
        {
            "bagging": [bag("B0", "T0")],
            "harvests": [picking("H0", "[B0]")],
            "batches": [run("E0", "[H0]")],
            "lots": [lot("L0", "[{batch: E0, weight: 100 g}]")],
        },
    )
)


def move(number: str, of: str, more: str = "", kind: str = "sold") -> str:
    """A movement of a lot."""
    return f"movement: {number}, date: 2026-09-01, lot: {of}, kind: {kind}, weight: 1 g{more}"


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
            "batches": (run(f"E{one}", f"[H{one}]") for one in numbers),
            "lots": (lot(f"L{one}", f"[{{batch: E{one}, weight: 100 g}}]") for one in numbers),
        },
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
            "harvests": [picking("H1", listed("B", range(1, records)), records)],
            "batches": [run("E1", "[H1]")],
            "lots": [lot("L1", "[{batch: E1, weight: 100 g}]")],
        },
    )


@shape
def bare_bags_in_many_lots(references: int) -> Records:
    """Bare bags in one run from which very many lots are packed: gaps times lots is a square."""
    count = references // 2
    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0" for one in range(1, count)),
            "harvests": [picking("H1", listed("B", range(1, count)), count)],
            "batches": [run("E1", "[H1]")],
            "lots": (lot(f"L{one}", "[{batch: E1, weight: 1 g}]", "1 g") for one in range(1, count)),
        },
    )


@shape
def unscreened_trees_of_one_lot(records: int) -> Records:
    """A bag on each of very many trees that nobody screened, all in one lot."""
    count = records // 2
    return joined(
        LINE,
        {
            "trees": (f"tree: T{one}, planting: P1, sex: hermaphrodite" for one in range(1, count)),
            "bagging": (bag(f"B{one}", f"T{one}") for one in range(1, count)),
            "harvests": [picking("H1", listed("B", range(1, count)), count)],
            "batches": [run("E1", "[H1]")],
            "lots": [lot("L1", "[{batch: E1, weight: 100 g}]")],
        },
    )


@shape
def one_bag_in_all_pickings(records: int) -> Records:
    """One bag that every picking names."""
    return joined(
        LINE,
        {
            "harvests": (picking(f"H{one}", "[B0]") for one in range(1, records)),
            "batches": [run("E1", listed("H", range(1, records)))],
            "lots": [lot("L1", "[{batch: E1, weight: 100 g}]")],
        },
    )


@shape
def one_bag_in_pickings_runs_and_lots(records: int) -> Records:
    """One bag that every picking names, each picking with a run and a lot of its own."""
    count = records // 3
    return joined(
        LINE,
        {
            "harvests": (picking(f"H{one}", "[B0]") for one in range(1, count)),
            "batches": (run(f"E{one}", f"[H{one}]") for one in range(1, count)),
            "lots": (lot(f"L{one}", f"[{{batch: E{one}, weight: 1 g}}]") for one in range(1, count)),
        },
    )


@shape
def one_picking_of_all_bags(records: int) -> Records:
    """One picking that names every bag."""
    return joined(
        LINE,
        {
            "bagging": (bag(f"B{one}", "T0") for one in range(1, records)),
            "harvests": [picking("H1", listed("B", range(1, records)), records)],
            "batches": [run("E1", "[H1]")],
            "lots": [lot("L1", "[{batch: E1, weight: 100 g}]")],
        },
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
            "batches": [run("E1", listed("H", range(1, count)))],
            "lots": [lot("L1", "[{batch: E1, weight: 100 g}]")],
        },
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
def lots_with_one_number(records: int) -> Records:
    """Every lot bears the same number."""
    return joined(LINE, {"lots": (lot("L0", "[{batch: E0, weight: 1 g}]", "1 g") for _ in range(records))})


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
            "batches": (run(f"E{one}", f"[H{one}]") for one in range(1, count)),
            "lots": (lot(f"L{one}", f"[{{batch: E{one}, weight: 1 g}}]") for one in range(1, count)),
        },
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
def one_pool_of_all_trees(records: int) -> Records:
    """One sample of all trees, and it is positive."""
    return joined(
        LINE,
        {"trees": (f"tree: T{one}, planting: P1, sex: hermaphrodite" for one in range(1, records))},
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
        {"trees": (f"tree: T{one}, planting: P1, sex: hermaphrodite" for one in range(1, count))},
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
    count = records // 2
    kind = "round: R{0}, kind: check, date: 2026-02-{1:02d}, by: KV, bags: [B1 to B{2}], condition: intact"
    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0, covered: 2026-02-01" for one in range(1, count)),
            "rounds": (kind.format(one, one % 28 + 1, count) for one in range(count)),
        },
    )


@shape
def rounds_nobody_walked(records: int) -> Records:
    """Rounds over all bags that nobody answers for."""
    count = records // 2
    kind = (
        "round: R{0}, kind: check, date: 2026-02-{1:02d}, by: nobody, bags: [B1 to B{2}], condition: intact"
    )
    return joined(
        LINE,
        {
            "bagging": (f"bag: B{one}, tree: T0, covered: 2026-02-01" for one in range(1, count)),
            "rounds": (kind.format(one, one % 28 + 1, count) for one in range(count)),
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
            "harvests": [picking("H1", listed("B", range(1, count)), count)],
            "batches": [run("E1", "[H1]")],
        },
        {"lots": [lot("L1", "[{batch: E1, weight: 1 g}]")]},
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
def plantings_on_one_block(records: int) -> Records:
    """Plantings of one block, each of a variety of its own."""
    return joined(
        LINE,
        {"plantings": (planting(f"G{one}", "{supplier: a nursery}", f"V{one}") for one in range(1, records))},
    )


TESTS = (
    "germination, replicates: [80, 82], per_replicate: 100",
    "transgene, pools: 2, seeds_per_pool: 100, positive_pools: 1, targets: [35S], detection_limit: 0.4 %",
    "purity, pure: 9 g, other: 0.1 g, inert: 0.1 g",
)


@shape
def tests_of_one_lot(records: int) -> Records:
    """One lot that was tested without end."""
    return joined(
        LINE,
        {"tests": (seed_test(f"G{one}", "L0", TESTS[one % 3]) for one in range(records))},
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
def looks_at_one_bag(references: int) -> Records:
    """One bag that was looked at without end."""
    looks = ", ".join("{date: 2026-02-05, condition: intact}" for _ in range(references))
    return joined(LINE, {"bagging": [f"bag: B1, tree: T0, covered: 2026-02-01, checks: [{looks}]"]})


@shape
def observations_of_all_trees(references: int) -> Records:
    """Observations of all trees, of different sexes."""
    count = isqrt(references)
    return joined(
        LINE,
        {
            "trees": (f"tree: T{one}, planting: P1, sex: hermaphrodite" for one in range(1, count)),
            "observations": (
                f"observation: O{one}, date: 2026-02-01, trees: {listed('T', range(count))}, kind: sex, "
                f"seen: a flower, sex: {('female', 'hermaphrodite')[one % 2]}"
                for one in range(count)
            ),
        },
    )


if __name__ == "__main__":
    sys.stdout.write(f"{write_shape(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]))} bytes\n")
