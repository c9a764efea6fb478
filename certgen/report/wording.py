"""How a value of the records is written in the packet: one way for every page, register and binder."""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import Decimal
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.records.quantities import QuantityError, format_mass, parse_quantity
from certgen.records.rows import is_absent
from certgen.rules.wording import day, noun
from certgen.typeset.parts import Cell, Fact, Run

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.records.quantities import Quantity
    from certgen.rules.findings import Gap

#: In millimetres: lengths from here on are told in metres.
_A_METRE: Final = 1000


def count_of(table: str, count: int) -> str:
    """`1 tree`, `12 bags`."""
    return f"{whole(count)} {noun(table, count)}"


def say_thing(gap: Gap) -> str:
    """`bag B-4`: what a gap stands at. A record that couldn't be read is known by its table and number."""
    number = gap.id.removeprefix(f"{gap.table} ") if gap.rule == "record-unread" else gap.id
    return f"{noun(gap.table)} {number}"


def whole(number: int) -> str:
    """A count with thousands set apart by a thin space that does not break."""
    return f"{number:,}".replace(",", "\u202f")


def weigh(milligrams: float | None) -> str:
    """A mass as everywhere in certgen; a dash where nothing was weighed."""
    return "–" if milligrams is None else format_mass(int(milligrams))


def write(value: Any) -> str:
    """A value of the records as text: dates in ISO form, yes and no as words, lists with commas."""
    if is_absent(value):
        return ""
    if isinstance(value, bool) or type(value).__name__ == "bool_":
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, dict):
        return _write_mapping(value)
    if isinstance(value, (tuple, list)):
        return ", ".join(write(part) for part in value)
    return str(value)


#: Units of the metric system, each kind's own; what was typed in another stands in brackets behind these.
_METRIC: Final = MappingProxyType(
    {
        "mass": frozenset({"mg", "g", "kg", "t"}),
        "length": frozenset({"mm", "cm", "m", "km"}),
        "area": frozenset({"m2", "m²", "ha"}),
        "temperature": frozenset({"C", "°C"}),
    }
)


def write_quantity(typed: str, kind: str) -> str:
    """A quantity in a metric unit, with what was typed beside it where that is another: `28.35 g (1 oz)`.

    Small lengths are told in millimetres, others in metres; areas in hectares.
    """
    if kind not in _METRIC:
        return typed
    try:
        read = parse_quantity(typed, kind)
    except QuantityError:
        return typed
    if read.unit in _METRIC[kind]:
        return typed
    return f"{_in_metric(read, kind)} ({typed})"


def _in_metric(read: Quantity, kind: str) -> str:
    """The quantity in the unit that its kind is told in, to a few digits."""
    if kind == "mass":
        large = read.unit.startswith("lb")
        return f"{_digits(read.si / 1_000_000, 3)} kg" if large else f"{_digits(read.si / 1000, 4)} g"
    if kind == "length":
        return f"{_digits(read.si / 1000, 3)} m" if read.si >= _A_METRE else f"{_digits(read.si, 3)} mm"
    if kind == "area":
        return f"{_digits(read.si / 10_000, 2)} ha"
    return f"{read.si:.1f} °C"


def _digits(value: float, digits: int) -> str:
    """So many digits of a figure, without a power of ten."""
    return f"{Decimal(f'{value:.{digits}g}'):f}"


def _write_mapping(value: Mapping[str, Any]) -> str:
    """What was written under each key; what was computed from it for comparison is left out."""
    computed = ("_mg", "_c", "_mm", "_s", "_pct", "_m2")
    parts = [part for key, part in value.items() if not is_absent(part) and not key.endswith(computed)]
    return " ".join(map(write, parts))


def plain(text: str, href: str = "") -> tuple[Run, ...]:
    """Text as runs."""
    return (Run(text, href),)


#: A field's name between backticks, as the rules' words mark it. Anything else that wears one is left alone.
_FIELD = re.compile(r"`([a-z][a-z0-9_.:]*(?: [a-z0-9_.]+){0,3})`")


def say(text: str) -> tuple[Run, ...]:
    """Words of a rule as runs: what stands between backticks is set as the name of a field."""
    runs: list[Run] = []
    for number, piece in enumerate(_FIELD.split(text)):
        if piece:
            runs.append(Run(piece, field=number % 2 == 1))
    return tuple(runs) or (Run(""),)


def cell(text: str, href: str = "", *, kind: str = "text", mark: str = "") -> Cell:
    """A cell with one run."""
    return Cell((Run(text, href),), kind, mark)


def figure(text: str) -> Cell:
    """A cell with a figure, set right."""
    return Cell((Run(text),), "number")


def key(text: str, href: str = "") -> Cell:
    """A cell with an identifier, which never breaks when it is short."""
    return Cell((Run(text, href),), "key" if len(text) <= 18 else "long")


def linked(table: str, names: Iterable[str], most: int = 0) -> tuple[Run, ...]:
    """Identifiers with commas, each leading to its record; past `most` (0: all) the rest is counted."""
    listed = list(names)
    shown = listed[:most] if most and len(listed) > most else listed
    runs: list[Run] = []
    for number, name in enumerate(shown):
        if number:
            runs.append(Run(", "))
        runs.append(Run(name, f"{table}/{name}"))
    if len(shown) < len(listed):
        runs.append(Run(f" and {whole(len(listed) - len(shown))} more"))
    return tuple(runs)


def spans(names: Sequence[str], order: Mapping[str, int]) -> list[tuple[str, ...]]:
    """Identifiers gathered into stretches that stand side by side in their register: (first, last) or
    (one,)."""
    ranked = sorted(names, key=lambda name: order.get(name, len(order)))
    stretches: list[list[str]] = []
    for name in ranked:
        if stretches and order.get(name, -1) == order.get(stretches[-1][-1], -3) + 1:
            stretches[-1].append(name)
        else:
            stretches.append([name])
    listed: list[tuple[str, ...]] = []
    for stretch in stretches:
        listed += [(stretch[0], stretch[-1])] if len(stretch) > 2 else [(name,) for name in stretch]
    return listed


def linked_spans(
    table: str, names: Sequence[str], order: Mapping[str, int], most: int = 40
) -> tuple[Run, ...]:
    """Identifiers as stretches, `B001 to B040, B052`, each end leading to its record.

    Past `most` stretches the rest is left to the register, and the words say so.
    """
    runs: list[Run] = []
    stretches = spans(names, order)
    for stretch in stretches[:most]:
        if runs:
            runs.append(Run(", "))
        for number, name in enumerate(stretch):
            if number:
                runs.append(Run(" to "))
            runs.append(Run(name, f"{table}/{name}"))
    if len(stretches) > most:
        runs.append(
            Run(
                f" and others, {count_of(table, len(names))} in all; the register of {noun(table, 2)}"
                f" has each"
            )
        )
    return tuple(runs)


def linked_gaps(numbers: Iterable[int]) -> tuple[Run, ...]:
    """Numbers of gaps with commas, each leading to its card."""
    return linked("gap", map(str, numbers))


def say_fields(row: Mapping[str, Any], *fields: str, between: str = ", ") -> str | None:
    """What a record says in some fields, those left out passed over; None where it says nothing."""
    texts = [write(row.get(field)) for field in fields]
    return between.join(text for text in texts if text) or None


def say_most(names: Sequence[str], most: int) -> str:
    """`A, B and 3 more`: the first names, and how many follow."""
    more = f" and {whole(len(names) - most)} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def fact(label: str, text: str, href: str = "", mark: str = "") -> Fact:
    """A label and its value."""
    return Fact(label, (Run(text, href),), mark)


def say_days(dates: Sequence[date]) -> str:
    """One day in words, or the first and last of several, the year once where it is the same."""
    if not dates:
        return "none"
    first, last = min(dates), max(dates)
    if first == last:
        return day(first)
    start = day(first)
    if first.year == last.year:
        start = start.removesuffix(f" {first.year}")
        if first.month == last.month:
            start = start.partition(" ")[0]
    return f"{start} to {day(last)}"


def days(dates: Sequence[date]) -> str:
    """One day, or the first and last of several."""
    if not dates:
        return "–"
    first, last = min(dates), max(dates)
    return first.isoformat() if first == last else f"{first.isoformat()} to {last.isoformat()}"
