"""Names as people write them on tags, leaves and labels, compared with the names of the records.

The fruit goes by its bag's tag, so what that says is compared with the log.
"""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING, Any

from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.records.joining.farm import Farm
    from certgen.rules.case import Case


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


def fold_name(name: str) -> str:
    """A name in which letter case and spaces make no difference."""
    return " ".join(name.split()).casefold()


def _fold(names: Series[Any]) -> Series[Any]:
    # A farm has few varieties, and every tag bears one.
    folded = {name: fold_name(name) for name in names.dropna().unique().tolist()}
    return names.map(folded).astype("str")


def compare_tags(case: Case) -> DataFrame:
    """Bags, row for row, whose tag says another tree, date, variety or bag than the log: `other_tree` ..."""
    import pandas as pd

    bags, spelling = case.bags, case.spelling
    said = spelling.spell_tags(bags["tag.variety"], bags["planting"])
    return pd.DataFrame({
        "other_tree": bags["tag.tree"].notna() & ~spelling.are_called(bags["tag.tree"], bags["tree"]),
        "other_date": bags["tag.date"].notna() & (bags["tag.date"] != bags["covered"]),
        "other_variety": ((said != bags["variety"]) & said.notna() & bags["variety"].notna()).astype(bool),
        "other_bag": bags["tag.bag"].notna() & ~spelling.are_called(bags["tag.bag"], bags["bag"]),
    })  # fmt: skip


def join_tags(case: Case) -> Series[Any]:
    """What the tag of each bag says, in one text; missing where it lacks its date, variety or tree."""
    bags = case.season.table("bagging")
    whole = bags[["tag.date", "tag.variety", "tag.tree"]].notna().all(axis="columns")
    text = bags["tag.date"].astype("str") + "\n" + bags["tag.variety"] + "\n" + bags["tag.tree"]
    return (text + "\n" + bags["tag.bag"].fillna("")).where(whole)
