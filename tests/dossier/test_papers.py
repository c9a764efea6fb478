"""What has no paper: records that name none, and numbers of which no copy is filed."""

from __future__ import annotations

from datetime import date

import pytest
from printed import json_of
from printed_packets import write_line
from seasons import one_line

from certgen.cli import run
from certgen.dossier.papers import list_uncopied, list_unpapered
from certgen.examination import examine_season

COVERS = ("certgen.exchange.interchange.evidence", "certgen.cli.commands.evidence")


@pytest.fixture
def case(seasons):
    """One lot, of which some was sold with a number, some without, and some with a copy of the invoice."""
    tables = {
        "lots": [seasons.lot("L1", [], 30)],
        "tests": [seasons.germination("G1", "L1"), seasons.germination("G2", "L1", evidence=("g2.txt",))],
        "movements": [
            seasons.sale("M1", "L1", 5),
            seasons.without(seasons.sale("M2", "L1", 4), "document"),
            seasons.sale("M3", "L1", 3, evidence=("inv.txt",)),
            seasons.movement("M4", "L1", "returned", 1, party="Quillmere Growers", document="RET-1"),
            seasons.movement("M5", "L1", "discarded", 2, note="mould"),
        ],
    }
    return examine_season(seasons.season_of(**tables), date(2026, 11, 25)).case


def by_kind(listed):
    """The records of each kind by their number, and how many there are of the kind."""
    return {kind.title: ([record.split()[1] for record, _ in kind.records], kind.of) for kind in listed}


def test_a_number_is_no_copy(case):
    """What left or came under a number is told where no copy is filed; what has one isn't."""
    assert {
        "Seed that left, no copy of its document filed": (["M1"], 3),
        "Seed that came, no copy of its document filed": (["M4"], 1),
        "Seed tests, no copy of the report filed": (["G1"], 2),
    } == by_kind(list_uncopied(case))


def test_what_names_nothing_is_another_matter(case):
    """It stands with the records that should name a paper, and not twice."""
    assert (["M2"], 3) == by_kind(list_unpapered(case))["Seed that left, without a document"]


def test_the_list_is_printed_for_programs(example_season, capsys):
    """The same on the terminal and in JSON, with how many there are of each kind."""
    assert 1 == run(["evidence", str(example_season)])
    said = " ".join(capsys.readouterr().out.split())
    assert 1 == run(["evidence", str(example_season), "--format", "json"])
    told = json_of(capsys, "evidence")
    counts = {
        kind["kind"]: (len(kind["records"]), kind["of"]) for kind in (*told["unpapered"], *told["uncopied"])
    }

    assert (1, 70) == counts["Results that name no letter"]
    assert (16, 19) == counts["Seed that left, no copy of its document filed"]
    assert all(f"{kind} ({some} of {of})" in said for kind, (some, of) in counts.items())
    assert "2 records that should name a paper name none; 17 records bear the number of a paper" in said
    assert "2 of them leave seed unproven until the paper is named" in said
    assert {"report-missing": 1, "sale-without-document": 1} == {
        rule: kind["weighing"] for kind in told["unpapered"] for rule in kind["rules"]
    }
    assert {"table": "screening", "records": 70, "naming": 69} in told["tables"]
    assert all(one["there"] for one in told["named"])
    assert told["unnamed"]


def test_results_without_a_letter_never_read_as_fine(tmp_path, capsys):
    """They stand first, with how many leave seed unproven; that no file is named is said plainly."""
    bare = [{**one, "sample": f"S{at}"} for one in one_line()["screening"] for at in range(1, 41)]
    for one in bare:
        del one["report"], one["evidence"]
    folder = write_line(tmp_path / "season", screening=bare, movements=[])

    assert 1 == run(["evidence", str(folder)])
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("40 records that should name a paper name none")
    assert "of them leave seed unproven until the paper is named" in said
    assert "Results that name no letter (40 of 40)" in said
    assert "0 entries" not in said


def test_what_is_named_and_not_there_is_told_beside_what_may_be_meant(tmp_path, capsys):
    """A name that differs by large and small letters is the same to a person."""
    folder = write_line(tmp_path / "season", movements=[])
    (folder / "evidence" / "letters" / "S1.txt").rename(folder / "evidence" / "letters" / "s1.TXT")

    assert 1 == run(["evidence", str(folder)])
    assert "screening S1; letters/s1.TXT is there: did you mean it?" in capsys.readouterr().out


def test_adding_is_told_in_words(example_season, tmp_path, capsys):
    """A form for programs is refused where a file is added, and nothing is written."""
    scan = tmp_path / "scan.txt"
    scan.write_text("a letter")

    assert 0 != run(
        ["evidence", str(example_season), "--add", str(scan), "--to", "lots:AK-26-1", "--format", "json"]
    )
    assert "leave --format out" in " ".join(capsys.readouterr().err.split())
