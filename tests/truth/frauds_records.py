"""Records of the frauds' small seasons, as a grower would type them: sound ones, but for what `more` says.

Every name is invented.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

OPERATION, CERTIFICATE, RESPONSIBLE = "Quillbrook Seed Plot", "QB-0117", "I. Marl"
LABORATORY, SUPPLIER, CIRCLE = "Marlpit Leaf Laboratory", "Sallow Seed Circle", "SC-22"
VARIETY, OTHER_VARIETY = "Copper Wren", "Dusk Finch"
BUYER, NEIGHBOUR = "Tansy Acre", "Rookery Allotments"
PIECES = ["pulper", "sieve", "trays"]
TARGETS = ["35S", "nptII", "NOS", "CP"]
KEYS = {
    "blocks": "block", "plantings": "planting", "trees": "tree", "rounds": "round", "letters": "letter",
    "submissions": "submission",
    "screening": "sample", "bagging": "bag", "harvests": "harvest", "batches": "batch",
    "cleaning": "cleaning", "lots": "lot", "tests": "test", "movements": "movement", "inputs": "input",
    "incidents": "incident", "explanations": "rule", "observations": "observation", "recalls": "recall",
    "materials": "material", "compost": "heap", "scouting": "scouting", "water_tests": "water_test",
    "visits": "visit",
}  # fmt: skip


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
        "storage": "cool room", "storage_temperature": "15 C", "generation": 1,
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
