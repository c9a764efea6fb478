"""The records for other programs: as the published schema says."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING

import jsonschema
import pytest
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from certgen.examination import Result, examine
from certgen.exchange.interchange.layout import render_json
from certgen.exchange.interchange.records import build_records
from certgen.manifest import Maker, build_manifest
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, dt.date(2026, 12, 31))


MAKER = Maker("0.1.0", "0" * 64, {"weasyprint": "70.0"})


def validator(name: str) -> jsonschema.Draft202012Validator:
    """A validator of one of the output schemas, with the others at hand."""
    registry = Registry().with_resources(
        (path.as_uri(), Resource.from_contents(json.loads(path.read_text()), DRAFT202012))
        for path in schemas_dir().rglob("*.json")
    )
    schema = {"$ref": (schemas_dir() / "output" / f"{name}.json").as_uri()}
    return jsonschema.Draft202012Validator(schema, registry=registry)


def test_json_keeps_to_its_schema(result: Result) -> None:
    """What is written is what `schemas/output/records.json` describes."""
    written = json.loads(render_json(build_records(result)))

    assert [] == [error.message for error in validator("records").iter_errors(written)]


def test_the_manifest_keeps_to_its_schema(result: Result) -> None:
    """And so is the manifest."""
    assert [] == [
        error.message for error in validator("manifest").iter_errors(build_manifest(result, MAKER).content)
    ]
