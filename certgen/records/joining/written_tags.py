"""Tags and marks that a round says were written as the log has them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.records.columns import is_known

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.records.columns import Array, Columns
    from certgen.records.season import Season

#: By table: the word of a round that no record has a field for.
WORDS = {"bagging": ("tagged", "numbered"), "screening": ("marked",)}


def write_tags(
    seasons: Sequence[Season],
    tables: dict[str, Columns],
    words: Mapping[tuple[str, str], tuple[Sequence[bool | None], Sequence[str]]],
    attested: dict[tuple[str, str], Sequence[str]],
) -> None:
    """Writes what a round says was written as the log has it, where no record copies it: tags, and marks.

    `words` are of each row whether it was written, and who says so.
    """
    for table, names in WORDS.items():
        records = tables.get(table, seasons[0].columns(table))
        for word in names:
            if (table, word) not in words:
                continue
            said, who = words[table, word]
            written = np.array([one is True for one in said], dtype=bool)
            for column, values in _says(word, records, seasons).items():
                silent = ~records.known(column) & written & is_known(values)
                records = records.adding(**{column: np.where(silent, values, records[column])})
                before = attested.get((table, column)) or [""] * len(records)
                attested[table, column] = [
                    new if hit else old for hit, new, old in zip(silent.tolist(), who, before, strict=True)
                ]
            tables[table] = records


def _says(word: str, records: Columns, seasons: Sequence[Season]) -> dict[str, Array]:
    """By column what is written where a round says so."""
    if word == "numbered":
        return {"tag.bag": records["bag"]}
    if word == "marked":
        return {"mark": records["tree"]}
    variety = _variety_of(seasons)
    varieties = np.array([variety.get(tree) for tree in records["tree"].tolist()], dtype=object)
    return {"tag.date": records["covered"], "tag.tree": records["tree"], "tag.variety": varieties}


def _variety_of(seasons: Sequence[Season]) -> dict[str, str]:
    """The variety of each tree, out of the first register that has it."""
    varieties: dict[str, str] = {}
    trees: dict[str, str] = {}
    for one in seasons:
        for _, planting, variety in one.columns("plantings").rows("planting", "variety"):
            varieties.setdefault(planting, variety)
        for _, tree, planting in one.columns("trees").rows("tree", "planting"):
            trees.setdefault(tree, planting)
    return {tree: varieties[planting] for tree, planting in trees.items() if planting in varieties}
