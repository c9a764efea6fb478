"""A record that is there already, and what a sheet says of it: filled where it was empty, never erased.

An empty cell says nothing. A value where none stood is no conflict; two different values are one, and both
are told whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

from certgen.records.quantities import QuantityError, parse_quantity
from certgen.records.tables import Field

#: Longer values are shown from where they begin to differ; a screen holds no more.
_WHOLE: Final = 1_200
_AROUND: Final = 200


class Differing(NamedTuple):
    """A field by its dotted name, the value that stands there (None: nothing), and the other one."""

    field: str
    before: Any
    after: Any


@dataclass(slots=True)
class Merged:
    """A record with what a sheet adds: `fields` are those of its first level that become other than they
    were, `filled` tells what stood empty, `conflicts` what said something else."""

    fields: dict[str, Any] = field(default_factory=dict)
    filled: list[Differing] = field(default_factory=list)
    conflicts: list[Differing] = field(default_factory=list)


def merge_record(
    fields: Mapping[str, Field],
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    said: Mapping[str, Any],
    *,
    replace: bool,
) -> Merged:
    """The record `old` with what `new` says of it.

    `said` is the record with what rounds, letters and the routine say of it: what is said there need not be
    written once more, and a cell that says otherwise is a conflict. With `replace` the new value stays.
    """
    merging = _Merging(Merged(), replace)
    for name, value in new.items():
        declared = fields.get(name, Field(name, "text"))
        before = old.get(name)
        after = merging.merge(name, declared, before, value, said.get(name))
        if plain(after) != plain(before):
            merging.result.fields[name] = plain(after)
    return merging.result


@dataclass(slots=True)
class _Merging:
    result: Merged
    replace: bool

    def merge(self, name: str, declared: Field, old: Any, new: Any, said: Any) -> Any:
        """One value out of three."""
        if is_empty(new) or plain(new) in (plain(old), plain(said)) or _weigh_alike(declared, old, new):
            return old
        if isinstance(new, Mapping):
            return self._merge_mapping(name, declared, old, new, said)
        if _is_listed(new) and declared.item is not None and declared.item.kind == "mapping":
            return self._merge_entries(name, declared.item, list(old or ()), list(new), list(said or ()))
        return self._merge_plain(name, declared, old, new, said)

    def _merge_plain(self, name: str, declared: Field, old: Any, new: Any, said: Any) -> Any:
        """A text, a number, or a list of such."""
        if is_empty(old) and is_empty(said):
            self.result.filled.append(Differing(name, None, new))
            return new
        if declared.kind == "evidence" and _is_listed(old):
            return self._join_evidence(name, list(old), list(new))
        return self._oppose(name, said if is_empty(old) else old, new, kept=old)

    def _oppose(self, name: str, stands: Any, new: Any, *, kept: Any) -> Any:
        self.result.conflicts.append(Differing(name, stands, new))
        return new if self.replace else kept

    def _merge_mapping(self, name: str, declared: Field, old: Any, new: Mapping[str, Any], said: Any) -> Any:
        merged = dict(old) if isinstance(old, Mapping) else {}
        also = said if isinstance(said, Mapping) else {}
        for inner, value in new.items():
            part = declared.fields.get(inner) or declared.item or Field(inner, "text")
            after = self.merge(f"{name}.{inner}", part, merged.get(inner), value, also.get(inner))
            if not is_empty(after):
                merged[inner] = after
        return merged

    def _join_evidence(self, name: str, old: list[Any], new: list[Any]) -> list[Any]:
        more = [file for file in new if file not in old]
        if more:
            self.result.filled.append(Differing(name, old, [*old, *more]))
        return [*old, *more]

    def _merge_entries(self, name: str, item: Field, old: list[Any], new: list[Any], said: list[Any]) -> Any:
        """A list of records inside a record: entries of another day join it, others fill what was empty."""
        if not old and not said:
            self.result.filled.append(Differing(name, None, new))
            return new
        if "date" not in item.fields:
            return self._match_entries(name, old, new, said)
        merged = [dict(entry) for entry in old]
        for entry in new:
            if dict(entry) not in [dict(there) for there in (*merged, *said)]:
                self._lay_entry(name, merged, entry)
        return merged

    def _lay_entry(self, name: str, merged: list[dict[str, Any]], entry: Mapping[str, Any]) -> None:
        """An entry with a day, into those that are there."""
        same = [at for at, there in enumerate(merged) if there.get("date") == entry.get("date")]
        fits = [at for at in same if _agree(merged[at], entry)]
        if fits:
            self._fill(name, merged, fits[0], entry)
        elif same:
            at = same[0]
            self.result.conflicts.append(Differing(f"{name}.{at + 1}", merged[at], entry))
            merged[at] = {**merged[at], **entry} if self.replace else merged[at]
        else:
            self.result.filled.append(Differing(f"{name}.{len(merged) + 1}", None, entry))
            merged.append(dict(entry))

    def _match_entries(self, name: str, old: list[Any], new: list[Any], said: list[Any]) -> list[Any]:
        """A list whose entries have no day: the same ones, in their order, or another list."""
        if len(old) != len(new) or not all(map(_agree, old, new)):
            stands = old or said
            self.result.conflicts.append(Differing(name, stands, new))
            return [_keep_more(old, entry) for entry in new] if self.replace else old
        merged = [dict(entry) for entry in old]
        for at, entry in enumerate(new):
            self._fill(name, merged, at, entry)
        return merged

    def _fill(self, name: str, merged: list[dict[str, Any]], at: int, entry: Mapping[str, Any]) -> None:
        for inner, value in entry.items():
            if inner not in merged[at] and not is_empty(value):
                self.result.filled.append(Differing(f"{name}.{at + 1}.{inner}", None, value))
                merged[at][inner] = value


def _agree(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two entries say nothing differently, and something alike."""
    shared = [name for name in one if name in other]
    return bool(shared) and all(plain(one[name]) == plain(other[name]) for name in shared)


def _keep_more(old: Sequence[Mapping[str, Any]], entry: Mapping[str, Any]) -> dict[str, Any]:
    """An entry that takes the place of one with the same beginning keeps what only that one says."""
    first = next(iter(entry), "")
    same = [there for there in old if first in there and there[first] == entry[first]]
    return {**same[0], **entry} if len(same) == 1 else dict(entry)


def _weigh_alike(declared: Field, old: Any, new: Any) -> bool:
    """Whether two quantities are one, written differently."""
    if not declared.is_quantity or not isinstance(old, str) or not isinstance(new, str):
        return False
    try:
        return parse_quantity(old, declared.kind).si == parse_quantity(new, declared.kind).si
    except QuantityError:
        return False


def complete(values: Mapping[str, Any], there: Mapping[str, Any]) -> dict[str, Any]:
    """Values, and where they are empty those that are there, inside mappings too."""
    found = {name: plain(value) for name, value in there.items()} | dict(values)
    for name, value in there.items():
        given = values.get(name)
        if is_empty(given):
            found[name] = plain(value)
        elif isinstance(given, Mapping) and isinstance(value, Mapping):
            found[name] = complete(given, value)
    return found


def is_empty(value: Any) -> bool:
    """Whether a value says nothing."""
    return value is None or (isinstance(value, str | Mapping | list | tuple) and not value)


def plain(value: Any) -> Any:
    """Mappings and lists as they are written anew, so that two of them compare."""
    if isinstance(value, Mapping):
        return {name: plain(part) for name, part in value.items()}
    return [plain(part) for part in value] if _is_listed(value) else value


def _is_listed(value: Any) -> bool:
    return isinstance(value, list | tuple)


def show_pair(before: Any, after: Any) -> tuple[str, str]:
    """Two values as people read them, whole; very long ones around the place where they begin to differ."""
    one, other = show_value(before), show_value(after)
    if max(len(one), len(other)) <= _WHOLE:
        return one, other
    pairs = zip(one, other, strict=False)
    at = next((i for i, (left, right) in enumerate(pairs) if left != right), min(len(one), len(other)))
    return _window(one, at), _window(other, at)


def _window(text: str, at: int) -> str:
    start = max(0, at - _AROUND)
    shown = text[start : at + _AROUND]
    return f"{'…' if start else ''}{shown}{'…' if at + _AROUND < len(text) else ''} (sign {at + 1:,} on)"


def show_value(value: Any) -> str:
    """A value as people read it: no braces, no signs of a programming language."""
    if is_empty(value):
        return "left empty"
    return f"'{_flat(value)}'"


def _flat(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {_flat(part)}" for name, part in value.items())
    if _is_listed(value):
        return "; ".join(map(_flat, value))
    return str(value)
