"""The measures: what a user waits for, each against the plainest program that does the same."""

from __future__ import annotations

import json
from pathlib import Path

import yaml
from harness import ROOT, Material, Ratio, aiming, best_seconds, peak_mebibytes, python

LOAD = """
import sys, yaml
from pathlib import Path
for path in sorted(Path(sys.argv[1]).rglob("*.yaml")):
    yaml.load(path.read_bytes(), Loader=yaml.CSafeLoader)
"""
EXAMINE = """
import sys
from datetime import date
from pathlib import Path
from certgen import examine
examine(Path(sys.argv[1]), date(2026, 12, 31))
"""
REFERS_TO = (
    ("plantings", "block", "blocks", "block"),
    ("trees", "planting", "plantings", "planting"),
    ("screening", "tree", "trees", "tree"),
    ("bagging", "tree", "trees", "tree"),
    ("harvests", "bags", "bagging", "bag"),
    ("batches", "harvests", "harvests", "harvest"),
    ("movements", "lot", "lots", "lot"),
    ("tests", "lot", "lots", "lot"),
)


def load_plainly(folder: Path) -> list[dict[str, list[dict[str, object]]]]:
    """Every file of the season, as PyYAML's own fast loader gives it."""
    return [yaml.load(path.read_bytes(), Loader=yaml.CSafeLoader) for path in sorted(folder.rglob("*.yaml"))]


def check_plainly(folder: Path) -> list[str]:
    """The straightforward program: load, validate with jsonschema, follow references in loops."""
    from jsonschema import Draft202012Validator
    from referencing import Registry, Resource

    schemas = {path.name: json.loads(path.read_text("utf-8")) for path in (ROOT / "schemas").glob("*.json")}
    resources = [(name, Resource.from_contents(schema)) for name, schema in schemas.items()]
    validator = Draft202012Validator(schemas["records.json"], registry=Registry().with_resources(resources))
    faults: list[str] = []
    records: dict[str, list[dict[str, object]]] = {}
    for file in load_plainly(folder):
        # Dates come out of the loader as dates; the schemas, as everywhere, speak of what was typed.
        typed = json.loads(json.dumps(file, default=str))
        faults += [error.message for error in validator.iter_errors(typed)]
        for table, rows in typed.items():
            records.setdefault(table, []).extend(rows)
    keys = {
        table: {row[key] for row in records.get(table, [])}
        for table, key in {(target, key) for _, _, target, key in REFERS_TO}
    }
    for table, name, target, _ in REFERS_TO:
        for row in records.get(table, []):
            values = row.get(name, [])
            for value in values if isinstance(values, list) else [values]:
                if value not in keys[target]:
                    faults.append(f"{table}: {value}")
    return faults


@aiming(amount=0.2)
def help_against_bare_python(_: Material) -> Ratio:
    """`certgen --help` against `python -c pass`: what every command pays before it starts."""
    ours = best_seconds(python(["-m", "certgen", "--help"]), 7)
    return Ratio(ours, best_seconds(python(["-c", "pass"]), 7), "s")


@aiming(times=1.0)
def cold_check_against_loader(material: Material) -> Ratio:
    """`certgen check` of the season, start-up and all, against a program that only loads the same files."""
    command = ["-m", "certgen", "check", str(material.season), "--format", "json"]
    ours = best_seconds(python(command, allowed=(0, 1)), 3)
    return Ratio(ours, best_seconds(python(["-c", LOAD, str(material.season)]), 3), "s")


@aiming(times=0.6)
def reading_against_loader(material: Material) -> Ratio:
    """Reading and validating into tables, each value with its place, against PyYAML's fast loader alone."""
    from certgen.records import read_season

    ours = best_seconds(lambda: read_season(material.season), 3)
    return Ratio(ours, best_seconds(lambda: load_plainly(material.season), 3), "s")


@aiming(times=0.25)
def examining_against_plain_pipeline(material: Material) -> Ratio:
    """The whole examination, rules and lineage too, against loader, jsonschema and loops over references."""
    from datetime import date

    from certgen import examine

    ours = best_seconds(lambda: examine(material.season, date(2026, 12, 31)), 2)
    return Ratio(ours, best_seconds(lambda: check_plainly(material.season), 1), "s")


@aiming(times=10)
def memory_of_examining_against_the_files(material: Material) -> Ratio:
    """Peak memory that examining adds to a Python with its libraries loaded, against the YAML files' size."""
    bare = peak_mebibytes("import numpy, yaml, jsonschema_rs")
    ours = peak_mebibytes(EXAMINE, str(material.season))
    return Ratio(ours - bare, material.size_bytes / 1024**2, "MiB")
