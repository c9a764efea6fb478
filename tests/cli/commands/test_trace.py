from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from printed import json_of, plain

from certgen import cli
from certgen.rules.example_seasons import load_example

COVERS = (
    "certgen.cli.writers.trace",
    "certgen.dossier.line",
    "certgen.dossier.papers",
    "certgen.dossier.search",
    "certgen.exchange.interchange.trace",
    "certgen.cli.writers.trace_drawing",
)
ON = ["--on", "2026-10-31"]


@pytest.fixture
def broken(tmp_path):
    """Bag B3 names tree T8, which isn't in the register."""
    return str(load_example("reference-unknown", "bad").write(tmp_path))


def test_a_lot_is_followed_to_its_screened_parents_and_to_its_buyer(clean, capsys):
    """Every step is there, nearest first, and a tree's own samples before what it grew on."""
    assert 0 == cli.run(["trace", clean, "L1", *ON])

    shown = capsys.readouterr().out
    stage = re.compile(r"^  (?:\d+ )?(batch|picking|bag|tree|sample|planting|block)(?:e?s:| )", re.MULTILINE)
    stages = stage.findall(shown)
    assert ["batch", "picking", "bag", "tree", "sample", "planting", "block"] == list(dict.fromkeys(stages))
    assert "movement M1: sold, 6 g, on 3 August 2026, Quillmere Growers, INV-31" in shown
    assert "NO RECORD" not in shown


def test_a_line_that_ends_too_soon_says_so(broken, capsys):
    """A line that ends too soon says so."""
    assert 1 == cli.run(["trace", broken, "L2", *ON])
    assert "tree T8: NO RECORD" in capsys.readouterr().out


def test_a_missing_step_is_named(tmp_path, capsys):
    """A tree without a sample: the record exists, what should stand behind it doesn't."""
    folder = str(load_example("parent-unscreened", "bad").write(tmp_path))

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
    folder = load_example("parent-unscreened", "good").write(tmp_path)
    (folder / "more.yaml").write_text(
        "incidents:\n  - incident: L1\n    date: 2026-08-01\n    kind: other\n    about: [L1]\n"
        "    action: asked\n"
        "    closed: 2026-08-02\n"
    )

    assert 2 == cli.run(["trace", str(folder), "L1", *ON])
    assert "lot:L1 or incident:L1" in capsys.readouterr().err
    # What an incident about the lot came to has no paper, so the lot is unproven.
    assert 1 == cli.run(["trace", str(folder), "lot:L1", *ON])


def test_a_lot_is_told_what_screening_leaves_open(example_season, capsys):
    """In four lines, with nothing below the floor."""
    cli.run(["trace", str(example_season), "AK-26-1", *ON])
    shown = " ".join(plain(capsys.readouterr().out).replace("\u00a0", " ").split())

    assert "What screening leaves open: planning figures, no proof" in shown
    assert "A carrier parent would have passed this lot’s screening with a chance of: 0.73 %." in shown
    assert "it would carry into: 4.1 to 8.7 % of the seed (one copy), 5.5 to 11.6 % (two copies)." in shown
    assert "rules out more than: 0.30 % (test G26-05 for 35S and nptII, one-sided 95 %)" in shown
    assert "pcr, negative, in a pool of 12, taken 14 January 2026" in shown
    assert "Not covered: other events, pollen past a sound cover, and mixing." in shown


def test_json_has_what_screening_leaves_open(example_season, capsys):
    """Shares from nothing to one; what nothing shows is given, and no chance lies below the floor."""
    cli.run(["trace", str(example_season), "RC-26-2", "--format", "json", *ON])
    (lot,) = json_of(capsys, "trace")["lots"]
    told = lot["screening"]

    assert (0.001, 11, [], 0.0, None, []) == (
        told["floor"], told["parents"], told["open_parents"], told["unknown"], told["seed_test"],
        told["positive_tests"],
    )  # fmt: skip
    assert [{"low": 0.01495, "high": 0.0249}] == [one["passing"] for one in told["events"]]
    assert {0.054761049} == {told["open_pollen"], told["events"][0]["open"], told["two_copies"]["low"]}


def test_json_is_what_its_schema_says(broken, capsys):
    """Json is what its schema says."""
    assert 1 == cli.run(["trace", broken, "L2", "--format", "json", *ON])

    shown = json_of(capsys, "trace")
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
    shown = json_of(capsys, "trace")
    found = {(root["table"], root["id"]) for root in shown["roots"]}

    assert roots == found
    movements = [node for node in shown["nodes"] if node["table"] == "movements" and node["record"]]
    assert all(node["date"] and node["quantity"] and node["by"] for node in movements)
    assert any(node["table"] == "trees" for node in shown["nodes"])


def test_a_tree_is_told_by_its_own_sample_first(example_season, capsys):
    """Not by forty lines of an earlier season: its results, its land, then the seed that it grew of."""
    cli.run(["trace", str(example_season), "U-101", "--on", "2026-11-20"])
    back = capsys.readouterr().out.partition("Back: what it came from and rests on\n")[2].splitlines()

    assert back[0].startswith("  From planting P-23-01; samples S26-001")
    assert back[1].startswith("  sample S26-001: gus, negative")


def test_lines_break_at_words(example_season, capsys):
    """No line is longer than a terminal is wide, and no word is cut."""
    for number in ("AK-26-4", "U-101", "Thistledrum Nursery"):
        cli.run(["trace", str(example_season), number, "--on", "2026-11-20"])
        shown = plain(capsys.readouterr().out)

        assert [] == [line for line in shown.splitlines() if len(line) > 100]
        assert {"Amber Kestrel", "Bracken Ford Plant Diagnostics"} <= {
            name
            for name in ("Amber Kestrel", "Bracken Ford Plant Diagnostics")
            if name in " ".join(shown.split())
        }


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
    shown = plain(capsys.readouterr().out)
    assert "From 16 g of batch X77" in shown
    assert "batch X77: NO RECORD" in shown


SVG = "{http://www.w3.org/2000/svg}"


def draw(capsys, *arguments):
    """The drawing's root element, the code, and what was said on standard error."""
    code = cli.run(["trace", *arguments, "--format", "svg", *ON])
    told = capsys.readouterr()
    return ET.fromstring(told.out), code, told.err


def test_a_drawing_shows_the_line_and_names_itself(clean, capsys):
    """Sound XML with a title and a description; every record of a small line has its box."""
    picture, code, told = draw(capsys, clean, "L1")

    assert (0, "") == (code, told)
    assert "The line of lot L1" == picture.find(f"{SVG}title").text
    assert "Bags: B1" in picture.find(f"{SVG}desc").text
    words = {one.text for one in picture.iter(f"{SVG}text")}
    assert {"B1", "T1", "H1", "X1", "L1", "M1", "S1", "Bags", "Samples"} <= words
    allowed = {"svg", "title", "desc", "text", "line", "path", "rect", "circle", "polygon"}
    assert {one.tag.removeprefix(SVG) for one in picture.iter()} <= allowed


def test_a_drawing_marks_gaps_and_names_them_below(broken, capsys):
    """The gap's number stands in the box, its sentence below and in the description."""
    picture, code, _ = draw(capsys, broken, "L2")

    words = [one.text for one in picture.iter(f"{SVG}text")]
    assert 1 == code
    assert any(word.startswith("gap ") for word in words)
    (named,) = [word for word in words if word.startswith("Gap ") and "T8" in word]
    assert named.removesuffix("…") in picture.find(f"{SVG}desc").text


def test_a_record_that_is_not_there_is_marked(clean, capsys):
    """A batch that no record bears has a dashed box, as a gap or as what it lacks."""
    for path in Path(clean).rglob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("{batch: X1,", "{batch: X77,"), encoding="utf-8")

    picture, _, _ = draw(capsys, clean, "L1")

    assert re.search(r"X77 \((gap [\d, ]+|no record)\)", picture.find(f"{SVG}desc").text)
    assert any(one.get("stroke-dasharray") for one in picture.iter(f"{SVG}rect"))


def test_names_in_the_records_cannot_act_in_a_drawing(clean, capsys):
    """Markup in a name is shown as text."""
    hostile = 'V<script>alert(1)</script>&" onload="x'
    for path in Path(clean).rglob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"variety: [^,}\n]+", f"variety: '{hostile}'", text), encoding="utf-8")

    picture, _, _ = draw(capsys, clean, "L1")

    assert not {"script", "a", "image", "use", "foreignObject", "style"} & {
        one.tag.removeprefix(SVG) for one in picture.iter()
    }
    assert not any(name.startswith("on") or "href" in name for one in picture.iter() for name in one.attrib)
    assert any("V<script" in (one.text or "") for one in picture.iter(f"{SVG}text"))


def test_a_drawing_goes_to_a_file_when_asked(clean, tmp_path, capsys):
    """The same as on standard output and the mark of a drawing; for other forms a file is refused."""
    out = tmp_path / "line.svg"
    assert 0 == cli.run(["trace", clean, "L1", "--format", "svg", *ON])
    printed = capsys.readouterr().out
    assert 0 == cli.run(["trace", clean, "L1", "--format", "svg", "--out", str(out), *ON])
    assert f"{out} is written.\n" == capsys.readouterr().out
    drawing, mark = out.read_text(encoding="utf-8").split("<!--")
    assert (printed, True) == (drawing, mark.startswith(" certgen drawing "))

    assert 2 == cli.run(["trace", clean, "L1", "--out", str(tmp_path / "line.txt"), *ON])
    assert "--format svg" in capsys.readouterr().err
    assert not (tmp_path / "line.txt").exists()


def test_an_invoice_that_shares_its_number_with_a_tree_can_be_named(tmp_path, seasons, capsys):
    """Said with the other meanings of the number, and followed when it is asked for."""
    line = seasons.one_line()
    moves = [seasons.sale("M1", "L1", 2)]
    moves[0]["document"] = "17"
    trees = [seasons.tree("17")]
    bags = [seasons.bag("17", "17")]
    more = {"trees": trees, "bagging": bags, "screening": [seasons.sample("S1", "17")],
            "harvests": [seasons.harvest("H1", ["17"])], "movements": moves}  # fmt: skip
    seasons.write_season(tmp_path, **{**line, **more})

    assert 2 == cli.run(["trace", str(tmp_path), "17", *ON])
    assert "Say which one: tree:17, bag:17 or document:17." in plain(capsys.readouterr().err)
    for word in ("document", "invoice"):
        assert 0 == cli.run(["trace", str(tmp_path), f"{word}:17", *ON])
        assert capsys.readouterr().out.startswith("Movement M1\n")
    assert 0 == cli.run(["trace", str(tmp_path), "buyer:quillmere growers", *ON])
    assert capsys.readouterr().out.startswith("Movement M1\n")


def test_an_invoice_that_shares_its_number_with_one_record_is_told_below_its_line(tmp_path, seasons, capsys):
    """The record is followed, and how to follow the paper is said; not where the record was named by kind."""
    line = seasons.one_line()
    moves = [{**seasons.sale("M1", "L1", 2), "document": "B1"}]
    seasons.write_season(tmp_path, **{**line, "movements": moves})
    bag = line["bagging"][0]["bag"]
    assert "B1" == bag

    cli.run(["trace", str(tmp_path), bag, *ON])
    assert "bears the number B1 too; ask for document:B1." in plain(capsys.readouterr().out)
    cli.run(["trace", str(tmp_path), f"bag:{bag}", *ON])
    assert "ask for" not in capsys.readouterr().out
