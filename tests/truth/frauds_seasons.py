"""Small clean seasons, as a grower would type them, for the frauds and the honest variants to be tried on.

`plain`: two lots of one year, each from one run, one picking, three bags and one tree; leaves stained.
`years`: the same with the folder of the year before, whose lots K1 and K2 are carried over; lot L1 grew
from K1, lot L3 is blended of K2 and L2; leaves tested for DNA. `rounds`: the plain year written with rounds,
a laboratory's letter and a routine.
"""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from frauds_records import (
    KEYS,
    LABORATORY,
    OPERATION,
    PIECES,
    RESPONSIBLE,
    TARGETS,
    VARIETY,
    bag,
    batch,
    block,
    cleaning,
    dna_tested,
    germination,
    harvest,
    lot,
    move,
    planting,
    sale,
    season,
    stained,
    tree,
    trees,
)

EARLIER = "2025"


@dataclass
class Folder:
    """A season's folder: the tables of each year (this year's under ""), and files beside them."""

    years: dict[str, dict[str, Any]]
    files: dict[str, str] = field(default_factory=dict)

    def find(self, name: str, year: str = "") -> dict[str, Any]:
        """The first record of the name, whatever its table; `season` is the year's own mapping."""
        tables = self.years[year]
        if name == "season":
            return tables["season"]
        for table, key in KEYS.items():
            for record in tables.get(table, ()):
                if record.get(key) == name:
                    return record
        raise LookupError(f"no record {name} in {year or 'this year'}")

    def write(self, place: Path) -> Path:
        """Writes the folder as files of records (JSON is YAML), each year before as a hidden folder."""
        for year, tables in self.years.items():
            folder = place / f".season-{year}" if year else place
            (folder / "evidence").mkdir(parents=True, exist_ok=True)
            (folder / "evidence" / "nongm.txt").write_text("not engineered", encoding="utf-8")
            text = json.dumps({name: rows for name, rows in tables.items() if rows}, indent=1)
            (folder / "season.yaml").write_text(text, encoding="utf-8")
        for name, text in self.files.items():
            path = place / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode("latin-1" if name.endswith("latin.yaml") else "utf-8"))
        return place


def one_year(prefix: str = "") -> dict[str, Any]:
    """Bags, pickings, runs, lots, tests and ledger of one plain year; `P` marks those of the year before."""
    year = EARLIER if prefix else "2026"
    lots = ("K1", "K2") if prefix else ("L1", "L2")

    def name(letter: str, number: int) -> str:
        return f"{letter}{prefix}{number}"

    tables: dict[str, Any] = {
        "blocks": [block()],
        "plantings": [planting()],
        "trees": trees(),
        "bagging": [], "harvests": [], "batches": [], "cleaning": [], "lots": [], "tests": [],
        "movements": [],
    }  # fmt: skip
    days = ("06-25", "07-04", "07-03", "07-16"), ("07-02", "07-11", "07-10", "07-17")
    covered = ("02-02", "02-02", "02-09"), ("02-09", "02-09", "02-10")
    for at, (grams, sold) in enumerate(((21, 5), (24, 6))):
        picked, run, cleaned, packed = (f"{year}-{day}" for day in days[at])
        bags = [
            bag(name("B", 3 * at + one + 1), f"00{at + 1}", f"{year}-{day}")
            for one, day in enumerate(covered[at])
        ]
        number, here = at + 1, lots[at]
        tables["bagging"] += bags
        tables["harvests"].append(harvest(name("H", number), picked, [one["bag"] for one in bags]))
        tables["batches"].append(batch(name("E", number), run, [name("H", number)], grams))
        tables["cleaning"].append(cleaning(name("C", number), cleaned, name("E", number)))
        source = {"batch": name("E", number), "weight": f"{grams} g"}
        tables["lots"].append(lot(here, packed, [source], grams))
        tables["tests"].append(germination(name("G", number), here, year))
        note = {"party": "own bench", "note": "for the germination test"}
        tables["movements"] += [
            move(name("M", number), f"{year}-08-07", here, "sampled", 6.5, **note),
            sale(name("M", number + 2), f"{year}-09-2{at}", here, sold),
            move(name("M", number + 4), f"{year}-11-20", here, "counted", grams - 6.5 - sold),
        ]
    return tables


@cache
def _plain() -> dict[str, Any]:
    screening = [stained(f"S{number}", f"00{number}") for number in range(1, 6)]
    return {"season": season("2026", events_of_concern=["55-1", "63-1"]), **one_year(),
            "screening": screening}  # fmt: skip


@cache
def _before() -> dict[str, Any]:
    tables = one_year("P")
    tables["plantings"] = [planting(planted="2023-09-18"), _grown()]
    tables["trees"].append(tree("101", of="P2"))
    tables["movements"].append(move("MS1", "2025-07-20", "K1", "sown", 3, planting="P2"))
    tables["movements"][2]["weight"] = "6.5 g"
    screening = [dna_tested(f"SP{number}", f"00{number}", "2025-01-06") for number in range(1, 6)]
    return {"season": season(EARLIER), **tables, "screening": screening}


def _grown() -> dict[str, Any]:
    grown = planting("P2", "2025-07-20", origin={"lot": "K1"}, generation=1)
    del grown["non_gm_statement"]
    return grown


@cache
def _after() -> dict[str, Any]:
    tables = one_year()
    tables["plantings"] = [planting(planted="2023-09-18"), _grown()]
    tables["trees"].append(tree("101", of="P2"))
    for record in tables["bagging"][:3]:
        record["tree"] = record["tag"]["tree"] = "101"
    tables["lots"][0]["generation"] = 2
    sources = [{"lot": "K2", "weight": "5 g"}, {"lot": "L2", "weight": "5 g"}]
    label = {"germination": "85 %", "tested": "2026-09-20", "lot": "L3", "status": "organic",
             "variety": VARIETY, "last_certified_operation": OPERATION}  # fmt: skip
    tables["lots"].append(lot("L3", "2026-08-20", sources, 10, label=label))
    tables["tests"].append(
        germination("G3", "L3", "2026", date="2026-09-20", sampled="2026-08-25",
                    replicates=[21, 21, 22, 21], per_replicate=25)
    )  # fmt: skip
    tables["movements"][5]["weight"] = "6.5 g"
    tables["movements"] += [
        move("MO1", "2026-01-01", "K1", "opening stock", 6.5),
        move("MO2", "2026-01-01", "K2", "opening stock", 11.5),
        sale("M7", "2026-02-10", "K2", 2),
        move("M8", "2026-08-25", "L3", "sampled", 1.6, party="own bench", note="for the germination test"),
        move("M9", "2026-11-20", "L3", "counted", 8.4),
        move("M10", "2026-11-20", "K1", "counted", 6.5),
        move("M11", "2026-11-20", "K2", "counted", 4.5),
    ]
    screening = [dna_tested("S1", "001"), dna_tested("S2", "002"), dna_tested("S101", "101")]
    return {"season": season("2026", previous=f".season-{EARLIER}"), **tables, "screening": screening}


@cache
def _rounds() -> dict[str, Any]:
    tables = one_year()
    numbers = [f"B26-00{number}" for number in range(1, 7)]
    of = ["001"] * 3 + ["002"] * 3
    tables["bagging"] = [{"bag": one, "tree": its} for one, its in zip(numbers, of, strict=True)]
    for at, one in enumerate(tables["harvests"]):
        one["bags"] = numbers[3 * at : 3 * at + 3]
        del one["stage"]
    for one in tables["batches"]:
        del one["equipment"], one["blade"]
    for one in tables["lots"]:
        del one["packaging"], one["container_use"], one["storage"]
    covering = {
        "flower": "hermaphrodite", "stage": "closed bud", "other_buds_cleared": True, "secured": True,
        "tagged": True, "numbered": True,
    }  # fmt: skip
    rounds = [
        _round("R1", "sampling", "2026-01-06", samples=["S26-001 to S26-005"], marked=True,
               petiole="32 mm"),
        _round("R2", "bagging", "2026-02-02", bags=["B26-001 to B26-003"], **covering),
        _round("R3", "bagging", "2026-02-09", bags=["B26-004 to B26-006"], **covering),
        _round("R4", "check", "2026-02-10", blocks=["EAST"], condition="intact"),
        _round("R5", "check", "2026-02-17", blocks=["EAST"], condition="intact"),
        _round("R6", "uncovering", "2026-02-27", bags=["B26-001 to B26-006"], outcome="set",
               fruit_marked=True),
        _round("R7", "picking", "2026-06-25", harvests=["H1"], ripeness="colour break"),
        _round("R8", "picking", "2026-07-02", harvests=["H2"], ripeness="colour break"),
    ]  # fmt: skip
    letter = {
        "letter": "ML-77", "laboratory": LABORATORY, "received": "2026-01-07", "reported": "2026-01-13",
        "method": "pcr", "targets": list(TARGETS), "controls": "passed", "samples": ["S26-001 to S26-005"],
        "result": "negative",
    }  # fmt: skip
    routine = {
        "stated_by": RESPONSIBLE, "date": "2026-01-02", "equipment": list(PIECES), "blade": "blunt plastic",
        "bag_use": "new", "packaging": "foil bags", "container_use": "new", "storage": "cool room",
    }  # fmt: skip
    samples = [{"sample": f"S26-00{one}", "tree": f"00{one}", "report": "ML-77"} for one in range(1, 6)]
    return {"season": season("2026", routine=routine), **tables, "rounds": rounds, "letters": [letter],
            "screening": samples}  # fmt: skip


def _round(name: str, kind: str, day: str, **more: Any) -> dict[str, Any]:
    return {"round": name, "kind": kind, "date": day, "by": RESPONSIBLE, **more}


PLAIN, YEARS, ROUNDS = "plain", "years", "rounds"


def folder_of(base: str) -> Folder:
    """A fresh copy of a clean season's folder."""
    if base == PLAIN:
        return Folder({"": deepcopy(_plain())})
    if base == YEARS:
        return Folder({"": deepcopy(_after()), EARLIER: deepcopy(_before())})
    return Folder({"": deepcopy(_rounds())})
