"""`certgen new --coop`: a co-op's folder by options or by questions, and what is refused."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

import pytest
from printed import call

from certgen.coop.members.member_list import read_coop

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HOLLOW = "HOLLOW; Hollow Acre; QR-2019-0203; 2019-03-15; archive"


@pytest.fixture
def answer(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[str]]:
    """Somebody at the terminal gives these answers and then breaks off; the questions as they were asked."""

    def sit(*answers: str) -> list[str]:
        asked: list[str] = []
        left = iter(answers)

        def prompt(text: str) -> str:
            asked.append(text)
            if (found := next(left, None)) is None:
                raise EOFError
            return found

        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("click.termui.visible_prompt_func", prompt)
        return asked

    return sit


def read(folder: Path) -> tuple[str, list[tuple[str, str]]]:
    """The co-op's name, and each member with how it hands in."""
    coop, errors = read_coop(folder)
    assert coop is not None, errors
    return coop.name, [(member.key, member.path) for member in coop.members]


def test_every_answer_is_an_option(tmp_path: Path) -> None:
    """What is laid out can be examined at once: each member is told what to send."""
    folder = tmp_path / "wells"
    code, said = call(
        "new", folder, "--coop", "--operation", "Four Wells", "--certifier", "Quillback", "--office", "We",
        "--answer-days", "21", "--standard", "us-nop,eu", "--member", HOLLOW, "--member",
        "A; B; C; 2020-01-01",
    )  # fmt: skip

    assert (0, True) == (code, "HOLLOW: its records go to" in said)
    assert ("Four Wells", [("HOLLOW", "members/hollow.zip"), ("A", "members/a")]) == read(folder)
    code, said = call("coop", folder, "--on", "2026-11-25", "--no-cache", "--letters", tmp_path / "letters")
    assert (2, True) == (
        code,
        "by 16 December 2026: its records once more, as a zip at members/hollow.zip" in flat(said),
    )
    assert "certgen new" in (tmp_path / "letters" / "HOLLOW.txt").read_text()


def flat(text: str) -> str:
    """Without line breaks."""
    return " ".join(text.split())


def test_questions_are_asked_until_their_answers_will_do(
    tmp_path: Path, answer: Callable[..., list[str]]
) -> None:
    """A refused answer is asked again and loses no other; a member that can't be is told once more."""
    asked = answer(
        "", "Four Wells", "", "We", "us-nap", "us-nop", "many", "0", "21",
        "HOLLOW", "Hollow Acre", "QR-1", "1/2/2020", "2020-02-01", "zip",
        "HOLLOW", "Hollow Acre", "QR-1", "2020-02-01", "archive", "",
    )  # fmt: skip
    code, said = call("new", tmp_path / "wells", "--coop")

    assert (0, ("Four Wells", [("HOLLOW", "members/hollow.zip")])) == (code, read(tmp_path / "wells"))
    assert [True] * 3 == [part in said for part in ("us-nap", "whole number of days", "'1/2/2020' is no day")]
    assert 1 == sum("certifier" in text for text in asked)


def test_whoever_breaks_off_keeps_the_answers(tmp_path: Path, answer: Callable[..., list[str]]) -> None:
    """As a command that gives them again."""
    answer("Four Wells", "Quillback", "", "", "21", "HOLLOW", "Hollow Acre", "QR-1", "2020-02-01", "archive")
    code, said = call("new", tmp_path / "wells", "--coop")
    typed = shlex.split(said.split("these answers: ", 1)[1].splitlines()[0])

    assert (True, False) == (code != 0, (tmp_path / "wells").exists())
    assert 0 == call(*typed[1:])[0]
    assert ("Four Wells", [("HOLLOW", "members/hollow.zip")]) == read(tmp_path / "wells")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "Say how the co-op is called"),
        (("--operation", "X", "--after", "2026"), "are a season's"),
        (("--operation", "X", "--label", "1"), "are a season's"),
        (("--operation", "X", "--force"), "leave --force out"),
        (("--operation", "X", "--member", "A; B"), "has 2 parts. Write it like this"),
        (("--operation", "X", "--member", "A; B; C; 1/2/2026"), "--member A: '1/2/2026' is no day"),
        (("--operation", "X", "--member", "A; B; C; 2026-01-02; post"), "not as 'post'"),
        (("--operation", "X", "--standard", "us-nap"), "us-nap"),
    ],
)  # fmt: skip
def test_what_can_not_be_is_refused(tmp_path: Path, words: tuple[str, ...], says: str) -> None:
    """With what to write instead; nothing is made."""
    code, said = call("new", tmp_path / "wells", "--coop", *words)
    assert (2, True, False) == (code, says in flat(said), (tmp_path / "wells").exists())


def test_a_co_op_s_options_go_with_it(tmp_path: Path) -> None:
    """A season has no members, and a folder in use is left alone."""
    code, said = call("new", tmp_path / "2027", "--operation", "X", "--member", HOLLOW)
    assert (2, True) == (code, "go with --coop" in said)
    (tmp_path / "mine.txt").write_text("mine")
    code, said = call("new", tmp_path, "--coop", "--operation", "X")
    assert (2, True) == (code, "holds mine.txt already" in flat(said))
