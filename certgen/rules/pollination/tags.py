"""What the tags of bags say, held against the log: the fruit goes by its tag."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.rules.case import Case


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
