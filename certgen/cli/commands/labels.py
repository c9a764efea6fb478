"""`certgen labels`: paper for the field, set to a sheet's own measurements."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.cli.arguments import (
    PATH,
    Number,
    Word,
    command,
    day_option,
    force_option,
    names_option,
    option,
    refusing,
    season_argument,
)
from certgen.cli.offered_names import offer_bags, offer_trees_or_lots
from certgen.exchange.field_paper.paper_kinds import KINDS, FieldPaper

if TYPE_CHECKING:
    from datetime import date


@command(
    "certgen labels example_season --kind tags --each 4 --sheet 70x37 --out tags.pdf",
    "certgen labels example_season --kind tags --first B26-201 --desk http://192.168.1.20:8017",
)
@season_argument
@option(
    "--kind",
    metavar="KIND",
    type=Word(list(KINDS)),
    default="tags",
    help="tags, samples, lots; sample-round, submission-sheet, split-receipt, bagging-round, check-round, "
    "uncovering-round, picking-list, run-sheet, drying-log; or calibration.",
)
@option("--out", metavar="FILE", type=PATH, help="Where to. Default: the kind's name here.")
@names_option(
    "--only",
    metavar="ID",
    help="Only these trees, or these lots. Repeat it, or use commas.",
    shell_complete=offer_trees_or_lots,
)
@names_option(
    "--bag", metavar="BAG", help="Tags for bags on record, printed anew.", shell_complete=offer_bags
)
@option("--each", metavar="N", type=Number(1, 200), default=1, help="Tags for each tree.")
@option("--blank", metavar="N", type=Number(0, 5000), default=0, help="So many tags to write on.")
@option("--first", metavar="BAG", default="", help="Number the tags, from this bag on.")
@option(
    "--desk",
    metavar="ADDRESS",
    default="",
    help="The tags' codes lead to the bag's page at this desk: what certgen desk --phones prints.",
)
@option("--base", metavar="URI", default="", help="What the codes of lots and samples begin with.")
@option("--page", metavar="NAME", default="A4", help="A4, A5, A6, Letter, or WIDTHxHEIGHT.")
@option("--sheet", metavar="WxH", default="", help="Size of one label, as measured (70x37, 2.75x1.5in).")
@option(
    "--margins",
    metavar="TOPxLEFT",
    default="",
    help="To the first label. Default: shared out evenly.",
)
@option("--gaps", metavar="XxY", default="0x0", help="Between labels, across and down.")
@option(
    "--nudge",
    metavar="XxY",
    default="0x0",
    help="Shift right and down, as the calibration page shows.",
)
@option(
    "--skip",
    metavar="N",
    type=Number(0, 5000),
    default=0,
    help="Places already used on the first sheet.",
)
@force_option
@day_option
def run(
    season: Path,
    kind: str,
    out: Path | None,
    only: list[str],
    bag: list[str],
    each: int,
    blank: int,
    first: str,
    desk: str,
    base: str,
    page: str,
    sheet: str,
    margins: str,
    gaps: str,
    nudge: str,
    skip: int,
    force: bool,
    on: date | None,
) -> int:
    """Print bag tags, sample labels, lot labels, and sheets to work from in the rows and beside the machine.

    Tags and the bagging round hold only trees that the screening clears. Print at 100 %; try --kind
    calibration first. With --out ending in .csv a round's sheet is a form: fill it in after the walk, and
    certgen import makes the round with its exceptions of it.

    A tag's code holds the number of its bag or tree. With --desk a phone that reads it opens the desk at that
    bag, or at its entry while it isn't on record; open the desk with the same --port each day. With --first
    each tag bears a number of its own, so that its code leads to one bag: don't print a number twice.

    The code of a lot or sample, which leave the farm, is its name: farm, season, table, number. With --base
    it is an address, for whoever serves the names there; certgen trace takes either.
    """
    path = out or Path(f"{kind}.pdf")
    if path.suffix.lower() == ".csv":
        return _write_form(season, kind, path, on, force=force)
    paper = FieldPaper(
        kind, page, tuple(only), tuple(bag), each, blank, sheet, margins, gaps, nudge, skip, desk, first, base
    )
    return _write_paper(season, paper, path, on, force=force)


def _write_paper(season: Path, paper: FieldPaper, path: Path, on: date | None, *, force: bool) -> int:
    """A paper as PDF, and what whoever uses it has to know besides."""
    from certgen.cli.output import examine_or_refuse, hold_places, write_files
    from certgen.cli.progress import show_waiting
    from certgen.cli.terminal import Terminal
    from certgen.exchange.field_paper.paper_kinds import say_missing, set_calibration_page, set_field_paper
    from certgen.output_places.places import Output
    from certgen.typeset.typst_pages import SettingError

    hold_places({path: "field paper"}, force=force)
    missing = ""
    with refusing(ValueError, SettingError):
        if paper.kind == "calibration":
            data = set_calibration_page(paper)
        else:
            result = examine_or_refuse(season, on)
            with show_waiting("setting pages"):
                data = set_field_paper(result, paper)
            missing = say_missing(result, paper)
    write_files([Output(path, "field paper", data)], force=force)
    sys.stdout.write(f"{path} is written. Print it at 100 %, not fitted to the page.\n")
    if missing:
        Terminal().text(missing)
    return 0


def _write_form(season: Path, kind: str, path: Path, on: date | None, *, force: bool) -> int:
    """A round's sheet as a spreadsheet, to be filled in after the walk and imported."""
    from certgen.cli.output import examine_or_refuse, hold_places, write_files
    from certgen.exchange.field_paper.field_sheets import ROUNDS, write_round_form
    from certgen.exchange.field_paper.labels import LabelError
    from certgen.output_places.places import Output

    with refusing(LabelError):
        if kind not in ROUNDS:
            raise LabelError(f"only a round comes back as a .csv: --kind {', '.join(ROUNDS)}")
        hold_places({path: "round form"}, force=force)
        data = write_round_form(examine_or_refuse(season, on), kind)
    write_files([Output(path, "round form", data)], force=force)
    sys.stdout.write(
        f"{path} is written. Write day and walker into its first row, answer beside what was seen, then: "
        f"certgen import {season} {path}\n"
    )
    return 0
