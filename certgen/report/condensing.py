"""A table told by its differences: what its records share is said once, and a record says where it differs.

A value is said once for the whole table, once for a group of records, or at the record itself, wherever it
takes the fewest letters; nothing is lost by it, and `tell_again` gives every record back.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

#: What a record says in a field: stretches of text, each with the anchor it leads to or an empty text.
Runs = tuple[tuple[str, str], ...]
#: Letters that a field's name takes beside a value, and the words for one that is expected.
_NAME: Final = 12
_EXPECTED: Final = 30


@dataclass(frozen=True, slots=True)
class Told:
    """A field and what is said of it: a value, nothing (None), or (`expected`) what stands elsewhere."""

    name: str
    value: Runs | None = None
    expected: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """How a table is told: fields that are told of each record, and those by which records are grouped.

    `expected` holds for some fields what a reader knows of each record before it is told, since it stands in
    another field or another register.
    """

    each: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    expected: Mapping[str, Sequence[Runs | None]] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Member:
    """A record by its row, and what is said of it alone."""

    row: int
    told: tuple[Told, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Records that are told together: what they have in common by what they are grouped, what most of them
    share, and each of them."""

    by: tuple[Told, ...]
    shared: tuple[Told, ...]
    members: tuple[Member, ...]


@dataclass(frozen=True, slots=True)
class Condensed:
    """A table told by its differences: what all of it shares, then its groups; `each` are the fields that
    stand at every record."""

    each: tuple[str, ...]
    shared: tuple[Told, ...]
    groups: tuple[Group, ...]


def condense(fields: Mapping[str, Sequence[Runs | None]], rows: Sequence[int], plan: Plan) -> Condensed:
    """The records of some `rows` told by their differences; `fields` are in the order of telling."""
    by = [name for name in plan.groups if name in fields]
    stretches = _group(fields, rows, by)
    if len(stretches) * 2 > len(rows):
        stretches, by = [list(rows)], []
    each = [name for name in plan.each if name not in by and _tells(fields, name, rows)]
    others = {name: values for name, values in fields.items() if name not in (*by, *each)}
    shared, in_groups = _share(others, rows, stretches, plan)

    def tell(row: int, known: Mapping[str, Told]) -> Member:
        own = [Told(name, fields[name][row]) for name in each]
        return Member(row, (*own, *_differences(others, row, known, plan)))

    groups = [
        Group(
            tuple(Told(name, fields[name][stretch[0]]) for name in by),
            tuple(told.values()),
            tuple(tell(row, {**shared, **told}) for row in stretch),
        )
        for stretch, told in zip(stretches, in_groups, strict=True)
    ]
    return Condensed(tuple(each), tuple(shared.values()), tuple(groups))


def _tells(fields: Mapping[str, Sequence[Runs | None]], name: str, rows: Sequence[int]) -> bool:
    """Whether a field says more at each record than once above them all."""
    return name in fields and (len(rows) < 2 or len({fields[name][row] for row in rows}) > 1)


def _share(
    fields: Mapping[str, Sequence[Runs | None]],
    rows: Sequence[int],
    stretches: Sequence[Sequence[int]],
    plan: Plan,
) -> tuple[dict[str, Told], list[dict[str, Told]]]:
    """What is said once for all rows, and for each of their stretches: whichever takes fewer letters."""
    shared: dict[str, Told] = {}
    in_groups: list[dict[str, Told]] = [{} for _ in stretches]
    for name, values in fields.items():
        known = plan.expected.get(name)
        whole, cost = _choose(name, values, known, rows)
        choices = [_choose(name, values, known, stretch) for stretch in stretches]
        if whole is not None and cost <= sum(spent for _, spent in choices):
            shared[name] = whole
            continue
        for told, (choice, _) in zip(in_groups, choices, strict=True):
            if choice is not None:
                told[name] = choice
    return shared, in_groups


def _group(
    fields: Mapping[str, Sequence[Runs | None]], rows: Sequence[int], by: Sequence[str]
) -> list[list[int]]:
    """The rows that say the same in the fields `by`, in the order of their firsts."""
    stretches: dict[tuple[Runs | None, ...], list[int]] = {}
    for row in rows:
        stretches.setdefault(tuple(fields[name][row] for name in by), []).append(row)
    return list(stretches.values())


def _choose(
    name: str, values: Sequence[Runs | None], known: Sequence[Runs | None] | None, rows: Sequence[int]
) -> tuple[Told | None, int]:
    """What is said of a field once for some rows, if anything, and the letters that telling it takes so.

    It is what at least half of them say; a record that says nothing where others do has to say so.
    """
    said = Counter(values[row] for row in rows)
    choices: list[tuple[int, Told | None]] = [
        (sum(_letters(value) * count for value, count in said.items() if value is not None), None)
    ]
    if len(rows) < 2:
        return None, choices[0][0]
    if known is not None:
        others = Counter(values[row] for row in rows if values[row] != known[row])
        if others.total() * 2 <= len(rows):
            choices.append((_EXPECTED + _add_up(others), Told(name, expected=True)))
    most, met = max(said.items(), key=lambda item: item[1])
    if most is not None and met * 2 >= len(rows):
        del said[most]
        choices.append((_letters(most) + _add_up(said), Told(name, most)))
    spent, told = min(choices, key=lambda choice: choice[0])
    return told, spent


def _add_up(said: Mapping[Runs | None, int]) -> int:
    return sum(_letters(value) * count for value, count in said.items())


def _letters(value: Runs | None) -> int:
    return _NAME + (sum(len(text) for text, _ in value) if value else 0)


def _differences(
    fields: Mapping[str, Sequence[Runs | None]], row: int, shared: Mapping[str, Told], plan: Plan
) -> Iterator[Told]:
    """Where a record differs from what is shared."""
    for name, values in fields.items():
        said = shared.get(name)
        common = None if said is None else plan.expected[name][row] if said.expected else said.value
        if values[row] != common:
            yield Told(name, values[row])


def tell_again(
    condensed: Condensed, expected: Mapping[str, Sequence[Runs | None]]
) -> dict[int, dict[str, Runs]]:
    """What each record says, by its row: fields in which it says something, read off what was told."""
    records: dict[int, dict[str, Runs]] = {}
    for group in condensed.groups:
        for member in group.members:
            said: dict[str, Runs | None] = {}
            for told in (*condensed.shared, *group.by, *group.shared, *member.told):
                said[told.name] = expected[told.name][member.row] if told.expected else told.value
            records[member.row] = {name: value for name, value in said.items() if value is not None}
    return records
