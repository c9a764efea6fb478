"""Names as people write them on tags, leaves and labels, compared with the names of the records.

The fruit goes by its bag's tag, so what that says is compared with the log.
"""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from certgen.records.columns import Columns, is_equal, is_known

if TYPE_CHECKING:
    from certgen.records.columns import Array
    from certgen.records.joining.farm import Farm
    from certgen.rules.case import Case


class Spelling:
    """The farm's names."""

    def __init__(self, farm: Farm) -> None:
        self._farm = farm

    def are_called(self, said: Array, names: Array) -> Array:
        """Where what was written on a tag or leaf is a record's number, as it was in its own year.

        Where two years gave one number to two things, the farm calls the earlier one "T1 (2025)".
        """
        same = is_equal(said, names)
        if len(self._farm.stretches) > 1 and not same.all():
            same |= is_equal(said, self._without_year(names))
        return same

    def _without_year(self, names: Array) -> Array:
        labels = [re.escape(stretch.label) for stretch in self._farm.stretches[1:]]
        year = re.compile(rf" \((?:{'|'.join(labels)})\)$")
        return np.array([name and year.sub("", name) for name in names.tolist()], dtype=object)

    def spell(self, varieties: Array) -> Array:
        """Variety names in one spelling: letter case and spaces make no other variety."""
        spellings = self._spellings
        names = varieties.tolist()
        spelled = {name: name and spellings.get(fold_name(name), name) for name in dict.fromkeys(names)}
        return np.array([spelled[name] for name in names], dtype=object)

    def spell_tags(self, varieties: Array, plantings: Array) -> Array:
        """What tags call a variety, in one spelling; a short name means what its planting declares."""
        register = self._farm.columns("plantings")
        planting = register.find("planting", plantings)
        declared = is_equal(_fold(varieties), _fold(register.at("short", planting)))
        return self.spell(np.where(declared, register.at("variety", planting), varieties))

    @cached_property
    def _spellings(self) -> dict[str, str]:
        found: dict[str, str] = {}
        for table in ("plantings", "lots"):
            for name in self._farm.columns(table)["variety"].tolist():
                if name is not None:
                    found.setdefault(fold_name(name), name)
        return found


def fold_name(name: str) -> str:
    """A name in which letter case and spaces make no difference."""
    return " ".join(name.split()).casefold()


def _fold(names: Array) -> Array:
    # A farm has few varieties, and every tag bears one.
    folded = {name: fold_name(name) for name in dict.fromkeys(names.tolist()) if name is not None}
    return np.array([folded.get(name) for name in names.tolist()], dtype=object)


def compare_tags(case: Case) -> Columns:
    """Bags, row for row, whose tag says another tree, date, variety or bag than the log: `other_tree` ..."""
    bags, spelling = case.joined("bags"), case.spelling
    said = spelling.spell_tags(bags["tag.variety"], bags["planting"])
    return Columns(
        {
            "other_tree": bags.known("tag.tree") & ~spelling.are_called(bags["tag.tree"], bags["tree"]),
            "other_date": bags.known("tag.date") & (bags["tag.date"] != bags["covered"]),
            "other_variety": is_known(said) & bags.known("variety") & (said != bags["variety"]),
            "other_bag": bags.known("tag.bag") & ~spelling.are_called(bags["tag.bag"], bags["bag"]),
        },
        size=len(bags),
    )


def join_tags(case: Case) -> Array:
    """What the tag of each bag says, in one text; missing where it lacks its date, variety or tree."""
    bags = case.columns("bagging")
    days = np.datetime_as_string(bags["tag.date"], unit="D").tolist()
    others = (bags[name].tolist() for name in ("tag.variety", "tag.tree", "tag.bag"))
    texts = [
        None if day == "NaT" or variety is None or tree is None else f"{day}\n{variety}\n{tree}\n{bag or ''}"
        for day, variety, tree, bag in zip(days, *others, strict=True)
    ]
    return np.array(texts, dtype=object)
