"""`certgen labels`: paper for the field, set to a sheet's own measurements."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from certgen.cli.arguments import OnDay, SeasonFolder, choose, parse_day, split_list

if TYPE_CHECKING:
    from certgen.examination import Result
    from certgen.exchange.field_paper.label_sheets import LabelSheet
    from certgen.exchange.field_paper.labels import Label

#: Each kind of paper and the label size that it takes unless told otherwise, in millimetres.
KINDS: Final = {
    "tags": "70x37",
    "samples": "38.1x21.2",
    "lots": "99.1x67.7",
    "bagging-round": "",
    "sample-round": "",
    "calibration": "70x37",
}


def run(
    season: SeasonFolder = Path(),
    kind: Annotated[
        str,
        typer.Option(
            "--kind",
            metavar="KIND",
            help="tags, samples, lots, bagging-round, sample-round or calibration.",
        ),
    ] = "tags",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Where to. Default: the kind's name here.")
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--only", metavar="ID", help="Only these trees, or these lots. Repeat it, or use commas."
        ),
    ] = None,
    bag: Annotated[
        list[str] | None, typer.Option("--bag", metavar="BAG", help="Tags for bags on record, printed anew.")
    ] = None,
    each: Annotated[int, typer.Option("--each", metavar="N", min=1, max=200, help="Tags for each tree.")] = 1,
    blank: Annotated[
        int, typer.Option("--blank", metavar="N", min=0, max=5000, help="So many tags to write on.")
    ] = 0,
    page: Annotated[
        str, typer.Option("--page", metavar="NAME", help="A4, A5, A6, Letter, or WIDTHxHEIGHT.")
    ] = "A4",
    sheet: Annotated[
        str,
        typer.Option("--sheet", metavar="WxH", help="Size of one label, as measured (70x37, 2.75x1.5in)."),
    ] = "",
    margins: Annotated[
        str,
        typer.Option("--margins", metavar="TOPxLEFT", help="To the first label. Default: shared out evenly."),
    ] = "",
    gaps: Annotated[
        str, typer.Option("--gaps", metavar="XxY", help="Between labels, across and down.")
    ] = "0x0",
    nudge: Annotated[
        str,
        typer.Option("--nudge", metavar="XxY", help="Shift right and down, as the calibration page shows."),
    ] = "0x0",
    skip: Annotated[
        int,
        typer.Option("--skip", metavar="N", min=0, max=5000, help="Places already used on the first sheet."),
    ] = 0,
    on: OnDay = None,
) -> int:
    """Print bag tags, sample labels, lot labels, and sheets to walk the rows with.

    Tags and the bagging round hold only trees that the screening clears. Print at 100 %; try --kind
    calibration first.

    Example:  certgen labels example_season --kind tags --each 4 --sheet 70x37 --out tags.pdf
    """
    choose(kind, KINDS, "--kind")
    day = parse_day(on)
    from certgen.cli.output import examine_or_refuse
    from certgen.cli.progress import show_waiting
    from certgen.exchange.field_paper.label_sheets import SheetError, build_sheet, set_calibration
    from certgen.exchange.field_paper.labels import LabelError
    from certgen.typeset.typst_pages import SettingError
    from certgen.whole_files import write_whole

    path = out or Path(f"{kind}.pdf")
    try:
        if kind == "calibration":
            data = set_calibration(build_sheet(page, sheet or KINDS[kind], margins, gaps, nudge))
        else:
            result = examine_or_refuse(season, day)
            if result is None:
                return 2
            with show_waiting("setting pages"):
                if kind.endswith("-round"):
                    data = _set_round(result, kind, page)
                else:
                    measured = build_sheet(page, sheet or KINDS[kind], margins, gaps, nudge)
                    data = _set(result, kind, measured, split_list(only), split_list(bag), each, blank, skip)
    except (LabelError, SheetError, SettingError) as fault:
        sys.stderr.write(f"certgen labels: {fault}.\n")
        return 2
    write_whole(path, data)
    sys.stdout.write(f"{path} is written. Print it at 100 %, not fitted to the page.\n")
    return 0


def _set_round(result: Result, kind: str, page: str) -> bytes:
    from certgen.exchange.field_paper.field_sheets import set_bagging_round, set_sample_round

    return (set_bagging_round if kind == "bagging-round" else set_sample_round)(result, page)


def _set(
    result: Result,
    kind: str,
    sheet: LabelSheet,
    only: list[str],
    bags: list[str],
    each: int,
    blank: int,
    skip: int,
) -> bytes:
    from certgen.exchange.field_paper.label_sheets import set_labels
    from certgen.exchange.field_paper.labels import bag_tags, lot_labels, sample_labels

    labels: tuple[Label, ...]
    if kind == "tags":
        labels = bag_tags(result, each=each, trees=only, bags=bags, blank=blank)
    elif kind == "samples":
        labels = sample_labels(result, only)
    else:
        labels = lot_labels(result, only)
    return set_labels(labels, sheet, skip=skip % sheet.labels)
