"""A season read with the words that its crop's profile allows, and nothing more: what writes records needs
no rules.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from certgen.records.reading import read_season
from certgen.standards.loader import load_profile
from certgen.standards.reading import StandardError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from certgen.records.places import ReadingError, Refusals
    from certgen.records.season import Season


def read_case(
    folder: Path,
    *,
    within: Path | None = None,
    cache: Path | None = None,
    refusals: Sequence[Refusals] = (),
    instead: Mapping[str, bytes] = MappingProxyType({}),
) -> tuple[Season | None, tuple[ReadingError, ...]]:
    """Reads a season with the words that its crop's profile allows."""
    return read_season(
        folder, within=within, words_of=_words_of, cache=cache, refusals=refusals, instead=instead
    )


def _words_of(crop: str) -> Mapping[str, Sequence[str]]:
    try:
        return load_profile(crop).words
    except StandardError as error:
        # The reader tells it at the place where the crop is named.
        raise ValueError(str(error)) from error
