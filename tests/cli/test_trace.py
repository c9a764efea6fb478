from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from certgen import cli
from certgen.resources import schemas_dir
from certgen.rules.exhibits import load_exhibit

ON = ["--on", "2026-10-31"]


@pytest.fixture
def clean(tmp_path):
    """A season without a gap."""
    return str(load_exhibit("parent-unscreened", "good").write(tmp_path))


@pytest.fixture
def broken(tmp_path):
    """Bag B3 names tree T8, which isn't in the register."""
    return str(load_exhibit("reference-unknown", "bad").write(tmp_path))


def test_a_lot_is_followed_to_its_screened_parents_and_to_its_buyer(clean, capsys):
    """Every step is there, nearest first."""
    assert 0 == cli.run(["trace", clean, "L1", *ON])

    shown = capsys.readouterr().out
    steps = [
        "Lot L1",
        "batch X1",
        "picking H1",
        "bag B1",
        "tree T1",
        "planting P1",
        "block East",
        "sample S1",
    ]
    places = [shown.index(step) for step in steps]
    assert sorted(places) == places
    assert "movement M1: sold, 6 g, on 3 August 2026, Quillmere Growers, INV-31" in shown
    assert "NO RECORD" not in shown


def test_a_line_that_ends_too_soon_says_so(broken, capsys):
    """A line that ends too soon says so."""
    assert 1 == cli.run(["trace", broken, "L2", *ON])
    assert "tree T8: NO RECORD" in capsys.readouterr().out


def test_a_missing_step_is_named(tmp_path, capsys):
    """A tree without a sample: the record exists, what should stand behind it doesn't."""
    folder = str(load_exhibit("parent-unscreened", "bad").write(tmp_path))

    assert 1 == cli.run(["trace", folder, "B3", *ON])
    assert "NO RECORD of a screening sample" in capsys.readouterr().out


def test_a_supposition_shows_what_would_follow(clean, capsys):
    """The records on disk stay as they are."""
    assert 1 == cli.run(["trace", clean, "T3", "--suppose", "tree:T3=positive", *ON])

    shown = capsys.readouterr().out
    assert "lot L2  traced  →  rejected" in shown
    assert "Tree T3 tested positive" in shown
    assert 0 == cli.run(["trace", clean, "T3", *ON])


@pytest.mark.parametrize("wrong", ["T3=positive", "tree:T3=blue", "tree:T99=positive", "lot:L1=gone"])
def test_a_supposition_that_makes_no_sense_is_refused_with_a_way_out(wrong, clean, capsys):
    """A supposition that makes no sense is refused with a way out."""
    assert 2 == cli.run(["trace", clean, "T3", "--suppose", wrong, *ON])
    assert "--suppose" in capsys.readouterr().err


def test_an_unknown_number_gets_the_nearest_ones(clean, capsys):
    """An unknown number gets the nearest ones."""
    assert 2 == cli.run(["trace", clean, "L11", *ON])
    assert "L1" in capsys.readouterr().err


def test_a_number_that_two_tables_use_must_be_told_apart(tmp_path, capsys):
    """A number that two tables use must be told apart."""
    folder = load_exhibit("parent-unscreened", "good").write(tmp_path)
    (folder / "more.yaml").write_text(
        "incidents:\n  - incident: L1\n    date: 2026-08-01\n    kind: other\n    about: [L1]\n"
        "    action: asked\n"
        "    closed: 2026-08-02\n"
    )

    assert 2 == cli.run(["trace", str(folder), "L1", *ON])
    assert "lot:L1 or incident:L1" in capsys.readouterr().err
    assert 0 == cli.run(["trace", str(folder), "lot:L1", *ON])


def test_json_is_what_its_schema_says(broken, capsys):
    """Json is what its schema says."""
    assert 1 == cli.run(["trace", broken, "L2", "--format", "json", *ON])

    shown = json.loads(capsys.readouterr().out)
    schema = json.loads((schemas_dir() / "output" / "trace.json").read_text(encoding="utf-8"))
    jsonschema.validate(shown, schema, cls=jsonschema.Draft202012Validator)
    known = {(node["table"], node["id"], node["season"]) for node in shown["nodes"]}
    ends = {tuple(link[end].values()) for link in shown["links"] for end in ("from", "to")}
    assert ends <= known
    assert ["T8"] == [node["id"] for node in shown["nodes"] if not node["record"]]
    assert [8.0] == [link["weight_g"] for link in shown["links"] if link["kind"] == "packed"]


@pytest.mark.parametrize(
    ("text", "roots"),
    [
        ("INV-26-001", {("movements", "M26-003")}),
        ("inv-26-001 ", {("movements", "M26-003")}),
        ("BF-26-0421", {("tests", "G26-05"), ("movements", "M26-006")}),
        ("2026-03-04 Rosy Cistern T-101", {("bagging", "B26-080")}),
        ("2026-03-04, rosy cistern, t-101", {("bagging", "B26-080")}),
        ("S26-007", {("screening", "S26-007")}),
    ],
)
def test_an_audit_starts_from_any_paper(text, roots, example_season, capsys):
    """An invoice, a report, a tag or a sample leads into the line: day, document, quantity, person."""
    cli.run(["trace", str(example_season), text, "--format", "json", "--on", "2026-11-20"])
    shown = json.loads(capsys.readouterr().out)
    schema = json.loads((schemas_dir() / "output" / "trace.json").read_text(encoding="utf-8"))
    jsonschema.validate(shown, schema, cls=jsonschema.Draft202012Validator)
    found = {(root["table"], root["id"]) for root in shown["roots"]}

    assert roots == found
    movements = [node for node in shown["nodes"] if node["table"] == "movements" and node["record"]]
    assert all(node["date"] and node["quantity"] and node["by"] for node in movements)
    assert any(node["table"] == "trees" for node in shown["nodes"])


def test_a_buyers_name_leads_to_all_that_was_sold_to_it(example_season, capsys):
    """Each sale with its own line, one after another."""
    cli.run(["trace", str(example_season), "thistledrum nursery", "--on", "2026-11-20"])
    shown = capsys.readouterr().out

    assert "Thistledrum Nursery, INV-26-001, entered by" in shown
    assert shown.count("Back: what it came from and rests on") >= 1


def test_a_sale_without_a_document_says_so(clean, capsys):
    """Both as a start and at the end of a line; JSON lists it as missing."""
    folder = Path(clean)
    for path in folder.rglob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("document: INV-31", "note: paid in cash"), encoding="utf-8")

    assert 1 == cli.run(["trace", clean, "M1", *ON])
    assert "NO RECORD of a document" in capsys.readouterr().out
    assert 1 == cli.run(["trace", clean, "T1", *ON])
    assert "NO RECORD of a document" in capsys.readouterr().out


def test_a_batch_that_no_record_bears_says_so(clean, capsys):
    """A lot's source names a batch that isn't there."""
    folder = Path(clean)
    for path in folder.rglob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("{batch: X1,", "{batch: X77,"), encoding="utf-8")

    cli.run(["trace", clean, "L1", *ON])
    shown = capsys.readouterr().out.replace("\u00a0", " ")
    assert "batch X77 (16 g): NO RECORD" in shown
