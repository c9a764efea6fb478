"""What is asked for when something is to be printed: its kind, and what was chosen of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that is chosen. `asks` is `word` (one of `options`, each a value and what it is called),
    `names` (numbers and ranges of a table's records), `whole` (from `least` to `most`), `date` or `text`.
    """

    name: str
    label: str
    asks: str
    value: str = ""
    hint: str = ""
    options: tuple[tuple[str, str], ...] = ()
    table: str = ""
    least: int = 0
    most: int = 0


@dataclass(frozen=True, slots=True)
class PrintKind:
    """One kind of paper or file; `handed_on` is what leaves the farm, and is read afresh for that."""

    slug: str
    title: str
    says: str
    choices: tuple[Choice, ...]
    handed_on: bool = False


@dataclass(frozen=True, slots=True)
class PrintOrder:
    """What somebody asked for: a kind, and what was chosen, each within what its choice takes."""

    kind: PrintKind
    chosen: Mapping[str, str]
    names: Mapping[str, tuple[str, ...]]

    def __getitem__(self, name: str) -> str:
        return self.chosen[name]
