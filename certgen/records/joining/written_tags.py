"""Tags and marks that a round says were written as the log has them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from certgen.records.season import Season


def write_tags(
    seasons: Sequence[Season], tables: dict[str, pd.DataFrame], attested: dict[tuple[str, str], Sequence[str]]
) -> dict[str, pd.DataFrame]:
    """Tags and marks that a round says were written as the log has them, where no record copies them."""
    # Only a round's word makes such a column, and with it a table of its own.
    bags, samples = tables.get("bagging"), tables.get("screening")
    if bags is not None and "tagged" in bags:
        who = attested.pop(("bagging", "tagged"))
        written = bags["tagged"].fillna(value=False).astype(bool)
        says = {
            "tag.date": bags["covered"],
            "tag.tree": bags["tree"],
            "tag.variety": bags["tree"].map(_variety_of(seasons)).astype("str"),
        }
        bags = _copy_in(bags, written, says, who, "bagging", attested)
        bags = bags.drop(columns="tagged")
    if bags is not None and "numbered" in bags:
        who = attested.pop(("bagging", "numbered"))
        written = bags["numbered"].fillna(value=False).astype(bool)
        bags = _copy_in(bags, written, {"tag.bag": bags["bag"]}, who, "bagging", attested)
        bags = bags.drop(columns="numbered")
    if samples is not None and "marked" in samples:
        who = attested.pop(("screening", "marked"))
        written = samples["marked"].fillna(value=False).astype(bool)
        samples = _copy_in(samples, written, {"mark": samples["tree"]}, who, "screening", attested)
        samples = samples.drop(columns="marked")
    written_in = {"bagging": bags, "screening": samples}
    return {**tables, **{name: frame for name, frame in written_in.items() if frame is not None}}


def _copy_in(
    frame: pd.DataFrame,
    written: pd.Series[bool],
    says: Mapping[str, pd.Series[Any]],
    who: Sequence[str],
    table: str,
    attested: dict[tuple[str, str], Sequence[str]],
) -> pd.DataFrame:
    for column, values in says.items():
        silent = frame[column].isna() & written & values.notna()
        frame = frame.assign(**{column: frame[column].where(~silent, values)})
        before = attested.get((table, column)) or [""] * len(frame)
        attested[table, column] = [
            new if hit else old for hit, new, old in zip(silent.tolist(), who, before, strict=True)
        ]
    return frame


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
