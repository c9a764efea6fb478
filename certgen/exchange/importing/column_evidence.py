"""What the cells of a column show of what it is: how many can be a field's, and what they all begin with."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.cells import NO, YES, DateError, as_text, read_date
from certgen.exchange.importing.heading_words import SHORT_WORDS
from certgen.records.nouns import noun
from certgen.records.quantities import QuantityError, parse_quantity

if TYPE_CHECKING:
    from certgen.exchange.importing.column_maps import Target
    from certgen.exchange.importing.grids import Cell, Sheet
    from certgen.records.tables import Column as TableColumn
    from certgen.records.tables import Field

#: So many cells are looked at to tell what a column is.
_LOOKED_AT: Final = 400
_SHOWN: Final = 40
#: Nobody writes a longer identifier.
_IDENTIFIER: Final = 100
#: Two words are a list of words; a column of more than so many different ones is none.
_MOST_WORDS: Final = 60
RANGE: Final = re.compile(
    r"([A-Za-z./ -]*?)([0-9]{1,7})\s*(?:-|\u2010|\u2011|\u2012|\u2013|\u2014|to)\s*(?:\1)?([0-9]{1,7})"
)
_PREFIXED: Final = re.compile(r"([A-Za-z]+[ .:#-]*[ .:#])([A-Za-z0-9._/-]+)")


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a sheet: its heading's cell, and those below it that hold anything."""

    heading: Cell
    cells: tuple[Cell, ...]

    @classmethod
    def of(cls, sheet: Sheet, index: int) -> Column:
        """The column at an index of a sheet."""
        cells = tuple(row[index] for row in sheet.rows if index in row and not row[index].empty)
        return cls(sheet.headings[index], cells)

    def texts(self) -> dict[str, list[Cell]]:
        """The different texts, folded as words are compared, each with its cells."""
        found: dict[str, list[Cell]] = {}
        for cell in self.cells:
            found.setdefault(fold(as_text(cell.value)), []).append(cell)
        return found

    def sample(self) -> str:
        """How many cells hold anything, and what: `12 cells, such as 'windy', 'calm'`."""
        if not self.cells:
            return "no cell holds anything"
        shown = dict.fromkeys(as_text(cell.value).strip()[:_SHOWN] for cell in self.cells[:_LOOKED_AT])
        some = ", ".join(f"'{text}'" for text in list(shown)[:3])
        return f"{len(self.cells):,} {noun('cell', len(self.cells))}, such as {some}"


def fold(text: str) -> str:
    """A word as it is compared: blanks, case and a full stop at its end don't count."""
    return " ".join(text.split()).casefold().rstrip(".") or text.strip()


def listed_words(field: Field, words: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """The words that a field takes, or nothing where it takes any."""
    for one in filter(None, (field, field.item)):
        if listed := words.get(one.words, ()) or one.enum:
            return listed
    return ()


def kind_of(field: Field) -> str:
    """The kind of a field's values: of a list's those in it."""
    return field.kind if field.item is None else field.item.kind


def count_fitting(
    column: Column, field: Field, unit: str, words: Mapping[str, tuple[str, ...]]
) -> tuple[float, str]:
    """Which share of the cells can be the field's, 1 for an empty column, and that in words."""
    cells, kind = column.cells[:_LOOKED_AT], kind_of(field)
    listed = listed_words(field, words)
    if not cells or (kind == "text" and not listed):
        return 1.0, ""
    if listed and len({as_text(cell.value) for cell in cells}) > _MOST_WORDS:
        return 0.0, "its cells are no few words"
    kind = "word" if listed else kind
    looked = _without_remarks(cells, kind)
    wrong = [cell for cell in looked if not _can_be(cell, kind, unit)]
    noun = _NOUNS.get(kind, "such")
    if wrong:
        first = as_text(wrong[0].value)[:_SHOWN]
        fitting = len(looked) - len(wrong)
        return fitting / len(looked), f"{fitting:,} of {len(looked):,} cells hold {noun} ('{first}')"
    return 1.0, _tell_fitting(noun, len(cells) - len(looked))


def _tell_fitting(noun: str, remarks: int) -> str:
    """That all cells are what is looked for, those with a remark left aside."""
    every = f"all its cells but {remarks}" if remarks else "all its cells"
    return "" if noun == "such" else f"{every} hold {noun}"


def _without_remarks(cells: Sequence[Cell], kind: str) -> Sequence[Cell]:
    """The cells that hold a digit, where a day or a number is looked for: a pencilled `?` shows nothing."""
    if kind in {"word", "yes_no", "identifier"} or kind not in _NOUNS:
        return cells
    return [cell for cell in cells if re.search("[0-9]", as_text(cell.value))] or cells


_NOUNS: Final = {
    "date": "dates",
    "mass": "weights",
    "temperature": "temperatures",
    "length": "lengths",
    "duration": "times",
    "percent": "percentages",
    "area": "areas",
    "whole": "whole numbers",
    "number": "numbers",
    "yes_no": "yes or no",
    "word": "words",
}


def _can_be(cell: Cell, kind: str, unit: str) -> bool:
    value = cell.value
    text = as_text(value).strip()
    if cell.formula or kind not in {*_NOUNS, "identifier"}:
        return True
    match kind:
        case "date":
            return isinstance(value, dt.date) or _is_date(text.rstrip(" ?"))
        case "yes_no":
            return _is_yes_or_no(text)
        case "identifier":
            return len(text) <= _SHOWN and re.search(r"[A-Za-z0-9]", text) is not None
        case "word":
            # A word of the grower's own is asked about; numbers and days are no words.
            return isinstance(value, str) and not re.search(r"[0-9]", value)
    text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text, count=1)
    return _is_number(text) or (kind not in {"whole", "number"} and _is_quantity(text, kind, unit))


def _is_yes_or_no(text: str) -> bool:
    """Whether a text is yes or no, or a word for it that is asked about."""
    return text.casefold() in YES | NO or bool({"yes", "no"} & {*SHORT_WORDS.get(fold(text), ())})


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[0-9]{1,15}(\.[0-9]{1,15})?", text) is not None


def _is_date(text: str) -> bool:
    for order in ("dmy", "mdy"):
        try:
            read_date(text, "dmy" if order == "dmy" else "mdy")
        except DateError:
            continue
        return True
    return False


def _is_quantity(text: str, kind: str, unit: str) -> bool:
    for typed in (text, f"{text} {unit}" if unit else f"{text} %"):
        try:
            parse_quantity(typed, kind)
        except QuantityError:
            continue
        return True
    return _is_number(text)


def dress(
    target: Target, column: Column, declared: TableColumn, known: Collection[str], *, key: bool = False
) -> tuple[Target, str]:
    """The target with what its cells show has to be done with them, and why.

    Of identifiers, `known` those that it may name: what all begin with goes, numbers are filled up to the
    season's or to those in the column that begin with a nought, ranges are taken apart. `key`: they are the
    records' own.
    """
    if kind_of(declared.field) != "identifier" or not column.cells:
        return target, ""
    said = []
    texts = _list_texts(column)
    prefix = _shared_prefix(texts)
    if prefix:
        target = replace(target, drop_prefix=prefix)
        said.append(f"all begin with '{prefix}'")
        texts = [text[len(prefix) :] for text in texts]
    digits, why = _decide_digits(texts, known)
    if key or declared.kind == "list":
        ranged = _find_range(texts, known, shared_width(known) or shared_width(texts, uneven=True))
        target = replace(target, ranges=bool(ranged))
        said += [f"'{ranged[:_SHOWN]}' is a range"] if ranged else []
    return replace(target, digits=digits), "; ".join([*said, *filter(None, [why])])


def _list_texts(column: Column) -> list[str]:
    return [as_text(cell.value).strip()[:_IDENTIFIER] for cell in column.cells[:_LOOKED_AT]]


def _decide_digits(texts: Collection[str], known: Collection[str]) -> tuple[int, str]:
    """To how many digits numbers are filled up, and why: as the season's have them, or others in the column.

    0 where they stay as they are.
    """
    width, own = shared_width(known), shared_width(texts, uneven=True)
    if not width and own and any(text.isdigit() and len(text) < own for text in texts):
        return own, f"others in it have {own} digits"
    return (width, f"the season's have {width} digits") if _are_short(texts, known, width) else (0, "")


def holds_ranges(column: Column) -> bool:
    """Whether some cells name several, such as `9-12` or `tree 9-12`, and most don't."""
    texts = _list_texts(column)
    prefix = _shared_prefix(texts)
    ranged = sum(_is_range(text[len(prefix) :]) for text in texts)
    return 0 < ranged * 2 < len(texts)


def _find_range(texts: Collection[str], known: Collection[str], width: int) -> str:
    """The first text that is a range; where most are written like 26-001, that is how they are numbered."""
    ranged = [text for text in texts if _is_range(text)]
    ends = {end.zfill(width) for text in ranged for end in re.findall("[0-9]+", text)}
    found = ends <= set(known) or len(ranged) * 2 < len(texts)
    return ranged[0] if ranged and found else ""


def _are_short(texts: Collection[str], known: Collection[str], width: int) -> bool:
    """Whether numbers lack the noughts that the season's identifiers begin with, and most are among them."""
    numbers = {text for text in texts if text.isdigit()}
    filled = {text.zfill(width) for text in numbers}
    short = any(len(text) < width for text in numbers)
    return short and len(filled & set(known)) * 2 >= len(filled)


def _is_range(text: str) -> bool:
    """Whether a text is two whole numbers with a dash, the lower first."""
    found = RANGE.fullmatch(text)
    return found is not None and not found[1].strip() and int(found[2]) < int(found[3])


def _shared_prefix(texts: list[str]) -> str:
    """A word and a blank that all texts begin with, as the first has it; whatever its case."""
    found = [_PREFIXED.fullmatch(text) for text in texts]
    if not found or not all(found):
        return ""
    prefixes = Counter(match[1].casefold() for match in found if match)
    first = found[0]
    return first[1] if first is not None and len(prefixes) == 1 else ""


def shared_width(names: Collection[str], *, uneven: bool = False) -> int:
    """How many digits all identifiers have that are numbers, where one begins with a nought; else 0.

    With `uneven` others may have fewer: a spreadsheet takes away the noughts of some.
    """
    numbers = [name for name in names if name.isascii() and name.isdigit()]
    filled = [name for name in numbers if name.startswith("0") and len(name) > 1]
    widths = {len(name) for name in (filled if uneven else numbers)}
    if not filled or len(widths) != 1:
        return 0
    width = widths.pop()
    return width if max(map(len, numbers)) <= width else 0
