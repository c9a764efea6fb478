"""What most likely is meant: a word for a word of the grower's own, an identifier made of a row's cells."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from itertools import chain, combinations
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.cells import as_text
from certgen.exchange.importing.column_evidence import fold
from certgen.exchange.importing.column_maps import SheetMap, Target, find_field
from certgen.exchange.importing.heading_words import SHORT_WORDS
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.exchange.importing.grids import Cell, Sheet
    from certgen.records.tables import Field, Table

_SHOWN: Final = 40
_USABLE: Final = 5


def suggest_word(typed: str, listed: Sequence[str]) -> str:
    """The one word of a list that another most likely stands for; empty where several could be meant."""
    text = fold(typed)
    folded = {word: word.casefold() for word in listed}
    close = difflib.get_close_matches(text[:_SHOWN], list(folded.values()), 2, 0.8)
    tests: tuple[Callable[[str], bool], ...] = (
        lambda word: word in SHORT_WORDS.get(text, ()),
        lambda word: bool(text) and folded[word].startswith(text),
        lambda word: text in folded[word].split(),
        lambda word: folded[word] in close,
    )
    for test in tests:
        found = [word for word in listed if test(word)]
        if len(found) == 1:
            return found[0]
    return ""


def suggest_key(sheet: Sheet, part: SheetMap) -> str:
    """An identifier for each row out of the fewest cells that tell all rows apart: `M-{Date}-{Lot}`.

    Empty where none do. A column that names others of the season, a day and a document can be in it.
    """
    table = load_tables()[part.table]
    headings = _headings(sheet)
    usable = _usable(part, headings, table)
    needed = {index for index, heading in headings.items() if heading == part.where}
    rows = [row for row in sheet.rows if needed <= row.keys()]
    # A day alone, or a lot alone, tells this month's rows apart and not next month's.
    numbers = (2, 3) if len(usable) > 1 else (1,)
    tried = chain.from_iterable(combinations(usable, number) for number in numbers)
    found = next((chosen for chosen in tried if _tells_apart(rows, chosen)), ())
    braced = [f"{{{headings[at]}}}" for at in found]
    return "-".join([table.key[0].upper(), *braced]) if found else ""


def _usable(part: SheetMap, headings: Mapping[int, str], table: Table) -> list[int]:
    """The columns that suit an identifier, the best first."""
    ranked = sorted((_rank(part.columns.get(heading), table), index) for index, heading in headings.items())
    return [index for rank, index in ranked if rank][:_USABLE]


def _tells_apart(rows: Sequence[Mapping[int, Cell]], chosen: Sequence[int]) -> bool:
    """Whether every row has these cells, and no two rows have them alike."""
    told = {tuple(fold(as_text(row[at].value)) for at in chosen if at in row) for row in rows}
    return bool(rows) and len(told) == len(rows) and all(len(one) == len(chosen) for one in told)


def _headings(sheet: Sheet) -> dict[int, str]:
    return {index: str(cell.value).strip() for index, cell in sheet.headings.items()}


def _rank(target: Target | None, table: Table) -> int:
    """How well a column suits an identifier, 1 best; 0 for one that doesn't."""
    if target is None or target.fields or target.ranges or target.join:
        return 0
    field = find_field(table, "", target.field)
    if field is None:
        return 0
    if field.kind == "date" and field.required:
        return 1
    return 2 if _refers(field) else 3 if target.field == "document" else 0


def _refers(field: Field) -> bool:
    return bool(field.refers_to or (field.item is not None and field.item.refers_to))


def suggest_decimal(texts: Sequence[str]) -> str:
    """`comma` or `thousands` where the texts leave no doubt about the commas in their numbers, else empty."""
    comma = any(re.search(r"[0-9],(?![0-9]{3}(?![0-9]))[0-9]", text) for text in texts)
    thousands = any(re.search(r"[0-9],[0-9]{3}(?=[,.][0-9])", text) for text in texts)
    if comma == thousands:
        return ""
    return "comma" if comma else "thousands"
