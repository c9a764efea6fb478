"""Between the tree and the bench: the sheets that go with samples, their seals, and the hands in between.

Nothing of a sheet makes a result better. What it says against a sample is laid into the sample's record
(`records/joining/custody.py`); these rules say what a sheet leaves out or says twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.columns import group_rows
from certgen.records.joining.custody import is_other_seal
from certgen.records.joining.placeholders import says_nothing
from certgen.records.joining.rounds import RoundMembers
from certgen.rules.clauses import RECORDS
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.records.columns import Array
    from certgen.rules.case import Case

_SPLIT: Final = "split sample"
#: What the rules look at on a sheet.
_COLUMNS: Final = (
    "submission", "kind", "date", "samples", "bags", "parts", "hand_overs", "received", "receipt", "evidence",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One sheet: its row and content, and the rows of the samples that it names."""

    row: int
    says: Mapping[str, Any]
    samples: Array

    @property
    def number(self) -> str:
        return str(self.says["submission"])

    def find(self, steps: tuple[str | int, ...], message: str) -> Finding:
        """A finding at a field of this sheet; it moves no standing."""
        return Finding("submissions", self.number, self.row, steps, message, reaches=())

    @property
    def seals(self) -> Iterator[tuple[tuple[str | int, ...], str]]:
        """Where each seal stands, and its number."""
        for column in ("bags", "parts"):
            for position, one in enumerate(self.says[column]):
                if seal := one.get("seal"):
                    yield (column, position, "seal"), seal


def _sheets(case: Case) -> list[_Sheet]:
    """This season's sheets."""
    own = case.columns("submissions").rows(*_COLUMNS, where=case.own("submissions"))
    says = ((row, dict(zip(_COLUMNS, values, strict=True))) for row, *values in own)
    members = RoundMembers(case.season)
    return [_Sheet(row, told, members.rows_of("screening", told["samples"])) for row, told in says]


def _says(text: str | None) -> bool:
    return text is not None and not says_nothing(text)


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Enter the sheet that went with the leaves under `submissions`, with its seals and hands. If none "
    "was written, print one for the next leaves: certgen labels --kind submission-sheet.",
)
def sample_without_submission(case: Case) -> Iterator[Finding]:
    """A letter tells of samples that went on no sheet, though other samples of the season have theirs.

    The sheet shows what was in the bag, whose hands it went through and how it arrived. Without it the letter
    shows that some leaf was tested. A season that keeps no sheets at all is not asked for them here.
    """
    sheets = [one for one in _sheets(case) if one.says["kind"] != _SPLIT]
    if not sheets:
        return
    screening = case.columns("screening")
    told = case.own("screening") & screening.known("result")
    for one in sheets:
        told[one.samples] = False
    for report, rows in group_rows(screening["report"], told).items():
        samples = screening["sample"][rows].tolist()
        yield Finding(
            "screening",
            samples[0],
            rows[0],
            ("sample",),
            f"Letter {report} tells of {name('screening', samples)}, and no submission sheet says how "
            f"{'it' if len(samples) == 1 else 'they'} came to the laboratory.",
            reaches=(),
        )


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Correct the sheet that doesn't hold the sample. If leaves of a tree were sent twice, give the "
    "second ones a number of their own.",
)
def sample_on_two_sheets(case: Case) -> Iterator[Finding]:
    """One sample stands on two sheets, so two bags of leaves bear one number.

    A result is then of one of the two, and nobody can say of which.
    """
    numbers = case.columns("screening")["sample"]
    sheets = [one for one in _sheets(case) if one.says["kind"] != _SPLIT]
    # Which of them holds a sample first.
    held = np.full(len(numbers), -1)
    # Thousands may list the same samples, all of which others hold: what is said of them is found out once.
    same: Array | None = None
    words = ("", "")
    for at, sheet in enumerate(sheets):
        if sheet.samples is not same:
            before = held[sheet.samples]
            words = _tell_twice(numbers, sheet.samples, before, sheets)
            held[sheet.samples[before < 0]] = at
            same = None if (before < 0).any() else sheet.samples
        if words[0]:
            message = f"{words[0]} on sheet {sheet.number} and on {words[1]}."
            yield sheet.find(("samples",), message)


def _tell_twice(numbers: Array, rows: Array, before: Array, sheets: Sequence[_Sheet]) -> tuple[str, str]:
    """Which of a sheet's samples stand on earlier ones, and on which; two empty texts where none does."""
    twice = rows[before >= 0]
    if not len(twice):
        return "", ""
    samples = name("screening", numbers[twice].tolist())
    first, place = np.unique(before[before >= 0], return_index=True)
    others = join(dict.fromkeys(sheets[one].number for one in first[np.argsort(place)].tolist()))
    return f"{samples[0].upper()}{samples[1:]} stand{'s' if len(twice) == 1 else ''}", others


def _steps(sheet: _Sheet, cut: date | None) -> Iterator[tuple[tuple[str | int, ...], str, date]]:
    """The days of a sheet in the order in which they must come: where each stands, what it was."""
    if cut is not None:
        yield ("samples",), "the last leaf was cut", cut
    if sheet.says["date"] is not None:
        yield ("date",), "the sheet was written", sheet.says["date"]
    for position, hands in enumerate(sheet.says["hand_overs"]):
        if hands.get("date") is not None:
            yield ("hand_overs", position, "date"), f"it was handed to {hands['to']}", hands["date"]
    if sheet.says["received"] is not None:
        yield ("received",), "it was received", sheet.says["received"]


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Correct the day that is wrong; what was written at the hand-over goes before what was written "
    "later.",
)
def custody_dates_contradict(case: Case) -> Iterator[Finding]:
    """A sheet's days run backwards: sealed before the leaf was cut, received before it was sent.

    Leaves are cut, sealed, handed on and received in this order.
    """
    collected = case.columns("screening")["collected"]
    same: Array | None = None
    last = np.datetime64("NaT")
    for sheet in _sheets(case):
        if sheet.samples is not same:
            days = collected[sheet.samples]
            last = np.fmax.reduce(days) if len(days) else np.datetime64("NaT")
            same = sheet.samples
        steps = list(_steps(sheet, None if np.isnat(last) else last.astype("datetime64[D]").item()))
        for (_, before, first), (place, after, second) in pairwise(steps):
            if second < first:
                yield sheet.find(
                    place,
                    f"Sheet {sheet.number}: {after} on {day(second)}, and {before} on {day(first)}.",
                )


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Read the seals again, on the bags or on the copy that came back, and correct the number.",
)
def seal_used_twice(case: Case) -> Iterator[Finding]:
    """Two bags bear one seal number, so the number tells nothing of either.

    A seal is used once: it is broken to open the bag.
    """
    held: dict[str, str] = {}
    for sheet in _sheets(case):
        for place, seal in sheet.seals:
            plain = "".join(seal.split()).casefold()
            if plain in held:
                where = "twice" if held[plain] == sheet.number else f"and on sheet {held[plain]}"
                yield sheet.find(place, f"Seal {seal} stands on sheet {sheet.number} {where}.")
            held.setdefault(plain, sheet.number)


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Ask the laboratory which number it read, and in whose hands the bag was. If the bag was opened, "
    "sample again; if a number was misread, correct it.",
)
def seal_differs(case: Case) -> Iterator[Finding]:
    """A bag arrived under another seal than it left with, so somebody opened it on the way.

    Its samples count as come with a broken seal.
    """
    for sheet in _sheets(case):
        for position, bag in enumerate(sheet.says["bags"]):
            if is_other_seal(bag):
                yield sheet.find(
                    ("bags", position, "seal_on_receipt"),
                    f"Sheet {sheet.number}: a bag left under seal {bag['seal']} and arrived under "
                    f"{bag['seal_on_receipt']}.",
                )


@rule(
    weight="advice",
    clauses=RECORDS,
    remedy="Ask whoever took the sample for the receipt, and write its number, the seal of each part and who "
    "keeps it. The paper goes under `evidence`.",
)
def split_sample_unreceipted(case: Case) -> Iterator[Finding]:
    """An inspector's sample was split, and its receipt, a part or a part's seal isn't on record.

    If the result is disputed, the part that stayed here answers it. It can do so only under its seal and with
    the receipt that says what was taken from what.
    """
    for sheet in _sheets(case):
        if sheet.says["kind"] != _SPLIT:
            continue
        lacking = []
        if not _says(sheet.says["receipt"]):
            lacking.append("no number of a receipt")
        if not sheet.says["evidence"]:
            lacking.append("no paper")
        if len(sheet.says["parts"]) < 2:
            lacking.append("no second part")
        open_parts = sum(not _says(one.get("seal")) for one in sheet.says["parts"])
        if open_parts:
            lacking.append(f"{count(open_parts, 'part')} without a seal")
        if lacking:
            yield sheet.find(("kind",), f"Split sample {sheet.number} has {join(lacking)} on record.")
