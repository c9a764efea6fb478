"""However a member hands its records in, what is opened is a folder with one way in and none out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from certgen.coop.members.access import MemberRefusedError, find_home, open_member

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.coop.members.member_list import Member


def test_one_folder_inside_is_entered_and_bounds_nothing(
    tmp_path: Path, member: Callable[..., Member]
) -> None:
    """As zip programs pack it: everything in one folder. The bound is what was handed in."""
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "season.yaml").touch()
    with open_member(tmp_path, member("A")) as opened:
        assert (tmp_path / "inner", tmp_path) == opened


def test_a_folder_of_records_is_taken_as_it_is(tmp_path: Path, member: Callable[..., Member]) -> None:
    """With record files of its own a folder is the season, whatever lies beside them."""
    (tmp_path / "bagging").mkdir()
    (tmp_path / "bagging" / "jan.yaml").touch()
    (tmp_path / "season.yaml").touch()
    with open_member(tmp_path, member("A")) as opened:
        assert (tmp_path, tmp_path) == opened


def test_what_was_laid_out_is_taken_away_again(
    tmp_path: Path, example_coop: Path, member: Callable[..., Member]
) -> None:
    """An archive and a workbook leave nothing behind."""
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    for source, name in (("archive", "hollow.zip"), ("workbook", "marrow.xlsx")):
        one = replace(member("A"), source=source, path=f"members/{name}")
        home = find_home(example_coop, one)
        with open_member(home, one, scratch) as opened:
            assert list(opened.season.glob("*.yaml"))
            assert opened.season.is_relative_to(scratch)
    assert [] == list(scratch.iterdir())


@pytest.mark.parametrize(("source", "words"), [("folder", "no folder"), ("archive", "no file")])
def test_what_isnt_there_is_said_in_words(
    tmp_path: Path, member: Callable[..., Member], source: str, words: str
) -> None:
    """Before anything is opened."""
    with pytest.raises(MemberRefusedError, match=words):
        find_home(tmp_path, replace(member("A"), source=source))


def test_what_is_no_workbook_is_said_in_words(tmp_path: Path, member: Callable[..., Member]) -> None:
    """A workbook that can't be opened is refused like any other hostile or broken file."""
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"no workbook")
    with pytest.raises(MemberRefusedError), open_member(path, replace(member("A"), source="workbook")):
        pass
