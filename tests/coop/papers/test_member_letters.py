"""A letter a member: what is missing there, and nothing of anybody else's."""

from __future__ import annotations

import re
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest
from pages import letters_of, overlapping, text_of

from certgen.coop.between.disagreements import Told
from certgen.coop.papers.letter_pages import set_letters
from certgen.coop.papers.member_letters import build_letter, write_letters

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from certgen.coop.between.result import CoopResult, MemberView

COVERS = (
    "certgen.coop.papers.letter_lines",
    "certgen.coop.papers.letter_pages",
    "certgen.coop.papers.open_matters",
)
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
    assert {"ALDER.txt", "HOLLOW.txt", "MARROW.txt", "OFFICE.txt", "RUSH.txt", "THISTLE.txt"} == set(letters)
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
    """Lots that went from one to the other, with their papers, and those that the one's own records say came
    from the other.
    """
    pair = {view.member.key, other.member.key}
    for transfer in result.transfers:
        if {transfer.sender, transfer.receiver} == pair:
            yield from (name for move in transfer.moves for name in (move.lot, move.document))
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
            reasons = [flat(reason).replace("`", "").rstrip(".") for reason in line.reasons]
            plain = own.translate(str.maketrans("", "", "“”`"))
            assert [] == [reason for reason in reasons if reason.casefold() not in plain.casefold()]


def test_what_is_asked_stands_with_its_deadline(example_result: CoopResult) -> None:
    """Open requests and findings with their day and whether it has passed; what is settled with its paper."""
    letters = {name: flat(text) for name, text in write_letters(example_result).items()}
    assert "(RQ-26-3, asked on 16 November 2026). Please do so by 5 December 2026." in letters["THISTLE.txt"]
    assert "It was due by 30 September 2026; that day has passed." in letters["MARROW.txt"]
    assert "found on 13 May 2026. It was due by 30 June 2026; that day has passed." in letters["HOLLOW.txt"]
    assert "answered on 10 September 2026 with answers/alder-label.txt" in letters["ALDER.txt"]
    assert "closed on 21 June 2026 with inspections/alder-rack.txt" in letters["ALDER.txt"]
    assert "Sales stopped since 1 September 2026 (SA-26-1)" in letters["THISTLE.txt"]


TOKEN = re.compile(r"(?<![\w./-])[A-Za-z][A-Za-z]*-?[\w-]*[0-9][\w-]*(?![\w.]*\.txt)")
FREE = re.compile(r"(?m)^(\s*(?:- )?(?:note|because|address|recorded_by): )(.+)$")
#: Written like a number of a record, and a term of the trade.
TERMS = {"nos-nptII-nos", "X17-2"}


def read_members(folder: Path) -> dict[str, dict[str, str]]:
    """What each member of the example handed in, by file, as text; a workbook's cells one a line."""
    found: dict[str, dict[str, str]] = {}
    for place in sorted((folder / "members").iterdir()):
        key = place.stem.upper()
        if place.suffix == ".zip":
            with zipfile.ZipFile(place) as archive:
                found[key] = {name: archive.read(name).decode() for name in archive.namelist()
                              if name.endswith(".yaml")}  # fmt: skip
        elif place.suffix == ".xlsx":
            cells = (cell for sheet in openpyxl.load_workbook(place) for row in sheet for cell in row)
            found[key] = {"": "\n".join(cell.value for cell in cells if isinstance(cell.value, str))}
        else:
            found[key] = {str(one.relative_to(place)): one.read_text() for one in place.rglob("*.yaml")}
    return found


def rename(folder: Path) -> dict[str, set[str]]:
    """Rewrites a copy of the example: each number that one member alone knows becomes a word that nobody
    else could write, and each of its remarks ends with one. Gives these words by member.
    """
    texts = read_members(folder)
    tokens = {key: set(TOKEN.findall("\n".join(files.values()))) for key, files in texts.items()}
    office = "\n".join(one.read_text() for one in folder.glob("*.yaml"))
    words: dict[str, set[str]] = {}
    for key, own in tokens.items():
        others = set().union(*(theirs for other, theirs in tokens.items() if other != key))
        alone = sorted(own - others - TERMS - set(TOKEN.findall(office)))
        named = {token: f"Zz{key.title()}{at}q" for at, token in enumerate(alone)}
        words[key] = {*named.values(), f"Qq{key.title()}remark"}

        def write(text: str, named: dict[str, str] = named, key: str = key) -> str:
            said = TOKEN.sub(lambda found: named.get(found[0], found[0]), text)
            return FREE.sub(rf"\1\2 Qq{key.title()}remark", said) if "\n" in said else said

        rewrite(folder / "members", key, write)
    return words


def rewrite(members: Path, key: str, write: Callable[[str], str]) -> None:
    """Puts changed texts in the place of those that a member handed in."""
    place = next(one for one in members.iterdir() if one.stem.upper() == key)
    if place.suffix == ".zip":
        with zipfile.ZipFile(place) as archive:
            inside = {name: archive.read(name) for name in archive.namelist()}
        with zipfile.ZipFile(place, "w") as archive:
            for name, data in inside.items():
                archive.writestr(name, write(data.decode()) if name.endswith(".yaml") else data)
    elif place.suffix == ".xlsx":
        book = openpyxl.load_workbook(place)
        for cell in (cell for sheet in book for row in sheet for cell in row):
            if isinstance(cell.value, str):
                cell.value = write(cell.value)
        book.save(place)
    else:
        for one in place.rglob("*.yaml"):
            one.write_text(write(one.read_text()))


def test_no_letter_bears_a_word_that_another_member_alone_knows(
    example_coop: Path, tmp_path: Path, examine: Callable[..., CoopResult]
) -> None:
    """Trees, bags, pickings, runs, lots, papers and remarks of each member under words of its own: no other
    letter has one, as text or on paper. What both of two books name keeps its name, and a lot of which one
    book says that it came from the other is between the two.
    """
    shutil.copytree(example_coop, tmp_path / "coop")
    renamed = rename(tmp_path / "coop")
    result = examine(tmp_path / "coop")
    letters = write_letters(result)
    pages = set_letters(result)

    assert {"ALDER", "HOLLOW", "MARROW", "OFFICE", "RUSH", "THISTLE"} == set(renamed)
    for view in result.members:
        key, others = view.member.key, set()
        assert len(renamed[key]) > 1, key
        for other in result.members:
            shared = {*dealings(result, view, other), *dealings(result, other, view)}
            others |= renamed[other.member.key] - shared if other is not view else set()
        for text in (letters[f"{key}.txt"], text_of(pages[f"{key}.pdf"])):
            assert set() == others & words(text), key
    assert any(own & words(letters[f"{key}.txt"]) for key, own in renamed.items())


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_letter_is_a_page_that_prints_alone(example_result: CoopResult, page: str) -> None:
    """All that its text says, each matter with its number, nothing over anything and within the margins."""
    pages = set_letters(example_result, page)

    assert {f"{view.member.key}.pdf" for view in example_result.members} == set(pages)
    for view in example_result.members:
        pdf = pages[f"{view.member.key}.pdf"]
        letter, letters = build_letter(example_result, view), letters_of(pdf)
        shown = re.sub(r"\s", "", text_of(pdf)).replace("-", "")
        for text in (letter.to, *(matter.text for part in letter.parts for matter in part.matters),
                     *(item for _, items in letter.lists for item in items), letter.closing):  # fmt: skip
            assert re.sub(r"\s", "", text).replace("-", "") in shown
        assert {0} == {one.page for one in letters}
        assert [] == overlapping(letters)
        assert 7 <= min(one.size for one in letters)
        assert 14 <= min(one.left for one in letters)


def test_matters_are_numbered_and_lots_name_the_numbers(example_result: CoopResult) -> None:
    """From one on, through all headings; no letter has a mark of the records' forms in it."""
    for view in example_result.members:
        letter = build_letter(example_result, view)
        numbers = [matter.number for part in letter.parts for matter in part.matters]
        assert list(range(1, len(numbers) + 1)) == numbers
    alder = build_letter(example_result, example_result.members[0])
    lots = dict(alder.lists)["Your lots"]
    assert lots[0].endswith("What stands in its way: numbers 4 and 5 above.")
    assert not any("`" in text for text in write_letters(example_result).values())
