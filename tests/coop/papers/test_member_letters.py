"""A letter a member: what is missing there, and nothing of anybody else's."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.coop.between.disagreements import Told
from certgen.coop.papers.member_letters import write_letters

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from certgen.coop.between.result import CoopResult, MemberView

COVERS = ("certgen.coop.papers.letter_lines", "certgen.coop.papers.open_matters")
GOLDEN = Path(__file__).parent / "golden"


def flat(text: str) -> str:
    """A letter without its line breaks."""
    return " ".join(text.split())


def test_each_member_gets_its_own_letter(
    example_result: CoopResult, golden: Callable[[Path, str], None]
) -> None:
    """What is missing, in its own letter only; no letter names a gap of somebody else's."""
    letters = write_letters(example_result)
    for name in ("ALDER.txt", "OFFICE.txt", "THISTLE.txt"):
        golden(GOLDEN / name, letters[name])
    assert {"ALDER.txt", "HOLLOW.txt", "MARROW.txt", "OFFICE.txt", "THISTLE.txt"} == set(letters)
    assert "could not read" in letters["THISTLE.txt"]
    assert "papaia" in letters["THISTLE.txt"]
    for view in example_result.members:
        own = flat(letters[f"{view.member.key}.txt"])
        assert "no group certification" in own
        assert "Please answer by 16 December 2026" in own
        # What only another member's records can mend is told in other words.
        mine = {flat(gap.message) for gap in view.gaps if gap not in view.waiting}
        assert [] == [message for message in mine if message not in own]
        for other in example_result.members:
            theirs = {flat(gap.message) for gap in other.gaps} - mine
            assert other is view or [] == [message for message in theirs if message in own]


def test_every_disagreement_is_told_to_somebody(example_result: CoopResult) -> None:
    """But for what stands in a letter's own lists: what was asked, what was found, what stops its seed."""
    listed = {"member-sanctioned", "finding-overdue", "request-overdue"}
    untold = {one.kind for one in example_result.disagreements if not one.told}
    assert listed == untold


def words(text: str) -> set[str]:
    """Everything in a letter that could be a name or a number."""
    return set(re.findall(r"[\w./-]*\w", text))


def dealings(result: CoopResult, view: MemberView, other: MemberView) -> Iterator[str]:
    """Lots that went from one to the other, or that the one's own records say came from the other."""
    pair = {view.member.key, other.member.key}
    for transfer in result.transfers:
        if {transfer.sender, transfer.receiver} == pair:
            yield from (move.lot for move in (transfer.sent, transfer.received) if move is not None)
    called = {other.member.name.casefold(), other.member.key.casefold()}
    summary = view.summary
    yield from (one.lot for one in summary.plantings if one.supplier.casefold() in called)
    yield from (move.lot for move in summary.moves if move.party.casefold() in called)
    theirs = {view.member.name.casefold(), view.member.key.casefold()}
    yield from (move.lot for move in other.summary.moves if move.party.casefold() in theirs)


def numbers(view: MemberView) -> set[str]:
    """A member's trees, plantings, lots and runs."""
    lots = view.summary.lots
    return {
        *(name for lot in lots for name in (lot.lot, *lot.trees, *lot.plantings, *lot.blocks)),
        *(one.planting for one in view.summary.plantings),
        *(use.record for use in view.summary.uses),
    }


def search(result: CoopResult) -> list[str]:
    """What letters tell of members that their reader doesn't deal with, or more than went between them."""
    found = []
    for view in result.members:
        letter = write_letters(result)[f"{view.member.key}.txt"]
        there = words(letter)
        own = numbers(view) | {move.lot for move in view.summary.moves}
        for other in result.members:
            if other is view:
                continue
            shared = set(dealings(result, view, other))
            if not shared:
                found += [f"{view.member.key}: {name}" for name in (other.member.key, other.member.name)
                          if name in there or name in flat(letter)]  # fmt: skip
            found += [f"{view.member.key}: {name}" for name in (numbers(other) - own - shared) & there]
    return found


def test_no_letter_tells_of_a_neighbour(example_result: CoopResult) -> None:
    """Neither name nor tree, planting, run or lot of anybody, but what went between the two."""
    assert [] == search(example_result)


def test_the_search_finds_a_neighbour(example_result: CoopResult) -> None:
    """Two trees of other members, planted in what MARROW is told, and a name that THISTLE has no part in."""
    told = {
        "report-claimed-twice": (Told("MARROW", "It is claimed for tree H1 and tree A2 too."),),
        "agreement-missing": (Told("THISTLE", "Marrow Lane Garden has signed it."),),
    }
    changed = tuple(replace(one, told=told.get(one.kind, one.told)) for one in example_result.disagreements)
    leaks = search(replace(example_result, disagreements=changed))
    assert {"MARROW: A2", "MARROW: H1", "THISTLE: Marrow Lane Garden"} == set(leaks)


def test_a_lot_that_is_not_traced_says_why(example_result: CoopResult) -> None:
    """Never an empty list: each such lot has a reason at least, and each is in the letter."""
    letters = write_letters(example_result)
    for view in example_result.members:
        own = flat(letters[f"{view.member.key}.txt"])
        for line in view.lots:
            assert (line.standing.standing != "traced") == bool(line.reasons), line.name
            assert [] == [reason for reason in line.reasons if flat(reason) not in own]


def test_what_is_asked_stands_with_its_deadline(example_result: CoopResult) -> None:
    """Open requests and findings with their day and whether it has passed; what is settled with its paper."""
    letters = {name: flat(text) for name, text in write_letters(example_result).items()}
    assert "(RQ-26-3, asked on 16 November 2026). Please do so by 5 December 2026." in letters["THISTLE.txt"]
    assert "It was due by 30 September 2026; that day has passed." in letters["MARROW.txt"]
    assert "found on 13 May 2026. It was due by 30 June 2026; that day has passed." in letters["HOLLOW.txt"]
    assert "answered on 10 September 2026 with answers/alder-label.txt" in letters["ALDER.txt"]
    assert "closed on 21 June 2026 with inspections/alder-rack.txt" in letters["ALDER.txt"]
    assert "Sales stopped since 1 September 2026 (SA-26-1)" in letters["THISTLE.txt"]
