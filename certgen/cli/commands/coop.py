"""`certgen coop`: many members' records examined, compared with one another, and reported."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    FOLDER,
    PATH,
    Day,
    Number,
    Word,
    argument,
    command,
    day_option,
    force_option,
    format_option,
    option,
    refusing,
)
from certgen.coop.between.visits import LOTS_EACH
from certgen.coop.examination import MEMBER_LIMITS
from certgen.limits import Limits

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from certgen.coop.between.result import CoopResult
    from certgen.coop.members.member_list import Coop
    from certgen.output_places.kinds import Kind


@command("certgen coop example_coop --on 2026-11-25 --out coop.pdf --letters letters")
@argument("folder", "DIR", "The folder with coop.yaml.", type=PATH, default=".")
@format_option("text", "json", "csv", help="How the result is written.")
@option("--out", metavar="FILE.pdf", type=PATH, help="Also print the report for the certifier.")
@option(
    "--letters",
    metavar="FOLDER",
    type=FOLDER,
    help="Also write a letter a member into this folder, as text and on paper.",
)
@option(
    "--member",
    "only",
    metavar="KEY",
    help="An extract for this member's own inspector, with --out on paper: of others only what went between.",
)
@option(
    "--seed",
    metavar="TEXT",
    default="",
    help="The text that decides whom to visit, told by whoever visits. Default: the office's own.",
)
@option(
    "--frozen",
    metavar="FINGERPRINT",
    help="The fingerprint as it was noted before the text was told. Ends if anything changed since.",
)
@option(
    "--visit-lots",
    metavar="N",
    type=Number(min=1),
    default=LOTS_EACH,
    help="How many lots to look at with each member visited.",
)
@option(
    "--by",
    metavar="DATE",
    type=Day(),
    help="The day by which letters ask for an answer. Default: after the days that coop.yaml gives.",
)
@option("--all", "everything", is_flag=True, help="List everything, however much there is.")
@option(
    "--workers",
    metavar="N",
    type=Number(min=0),
    default=0,
    help="Processes that examine members. Default: one a core.",
)
@option(
    "--member-seconds",
    metavar="N",
    type=Number(min=1),
    default=MEMBER_LIMITS.seconds,
    help="A member whose records take longer is named and set aside. A cluster has limits of its own.",
)
@option(
    "--member-megabytes",
    metavar="N",
    type=Number(min=1),
    default=MEMBER_LIMITS.megabytes,
    help="A member whose records need more memory is named and set aside.",
)
@option("--cluster", metavar="ADDRESS", default="", help="Use this Dask scheduler's workers instead.")
@option(
    "--cache",
    metavar="FOLDER",
    type=FOLDER,
    help="Keep examined members here, not among your caches.",
)
@option("--no-cache", is_flag=True, help="Keep nothing, and examine everyone anew.")
@option(
    "--page",
    type=Word(["A4", "Letter"]),
    default="A4",
    help="The paper that report and letters are printed on.",
)
@force_option
@day_option
def run(
    folder: Path,
    form: str,
    out: Path | None,
    letters: Path | None,
    only: str | None,
    seed: str,
    frozen: str | None,
    visit_lots: int,
    by: date | None,
    everything: bool,
    workers: int,
    member_seconds: int,
    member_megabytes: int,
    cluster: str,
    cache: Path | None,
    no_cache: bool,
    page: str,
    force: bool,
    on: date | None,
) -> int:
    """Examine every member of a co-op, find what disagrees between them, and say what to chase first.

    It draws whom to visit, and which lots to look at there. Each run prints the fingerprint of what the
    members handed in; whoever visits notes it and only then tells a text; --frozen and --seed draw by both.
    """
    from datetime import date

    from certgen.cli.output import hold_places, refuse
    from certgen.cli.progress import show_steps
    from certgen.coop.between.comparison import VisitDraw
    from certgen.coop.examination import Settings, examine_coop
    from certgen.coop.members.cache import default_folder
    from certgen.coop.members.cluster import ClusterError
    from certgen.coop.members.member_list import read_coop
    from certgen.typeset.pango import hold_pango

    visits = VisitDraw(_read_text(seed), frozen is not None, visit_lots)
    noted = _read_noted(frozen, seed)
    coop, errors = read_coop(folder)
    if coop is None:
        refuse(errors, form)
        return 2
    _refuse_member(coop, only, form, letters)
    hold_places(_name_places(coop, out, letters, only), force=force)
    if out is not None and only is None:
        hold_pango()
    kept = None if no_cache else cache or default_folder()
    with refusing(ClusterError), show_steps("members") as progress:
        settings = Settings(kept, workers, cluster, Limits(member_seconds, member_megabytes))
        result = examine_coop(folder, coop, on or date.today(), settings, visits=visits, progress=progress)
    _refuse_change(noted, result)
    result = replace(result, answer_by=by or result.answer_by)
    # The files first: whoever reads the text through `head` closes it early.
    if only is not None:
        _write_extract(result, only, out, page, force=force)
        return result.exit_code
    _write_files(result, out, letters, page, force=force)
    _write(result, form, everything=everything)
    return result.exit_code


def _read_text(seed: str) -> str:
    """The text, if it can decide a draw."""
    from certgen.figures.draws import plain_text

    try:
        # Without one the office's own decides.
        return seed if not seed or plain_text(seed) else ""
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--seed") from None


def _read_noted(frozen: str | None, seed: str) -> str:
    """The fingerprint that was noted, empty if none was."""
    from certgen.figures.draws import read_fingerprint

    if frozen is None:
        return ""
    if not seed:
        message = "The fingerprint was noted so that a text can be told: give it with --seed."
        raise click.BadParameter(message, param_hint="--frozen")
    try:
        return read_fingerprint(frozen)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--frozen") from None


def _refuse_change(noted: str, result: CoopResult) -> None:
    """Ends the command if what was handed in isn't what it was when the fingerprint was noted."""
    from certgen.figures.draws import write_fingerprint

    here = result.sample.key.fingerprint
    if noted and noted != here:
        message = (
            "What was frozen isn't what is here, so nothing is drawn. Either something that a member handed "
            "in changed since, or coop.yaml did, or what could be read of it, or another day or number of "
            "lots was frozen (--on, --visit-lots). Here and now the fingerprint is "
            f"{' '.join(write_fingerprint(here))}. Note it, and let a new text be told."
        )
        raise click.BadParameter(message, param_hint="--frozen")


def _write(result: CoopResult, form: str, *, everything: bool) -> None:
    if form == "text":
        from certgen.cli.writers.coop import write_text

        write_text(result, everything=everything)
        return
    from certgen.coop.papers.exports import HEADING, as_json, list_rows
    from certgen.exchange.interchange.layout import render_csv, render_json

    text = render_json(as_json(result)) if form == "json" else render_csv(HEADING, list_rows(result))
    sys.stdout.write(text)


def _write_files(
    result: CoopResult, out: Path | None, letters: Path | None, page: str, *, force: bool
) -> None:
    """The report and the letters, all or none; where they went is said beside the result, not in it."""
    from certgen.cli.output import write_files
    from certgen.output_places.places import Output

    outputs = []
    if letters is not None:
        from certgen.cli.progress import show_steps
        from certgen.coop.papers.letter_pages import set_letters
        from certgen.coop.papers.member_letters import write_letters

        texts = write_letters(result)
        outputs += [Output(letters / name, "letter", text.encode()) for name, text in texts.items()]
        with show_steps("setting letters") as progress:
            pages = set_letters(result, page, progress)
        outputs += [Output(letters / name, "field paper", data) for name, data in pages.items()]
    if out is not None:
        from certgen.cli.progress import show_steps
        from certgen.coop.papers.report import set_report

        with show_steps("setting pages") as progress:
            data = set_report(result, page=page, progress=lambda _what, done, whole: progress(done, whole))
        outputs.append(Output(out, "co-op's report", data))
    write_files(outputs, force=force)
    if letters is not None:
        sys.stderr.write(f"{len(result.members)} letters: {letters}\n")
    if out is not None:
        sys.stderr.write(f"report: {out}\n")


def _refuse_member(coop: Coop, only: str | None, form: str, letters: Path | None) -> None:
    """Ends the command where there is no such member, or an extract can't be written so."""
    if only is None:
        return
    keys = [member.key for member in coop.members]
    if only not in keys:
        message = f"coop.yaml has no member '{only}'; there are {', '.join(keys[:12])}"
        raise click.BadParameter(message, param_hint="--member")
    if form != "text" or letters is not None:
        message = "An extract is text, and with --out a PDF: leave --format and --letters out."
        raise click.BadParameter(message, param_hint="--member")


def _write_extract(result: CoopResult, only: str, out: Path | None, page: str, *, force: bool) -> None:
    """One member's extract: on paper where a file is named, and as text."""
    from certgen.cli.output import write_files
    from certgen.cli.terminal import clean
    from certgen.coop.papers.extract import set_extract, write_extract
    from certgen.output_places.places import Output

    view = next(one for one in result.members if one.member.key == only)
    if out is not None:
        write_files([Output(out, "field paper", set_extract(result, view, page))], force=force)
        sys.stderr.write(f"extract: {out}\n")
    sys.stdout.write("".join(f"{clean(line)}\n" for line in write_extract(result, view).splitlines()))


def _name_places(coop: Coop, out: Path | None, letters: Path | None, only: str | None) -> dict[Path, Kind]:
    """What will be written where."""
    from certgen.coop.papers.member_letters import name_letter, name_page

    places: dict[Path, Kind] = {}
    if letters is not None:
        places |= {letters / name_letter(member): "letter" for member in coop.members}
        places |= {letters / name_page(member): "field paper" for member in coop.members}
    if out is not None:
        places[out] = "co-op's report" if only is None else "field paper"
    return places
