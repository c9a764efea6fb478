"""Sheets for samples: the leaf round, what goes to the laboratory, and what is split."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.due import list_due
from certgen.exchange.field_paper.labels import LabelError, walking_order
from certgen.exchange.field_paper.left_out import say_left_out, say_screening
from certgen.exchange.field_paper.sheet import FieldSheet
from certgen.records.joining.custody import list_sheets
from certgen.records.rows import plain_rows
from certgen.rules.wording import join

if TYPE_CHECKING:
    from certgen.examination import Result

#: Empty lines of a receipt: two samples, each in three parts.
_RECEIPT_LINES: Final = 6


def build_leaf_round(result: Result) -> FieldSheet:
    """Every standing tree in walking order with what its screening came to, and room for the sample's number,
    the mark and the petiole.
    """
    season = result.season
    frame = season.tables["trees"]
    plantings = (
        season.tables["plantings"].drop_duplicates("planting").set_index("planting")["block"].to_dict()
    )
    told, gone = say_screening(result), []
    rows = []
    for planting, row, place, tree, sex, removed in plain_rows(
        frame, "planting", "row", "position", "tree", "sex", "removed"
    ):
        if removed is not None:
            gone.append(tree)
            continue
        known = (plantings.get(planting), row, place, tree, sex, told.get(tree))
        rows.append((*("" if part is None else str(part) for part in known), "", "", "", ""))
    if not rows:
        raise LabelError(f"no tree of the register stands on {result.on.isoformat()}" if gone else
                         "the tree register is empty")  # fmt: skip
    heads = ("Block", "Row", "Place", "Tree", "Sex", "Screening", "Sample", "Mark", "Petiole", "Date, by")
    return FieldSheet(
        "Leaf sample round",
        ("leaf round",),
        heads,
        (0, 0, 0, 0, 0, 0, 1, 1, 1, 1.6),
        tuple(sorted(rows, key=lambda row: walking_order(*row[:4]))),
        left_out=say_left_out({"removed": gone}, "tree"),
        place=2,
    )


def build_submission_sheet(result: Result) -> FieldSheet:
    """The leaf samples that wait for a result, to go with them to the laboratory and come back signed.

    The mark is what was pressed into the stalk; where the sample was found is nobody's business there.
    """
    waiting = {one.identifier for one in list_due(result) if one.subject == "result outstanding"}
    frame = result.case.season.table("screening")
    chosen = frame[frame["sample"].isin(waiting)].sort_values(["collected", "sample"], kind="stable")
    chosen = chosen.drop_duplicates("sample")
    names = ("sample", "mark", "collected", "trees", "method", "targets")
    sheets, seals = list_sheets(result.case.season)
    numbers = join(dict.fromkeys(sheets[one] for one in chosen["sample"] if one in sheets))
    rows = tuple(
        (
            sample,
            mark or "",
            "" if collected is None else collected.isoformat(),
            str(max(1, len(trees))),
            ": ".join(part for part in (_name_method(result, method), ", ".join(targets)) if part),
            seals.get(sample, ""),
            "",
        )
        for sample, mark, collected, trees, method, targets in plain_rows(chosen, *names)
    )
    if not rows:
        raise LabelError(
            f"no sample waits for a result on {result.on.isoformat()}; --on asks for another day"
        )
    return FieldSheet(
        "Leaves for the laboratory",
        ("laboratory",),
        ("Sample", "Mark", "Collected", "Leaves", "To be tested by", "Bag and seal", "On receipt"),
        (0, 0, 0, 0, 1, 1, 1.6),
        rows,
        signed=False,
        above=f"Number of the sheet: {numbers or '________________'}. Handed over by ________________ on "
        "________________. Received by ________________ on ________________. On receipt write beside the "
        "sample what is not in order: a broken seal or another one, a leaf without its mark, one that is wet "
        "or rotten. Send a copy back with the results.",
    )


def build_split_receipt(result: Result) -> FieldSheet:
    """A receipt for samples that somebody who inspects takes and splits: the parts on record, and room for
    more. Who keeps a part signs beside it.
    """
    nothing: dict[str, str] = {}
    names = ("submission", "kind", "date", "taken_by", "about", "container", "parts")
    taken = plain_rows(result.season.tables["submissions"], *names)
    rows = [
        (
            sheet,
            when.isoformat(),
            by or "",
            ": ".join(filter(None, (join(about or ()), container))),
            part.get("part", ""),
            part.get("seal", ""),
            part.get("kept_by", ""),
            "",
        )
        for sheet, kind, when, by, about, container, parts in taken
        if kind == "split sample"
        for part in parts or (nothing,)
    ]
    heads = (
        "Sheet",
        "Day",
        "Taken by",
        "Of what, out of what",
        "Part, how much",
        "Seal",
        "Kept by",
        "Signed",
    )
    return FieldSheet(
        "Receipt for a split sample",
        ("leaf round",),
        heads,
        (0, 0, 1, 1.6, 0.8, 0.8, 1.2, 1),
        tuple(rows),
        spare=_RECEIPT_LINES,
        signed=False,
        above="Each part is sealed before those present, and its seal's number is read out and written here."
        " One copy goes along, one stays: under `submissions` stand its number, the parts and their seals,"
        " with the copy under `evidence`. What is found in the one part can be asked of the other.",
    )


def _name_method(result: Result, method: str | None) -> str:
    known = result.profile.methods.get(method or "")
    return known.title if known else method or ""
