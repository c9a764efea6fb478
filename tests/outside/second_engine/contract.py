"""The record contract: the JSON Schemas of the tables, the crop profiles and the rulebooks, as data."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from jsonschema import Draft202012Validator

from second_engine.values import RefusedError, day, quantity

HOME = Path(__file__).resolve().parents[3]
SCHEMAS = HOME / "schemas"
DATA = HOME / "certgen" / "standards" / "data"
QUANTITIES = frozenset({"mass", "temperature", "length", "duration", "percent", "area"})


@cache
def profile_of(crop: str) -> dict[str, Any]:
    """A crop profile."""
    path = DATA / "profiles" / f"{crop}.yaml"
    if not crop.isidentifier() or not path.is_file():
        raise RefusedError(f"no profile of {crop}")
    return dict(yaml.safe_load(path.read_text(encoding="utf-8")))


@cache
def demands_of(standard: str) -> dict[str, Any]:
    """What a rulebook asks, by the name of the demand."""
    path = DATA / "rulebooks" / f"{standard}.yaml"
    if "/" in standard or not path.is_file():
        raise RefusedError(f"no rulebook {standard}")
    demands = yaml.safe_load(path.read_text(encoding="utf-8"))["demands"]
    return {key: told["value"] for key, told in demands.items()}


@cache
def prohibited_names() -> tuple[str, ...]:
    """The common names of materials that no rulebook allows on organic land."""
    told = yaml.safe_load((DATA / "prohibited.yaml").read_text(encoding="utf-8"))
    return tuple(name for kind in told["kinds"].values() for name in kind["names"])


@cache
def _definitions() -> dict[str, Any]:
    return dict(json.loads((SCHEMAS / "common.json").read_text(encoding="utf-8"))["$defs"])


def _inlined(schema: Any, words: dict[str, list[str]] | None) -> Any:
    """A schema with what it refers to in its place and the profile's words as its enum."""
    if isinstance(schema, list):
        return [_inlined(one, words) for one in schema]
    if not isinstance(schema, dict):
        return schema
    made = dict(schema)
    if str(made.get("$ref", "")).startswith("common.json"):
        target = _definitions()[made.pop("$ref").rpartition("/")[2]]
        made = {**target, **made}
    made = {
        key: value if key in {"required", "enum", "const", "x-refers-to"} else _inlined(value, words)
        for key, value in made.items()
        if key not in {"examples", "description", "title"} or not isinstance(value, (str, list))
    }
    if words and made.get("x-words") in words:
        made["enum"] = words[made["x-words"]]
    return made


@cache
def schema_of(table: str, crop: str | None) -> dict[str, Any]:
    """A table's schema, with the words of the crop."""
    loaded = json.loads((SCHEMAS / f"{table}.json").read_text(encoding="utf-8"))
    made = _inlined(loaded, profile_of(crop)["words"] if crop else None)
    return {key: value for key, value in made.items() if key not in {"$id", "$schema"}}


@cache
def validator_of(table: str, crop: str | None) -> Draft202012Validator:
    """What holds a record of the table against its schema."""
    return Draft202012Validator(schema_of(table, crop))


@cache
def table_names() -> tuple[str, ...]:
    """The tables that a file may hold, in the contract's order."""
    return tuple(json.loads((SCHEMAS / "records.json").read_text(encoding="utf-8"))["properties"])


def key_of(table: str) -> str | None:
    """The field that bears a record's number."""
    return schema_of(table, None).get("x-key")


def typed(schema: dict[str, Any], raw: Any) -> Any:
    """A raw value as the schema's kind wants it; what can't be is left as it is, for the schema to refuse."""
    kind = schema.get("x-kind")
    if isinstance(raw, dict):
        inner = schema.get("properties", {})
        others = schema.get("additionalProperties")
        others = others if isinstance(others, dict) else {}
        return {key: typed(inner.get(key, others), value) for key, value in raw.items() if value is not None}
    if isinstance(raw, list):
        return [typed(schema.get("items", {}), value) for value in raw]
    if not isinstance(raw, str):
        return raw
    if any(ord(sign) < 32 and sign not in "\t\n\r" for sign in raw):
        raise RefusedError("a control character")
    if kind == "whole":
        return int(raw) if raw.isascii() and raw.isdigit() and len(raw) < 10 else raw
    if kind == "number":
        try:
            return float(raw)
        except ValueError:
            return raw
    if kind == "yes_no":
        return {"yes": True, "true": True, "no": False, "false": False}.get(raw.casefold(), raw)
    if kind == "date":
        day(raw)
    if kind in QUANTITIES:
        quantity(str(kind), raw)
    return raw


def sound(table: str, crop: str | None, raw: Any) -> dict[str, Any]:
    """A record as typed values, or `RefusedError`."""
    if not isinstance(raw, dict):
        raise RefusedError("a record needs fields")
    record = typed(schema_of(table, crop), raw)
    error = next(iter(validator_of(table, crop).iter_errors(record)), None)
    if error is not None:
        raise RefusedError(f"{'.'.join(map(str, error.absolute_path))}: {error.message[:90]}")
    last = record.get("last_prohibited_substance")
    if last and last != "none known":
        day(last)
    return dict(record)


def references(schema: dict[str, Any], value: Any) -> list[tuple[str, tuple[str, ...], str]]:
    """(field, tables, name) of every name that a record's reference fields hold, whatever else it says."""
    found: list[tuple[str, tuple[str, ...], str]] = []

    def walk(part: dict[str, Any], value: Any, field: str) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                below = part.get("properties", {}).get(key)
                if below:
                    walk(below, inner, f"{field}_{key}" if field else key)
        elif isinstance(value, list):
            for inner in value:
                walk(part.get("items", {}), inner, field)
        elif isinstance(value, str) and "x-refers-to" in part:
            found.append((field, tuple(part["x-refers-to"]), value))
        elif isinstance(value, str) and "x-refers-to" in part.get("items", {}):
            # A list that somebody wrote as one name.
            found.append((field, tuple(part["items"]["x-refers-to"]), value))

    walk(schema, value, "")
    return found
