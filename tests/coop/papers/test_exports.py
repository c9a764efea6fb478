"""The result for other programs keeps to its schema, and is safe to open."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import jsonschema

from certgen.coop.papers.exports import HEADING, as_json, list_rows
from certgen.exchange.interchange.layout import render_csv, render_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.coop.between.result import CoopResult

COVERS = ("certgen.coop.members.facts", "certgen.coop.papers.control_records")
GOLDEN = Path(__file__).parent / "golden"
SCHEMA = Path(__file__).resolve().parents[3] / "schemas" / "output" / "coop.json"


def test_json_keeps_to_its_schema(example_result: CoopResult) -> None:
    """The object is what `schemas/output/coop.json` describes, and survives being written and read."""
    content = as_json(example_result)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(content)
    assert content == json.loads(json.dumps(content))


def test_other_programs_read_what_they_read_before(
    example_result: CoopResult, golden: Callable[[Path, str], None]
) -> None:
    """The example's JSON and CSV, to the byte: keys, their order, figures and words."""
    golden(GOLDEN / "coop.json", render_json(as_json(example_result)))
    golden(GOLDEN / "coop.csv", render_csv(HEADING, list_rows(example_result)))


def test_rows_are_of_one_width_and_name_every_disagreement(example_result: CoopResult) -> None:
    """One row a finding."""
    rows = list(list_rows(example_result))
    assert {len(HEADING)} == {len(row) for row in rows}
    between = [row for row in rows if row[3] == "between members"]
    assert len(example_result.disagreements) == len(between)


def test_a_file_name_cant_become_a_formula(example_result: CoopResult) -> None:
    """What a member calls a file is text in the office's spreadsheet, whatever it looks like."""
    view = example_result.members[1]
    gap = view.gaps[0]._replace(file='=HYPERLINK("http://example.com")')
    changed = replace(example_result, members=(replace(view, gaps=(gap,)),))
    text = render_csv(HEADING, list_rows(changed))
    assert [] == [cell for row in csv.reader(io.StringIO(text)) for cell in row if cell.startswith("=")]
