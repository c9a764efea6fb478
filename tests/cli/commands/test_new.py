"""`certgen new`: questions that keep their answers, and the season after another."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import seasons
from printed import plain

from certgen import cli
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def answer(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[str]]:
    """Somebody sits at the terminal and types these answers; gives the questions that were asked."""

    def sit(*answers: str) -> list[str]:
        asked: list[str] = []
        left = iter(answers)

        def prompt(text: str) -> str:
            asked.append(text)
            try:
                return next(left)
            except StopIteration:
                raise EOFError from None

        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("click.termui.visible_prompt_func", prompt)
        return asked

    return sit


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """A folder with the season 2026 in it."""
    (tmp_path / "2026").mkdir()
    counted = seasons.movement("C1", "L1", "counted", 8, 90)
    routine = {"stated_by": "R. Alder", "date": "2025-11-02", "bag_use": "new"}
    seasons.write_season(
        tmp_path / "2026", details={"routine": routine}, **{**seasons.one_line(), "movements": [counted]}
    )
    return tmp_path


def details_of(folder: Path) -> Any:
    """The season's own mapping, read without a fault."""
    season, errors = read_case(folder)
    assert [] == [error.text() for error in errors]
    assert season is not None
    return season.details


def test_a_refused_answer_is_asked_again_and_no_other_is_lost(
    answer: Callable[..., list[str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slip in a crop or a standard, a day that could be two, an end before the beginning."""
    asked = answer(
        "", "Two Streams", "papya", "papaya", "us-nob", "us-nop, eu", "1/2/2027", "2027-02-01", "2027-01-01",
        "2027-12-31", "Wet year",
    )  # fmt: skip
    assert 0 == cli.run(["new", str(tmp_path / "x")])
    details, said = details_of(tmp_path / "x"), plain(capsys.readouterr().err)

    assert ("Two Streams", "Wet year", ("us-nop", "eu"), dt.date(2027, 2, 1)) == (
        details.operation.name, details.label, details.standards, details.start
    )  # fmt: skip
    for part in ("papya", "us-nob", "'1/2/2027' is no day", "ends before it begins"):
        assert part in said
    assert 11 == len(asked)


def test_what_is_given_is_not_asked(answer: Callable[..., list[str]], tmp_path: Path) -> None:
    """Every question has its option."""
    asked = answer("Two Streams")
    options = [
        "--crop",
        "papaya",
        "--standard",
        "eu",
        "--label",
        "A",
        "--from",
        "2027-01-01",
        "--to",
        "2027-06-30",
    ]

    assert 0 == cli.run(["new", str(tmp_path / "x"), *options])
    assert (1, ("eu",)) == (len(asked), details_of(tmp_path / "x").standards)


def test_whoever_breaks_off_keeps_the_answers(
    answer: Callable[..., list[str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command that gives them again is printed, and nothing is laid out."""
    answer("Two Streams", "papaya")
    folder = tmp_path / "x"

    assert 0 != cli.run(["new", str(folder)])
    assert f"certgen new {folder} --operation 'Two Streams' --crop papaya" in capsys.readouterr().err
    assert not folder.exists()


def test_a_folder_in_use_is_told_before_anything_is_asked(
    answer: Callable[..., list[str]], farm: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody answers six questions for nothing; a folder inside a season is no better."""
    asked = answer()
    (farm / "2026" / "season.yaml").exists()

    assert [2, 2] == [cli.run(["new", str(farm / name)]) for name in ("2026", "2026/2027")]
    said = plain(capsys.readouterr().err)
    assert ([], True, True) == (asked, "is not empty" in said, "would lie inside the season" in said)


def test_the_next_season_says_what_it_took_and_what_not(
    farm: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a terminal nothing is asked, and the routine isn't in force."""
    assert 0 == cli.run(["new", str(farm / "2027"), "--after", str(farm / "2026")])
    said, details = plain(capsys.readouterr().out), details_of(farm / "2027")

    assert (seasons.OPERATION, dt.date(2026, 11, 1), dt.date(2027, 10, 31), "../2026") == (
        details.operation.name, details.start, details.end, details.previous
    )  # fmt: skip
    assert "routine" not in details.raw
    for part in (
        "Taken over from season 2026",
        "1 block, 1 planting and 1 tree",
        "Not taken over",
        "`routine`",
    ):
        assert part in said


@pytest.mark.parametrize("by", ["option", "question"])
def test_a_person_states_the_routine_anew(by: str, answer: Callable[..., list[str]], farm: Path) -> None:
    """By an option, or asked at a terminal, where it is shown first."""
    asked = answer("D. Marchbank")
    more = ["--stated-by", "D. Marchbank"] if by == "option" else []

    assert 0 == cli.run(["new", str(farm / "2027"), "--after", str(farm / "2026"), *more])
    routine = details_of(farm / "2027").raw["routine"]
    assert ("D. Marchbank", True) == (routine["stated_by"], routine["date"] > "2025-11-02")
    assert (by == "question") == bool(asked)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--after", "gone"], "there is no such folder"),
        (["--after", "2026", "--operation", "Another"], "is a season of Larkfold Seed Orchard"),
        (["--after", "2026", "--from", "2026-05-01"], "ends on 31 October 2026"),
        (["--after", "2026", "--label", "2026"], "--label"),
        (["--after", "2026", "--from", "2999-12-31"], "later than records can tell"),
        (["--operation", "A", "--stated-by", "B"], "--stated-by goes with --after"),
    ],
)
def test_what_cannot_follow_is_refused(
    options: list[str], said: str, farm: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """With the way out, and nothing is laid out."""
    monkeypatch.chdir(farm)

    assert 2 == cli.run(["new", "2027", *options])
    assert said in plain(capsys.readouterr().err)
    assert not (farm / "2027").exists()


def test_a_folder_named_by_its_year_is_that_years(farm: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever the day on which it is laid out; and the season beside it is pointed at."""
    assert 0 == cli.run(["new", str(farm / "2031"), "--operation", "A"])
    details = details_of(farm / "2031")

    assert ("2031", dt.date(2031, 1, 1), dt.date(2031, 12, 31)) == (details.label, details.start, details.end)
    said = " ".join(plain(capsys.readouterr().out).split())
    assert f"--after {farm / '2026'}" in said
