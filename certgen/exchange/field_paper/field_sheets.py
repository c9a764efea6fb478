"""Sheets to walk along the rows with: the bagging round, and the round for leaf samples."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.exchange.field_paper.labels import LabelError, cleared_trees
from certgen.typeset.design import SANS
from certgen.typeset.faces import families
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import UNDATED, compile_typst

if TYPE_CHECKING:
    from certgen.examination import Result

#: Empty lines below the last tree, to write on.
SPARE_LINES: Final = 3


def set_bagging_round(result: Result, page: str = "a4") -> bytes:
    """The cleared trees, block by block and row by row, each with lines for the bags put on it."""
    trees = cleared_trees(result)
    if not trees:
        raise LabelError("no tree is cleared for bagging; certgen check says what is missing")
    rows = [
        [one.block, one.row, one.position, one.tree, one.variety, f"{one.cleared} ({one.sample})", "", "", ""]
        for one in trees
    ]
    heads = [
        "Block",
        "Row",
        "Place",
        "Tree",
        "Variety",
        "Cleared",
        "Bag",
        "Date",
        "Bud closed, others off, tied",
    ]
    return _set(result, "Bagging round", "bagging", heads, rows, page)


def set_sample_round(result: Result, page: str = "a4") -> bytes:
    """Every standing tree in walking order, with room for the sample's number, the mark and the petiole."""
    season = result.season
    frame = season.tables["trees"]
    plantings = (
        season.tables["plantings"].drop_duplicates("planting").set_index("planting")["block"].to_dict()
    )
    standing = frame[frame["removed"].isna()].fillna({"row": "", "position": ""})
    columns = ("planting", "row", "position", "tree", "sex")
    rows = sorted(
        (
            [str(plantings.get(p, "")), r, o, t, s, "", "", "", ""]
            for p, r, o, t, s in zip(*(standing[c].tolist() for c in columns), strict=True)
        ),
        key=lambda row: (row[0], row[1].zfill(8), row[2].zfill(8), row[3]),
    )
    if not rows:
        raise LabelError("the tree register is empty")
    heads = ["Block", "Row", "Place", "Tree", "Sex", "Sample", "Mark", "Petiole", "Date, by"]
    return _set(result, "Leaf sample round", "screening", heads, rows, page)


def _set(result: Result, title: str, stage: str, heads: list[str], rows: list[list[str]], page: str) -> bytes:
    details = result.season.details
    cautions = [
        {"title": one.title, "text": one.text, "defers": one.defers_to}
        for one in result.profile.cautions_at(stage)
    ]
    under = (
        f"{fit_to_set(details.operation.name)}, season {fit_to_set(details.label)}, "
        f"as the records stood on {result.on.isoformat()}"
    )
    data = {
        "sans": families(SANS),
        "title": title,
        "under": under,
        "heads": heads,
        "rows": [[fit_to_set(text) for text in row] for row in rows],
        "spare": SPARE_LINES,
        "cautions": cautions,
        "page": "us-letter" if page.casefold() == "letter" else "a4",
    }
    return compile_typst("field_sheet.typ", data, epoch=UNDATED)
