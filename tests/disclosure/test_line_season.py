from __future__ import annotations

import posixpath
from datetime import date
from pathlib import Path

import pytest
import yaml

from certgen.disclosure.disclosing import DisclosureError, judge_lot
from certgen.disclosure.line_season import cut_to_lots
from certgen.examination import Result, examine
from certgen.manifest import list_folders
from certgen.rules.example_seasons import load_example

COVERS = ("certgen.disclosure.line_records",)
ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def whole(example_season: Path) -> Result:
    """The example, examined."""
    return examine(example_season, ON)


LOTS = ("AK-26-1", "RC-26-1", "AK-26-2", "RC-26-2", "AK-26-3", "AK-26-4", "RC-26-3", "AK-26-5", "AK-25-2")


@pytest.mark.parametrize("lot", LOTS)
def test_a_lot_comes_out_the_same_by_its_own_line(whole: Result, lot: str) -> None:
    """Traced, rejected, unproven, blended, carried over: standing, grams and findings are the season's, and
    no finding of another lot is there."""
    with cut_to_lots(whole, [lot]) as (cut, left_out):
        assert judge_lot(whole, lot) == judge_lot(cut, lot)
        assert [lot] == list(cut.lots)
        assert {lot} <= set.intersection({lot}, *({*gap.lots} for gap in cut.gaps))
        assert sum(count for _, count in left_out.records) > 300


def test_findings_stand_on_the_lines_of_the_growers_own_files(whole: Result) -> None:
    """Whoever opens the file at that line meets the record, in the cut one and in the whole one."""

    def lines(result: Result) -> dict[tuple[str, str], tuple[str, int]]:
        gaps = result.gaps_of_lot("RC-26-2")
        at = result.locate([gap.place for gap in gaps])
        return {(gap.rule, gap.id): (gap.place.file, at[gap.place][0]) for gap in gaps}

    with cut_to_lots(whole, ["RC-26-2"]) as (cut, _):
        assert lines(whole) == lines(cut)


def test_every_kept_record_is_as_it_was_but_for_lists_of_others(whole: Result) -> None:
    """Nothing is changed: a list may be shorter, and no more."""

    def records(result: Result) -> dict[tuple[str, str, str], dict[str, object]]:
        found = {}
        for name, _, season in list_folders(result.season):
            for file, source in season.sources.items():
                for table, rows in (yaml.load(source.text, Loader=yaml.BaseLoader) or {}).items():
                    for row in rows if table != "season" else [rows]:
                        found[name, f"{table} in {file}", str(next(iter(row.values())))] = row
        return found

    before = records(whole)
    with cut_to_lots(whole, ["AK-26-4"]) as (cut, _):
        after = records(cut)

    assert len(after) > 100
    for key, row in after.items():
        differing = {name for name in before[key] if before[key][name] != row.get(name)}
        assert differing <= {"bags", "samples", "trees", "about", "exceptions", "exercises", "findings"}
        assert not {*row} - {*before[key]}


def test_only_papers_that_its_records_name_are_there(whole: Result) -> None:
    """Each is the operation's own to the byte; those that tell of other lots too are listed."""
    with cut_to_lots(whole, ["RC-26-3"]) as (cut, left_out):
        texts = {text for file in cut.farm.sources.values() for text in file.text.split()}
        papers = cut.farm.evidence_files
        assert papers
        assert [] == [paper for paper in papers if not any(_last(paper) in text for text in texts)]
        for paper in cut.season.evidence_files:
            same = whole.season.folder / "evidence" / paper
            assert same.read_bytes() == (cut.season.folder / "evidence" / paper).read_bytes()
        assert "evidence/letters/bf-26-0034.txt" in left_out.shared
        assert left_out.files == len(whole.farm.sources) + len(whole.farm.evidence_files) - len(
            cut.farm.sources
        ) - len(papers)


def _last(paper: str) -> str:
    return posixpath.basename(paper)


def test_what_is_left_out_and_what_is_kept_is_the_season(whole: Result) -> None:
    """Every record of every year is counted on one side."""
    with cut_to_lots(whole, ["AK-26-1", "RC-26-3"]) as (cut, left_out):
        assert ["AK-26-1", "RC-26-3"] == list(cut.lots)
        kept = sum(len(table) for *_, one in list_folders(cut.season) for table in one.tables.values())

    all_ = sum(len(table) for *_, one in list_folders(whole.season) for table in one.tables.values())
    assert all_ == kept + sum(count for _, count in left_out.records)


def test_a_lot_named_twice_is_one_lot(whole: Result) -> None:
    """The line is the same, and so are the files."""
    with (
        cut_to_lots(whole, ["RC-26-1", "RC-26-1"]) as (twice, out),
        cut_to_lots(whole, ["RC-26-1"]) as (once, o),
    ):
        assert out == o
        texts = [{name: one.text for name, one in cut.farm.sources.items()} for cut in (twice, once)]
        assert texts[0] == texts[1]


def test_no_stock_is_told_of_lots_that_only_a_part_is_known_of(whole: Result) -> None:
    """A lot that was blended in stands among the records; its book isn't whole, and isn't printed."""
    with cut_to_lots(whole, ["AK-26-3"]) as (cut, _):
        assert {"AK-26-3"} == set(cut.ledger["lot"])
        assert "AK-25-2" in set(cut.farm.table("lots")["lot"])


def test_its_own_ledger_is_whole(whole: Result) -> None:
    """Every movement of the lot, to whomever, and its count."""
    with cut_to_lots(whole, ["AK-26-2"]) as (cut, _):
        for result in (whole, cut):
            own = result.ledger[result.ledger["lot"] == "AK-26-2"]
            assert own["stock_mg"].iloc[-1] == 21262
        columns = ["date", "kind", "mass_mg", "party", "stock_mg"]
        book = whole.ledger[whole.ledger["lot"] == "AK-26-2"][columns]
        assert book.to_numpy().tolist() == cut.ledger[columns].to_numpy().tolist()


def test_the_folder_goes_with_the_block(whole: Result) -> None:
    """What was cut lies nowhere afterwards."""
    with cut_to_lots(whole, ["RC-26-1"]) as (cut, _):
        folder = cut.season.folder
        assert folder.is_dir()
    assert not folder.exists()


def test_records_that_cannot_be_read_are_not_cut(tmp_path: Path) -> None:
    """Nobody knows whose they are; the way out is said."""
    folder = load_example("bag-failed", "good").write(tmp_path)
    (folder / "more.yaml").write_text("lots:\n  - lot: [\n", encoding="utf-8")
    result = examine(folder, ON)
    with pytest.raises(DisclosureError, match="without --lot"), cut_to_lots(result, list(result.lots)):
        pass


def test_a_lot_that_would_come_out_otherwise_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where its own line tells less against it, nothing is written."""
    from certgen.disclosure import line_season

    result = examine(load_example("bag-failed", "bad").write(tmp_path), ON)
    choose = line_season.choose_line
    monkeypatch.setattr(
        line_season, "choose_line", lambda *asked: choose(*asked) | {"bagging": set(), "harvests": set()}
    )
    lot = next(name for name, one in result.lots.items() if one.standing != "traced")
    with (
        pytest.raises(DisclosureError, match="come out the same by its own line"),
        cut_to_lots(result, [lot]),
    ):
        pass


@pytest.mark.parametrize(
    "example",
    [
        "bag-in-storm",
        "equipment-not-cleaned",
        "lot-transgene-positive",
        "carry-over-differs",
        "pool-too-large",
        "bag-tag-shared",
        "split-operation-unseparated",
    ],
)
def test_a_fault_of_any_kind_stays_a_fault(tmp_path: Path, example: str) -> None:
    """Whatever a rule looks at besides the line is kept with it."""
    result = examine(load_example(example, "bad").write(tmp_path), ON)
    for lot in result.lots:
        with cut_to_lots(result, [lot]) as (cut, _):
            assert judge_lot(result, lot) == judge_lot(cut, lot)
