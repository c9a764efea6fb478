"""`certgen recall`: every lot that holds seed of something, where its grams are, and who is to be told."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    PATH,
    Word,
    argument,
    command,
    day_option,
    force_option,
    format_option,
    option,
    refusing,
)
from certgen.cli.offered_names import offer_records

if TYPE_CHECKING:
    from datetime import date

    from certgen.dossier.recall import Recall


@command(
    "certgen recall example_season AK-26-3",
    "certgen recall example_season tree:T-306 --out notices.pdf",
    "certgen recall example_season RC26-01 --format json",
)
@argument(
    "words",
    "[SEASON] ID...",
    "The season's folder, and numbers of lots, trees, bags, pickings, batches, or of a recall on record.",
    nargs=-1,
    required=True,
    shell_complete=offer_records,
)
@format_option("text", "json", "csv", help="How it is written; csv lists where each gram is.")
@option("--out", metavar="FILE.pdf", type=PATH, help="Also print the notices, one to a page.")
@option("--page", type=Word(["A4", "Letter"]), default="A4", help="The paper of the notices.")
@force_option
@day_option
def run(words: tuple[str, ...], form: str, out: Path | None, page: str, force: bool, on: date | None) -> int:
    """Follow seed that is called back: every lot that holds it, where each gram is, whom to tell of how much.

    It finds lots through every blend, and adds up: what is with others, here, used up and nowhere is all
    there was. With --out it prints a draft notice to each holder, with an answer to tear off, and one to the
    certifier. What was told and answered is kept under `recalls`; name such a record to go by it. Nothing is
    held or decided by this command. Exit code 1: somebody is still to be told, or grams are nowhere.
    """
    season, names = _part(words)
    from certgen.cli.output import dump_csv, dump_json, examine_or_refuse, hold_places, list_errors
    from certgen.cli.writers.recall import write_text
    from certgen.dossier.recall import follow_recall
    from certgen.dossier.search import UnknownRecordError
    from certgen.exchange.interchange.recall import COLUMNS, build_recall, tabulate_recall

    if out is not None:
        hold_places({out: "field paper"}, force=force)
    result = examine_or_refuse(season, on, form, told=False)
    try:
        recall = follow_recall(result, names)
    except UnknownRecordError as error:
        raise click.BadParameter(str(error), param_hint="ID") from None
    match form:
        case "json":
            dump_json(build_recall(recall))
        case "csv":
            dump_csv(COLUMNS, tabulate_recall(recall))
        case _:
            write_text(recall)
    if out is not None:
        _print_notices(recall, out, page, force=force)
    if form != "json":
        list_errors(result.errors)
    return 2 if result.errors else int(bool(recall.untold_mg or recall.sums["unaccounted"]))


def _part(words: tuple[str, ...]) -> tuple[Path, list[str]]:
    """The season's folder and the numbers; without a folder it is the one the user is in."""
    first, *names = words
    # What is neither folder nor file was meant for a folder; whoever reads it says what it is.
    if Path(first).exists() and not Path(first).is_file():
        if not names:
            raise click.BadParameter(f"Say what is called back: certgen recall {first} LOT.", param_hint="ID")
        return Path(first), names
    return Path(), list(words)


def _print_notices(recall: Recall, out: Path, page: str, *, force: bool) -> None:
    import sys

    from certgen.cli.output import write_files
    from certgen.cli.progress import show_waiting
    from certgen.exchange.field_paper.recall_notices import set_recall_notices
    from certgen.output_places.places import Output
    from certgen.typeset.typst_pages import SettingError

    with refusing(SettingError), show_waiting("setting pages"):
        data = set_recall_notices(recall, page)
    write_files([Output(out, "field paper", data)], force=force)
    sys.stderr.write(f"notices: {out}\n")
