"""The inspector's working papers as they are printed, and the form as it comes back."""

from __future__ import annotations

import io
import json
import shutil
from pathlib import Path

import jsonschema
import pikepdf
import pytest
import yaml

from certgen.cli import run
from certgen.resources import schemas_dir

COVERS = (
    "certgen.cli.writers.visit",
    "certgen.exchange.editing.visit_form",
    "certgen.exchange.field_paper.visit_sheets",
    "certgen.exchange.interchange.visit",
)
EXAMPLE = Path("example_season").resolve()
ON = ["--on", "2026-11-20"]


@pytest.fixture(scope="module")
def copied(tmp_path_factory):
    """A copy of the example that may be written into."""
    return Path(shutil.copytree(EXAMPLE, tmp_path_factory.mktemp("visit") / "season"))


def test_the_text_opens_with_what_last_year_left(capsys):
    """Parts in the order of a visit; the book comes after the count."""
    assert 0 == run(["visit", str(EXAMPLE), *ON])
    told = capsys.readouterr().out
    heads = (
        "Notice and opening",
        "Left open by earlier visits",
        "What the check lists",
        "Lots to check on the spot",
        "Lots to trace back, balance and count",
        "Count of stock",
        "To be asked",
        "Samples taken",
        "Exit: findings and requests",
        "The book, after the count",
        "What the check lists of stock",
    )

    assert sorted(heads, key=told.index) == list(heads)
    assert "The certifier's own forms" in told
    assert told.index("Finding NC-25-2") < told.index("What the check lists")
    assert "18.5 g" not in told[: told.index("The book, after the count")]


def test_other_programs_read_the_same(capsys):
    """The object is what its schema describes, with the draws of `certgen sample`."""
    assert 0 == run(["visit", str(EXAMPLE), *ON, "--seed", "rain at noon", "--format", "json"])
    told = json.loads(capsys.readouterr().out)
    schema = json.loads((schemas_dir() / "output" / "visit.json").read_text(encoding="utf-8"))
    jsonschema.validate(told, schema)
    drawn = ["sample", str(EXAMPLE), *ON, "--of", "lots", "--seed", "rain at noon", "--detect", "10 %"]
    assert 0 == run([*drawn, "--format", "json"])

    assert told["draws"][0] == json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(("page", "wide"), [("A4", 842), ("Letter", 792)])
def test_the_papers_are_set_on_either_paper(copied, tmp_path, capsys, page, wide):
    """They are field paper of certgen's own, so that the next print may take their place."""
    out = tmp_path / "visit.pdf"
    arguments = ["visit", str(copied), *ON, "--out", str(out), "--page", page]
    assert [0, 0] == [run(arguments), run([*arguments, "--force"])]
    capsys.readouterr()

    with pikepdf.open(io.BytesIO(out.read_bytes())) as papers:
        assert wide == round(float(papers.pages[0].mediabox[2]))
        assert str(papers.docinfo["/Keywords"]).startswith("certgen field paper")


def test_the_form_comes_back_by_import(copied, tmp_path, capsys):
    """The workbook holds the visit alone, and nothing of the season is changed by it."""
    form = tmp_path / "visit.xlsx"
    before = (copied / "season.yaml").read_bytes()
    assert 0 == run(["visit", str(copied), *ON, "--form", str(form)])
    assert 0 == run(["import", str(copied), str(form)])
    assert "1 record of visits added to visits.yaml" in capsys.readouterr().out
    visits = yaml.safe_load((copied / "visits.yaml").read_text(encoding="utf-8"))["visits"]

    assert ["V26-1", "V26-2"] == [one["visit"] for one in visits]
    assert {"not done"} == {one["outcome"] for one in visits[1]["exercises"]}
    assert before == (copied / "season.yaml").read_bytes()


def test_the_form_in_yaml_is_sound_as_it_stands_and_with_its_notes(tmp_path, capsys):
    """So is what it offers besides, once the first sign of its lines is taken away."""
    season = Path(shutil.copytree(EXAMPLE, tmp_path / "season"))
    assert 0 == run(["visit", str(season), *ON, "--format", "yaml"])
    text = capsys.readouterr().out
    offered = text.replace("\n#    ", "\n    ").replace(
        "letters/name-of-the-letter.txt", "letters/quillback-2026-09-28.txt"
    )
    offered = offered.replace("[lot or tree]", "[AK-26-1]").replace("[what it is about]", "[AK-26-1]")
    offered = offered.replace("sample: the number on its bag", "sample: Q-1")
    offered = offered.replace("sheet: the number of the sheet or receipt", "sheet: SH26-01")
    for form in (text, offered):
        (season / "form.yaml").write_text(form, encoding="utf-8")
        assert 1 == run(["check", str(season), *ON])
        told = capsys.readouterr()
        assert "18 gaps" in told.out
        assert "" == told.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--form", "visit.txt"], "--form: The form is a file of records (.yaml) or a workbook (.xlsx)."),
        (["--seed", "…"], "--seed: "),
        (["--page", "A9"], "--page: "),
    ],
)
def test_what_is_asked_wrongly_is_refused(arguments, said, capsys):
    """Before anything is written, with the option named."""
    assert 2 == run(["visit", str(EXAMPLE), *ON, *arguments])

    assert said in capsys.readouterr().err


def test_a_form_never_gives_way(tmp_path, capsys):
    """What a person typed into it isn't written over, with --force it is kept beside."""
    form = tmp_path / "visit.yaml"
    form.write_text("visits: []\n", encoding="utf-8")
    assert 2 == run(["visit", str(EXAMPLE), *ON, "--form", str(form)])
    capsys.readouterr()

    assert "visits: []\n" == form.read_text(encoding="utf-8")


HOSTILE = """\
visits:
  - visit: V/1
    kind: unannounced
    from: 2026-11-20
    inspector: "#let x = 1 $ ] \\u202e <b>&"
    findings:
      - {finding: NC-1, kind: plan, found: "*bold* _it_ \\\\\\\\ @ref #panic(1) \\U0001F334 漢字"}
    requests:
      - {asked: "=HYPERLINK(1)", by: 2026-11-21}
"""


def test_no_name_in_the_records_acts_as_markup(tmp_path, capsys):
    """Text in any script and any sign is set as text, on paper and in the form."""
    season = Path(shutil.copytree(EXAMPLE, tmp_path / "season"))
    (season / "more.yaml").write_text(HOSTILE, encoding="utf-8")
    out, form = tmp_path / "visit.pdf", tmp_path / "visit.xlsx"
    assert 0 == run(["visit", str(season), *ON, "--out", str(out), "--form", str(form), "--format", "yaml"])

    (record,) = yaml.safe_load(capsys.readouterr().out)["visits"]
    assert ("V/1", "unannounced") == (record["visit"], record["kind"])
    assert "#let x = 1 $ ] \u202e <b>&" == record["inspector"]
    assert out.read_bytes().startswith(b"%PDF")


def test_check_carries_what_inspections_left_open(capsys):
    """The same objects as the papers hold, so that another program need not read gaps' words."""
    assert 1 == run(["check", str(EXAMPLE), *ON, "--format", "json"])
    checked = json.loads(capsys.readouterr().out)["inspections"]
    assert 0 == run(["visit", str(EXAMPLE), *ON, "--format", "json"])

    assert json.loads(capsys.readouterr().out)["left_open"] == checked
    assert [("V25-1", "NC-25-2", "2026-03-31")] == [
        (one["visit"], one["number"], one["last"]) for one in checked
    ]


def test_a_lots_trace_names_what_was_tried_about_it(capsys):
    """In words and in JSON, with the visit and the outcome."""
    assert 0 == run(["trace", str(EXAMPLE), "AK-26-1", *ON])
    assert "Inspections: what was tried and found about it" in capsys.readouterr().out
    assert 0 == run(["trace", str(EXAMPLE), "AK-26-1", *ON, "--format", "json"])
    visits = json.loads(capsys.readouterr().out)["visits"]

    assert [("V26-1", "exercise", "agrees")] == [
        (one["visit"], one["kind"], one["outcome"]) for one in visits
    ]
