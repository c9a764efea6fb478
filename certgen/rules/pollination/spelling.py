"""Names as people write them on tags, leaves and labels, held against the names of the records."""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING, Any

from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.records.farm import Farm


class Spelling:
    """The farm's names; `plantings` are its plantings by their number."""

    def __init__(self, farm: Farm, plantings: DataFrame) -> None:
        self._farm = farm
        self._plantings = plantings

    def are_called(self, said: Series[Any], names: Series[Any]) -> Series[bool]:
        """Where what was written on a tag or leaf is a record's number, as it was in its own year.

        Where two years gave one number to two things, the farm calls the earlier one "T1 (2025)".
        """
        same: Series[bool] = said == names
        labels = [re.escape(stretch.label) for stretch in self._farm.stretches[1:]]
        if labels:
            same |= said == names.str.replace(rf" \((?:{'|'.join(labels)})\)$", "", regex=True)
        return same.fillna(value=False).astype(bool)

    def spell(self, varieties: Series[Any]) -> Series[Any]:
        """Variety names in one spelling: letter case and spaces make no other variety."""
        spelled: Series[Any] = look_up(_fold(varieties), self._spellings)
        return spelled.where(spelled.notna(), varieties)

    def spell_tags(self, varieties: Series[Any], plantings: Series[Any]) -> Series[Any]:
        """What tags call a variety, in one spelling; a short name means what its planting declares."""
        short = _fold(look_up(plantings, self._plantings["short"]))
        declared = (_fold(varieties) == short).fillna(value=False).astype(bool)
        return self.spell(varieties.mask(declared, look_up(plantings, self._plantings["variety"])))

    @cached_property
    def _spellings(self) -> Series[Any]:
        import pandas as pd

        told = [self._farm.table(table)["variety"] for table in ("plantings", "lots")]
        names = pd.concat(told).dropna()
        folded = _fold(names)
        first = ~folded.duplicated()
        spellings: Series[Any] = names[first]
        return spellings.set_axis(folded[first])


def _fold(names: Series[Any]) -> Series[Any]:
    # A farm has few varieties, and every tag bears one.
    folded = {name: " ".join(name.split()).casefold() for name in names.dropna().unique().tolist()}
    return names.map(folded).astype("str")
