"""Sheets to work from: what the records know is printed, what is done is written in.

Each begins with the cautions of its work, in their short form: they stand where the hands are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import count
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.due import list_due
from certgen.exchange.field_paper.labels import LabelError, cleared_trees, walking_order
from certgen.exchange.spreadsheets.round_forms import PLACE, form_headings, write_form
from certgen.records.joining.custody import list_sheets
from certgen.records.rows import plain_rows
from certgen.records.tables import load_tables
from certgen.rules.wording import join
from certgen.typeset.design import SANS
from certgen.typeset.faces import families
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import UNDATED, compile_typst

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from certgen.dossier.due import Subject
    from certgen.examination import Result

#: Empty lines below the last row, to write on.
SPARE_LINES: Final = 3
#: Empty lines of a receipt: two samples, each in three parts.
_RECEIPT_LINES: Final = 6
#: Runs that fit on one sheet, a column each.
RUNS: Final = 4
#: Fields of a run that nobody writes while it runs.
_LATER: Final = frozenset({"status", "other_seed", "note", "recorded_by", "evidence"})


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """A sheet before it is set: the pieces of `work` whose cautions it bears, a heading and rows of cells (an
    empty one is written on), how wide each column is against the others (0: as wide as it needs), `spare`
    empty rows, and `above`, a sentence over the table.
    """

    title: str
    work: tuple[str, ...]
    heads: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]
    spare: int = SPARE_LINES
    above: str = ""


def build_leaf_round(result: Result) -> FieldSheet:
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
            (str(plantings.get(p, "")), r, o, t, s, "", "", "", "")
            for p, r, o, t, s in zip(*(standing[c].tolist() for c in columns), strict=True)
        ),
        key=lambda row: walking_order(*row[:4]),
    )
    if not rows:
        raise LabelError("the tree register is empty")
    heads = ("Block", "Row", "Place", "Tree", "Sex", "Sample", "Mark", "Petiole", "Date, by")
    return FieldSheet("Leaf sample round", ("leaf round",), heads, (0, 0, 0, 0, 0, 1, 1, 1, 1.6), tuple(rows))


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
        above="Each part is sealed before those present, and its seal's number is read out and written here."
        " One copy goes along, one stays: under `submissions` stand its number, the parts and their seals,"
        " with the copy under `evidence`. What is found in the one part can be asked of the other.",
    )


def _name_method(result: Result, method: str | None) -> str:
    known = result.profile.methods.get(method or "")
    return known.title if known else method or ""


def build_bagging_round(result: Result) -> FieldSheet:
    """The cleared trees, block by block and row by row, each with lines for the bags put on it."""
    trees = cleared_trees(result)
    if not trees:
        raise LabelError("no tree is cleared for bagging; certgen check says what is missing")
    rows = []
    for one in trees:
        cleared = f"{one.cleared} ({one.sample})"
        place = (one.block, one.row, one.position)
        rows.append((*place, one.tree, one.sex, one.variety, cleared, "", "", ""))
    heads = ("Block", "Row", "Place", "Tree", "Sex", "Variety", "Cleared", "Bag", "Date")
    return FieldSheet(
        "Bagging round",
        ("bag round",),
        (*heads, "Bud closed, others off, tied"),
        (0, 0, 0, 0, 0, 0, 0, 1, 1, 1.6),
        tuple(rows),
    )


def build_check_round(result: Result) -> FieldSheet:
    """Every bag that is still on its flower, to be looked at."""
    return _of_bags(
        result,
        "Bag check round",
        "bag round",
        ("bag to take off", "still on its flower"),
        ("Intact, torn, loose or gone", "Petals fallen", "Date, by"),
        everything=True,
    )


def build_uncovering_round(result: Result) -> FieldSheet:
    """The bags that are due to come off."""
    return _of_bags(
        result,
        "Uncovering round",
        "bag round",
        ("bag to take off", "due to come off"),
        ("Intact, torn, loose or gone", "Set, dropped or lost", "Fruit marked", "Date, by"),
    )


def build_picking_list(result: Result) -> FieldSheet:
    """The bags whose fruit is due to be picked."""
    return _of_bags(
        result,
        "Picking list",
        "picking",
        ("bag to pick", "due to be picked"),
        ("Picking", "Fruits, weight", "Ripeness", "Date, by"),
    )


def _of_bags(
    result: Result,
    title: str,
    work: str,
    wanted: tuple[Subject, str],
    blanks: tuple[str, ...],
    *,
    everything: bool = False,
) -> FieldSheet:
    """Bags of one subject of the diary in walking order: those at their time, or `everything` there is."""
    subject, told = wanted
    chosen = {
        one.identifier
        for one in list_due(result)
        if one.subject == subject and (everything or one.state in {"due", "overdue"})
    }
    bags = result.case.bags
    places = {
        tree: place
        for tree, *place in plain_rows(result.case.tree_of.reset_index(drop=True), "tree", "row", "position")
    }
    known = bags[bags["bag"].isin(chosen)].drop_duplicates("bag")
    rows = []
    for bag, tree, block, variety, covered in plain_rows(known, "bag", "tree", "block", "variety", "covered"):
        row, position = places.get(tree, ("", ""))
        parts = (block, row, position, tree, bag, variety, covered)
        rows.append(tuple("" if part is None else str(part) for part in parts))
    if not rows:
        raise LabelError(f"no bag is {told} on {result.on.isoformat()}; --on asks for another day")
    filled = sorted(rows, key=lambda row: (walking_order(*row[:4]), row[4]))
    heads = ("Block", "Row", "Place", "Tree", "Bag", "Variety", "Covered", *blanks)
    return FieldSheet(
        title,
        (work,),
        heads,
        (*(0.0,) * 7, *(1.0,) * len(blanks)),
        tuple((*row, *("",) * len(blanks)) for row in filled),
    )


def build_run_sheet(result: Result) -> FieldSheet:
    """A column a run, a line a field of its record; above them the pickings that wait to be opened."""
    case = result.case
    opened = set(case.processed["harvest"].dropna().tolist())
    harvests = case.season.table("harvests")[case.own("harvests")]
    waiting = [
        f"{harvest} ({picked.isoformat()})"
        for harvest, picked in plain_rows(harvests, "harvest", "date")
        if harvest not in opened and picked is not None and picked <= result.on
    ]
    table = load_tables()["batches"]
    rows = tuple(
        (_name_line(table.fields, column.path), *("",) * RUNS)
        for column in table.columns
        if column.kind != "mapping" and column.path[0] not in _LATER
    )
    return FieldSheet(
        "Run sheet",
        ("extraction", "cleaning", "drying"),
        ("Of the run", *(f"Run {number}" for number in range(1, RUNS + 1))),
        (0, *(1,) * RUNS),
        rows,
        spare=0,
        above=f"Pickings not opened yet: {', '.join(waiting) or 'none on record'}.",
    )


def _name_line(fields: Any, path: Sequence[str]) -> str:
    """`Drying: Temperature`: a field's title, with that of what it is part of."""
    titles = []
    for step in path:
        titles.append(fields[step].title)
        fields = fields[step].fields
    return ": ".join(titles)


#: What each kind of sheet is built by, by the name that the command line gives it.
SHEETS: Final[MappingProxyType[str, Callable[[Result], FieldSheet]]] = MappingProxyType(
    {
        "sample-round": build_leaf_round,
        "submission-sheet": build_submission_sheet,
        "split-receipt": build_split_receipt,
        "bagging-round": build_bagging_round,
        "check-round": build_check_round,
        "uncovering-round": build_uncovering_round,
        "picking-list": build_picking_list,
        "run-sheet": build_run_sheet,
    }
)


#: The sheets that come back as a round, and the kind of it.
ROUNDS: Final = MappingProxyType(
    {
        "sample-round": "sampling",
        "bagging-round": "bagging",
        "check-round": "check",
        "uncovering-round": "uncovering",
    }
)


def name_round(result: Result, kind: str) -> str:
    """The number that a sheet gives the walk: its kind and the day for which it was printed."""
    taken = set(result.case.season.table("rounds")["round"].tolist())
    name = f"{ROUNDS[kind]}-{result.on.isoformat()}"
    return name if name not in taken else next(one for n in count(2) if (one := f"{name}-{n}") not in taken)


def write_round_form(result: Result, kind: str) -> bytes:
    """A sheet of one of the kinds in `ROUNDS` as CSV, to be filled in and imported as a round.

    Raises `LabelError` where there is nothing to put on it.
    """
    sheet = SHEETS[kind](result)
    known = [name.casefold() for name in sheet.heads]
    headings = form_headings(ROUNDS[kind])
    # On paper the columns after these are written on; the form has its own.
    printed = {name for name in ("bag", *PLACE) if name in headings}
    rows: list[dict[str, str]] = [
        {name: text for name, text in zip(known, row, strict=True) if name in printed} for row in sheet.rows
    ]
    return write_form(ROUNDS[kind], name_round(result, kind), rows)


def set_sheet(result: Result, kind: str, page: str = "a4") -> bytes:
    """A sheet of one of the kinds in `SHEETS` as PDF, on A4 or Letter.

    Raises `LabelError` where there is nothing to put on it.
    """
    sheet = SHEETS[kind](result)
    if kind in ROUNDS:
        told = (
            f"Round {name_round(result, kind)}. Walked on ________________ by ________________. A row left "
        )
        told += "empty was not walked, and nothing is recorded of it."
        sheet = replace(sheet, above=told)
    return set_field_sheet(result, sheet, page)


def set_field_sheet(result: Result, sheet: FieldSheet, page: str = "a4") -> bytes:
    """A sheet as PDF, on A4 or Letter, with whose records it is made from at its foot."""
    details = result.season.details
    under = (
        f"{fit_to_set(details.operation.name)}, season {fit_to_set(details.label)}, "
        f"as the records stood on {result.on.isoformat()}"
    )
    data = {
        "sans": families(SANS),
        "title": sheet.title,
        "under": under,
        "above": fit_to_set(sheet.above),
        "heads": sheet.heads,
        "widths": sheet.widths,
        "rows": [[fit_to_set(text) for text in row] for row in sheet.rows],
        "spare": sheet.spare,
        "cautions": [
            {"title": one.title, "text": one.short, "defers": one.defers_to}
            for one in result.profile.cautions.at(*sheet.work)
        ],
        "page": "us-letter" if page.casefold() == "letter" else "a4",
    }
    return compile_typst("field_sheet.typ", data, epoch=UNDATED)
