"""Every kind of paper for the field by its name, and the choices that go with it."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from certgen.examination import Result

#: Each kind of paper and the label size that it takes unless told otherwise, in millimetres; a sheet has
#: none.
KINDS: Final = MappingProxyType(
    {
        "tags": "66x35",
        "samples": "38.1x21.2",
        "lots": "99.1x67.7",
        "sample-round": "",
        "submission-sheet": "",
        "split-receipt": "",
        "bagging-round": "",
        "check-round": "",
        "uncovering-round": "",
        "picking-list": "",
        "run-sheet": "",
        "drying-log": "",
        "calibration": "66x35",
    }
)


@dataclass(frozen=True, slots=True)
class FieldPaper:
    """One paper for the field, as it was asked for.

    `only` are trees, or lots, `bags` those on record whose tags are printed anew, `each` the tags for a tree,
    `blank` so many tags to write on, `skip` the places already used on the first sheet. `desk` is the address
    that the codes of tags lead to, `first` the number of the first tag where they are numbered beforehand.
    `base` is what the codes of lots and samples begin with. Measures are as `build_sheet` reads them.
    """

    kind: str
    page: str = "A4"
    only: tuple[str, ...] = ()
    bags: tuple[str, ...] = ()
    each: int = 1
    blank: int = 0
    size: str = ""
    margins: str = ""
    gaps: str = "0x0"
    nudge: str = "0x0"
    skip: int = 0
    desk: str = ""
    first: str = ""
    base: str = ""


def set_calibration_page(paper: FieldPaper) -> bytes:
    """The page that shows where a printer puts the labels of a sheet, as PDF; it needs no season.

    Raises `SheetError` for measurements that make no sheet.
    """
    from certgen.exchange.field_paper.label_sheets import build_sheet, set_calibration

    size = paper.size or KINDS["calibration"]
    return set_calibration(build_sheet(paper.page, size, paper.margins, paper.gaps, paper.nudge))


def set_field_paper(result: Result, paper: FieldPaper) -> bytes:
    """A paper of any other kind in `KINDS` as PDF.

    Raises `LabelError` where there is nothing to put on it, `SheetError` for measurements that make no sheet,
    `SettingError` where it can't be set.
    """
    from certgen.exchange.field_paper.field_sheets import set_sheet
    from certgen.exchange.field_paper.label_sheets import build_sheet, set_labels
    from certgen.exchange.field_paper.labels import LabelError, bag_tags, lot_labels, sample_labels
    from certgen.exchange.field_paper.tag_codes import mark_tags

    if (paper.desk or paper.first) and paper.kind != "tags":
        raise LabelError("only tags lead to the desk or are numbered beforehand: --kind tags")
    if paper.base and paper.kind not in {"samples", "lots"}:
        raise LabelError("only what leaves the farm bears an address: --kind samples or --kind lots")
    if not KINDS[paper.kind]:
        return set_sheet(result, paper.kind, paper.page)
    size = paper.size or KINDS[paper.kind]
    sheet = build_sheet(paper.page, size, paper.margins, paper.gaps, paper.nudge)
    if paper.kind == "tags":
        labels = bag_tags(result, each=paper.each, trees=paper.only, bags=paper.bags, blank=paper.blank)
        labels = mark_tags(result, labels, desk=paper.desk, first=paper.first)
    else:
        labels = (sample_labels if paper.kind == "samples" else lot_labels)(result, paper.only, paper.base)
    return set_labels(labels, sheet, skip=paper.skip % sheet.labels, cut=paper.kind == "tags")


def say_missing(result: Result, paper: FieldPaper) -> str:
    """What whoever uses a paper has to know and doesn't see on it: the trees that got no tag, the lots of
    which no record says whether they were treated, letters that no face has. Empty if nothing.
    """
    return " ".join(said for said in (_say_left_out(result, paper), _say_unset(result)) if said)


def _say_left_out(result: Result, paper: FieldPaper) -> str:
    if paper.kind == "lots":
        return _say_untold(result, paper.only)
    if paper.kind == "tags" and not (paper.only or paper.bags or paper.blank):
        from certgen.exchange.field_paper.bag_sheets import say_trees_left_out

        # Whoever counts the tags misses the trees that got none.
        return say_trees_left_out(result)
    return ""


def _say_untold(result: Result, only: tuple[str, ...]) -> str:
    """A label is silent on treatment where the records are; whoever sticks it on has to know that."""
    from certgen.exchange.field_paper.labels import untold_lots
    from certgen.rules.wording import name

    untold = untold_lots(result, only)
    if not untold:
        return ""
    return (
        f"No record says whether {name('lots', untold)} {'was' if len(untold) == 1 else 'were'} treated, so"
        " the labels say nothing of it. Seed that was treated must be labelled so: record it under"
        " `treatment` of the batch or the lot, and print them anew."
    )


def _say_unset(result: Result) -> str:
    """Names in a script of which no face is installed are printed in code points, as in the report."""
    from certgen.records.rows import plain_values
    from certgen.typeset.legibility import say_unset

    shown = {"plantings": "variety", "lots": "variety", "trees": "tree", "blocks": "block"}
    names = [
        name
        for table, column in shown.items()
        for name in plain_values(result.season.table(table)[column].dropna())
    ]
    return say_unset([result.season.details.operation.name, *names])
