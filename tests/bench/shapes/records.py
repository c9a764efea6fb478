"""Records as text, and the parts that many shapes share."""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType

from bench.shapes.registry import Records, joined, listed

BLOCK = (
    "block: F1, status: organic, organic_since: 2015-01-01, last_prohibited_substance: none known, "
    "area: 4 ha, boundary: a hedge, buffer: 15 m, nearest_same_crop: 2000 m"
)
TESTS = (
    "germination, replicates: [80, 82], per_replicate: 100",
    "transgene, pools: 2, seeds_per_pool: 100, positive_pools: 1, targets: [35S], detection_limit: 0.4 %",
    "purity, pure: 9 g, other: 0.1 g, inert: 0.1 g",
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


LAND = MappingProxyType(
    {
        "blocks": (BLOCK,),
        "plantings": (planting("P1", "{supplier: a nursery, certificate: EX-0044}"),),
    }
)


def tree(number: int, planting: str = "P1") -> str:
    """A tree that is fit to bear seed."""
    return f"tree: T{number}, planting: {planting}, sex: hermaphrodite"


def trees(count: int) -> Records:
    """Trees on sound land, each with a clean sample."""
    return joined(
        LAND,
        {
            "trees": map(tree, range(count)),
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


def one_run_of_bags(count: int) -> Records:
    """One picking of all bags, in one run."""
    return {
        "harvests": [picking("H1", listed("B", range(1, count)), count)],
        "batches": [run("E1", "[H1]")],
    }


def one_lot_of_bags(count: int) -> Records:
    """One picking of all bags, in one lot."""
    return joined(one_run_of_bags(count), {"lots": [lot("L1", "[{batch: E1, weight: 100 g}]")]})


def one_lot_of_pickings(count: int) -> Records:
    """One run of all pickings, in one lot."""
    return {
        "batches": [run("E1", listed("H", range(1, count)))],
        "lots": [lot("L1", "[{batch: E1, weight: 100 g}]")],
    }


def lots_of_their_own(count: int, weight: str = "1 g") -> Records:
    """For each picking a run and a lot."""
    return {
        "batches": (run(f"E{one}", f"[H{one}]") for one in range(1, count)),
        "lots": (lot(f"L{one}", f"[{{batch: E{one}, weight: {weight}}}]") for one in range(1, count)),
    }
