"""The first page as display-ready text: a verdict in lines, or a claim with grounds and bands of parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from certgen.typeset.parts import Cell, Fact, Part, Picture


@dataclass(frozen=True, slots=True)
class Band:
    """A headed stretch of the first page; `style` is its look: `plain`, or `aside` in smaller type."""

    title: str
    parts: tuple[Part, ...]
    style: str = "plain"


@dataclass(frozen=True, slots=True)
class Cover:
    """The first page.

    Where there is a `claim`, a sentence, it stands with its `grounds` and the bands in place of `verdict`.
    """

    title: str
    operation: str
    season: str
    facts: tuple[Fact, ...]
    verdict: tuple[Cell, ...]
    is_text: str
    is_not_text: str
    file: tuple[Fact, ...]
    code: Picture | None = None
    claim: str = ""
    grounds: tuple[Cell, ...] = ()
    bands: tuple[Band, ...] = ()
