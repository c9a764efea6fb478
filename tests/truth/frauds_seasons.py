"""Small clean seasons, as a grower would type them, for the frauds and the honest variants to be tried on.

`plain`: two lots of one year, each from one run, one picking, three bags and one tree; leaves stained.
`years`: the same with the folder of the year before, whose lots K1 and K2 are carried over; lot L1 grew
from K1, lot L3 is blended of K2 and L2; leaves tested for DNA. `rounds`: the plain year written with rounds,
a laboratory's letter and a routine. Every name is invented.
"""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

OPERATION, CERTIFICATE, RESPONSIBLE = "Quillbrook Seed Plot", "QB-0117", "I. Marl"
LABORATORY, SUPPLIER, CIRCLE = "Marlpit Leaf Laboratory", "Sallow Seed Circle", "SC-22"
VARIETY, OTHER_VARIETY = "Copper Wren", "Dusk Finch"
BUYER, NEIGHBOUR = "Tansy Acre", "Rookery Allotments"
PIECES = ["pulper", "sieve", "trays"]
TARGETS = ["35S", "nptII", "NOS", "CP"]
EARLIER = "2025"
KEYS = {
    "blocks": "block", "plantings": "planting", "trees": "tree", "rounds": "round", "letters": "letter",
    "screening": "sample", "bagging": "bag", "harvests": "harvest", "batches": "batch",
    "cleaning": "cleaning", "lots": "lot", "tests": "test", "movements": "movement", "inputs": "input",
    "incidents": "incident", "explanations": "rule",
}  # fmt: skip


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


def later(day: str, days: int) -> str:
    """The date so many days after another."""
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


def season(year: str, **more: Any) -> dict[str, Any]:
    """The mapping that says whose season it is."""
    return {
        "operation": {
            "name": OPERATION, "certificate": CERTIFICATE, "certifier": "Bittern Review",
            "address": "3 Sedge Lane", "responsible": RESPONSIBLE, "contact": "the packing shed",
            "records_kept": "grey cabinet",
        },
        "label": year, "from": f"{year}-01-01", "to": f"{year}-12-31", "crop": "papaya",
        "standards": ["us-nop"], **more,
    }  # fmt: skip


def block(name: str = "EAST", **more: Any) -> dict[str, Any]:
    """Land that was organic long before."""
    return {
        "block": name, "status": "organic", "organic_since": "2018-05-01",
        "last_prohibited_substance": "2014-09-30", "area": "1 acre", "boundary": "stone wall all round",
        "buffer": "12 m", "nearest_same_crop": "900 m", **more,
    }  # fmt: skip


def planting(name: str = "P1", planted: str = "2024-09-18", **more: Any) -> dict[str, Any]:
    """Trees from bought organic seed."""
    return {
        "planting": name, "block": "EAST", "variety": VARIETY, "planted": planted, "material": "seed",
        "material_status": "organic", "origin": {"supplier": SUPPLIER, "certificate": CIRCLE},
        "non_gm_statement": "nongm.txt", "generation": 0, **more,
    }  # fmt: skip


def tree(name: str, sex: str = "hermaphrodite", of: str = "P1", **more: Any) -> dict[str, Any]:
    """A tree of the register."""
    return {"tree": name, "planting": of, "row": "1", "position": name, "sex": sex, **more}


def trees() -> list[dict[str, Any]]:
    """Two mothers, a female, a male and a spare."""
    return [tree("001"), tree("002"), tree("003", "female"), tree("004", "male"), tree("005")]


def stained(name: str, of: str, day: str = "2026-01-06", **more: Any) -> dict[str, Any]:
    """A leaf that came out clean in the stain."""
    return {
        "sample": name, "tree": of, "mark": of, "collected": day, "petiole": "32 mm", "method": "gus",
        "laboratory": LABORATORY, "submitted": later(day, 1), "incubation": "14 h", "temperature": "37 C",
        "controls": "passed", "result": "negative", "reported": later(day, 7), "report": f"ML-{name}", **more,
    }  # fmt: skip


def dna_tested(name: str, of: str, day: str = "2026-01-06", **more: Any) -> dict[str, Any]:
    """A leaf that came out clean in a DNA test."""
    record = {**stained(name, of, day), "method": "pcr", "targets": list(TARGETS), **more}
    return {key: value for key, value in record.items() if key not in {"incubation", "temperature"}}


def bag(name: str, of: str, day: str, **more: Any) -> dict[str, Any]:
    """A bag as it should be: tied over a closed bud, twice found whole, off on the 18th day."""
    return {
        "bag": name, "tree": of, "covered": day, "tag": {"date": day, "variety": VARIETY, "tree": of},
        "flower": "hermaphrodite", "stage": "closed bud", "other_buds_cleared": True, "secured": True,
        "bag_use": "new",
        "checks": [
            {"date": later(day, 7), "condition": "intact"}, {"date": later(day, 13), "condition": "intact"},
        ],
        "uncovered": later(day, 18), "outcome": "set", "fruit_marked": True, **more,
    }  # fmt: skip


def harvest(name: str, day: str, bags: list[str], **more: Any) -> dict[str, Any]:
    """A picking of the fruit of some bags, ripened nine days."""
    return {
        "harvest": name, "date": day, "bags": bags, "fruits": len(bags), "weight": f"{500 * len(bags)} g",
        "stage": "colour break", "status": "organic",
        "ripening": {"temperature": "24 C", "until": later(day, 9), "colour": "80 %"}, **more,
    }  # fmt: skip


def batch(name: str, day: str, harvests: list[str], grams: float, **more: Any) -> dict[str, Any]:
    """A run of extraction, dried three days."""
    return {
        "batch": name, "date": day, "harvests": harvests, "status": "organic", "equipment": list(PIECES),
        "blade": "blunt plastic", "runs": ["3 min"], "rinses": 4, "floated_off": "4 g",
        "wet_weight": f"{grams * 2.2:.1f} g",
        "drying": {"method": "fan", "temperature": "30 C", "from": day, "to": later(day, 3),
                   "humidity": "normal"},
        "dry_weight": f"{grams} g", "moisture": "8.8 %", **more,
    }  # fmt: skip


def foreign(name: str, day: str, **more: Any) -> dict[str, Any]:
    """A run of somebody else's seed on the same equipment."""
    return {
        "batch": name, "date": day, "other_seed": "gourd seed for the market stall",
        "status": "conventional", "equipment": list(PIECES),
        "drying": {"method": "fan", "temperature": "30 C", "from": day, "to": later(day, 1)}, **more,
    }  # fmt: skip


def cleaning(name: str, day: str, before: str | None, **more: Any) -> dict[str, Any]:
    """All pieces cleaned, as a rule for a run."""
    made = {"before": before} if before else {}
    return {
        "cleaning": name, "date": day, "equipment": list(PIECES), "method": "brushed, rinsed twice",
        "agent": "water only", **made, **more,
    }  # fmt: skip


def lot(name: str, day: str, sources: list[dict[str, Any]], grams: float, **more: Any) -> dict[str, Any]:
    """A lot of packed seed, with its label."""
    return {
        "lot": name, "variety": VARIETY, "packed": day, "sources": sources, "weight": f"{grams} g",
        "status": "organic", "containers": 4, "packaging": "foil bags", "container_use": "new",
        "storage": "refrigerated", "storage_temperature": "15 C", "generation": 1,
        "label": {
            "lot": name, "status": "organic", "variety": VARIETY, "last_certified_operation": OPERATION,
            "germination": "85 %", "tested": f"{day[:4]}-09-01",
        }, **more,
    }  # fmt: skip


def germination(name: str, of: str, year: str, **more: Any) -> dict[str, Any]:
    """The operation's own germination test."""
    return {
        "test": name, "lot": of, "date": f"{year}-09-01", "kind": "germination", "sampled": f"{year}-08-07",
        "replicates": [86, 84, 87, 85], "per_replicate": 100, "method": "in-house, sand bed",
        "temperature": "20-30 C alternating", "substrate": "moist sand", "counts": [15, 22],
        "laboratory": OPERATION, **more,
    }  # fmt: skip


def transgene(name: str, of: str, positive: int, day: str = "2026-08-20", **more: Any) -> dict[str, Any]:
    """A test of a lot for transgenes, by a laboratory with a numbered report."""
    return {
        "test": name, "lot": of, "date": day, "kind": "transgene", "sampled": later(day, -6), "pools": 10,
        "seeds_per_pool": 10, "positive_pools": positive, "targets": list(TARGETS), "controls": "passed",
        "laboratory": LABORATORY, "report": f"ML-{name}", **more,
    }  # fmt: skip


def move(name: str, day: str, of: str, kind: str, grams: float, **more: Any) -> dict[str, Any]:
    """An entry of the stock ledger."""
    return {"movement": name, "date": day, "lot": of, "kind": kind, "weight": f"{grams} g", **more}


def sale(name: str, day: str, of: str, grams: float, **more: Any) -> dict[str, Any]:
    """Seed sold with its papers."""
    papers = {"party": BUYER, "document": f"INV-{name}", "status": "organic",
              "last_certified_operation": OPERATION, "carrier": "by post"}  # fmt: skip
    return move(name, day, of, "sold", grams, **{**papers, **more})


def came(name: str, day: str, of: str, kind: str, grams: float, **more: Any) -> dict[str, Any]:
    """Seed that came in with papers: received from a stranger, or returned."""
    papers = {"party": "Hollin Traders", "document": f"DN-{name}", "status": "organic",
              "last_certified_operation": "Hollin Traders"}  # fmt: skip
    return move(name, day, of, kind, grams, **{**papers, **more})


def returned(name: str, day: str, of: str, grams: float, **more: Any) -> dict[str, Any]:
    """Unopened seed that its buyer sent back."""
    papers = {"party": BUYER, "last_certified_operation": OPERATION, "opened": False}
    return came(name, day, of, "returned", grams, **{**papers, **more})


def incident(name: str, day: str, kind: str, about: list[str], **more: Any) -> dict[str, Any]:
    """Something that went wrong, dealt with and closed."""
    return {
        "incident": name, "date": day, "kind": kind, "about": about, "action": "looked into and put right",
        "closed": later(day, 2), "certifier_notified": later(day, 1), **more,
    }  # fmt: skip


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
        "bag_use": "new", "packaging": "foil bags", "container_use": "new", "storage": "refrigerated",
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
