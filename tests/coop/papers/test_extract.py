"""An extract of one member for its own inspector: all of its own, and no more of others than they share."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from certgen.coop.papers.extract import build_extract, set_extract, write_extract

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.coop.between.result import CoopResult, MemberView


@pytest.fixture
def view(example_result: CoopResult) -> Callable[[str], MemberView]:
    """Gives a member of the example."""
    return lambda key: next(one for one in example_result.members if one.member.key == key)


def test_it_says_what_went_between(example_result: CoopResult, view: Callable[[str], MemberView]) -> None:
    """Both books of each handing over, and whether they agree."""
    lists = dict(build_extract(example_result, view("HOLLOW")).lists)
    said = " ".join(lists["What went from and to other members"]).replace("\u00a0", " ")
    assert "lot AB-26-1 from ALDER, DN-26-1; 4 g left by the one book, 3 g came by the other." in said
    assert "They don’t agree." in said


def test_it_says_what_the_control_wrote(
    example_result: CoopResult, view: Callable[[str], MemberView]
) -> None:
    """Agreement, certificates, inspections and measures, each with its day."""
    lists = dict(build_extract(example_result, view("THISTLE")).lists)
    said = " ".join(lists["What the co-op’s own control wrote of it"])
    assert "Sales stopped since 1 September 2026 (SA-26-1)" in said


def test_others_stand_in_it_only_beside_what_they_share(
    example_result: CoopResult, view: Callable[[str], MemberView]
) -> None:
    """Certificates and lots of members that this one has nothing to do with are no part of it."""
    for key in ("ALDER", "HOLLOW", "MARROW", "THISTLE", "OFFICE"):
        text = write_extract(example_result, view(key))
        dealt = {
            other
            for transfer in example_result.transfers
            if key in {transfer.sender, transfer.receiver}
            for other in (transfer.sender, transfer.receiver)
        }
        between = [one for one in example_result.transfers if key in {one.sender, one.receiver}]
        own = {line.fact.lot for line in view(key).lots} | {one.moves[0].lot for one in between}
        for other in example_result.members:
            if other.member.key not in {key, *dealt}:
                assert other.member.certificate not in text
                theirs = {line.fact.lot for line in other.lots} - own
                assert set() == theirs & set(re.findall(r"[\w./-]*\w", text))
        assert "What to send us" not in text


def test_it_is_set_on_paper(example_result: CoopResult, view: Callable[[str], MemberView]) -> None:
    """In the design of the letters."""
    assert set_extract(example_result, view("ALDER")).startswith(b"%PDF-")
