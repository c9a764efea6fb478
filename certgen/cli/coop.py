"""`certgen coop`: many members' records examined, held against one another, and reported."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from certgen.cli.arguments import OnDay, choose, parse_day

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult

_FORMATS = ("text", "json", "csv")
_PAGES = ("A4", "Letter")


Folder = Annotated[Path, typer.Argument(metavar="DIR", help="The folder with coop.yaml.", show_default=False)]
Form = Annotated[str, typer.Option("--format", metavar="text|json|csv", help="How the result is written.")]
Out = Annotated[
    Path | None, typer.Option(metavar="FILE.pdf", help="Also print the report for the certifier.")
]
Letters = Annotated[
    Path | None, typer.Option(metavar="FOLDER", help="Also write a letter a member into this folder.")
]
Seed = Annotated[
    str, typer.Option(metavar="TEXT", help="Draw the members to visit by a text you agreed on beforehand.")
]
Everything = Annotated[bool, typer.Option("--all", help="List everything, however much there is.")]
Workers = Annotated[
    int, typer.Option(metavar="N", min=0, help="Processes that examine members. Default: one a core.")
]
Cluster = Annotated[str, typer.Option(metavar="ADDRESS", help="Use this Dask scheduler's workers instead.")]
Cache = Annotated[
    Path | None, typer.Option(metavar="FOLDER", help="Keep examined members here, not among your caches.")
]
NoCache = Annotated[bool, typer.Option("--no-cache", help="Keep nothing, and examine everyone anew.")]
Page = Annotated[str, typer.Option(metavar="A4|Letter", help="The paper the report is printed on.")]


def run(
    folder: Folder = Path(),
    form: Form = "text",
    out: Out = None,
    letters: Letters = None,
    seed: Seed = "",
    everything: Everything = False,
    workers: Workers = 0,
    cluster: Cluster = "",
    cache: Cache = None,
    no_cache: NoCache = False,
    page: Page = "A4",
    on: OnDay = None,
) -> int:
    """Examine every member of a co-op, find what disagrees between them, and say what to chase first.

    Example:  certgen coop example_coop --on 2026-11-25 --out coop.pdf --letters letters
    """
    choose(form, _FORMATS, "--format")
    choose(page, _PAGES, "--page")
    day = parse_day(on)
    from certgen.cli.output import refuse
    from certgen.cli.progress import show_steps
    from certgen.coop.examination import Settings, examine_coop
    from certgen.coop.members.cache import default_folder
    from certgen.coop.members.cluster import ClusterError
    from certgen.coop.members.member_list import read_coop

    coop, errors = read_coop(folder)
    if coop is None:
        refuse(errors, form)
        return 2
    kept = None if no_cache else cache or default_folder()
    try:
        with show_steps("members") as progress:
            settings = Settings(kept, workers, cluster)
            result = examine_coop(folder, coop, day, settings, seed=seed, progress=progress)
    except ClusterError as fault:
        sys.stderr.write(f"certgen coop: {fault}.\n")
        return 2
    # The files first: whoever reads the text through `head` closes it early.
    _write_files(result, out, letters, page)
    _write(result, form, everything=everything)
    return result.exit_code


def _write(result: CoopResult, form: str, *, everything: bool) -> None:
    if form == "text":
        from certgen.cli.coop_text import write_text

        write_text(result, everything=everything)
        return
    from certgen.coop.papers.exports import HEADING, as_json, list_rows
    from certgen.exchange.interchange.layout import render_csv, render_json

    text = render_json(as_json(result)) if form == "json" else render_csv(HEADING, list_rows(result))
    sys.stdout.write(text)


def _write_files(result: CoopResult, out: Path | None, letters: Path | None, page: str) -> None:
    """The report and the letters; where they went is said beside the result, not in it."""
    if letters is not None:
        from certgen.coop.papers.member_letters import write_letters
        from certgen.whole_files import write_all

        texts = write_letters(result)
        write_all({letters / name: text.encode() for name, text in texts.items()})
        sys.stderr.write(f"{len(texts)} letters: {letters}\n")
    if out is not None:
        from certgen.cli.progress import show_steps
        from certgen.coop.papers.report import write_pdf

        with show_steps("setting pages") as progress:
            write_pdf(result, out, page=page, progress=lambda _what, done, whole: progress(done, whole))
        sys.stderr.write(f"report: {out}\n")
