"""Read the standards' own data files strictly: an entry that is unknown, missing or mistyped is named
with its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, NoReturn, Self, TypeVar

DATA = Path(__file__).parent / "data"

K = TypeVar("K")
V = TypeVar("V")
Value = bool | int | float | str | tuple[str, ...]
"""What a demand may ask: a figure, a word, simply that something be done (true), or a list of items."""


class StandardError(ValueError):
    """A rulebook or crop profile is unknown, or its data cannot be understood; the message says what to
    do.
    """


class FrozenMapping(dict[K, V]):
    """A mapping that refuses changes, since all readers share one copy; unlike a mapping proxy it can be
    pickled.
    """

    def _refuse(self, *_: object, **__: object) -> NoReturn:
        raise TypeError(
            "the standards are read-only; a season changes a practice figure with Practice.changed"
        )

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[type[FrozenMapping[K, V]], tuple[dict[K, V]]]:
        return FrozenMapping, (dict(self),)


class Section:
    """One mapping of a data file, read entry by entry.

    Used as a context manager: on leaving, an entry that nobody asked for raises `StandardError`, so that
    a misspelt key never goes unnoticed.
    """

    def __init__(self, data: object, where: str) -> None:
        self.where = where
        if not isinstance(data, dict):
            raise StandardError(f"{where}: expected a mapping, found {describe(data)}")
        for name in data:
            if not isinstance(name, str):
                raise StandardError(f"{where}: the key {name!r} must be text; put it in quotes")
        self._data: dict[str, Any] = data
        self._left = set(data)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None and self._left:
            names = ", ".join(sorted(self._left))
            raise StandardError(f"{self.where}: unknown entry {names}")

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def names(self) -> tuple[str, ...]:
        """The keys of this mapping, in the order of the file."""
        return tuple(self._data)

    def _take(self, key: str) -> object:
        if key not in self._data:
            raise StandardError(f"{self.where}: the entry '{key}' is missing")
        self._left.discard(key)
        return self._data[key]

    def _wrong(self, key: str, wanted: str, found: object) -> NoReturn:
        raise StandardError(f"{self.where}.{key}: expected {wanted}, found {describe(found)}")

    def text(self, key: str, default: str | None = None) -> str:
        """A text, folded to one line; `default` when the entry is absent."""
        if default is not None and key not in self._data:
            return default
        value = self._take(key)
        if not isinstance(value, str) or not value.strip():
            self._wrong(key, "text", value)
        return " ".join(value.split())

    def word(self, key: str, known: Sequence[str], default: str | None = None) -> str:
        """A text that must be one of `known`."""
        value = self.text(key, default)
        if value not in known:
            self._wrong(key, "one of " + ", ".join(known), value)
        return value

    def number(self, key: str) -> float | None:
        """A number, or None when the entry is absent."""
        if key not in self._data:
            return None
        value = self._take(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self._wrong(key, "a number", value)
        return value

    def flag(self, key: str, default: bool | None = None) -> bool:
        """True or false; `default` when the entry is absent."""
        if default is not None and key not in self._data:
            return default
        value = self._take(key)
        if not isinstance(value, bool):
            self._wrong(key, "true or false", value)
        return value

    def words(self, key: str, default: tuple[str, ...] | None = None) -> tuple[str, ...]:
        """A list of different texts, in the order of the file."""
        if default is not None and key not in self._data:
            return default
        value = self._take(key)
        if not isinstance(value, list) or not all(isinstance(item, str) and item for item in value):
            self._wrong(key, "a list of texts (quote the ones that look like numbers or yes/no)", value)
        if len(set(value)) != len(value):
            self._wrong(key, "a list without repeats", value)
        return tuple(value)

    def value(self, key: str) -> Value:
        """A number, a text, true or false, or a list of texts."""
        found = self._data.get(key)
        if isinstance(found, list):
            return self.words(key)
        if isinstance(found, str):
            return self.text(key)
        value = self._take(key)
        if not isinstance(value, bool | int | float):
            self._wrong(key, "a number, a text, true or false, or a list of texts", value)
        return value

    def section(self, key: str) -> Section:
        """The mapping under `key`."""
        return Section(self._take(key), f"{self.where}.{key}")

    def sections(self, key: str) -> Iterator[tuple[str, Section]]:
        """Each mapping below the mapping under `key`, with its name."""
        outer = self.section(key)
        for name in outer.names():
            yield name, outer.section(name)

    def word_lists(self, key: str) -> Mapping[str, tuple[str, ...]]:
        """The lists of texts below the mapping under `key`, by name."""
        outer = self.section(key)
        return FrozenMapping({name: outer.words(name) for name in outer.names()})


def describe(value: object) -> str:
    """What a wrong entry is, for a message."""
    if value is None:
        return "nothing"
    shown = repr(value)
    return shown if len(shown) <= 60 else f"a {type(value).__name__}"


def read_data(*parts: str) -> Section:
    """The mapping in one data file, `parts` being its path below the data folder without the suffix.

    Raises `StandardError` when the file is missing or is not YAML.
    """
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    where = "/".join(parts) + ".yaml"
    try:
        text = DATA.joinpath(*parts[:-1], parts[-1] + ".yaml").read_text(encoding="utf-8")
    except FileNotFoundError:
        raise StandardError(f"{where}: the data file is not there; install the package again") from None
    try:
        return Section(yaml.load(text, Loader=loader), where)  # noqa: S506 - both are safe loaders
    except yaml.YAMLError as error:
        raise StandardError(f"{where}: not readable as YAML: {error}") from None
