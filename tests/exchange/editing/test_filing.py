"""Papers put into a season: which records are meant, what is written, and that it is all or nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from seasons import TWO_LOTS, read_sound

from certgen.exchange.editing.filing import file_papers, plan_filing
from certgen.exchange.editing.history import Author, read_history
from certgen.exchange.editing.record_choice import EvidenceError, choose_records, expand_names
from certgen.exchange.editing.undoing import plan_undo

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.records import Season

COVERS = ("certgen.exchange.editing.record_choice",)

LEAVES = """letters:
  - {letter: N-1, laboratory: Fen, samples: [S-01 to S-03], evidence: n-1.txt}
  - {letter: N-2, report: N/2, laboratory: Fen, samples: [S-04]}
screening:
  - {sample: S-01, tree: '1'}
  - {sample: S-02, tree: '2'}   # wet
  - {sample: S-03, tree: '3', evidence: photo.jpg}
  - {sample: S-04, tree: '4'}
  - {sample: S-05, tree: '5', report: R-9, laboratory: Fen}
  - {sample: S-06, tree: '6', report: R-9, laboratory: Fen}
  - {sample: S-07, tree: '7', report: '8', laboratory: Fen}
  - {sample: S-08, tree: '8', report: '8', laboratory: Low}
"""


@pytest.fixture
def season(tmp_path: Path) -> Season:
    """Two lots and eight samples, three and one of them in letters that have records."""
    (tmp_path / "season.yaml").write_text(TWO_LOTS)
    (tmp_path / "leaves.yaml").write_text(LEAVES)
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "b.txt").write_text("b")
    (tmp_path / "new.txt").write_text("new")
    return read_sound(tmp_path)


def name_paper(season: Season, *to: str, called: str = "", field: str = "evidence") -> list[str]:
    """Names new.txt to records of the season as it is now; the records that name it anew."""
    now = read_sound(season.folder)
    filing = plan_filing(now, [season.folder / "new.txt"], choose_records(now, to)[0], to=called, field=field)
    file_papers(now, filing, Author("test"))
    return [naming.record.identifier for naming in filing.named_anew()]


def test_adding_names_the_file_and_keeps_the_rest(season: Season) -> None:
    """A first file, and a second beside a first; comments stay."""
    name_paper(season, "lots:L2", called="letters/new.txt")
    name_paper(season, "lots:L1")

    expected = TWO_LOTS.replace("evidence: a.txt   # the letter", "evidence: [a.txt, new.txt]   # the letter")
    assert expected + "    evidence: letters/new.txt\n" == (season.folder / "season.yaml").read_text()
    assert "new" == (season.folder / "evidence/letters/new.txt").read_text()


def test_many_records_are_one_change(season: Season) -> None:
    """Over tables and files, by list and range; the history tells one change, and one undo takes it back."""
    named = name_paper(season, "screening:S-01..S-02, S-05", "lots:L2", "season")

    assert ["S-01", "S-02", "S-05", "L2", "1"] == named
    changes = read_history(season.folder).changes
    assert ["new.txt named to 3 samples, 1 lot and 1 season"] == [change.says for change in changes]
    plan_undo(season.folder, 1).carry_out(Author("test"))
    texts = [(season.folder / name).read_text() for name in ("season.yaml", "leaves.yaml")]
    assert ([TWO_LOTS, LEAVES], False) == (texts, (season.folder / "evidence/new.txt").exists())


def test_a_sample_keeps_what_it_has_through_its_letter(season: Season) -> None:
    """What a sample names itself stands in place of its letter's paper; so it names both, and once."""
    assert ["S-01"] == name_paper(season, "screening:S-01")
    assert [] == name_paper(season, "screening:S-01")
    assert (
        "{sample: S-01, tree: '1', evidence: [n-1.txt, new.txt]}"
        in (season.folder / "leaves.yaml").read_text()
    )


@pytest.mark.parametrize(
    "to", ["letters:N-1", "report:N-1", "screening:S-01..S-03", "screening:S-03,S-02,S-01"]
)
def test_a_whole_letter_is_named_once(season: Season, to: str) -> None:
    """However it is asked for, the letter's record names the paper, and who names papers apart does too."""
    chosen, notes = choose_records(season, [to])

    assert [("letters", "N-1"), ("screening", "S-03")] == [(one.table, one.identifier) for one in chosen]
    assert "S-03 of them names papers apart, so there too." == notes[-1]


def test_a_report_without_a_record_is_its_samples(season: Season) -> None:
    """Those that name its number; a letter is found by the number on it, and two laboratories' reports of
    one number are told apart by whoever adds.
    """
    assert ["S-05", "S-06"] == [one.identifier for one in choose_records(season, ["report:R-9"])[0]]
    assert ["N-2"] == [one.identifier for one in choose_records(season, ["report:N/2"])[0]]
    with pytest.raises(EvidenceError, match="several reports \\(Fen and Low\\); name the samples"):
        choose_records(season, ["report:8"])


@pytest.mark.parametrize(
    ("to", "says"),
    [
        ("lots:L22", "no lot is called L22 \\(did you mean L2\\?\\)"),
        ("lots:L1,L9..L8", "no lot is called L9..L8"),
        ("screening:S-01..S-09", "no sample is called S-09"),
        ("screening:S–01", "its dash is a long one: write S-01"),
        ("lot:L1", "there is no table 'lot' \\(did you mean lots\\?\\)"),
        ("lots", "doesn't say which records"),
        ("lots: ", "doesn't say which records"),
        ("report:R-7", "names a report R-7 "),
    ],
)  # fmt: skip
def test_records_that_there_are_not_are_refused(season: Season, to: str, says: str) -> None:
    """By name, with the way out; nothing is written."""
    with pytest.raises(EvidenceError, match=says):
        name_paper(season, "lots:L1", to)
    assert TWO_LOTS == (season.folder / "season.yaml").read_text()


def test_two_records_of_one_name_are_refused(season: Season) -> None:
    """Nobody knows which is meant."""
    with (season.folder / "leaves.yaml").open("a") as file:
        file.write("  - {sample: S-08, tree: '9'}\n")
    with pytest.raises(EvidenceError, match="2 records of `screening` are called S-08"):
        name_paper(season, "screening:S-08")


@pytest.mark.parametrize("called", ["../x", "/x", "a/../../x", "C:/x", ".hidden", "a//b", "a\u202eb"])
def test_paths_that_lead_out_or_hide_are_refused(season: Season, called: str) -> None:
    """Nothing is copied out of the evidence folder, or where it can't be seen."""
    with pytest.raises(EvidenceError, match="cannot take"):
        name_paper(season, "lots:L2", called=called)


def test_another_file_of_the_name_is_kept(season: Season) -> None:
    """Evidence is never overwritten; the same bytes again are no other file."""
    with pytest.raises(EvidenceError, match="is another file"):
        name_paper(season, "lots:L2", called="b.txt")
    assert "b" == (season.folder / "evidence/b.txt").read_text()


def test_several_files_go_into_a_folder(season: Season) -> None:
    """Each under its own name; one name for two of them is refused, and so are two of one name."""
    folder = season.folder
    (folder / "more").mkdir()
    for name in ("more/new.txt", "other.txt"):
        (folder / name).write_text(name)
    chosen, _ = choose_records(season, ["lots:L2"])
    filing = plan_filing(season, [folder / "new.txt", folder / "other.txt"], chosen, to="letters/")

    assert ("letters/new.txt", "letters/other.txt") == filing.namings[0].papers
    twice = plan_filing(season, [folder / "new.txt", folder / "new.txt"], chosen)
    assert ["new.txt"] == [paper.path for paper in twice.papers]
    with pytest.raises(EvidenceError, match="can't all be called"):
        plan_filing(season, [folder / "new.txt", folder / "other.txt"], chosen, to="x.txt")
    with pytest.raises(EvidenceError, match="two of the files are called"):
        plan_filing(season, [folder / "new.txt", folder / "more/new.txt"], chosen)
    assert not (folder / "evidence/letters").exists()


def test_a_file_that_is_named_and_missing_is_laid_down(season: Season) -> None:
    """The record names it already and stays as it is; the same again changes nothing."""
    for _ in range(2):
        assert [] == name_paper(season, "lots:L1", called="a.txt")
        assert ("new", TWO_LOTS) == (
            (season.folder / "evidence/a.txt").read_text(), (season.folder / "season.yaml").read_text()
        )  # fmt: skip
    assert 1 == len(read_history(season.folder).changes)


def test_a_field_that_takes_no_paper_is_refused(season: Season) -> None:
    """By its name."""
    with pytest.raises(EvidenceError, match="no field `weight` that takes evidence"):
        name_paper(season, "lots:L1", field="weight")


def test_an_empty_file_is_refused(season: Season) -> None:
    """It shows nothing."""
    (season.folder / "new.txt").write_bytes(b"")
    with pytest.raises(EvidenceError, match="holds nothing"):
        name_paper(season, "lots:L1")


def test_a_record_file_changed_meanwhile_is_left_alone(season: Season) -> None:
    """Somebody else is editing: nothing is written."""
    chosen, _ = choose_records(season, ["lots:L2", "screening:S-05"])
    planned = plan_filing(season, [season.folder / "new.txt"], chosen)
    (season.folder / "season.yaml").write_text(TWO_LOTS + "# more\n")

    with pytest.raises(EvidenceError, match="changed meanwhile"):
        plan_filing(season, [season.folder / "new.txt"], chosen)
    with pytest.raises(EvidenceError, match="changed meanwhile"):
        file_papers(season, planned, Author("test"))
    assert (False, LEAVES) == (
        (season.folder / "evidence/new.txt").exists(), (season.folder / "leaves.yaml").read_text()
    )  # fmt: skip


def test_names_by_list_and_range() -> None:
    """Each once, in the order typed; what means nothing is told apart."""
    known = ["S-1", "S-2", "S-3", "S-10", "X, Y"]
    assert (["S-2", "S-3", "S-1"], ["S-4", "Z..S-1"]) == expand_names(
        known, "S-2..S-3; S-1, S-2\nS-4,, Z..S-1"
    )
