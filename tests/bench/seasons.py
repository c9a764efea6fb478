"""Writes seasons of any size for measuring: an invented farm that keeps every record.

    python tests/bench/seasons.py FOLDER BAGS

The same arguments give the same bytes. A season of N bags has N/10 trees, each screened before its first bag,
pickings of 25 bags, runs of four pickings and lots of four runs, with tests and movements, spread over the
months they happen in.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random

VARIETIES = ("Callow Bell", "Low Lantern")
OPERATION = "Two Streams Seed Garden"
FIRST_BAG = date(2026, 1, 26)
DAYS_OF_BAGGING = 90
DAYS_TO_PICKING = 140
BAGS_A_TREE = 10
TREES_A_PLANTING = 250
BAGS_A_PICKING = 25
PICKINGS_A_RUN = 4
RUNS_A_LOT = 4
SEED_GRAMS_A_FRUIT = 7.5
FRUIT_GRAMS = 620
SEASON = f"""\
season:
  label: "2026"
  from: 2026-01-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
  events_of_concern: [55-1, 63-1]
  operation: {{name: {OPERATION}, certificate: EX-0001, certifier: an accredited certifier}}
"""


@dataclass(frozen=True)
class Bag:
    """One bag as the later records need it."""

    number: str
    variety: str
    covered: date


@dataclass
class Files:
    """The season's files while they are written: file → table → records as text."""

    files: dict[str, dict[str, list[str]]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(list))
    )

    def add(self, file: str, table: str, **fields: object) -> None:
        """One record; a field's value is printed as it is, so text that YAML would misread comes quoted."""
        lines = "\n  ".join(f"{name}: {value}" for name, value in fields.items())
        self.files[file][table].append(f"- {lines}\n")

    def write(self, folder: Path) -> int:
        """The bytes written below the folder."""
        size = 0
        for name, tables in sorted(self.files.items()):
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            text = "".join(f"{table}:\n{''.join(records)}" for table, records in tables.items())
            size += path.write_bytes(text.encode("utf-8"))
        return size


def write_season(folder: Path, bags: int, seed: int = 7) -> int:
    """Writes the season's files and gives their size in bytes."""
    files = Files()
    trees = max(1, bags // BAGS_A_TREE)
    write_land(files, trees)
    write_trees(files, trees)
    bagged = list(write_bags(files, trees, bags, Random(seed)))
    lots = 0
    for variety in VARIETIES:
        own = [bag for bag in bagged if bag.variety == variety]
        lots = write_lots(files, variety, sorted(own, key=lambda bag: (bag.covered, bag.number)), lots)
    folder.mkdir(parents=True, exist_ok=True)
    return files.write(folder) + (folder / "season.yaml").write_bytes(SEASON.encode("utf-8"))


def variety_of(planting: int) -> str:
    """Plantings take turns."""
    return VARIETIES[planting % len(VARIETIES)]


def write_land(files: Files, trees: int) -> None:
    """Blocks and plantings, one block a planting."""
    for planting in range(-(-trees // TREES_A_PLANTING)):
        files.add(
            "land.yaml",
            "blocks",
            block=f"F{planting + 1}",
            status="organic",
            organic_since="2015-01-01",
            last_prohibited_substance="none known",
            area="0.4 ha",
            boundary="hedge and ditch on all sides",
            buffer="15 m",
            nearest_same_crop="2000 m",
        )
        files.add(
            "land.yaml",
            "plantings",
            planting=f"P{planting + 1}",
            block=f"F{planting + 1}",
            variety=variety_of(planting),
            planted="2024-03-01",
            material="seed",
            material_status="organic",
            origin="{supplier: an organic nursery, certificate: EX-0044}",
        )


def write_trees(files: Files, trees: int) -> None:
    """The tree register, and one clean sample a tree."""
    for tree in range(trees):
        number, planting = f"{tree + 1:05d}", tree // TREES_A_PLANTING + 1
        files.add(
            f"trees/P{planting}.yaml",
            "trees",
            tree=f'"{number}"',
            planting=f"P{planting}",
            row=f'"{tree % TREES_A_PLANTING // 25 + 1}"',
            position=f'"{tree % 25 + 1}"',
            sex="hermaphrodite",
        )
        files.add(
            f"screening/P{planting}.yaml",
            "screening",
            sample=f"S-{number}",
            tree=f'"{number}"',
            mark=f'"{number}"',
            collected="2026-01-05",
            method="gus",
            laboratory="an independent laboratory",
            submitted="2026-01-06",
            controls="passed",
            result="negative",
            reported="2026-01-15",
            report=f"R-{number}",
        )


def write_bags(files: Files, trees: int, bags: int, chance: Random) -> Iterator[Bag]:
    """The bagging log, spread by chance over the days of bagging."""
    for bag in range(bags):
        tree = bag % trees
        number, planting = f'"{tree + 1:05d}"', tree // TREES_A_PLANTING
        covered = FIRST_BAG + timedelta(days=chance.randrange(DAYS_OF_BAGGING))
        files.add(
            f"bagging/{covered:%Y-%m}.yaml",
            "bagging",
            bag=f"B-{bag + 1:06d}",
            tree=number,
            covered=covered,
            tag=f"{{date: {covered}, variety: {variety_of(planting)}, tree: {number}}}",
            flower="hermaphrodite",
            stage="closed bud",
            other_buds_cleared="yes",
            secured="yes",
            bag_use="new",
            uncovered=covered + timedelta(days=21),
            outcome="set",
            fruit_marked="yes",
        )
        yield Bag(f"B-{bag + 1:06d}", variety_of(planting), covered)


def write_lots(files: Files, variety: str, bags: Sequence[Bag], lots: int) -> int:
    """Pickings, runs and lots of one variety; gives the number of lots so far."""
    run_size = BAGS_A_PICKING * PICKINGS_A_RUN
    for start in range(0, len(bags), run_size * RUNS_A_LOT):
        lots += 1
        in_lot = bags[start : start + run_size * RUNS_A_LOT]
        runs = [
            write_run(files, f"{lots:04d}{first // run_size + 1}", in_lot[first : first + run_size])
            for first in range(0, len(in_lot), run_size)
        ]
        write_lot(files, f"{lots:04d}", variety, runs)
    return lots


def write_run(files: Files, number: str, bags: Sequence[Bag]) -> tuple[str, date, float]:
    """One extraction run and its pickings; gives its number, the day it was dry and its dry grams."""
    picked: list[tuple[str, date]] = []
    for start in range(0, len(bags), BAGS_A_PICKING):
        group = bags[start : start + BAGS_A_PICKING]
        day = max(bag.covered for bag in group) + timedelta(days=DAYS_TO_PICKING)
        picked.append((f"H-{number}-{start // BAGS_A_PICKING + 1}", day))
        files.add(
            f"harvests/{day:%Y-%m}.yaml",
            "harvests",
            harvest=picked[-1][0],
            date=day,
            bags=f"[{', '.join(bag.number for bag in group)}]",
            fruits=len(group),
            weight=f"{len(group) * FRUIT_GRAMS} g",
            stage="colour break",
            status="organic",
            ripening=f'{{temperature: 25 C, until: {day + timedelta(days=9)}, colour: "80 %"}}',
        )
    day = max(day for _, day in picked) + timedelta(days=10)
    # Each variety has its own: runs of two that dry side by side on one would be a gap.
    equipment = f"[{bags[0].variety} extractor, {bags[0].variety} screens]"
    dried, grams = day + timedelta(days=4), len(bags) * SEED_GRAMS_A_FRUIT
    files.add(
        "extraction.yaml",
        "cleaning",
        cleaning=f"C-{number}",
        date=day,
        equipment=equipment,
        method="washed and dried",
        before=f"E-{number}",
    )
    files.add(
        "extraction.yaml",
        "batches",
        batch=f"E-{number}",
        date=day,
        harvests=f"[{', '.join(harvest for harvest, _ in picked)}]",
        status="organic",
        equipment=equipment,
        blade="dull",
        runs="[3 min, 3 min]",
        rinses=4,
        floated_off="30 g",
        wet_weight=f"{grams * 2.4:.1f} g",
        drying=f"{{method: fan, temperature: 30 C, from: {day}, to: {dried}, humidity: normal}}",
        dry_weight=f"{grams:.1f} g",
        moisture="8.8 %",
    )
    return f"E-{number}", dried, grams


def write_lot(files: Files, number: str, variety: str, runs: Sequence[tuple[str, date, float]]) -> None:
    """One lot with its germination test, a sale, the retained sample and a count."""
    lot, grams = f"L-{number}", sum(weight for _, _, weight in runs)
    packed = max(dried for _, dried, _ in runs) + timedelta(days=5)
    tested, sold, counted = (packed + timedelta(days=days) for days in (28, 32, 40))
    files.add(
        "lots.yaml",
        "lots",
        lot=lot,
        variety=variety,
        packed=packed,
        sources=f"[{', '.join(f'{{batch: {batch}, weight: {weight:.1f} g}}' for batch, _, weight in runs)}]",
        weight=f"{grams:.1f} g",
        status="organic",
        containers=4,
        packaging="foil bag",
        container_use="new",
        storage="cool room",
        label=f"{{lot: {lot}, status: organic, variety: {variety}, last_certified_operation: {OPERATION}, "
        f"germination: 88 %, tested: {tested}}}",
    )
    files.add(
        "lots.yaml",
        "tests",
        test=f"G-{number}",
        lot=lot,
        date=tested,
        kind="germination",
        replicates="[88, 89, 87, 88]",
        per_replicate=100,
        temperature="alternating 20 C and 30 C",
        substrate="sand",
        counts="[15, 22]",
        laboratory="an independent laboratory",
        report=f"G-{number}",
    )
    kept = min(20.0, grams / 10)
    for kind, day, weight, party in (
        ("sold", sold, grams / 2, "an organic nursery"),
        ("retained", sold, kept, "the farm's own file sample"),
        ("counted", counted, grams / 2 - kept, "counted by two people"),
    ):
        files.add(
            f"movements/{day:%Y-%m}.yaml",
            "movements",
            movement=f"M-{number}-{kind}",
            date=day,
            lot=lot,
            kind=kind,
            weight=f"{weight:.2f} g",
            party=party,
            document=f"D-{number}-{kind}",
            status="organic",
            last_certified_operation=OPERATION,
        )


if __name__ == "__main__":
    sys.stdout.write(f"{write_season(Path(sys.argv[1]), int(sys.argv[2]))} bytes\n")
