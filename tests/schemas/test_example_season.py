"""The example season against the schemas, and its stock book against plain arithmetic."""

from __future__ import annotations

import functools
import json
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path
from typing import Any

import jsonschema
import jsonschema_rs
import pytest
import referencing
import yaml

COVERS = ("example_season", "schemas")
ROOT = Path(__file__).resolve().parents[2]
SCHEMAS: dict[str, dict[str, Any]] = {
    path.stem: json.loads(path.read_text(encoding="utf-8"))
    for path in sorted((ROOT / "schemas").glob("*.json"))
}
SEASONS = {"2026": ROOT / "example_season", "2025": ROOT / "example_season" / ".season-2025"}
# International avoirdupois ounce, exact since 1959: 28.349523125 g.
MILLIGRAMS = {"g": Decimal(1000), "oz": Decimal("28349.523125"), "lb": Decimal("453592.37")}
SHORT_ON_PURPOSE = {("2026", "RC-26-3"): -2500}
INTO_STOCK = {"opening stock", "received", "returned"}


def files(season: str) -> list[Path]:
    """The record files of a season, as a reader would find them."""
    folder = SEASONS[season]
    return [
        path
        for path in sorted(folder.rglob("*.yaml"))
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
    ]


def resolved(part: dict[str, Any]) -> dict[str, Any]:
    """A part of a schema with its reference followed once."""
    reference = part.get("$ref", "")
    if not reference:
        return part
    file, _, name = reference.partition("#/$defs/")
    target = SCHEMAS[file.removesuffix(".json")]
    return {**(target["$defs"][name] if name else target), **part}


def typed(value: Any, part: dict[str, Any]) -> Any:
    """A value read as text turned into what its schema says it is."""
    full = resolved(part)
    if isinstance(value, dict):
        known = full.get("properties", {})
        other = full.get("additionalProperties")
        fallback = other if isinstance(other, dict) else {}
        return {key: typed(child, known.get(key, fallback)) for key, child in value.items()}
    if isinstance(value, list):
        return [typed(child, full.get("items", {})) for child in value]
    match full.get("x-kind"):
        case "whole":
            return int(value)
        case "number":
            return float(value)
        case "yes_no":
            return {"yes": True, "no": False}[value]
    return value


@functools.cache
def load(path: Path) -> dict[str, Any]:
    """One file of records with every scalar first kept as text, then typed by the schema."""
    raw = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)
    return {name: typed(value, SCHEMAS["records"]["properties"][name]) for name, value in raw.items()}


def table(season: str, name: str) -> list[dict[str, Any]]:
    """All records of one table in one season."""
    return [record for path in files(season) for record in load(path).get(name, [])]


def milligrams(text: str) -> int:
    """A typed weight in whole milligrams."""
    number, unit = text.split(" ")
    return int((Decimal(number) * MILLIGRAMS[unit]).to_integral_value(ROUND_HALF_EVEN))


@pytest.mark.parametrize("season", SEASONS)
def test_every_file_satisfies_both_validators(season: str) -> None:
    """No file of the example breaks a schema, whichever engine reads it."""
    registry: referencing.Registry[Any] = referencing.Registry().with_contents(
        [(f"{name}.json", schema) for name, schema in SCHEMAS.items()]
    )
    explainer = jsonschema.Draft202012Validator(
        SCHEMAS["records"], registry=registry, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    decider = jsonschema_rs.Draft202012Validator(
        SCHEMAS["records"],
        registry=jsonschema_rs.Registry([(f"{name}.json", schema) for name, schema in SCHEMAS.items()]),
        validate_formats=True,
    )
    assert files(season)
    for path in files(season):
        records = load(path)
        assert [] == [(path.name, error.message) for error in explainer.iter_errors(records)]
        assert decider.is_valid(records)


@pytest.mark.parametrize("season", SEASONS)
def test_references_meet_a_record(season: str) -> None:
    """Every identifier that the example refers to is borne by a record of this season or the one before."""
    keys = {
        name: {record[schema["x-key"]] for year in SEASONS for record in table(year, name)}
        for name, schema in SCHEMAS.items()
        if "x-key" in schema
    }

    def check(value: Any, part: dict[str, Any], where: str) -> None:
        full = resolved(part)
        if isinstance(value, dict):
            for key, child in value.items():
                check(child, full["properties"][key], f"{where}.{key}")
        elif isinstance(value, list):
            for child in value:
                check(child, full.get("items", {}), where)
        elif "x-refers-to" in full:
            assert any(value in keys[name] for name in full["x-refers-to"]), f"{where}: {value}"

    for name, schema in SCHEMAS.items():
        if "x-key" in schema:
            for record in table(season, name):
                check(record, schema, f"{name} {record[schema['x-key']]}")


@pytest.mark.parametrize("season", SEASONS)
def test_identifiers_stand_once(season: str) -> None:
    """No identifier is used twice in its table."""
    for name, schema in SCHEMAS.items():
        if "x-key" in schema:
            found = [record[schema["x-key"]] for record in table(season, name)]
            assert sorted(set(found)) == sorted(found)


_OF_SEASON = {"season": ("paper", "drawn")}


def _papers_of(season: dict[str, Any]) -> list[dict[str, Any]]:
    """The season itself, its map and the sections of its plan."""
    return [season, season.get("map", {}), *season.get("plan", ())]


@pytest.mark.parametrize("season", SEASONS)
def test_evidence_and_records_name_each_other(season: str) -> None:
    """Each file that a record names lies in the evidence folder, and each file there is named."""
    named: set[str] = set()
    for path in files(season):
        records = load(path)
        for name, value in records.items():
            for record in _papers_of(value) if name == "season" else value:
                for field in ("evidence", "non_gm_statement", "search_log", *_OF_SEASON.get(name, ())):
                    given = record.get(field, [])
                    named.update([given] if isinstance(given, str) else given)
    folder = SEASONS[season] / "evidence"
    assert named == {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def named(texts: list[str]) -> list[str]:
    """The bags that numbers and ranges ('B26-002 to B26-012') stand for."""
    found: list[str] = []
    for text in texts:
        first, _, last = text.partition(" to ")
        front, digits = first[:4], len(first) - 4
        numbers = range(int(first[4:]), int((last or first)[4:]) + 1)
        found.extend(f"{front}{number:0{digits}d}" for number in numbers)
    return found


def outcomes(season: str) -> dict[str, str]:
    """What became of each bag's flowers: its own word, else an exception's, else that of the walk."""
    found: dict[str, str] = {}
    for walk in table(season, "rounds"):
        if walk["kind"] == "uncovering":
            found.update(dict.fromkeys(named(walk["bags"]), walk["outcome"]))
            for exception in walk.get("exceptions", []):
                found.update(dict.fromkeys(named(exception["about"]), exception["outcome"]))
    return found | {bag["bag"]: bag["outcome"] for bag in table(season, "bagging") if "outcome" in bag}


@pytest.mark.parametrize("season", SEASONS)
def test_fruit_is_what_the_bags_set(season: str) -> None:
    """A bagged picking counts one fruit a bag, every bag set its fruit, and no bag is picked twice."""
    outcome = outcomes(season)
    picked: list[str] = []
    for record in table(season, "harvests"):
        if "bags" in record:
            assert len(record["bags"]) == record["fruits"]
            assert {"set"} == {outcome[bag] for bag in record["bags"]}
            picked.extend(record["bags"])
    assert sorted(bag for bag, found in outcome.items() if found == "set") == sorted(picked)


@pytest.mark.parametrize("season", SEASONS)
def test_lot_weighs_what_its_sources_weigh(season: str) -> None:
    """Sources add up to the lot, and no batch gives more than it weighed, to the milligram."""
    dry = {
        record["batch"]: milligrams(record["dry_weight"])
        for record in table(season, "batches")
        if "dry_weight" in record
    }
    for record in table(season, "lots"):
        assert milligrams(record["weight"]) == sum(milligrams(part["weight"]) for part in record["sources"])
        for part in record["sources"]:
            if "batch" in part:
                dry[part["batch"]] -= milligrams(part["weight"])
    assert min(dry.values()) >= 0


@pytest.mark.parametrize("season", SEASONS)
def test_stock_book_closes_but_for_the_intended_shortage(season: str) -> None:
    """Packed and opening stock, less what went out, is what was counted; one lot is short on purpose."""
    stock: dict[str, int] = {record["lot"]: milligrams(record["weight"]) for record in table(season, "lots")}
    counted: dict[str, int] = {}
    for record in table(season, "lots"):
        for part in record["sources"]:
            if "lot" in part:
                stock[part["lot"]] = stock.get(part["lot"], 0) - milligrams(part["weight"])
    for record in table(season, "movements"):
        weight = milligrams(record["weight"])
        if record["kind"] == "counted":
            counted[record["lot"]] = weight
        else:
            sign = 1 if record["kind"] in INTO_STOCK else -1
            stock[record["lot"]] = stock.get(record["lot"], 0) + sign * weight
    assert set(stock) == set(counted)
    assert {lot: stock[lot] + SHORT_ON_PURPOSE.get((season, lot), 0) for lot in stock} == counted


def test_stock_carries_over() -> None:
    """What the season before counted last is what this season opened with."""
    closed = {
        record["lot"]: milligrams(record["weight"])
        for record in table("2025", "movements")
        if record["kind"] == "counted"
    }
    opened = {
        record["lot"]: milligrams(record["weight"])
        for record in table("2026", "movements")
        if record["kind"] == "opening stock"
    }
    assert {lot: weight for lot, weight in closed.items() if weight} == opened
