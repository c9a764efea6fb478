"""`certgen visit`: an inspector's working papers, and the form in which what she hands back is typed."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from certgen.cli.arguments import (
    PATH,
    Word,
    command,
    day_option,
    force_option,
    format_option,
    option,
    refusing,
    season_argument,
)

if TYPE_CHECKING:
    from datetime import date

    from certgen.dossier.visit_papers import VisitPapers
    from certgen.examination import Result
    from certgen.output_places.kinds import Kind

#: What a season must say of itself to be read.
_NEEDED: Final = ("operation", "label", "from", "to", "crop", "standards")


@command(
    "certgen visit example_season --on 2026-11-20",
    'certgen visit example_season --seed "rain at noon" --out visit.pdf --page Letter --form visit.xlsx',
)
@season_argument
@option("--out", metavar="FILE.pdf", type=PATH, help="Print the papers.")
@option("--page", type=Word(["A4", "Letter"]), default="A4", help="The paper they are printed on.")
@option(
    "--form",
    "blank",
    metavar="FILE",
    type=PATH,
    help="Write the record to be filled in: a file of records (.yaml), or a workbook to import (.xlsx).",
)
@option(
    "--seed",
    metavar="TEXT",
    help="The text that decides the draws, told by whoever inspects. Default: the packet's own.",
)
@format_option("text", "json", "yaml", help="How the papers are written; yaml is the record to be filled in.")
@force_option
@day_option
def run(
    season: Path,
    out: Path | None,
    page: str,
    blank: Path | None,
    seed: str | None,
    form: str,
    force: bool,
    on: date | None,
) -> int:
    """Print an inspector's working papers: what is open, what to check, what was drawn, room for findings.

    The certifier's own forms come first. Bags, trees and lots are drawn as certgen sample draws them, stock
    is counted before the book is seen, and what she hands back is typed into one record (--form).
    """
    from certgen.cli.output import dump_json, examine_or_refuse, hold_places
    from certgen.cli.writers.visit import write_text
    from certgen.exchange.editing.visit_form import render_form
    from certgen.exchange.interchange.visit import build_visit

    if blank is not None and blank.suffix not in {".yaml", ".yml", ".xlsx"}:
        message = "The form is a file of records (.yaml) or a workbook (.xlsx)."
        raise click.BadParameter(message, param_hint="--form")
    places: dict[Path, Kind] = {} if out is None else {out: "field paper"}
    if blank is not None:
        places[blank] = _kind(blank)
    hold_places(places, force=force)
    result = examine_or_refuse(season, on, "json" if form == "json" else "text")
    papers = _gather(result, seed)
    _write(result, papers, out, page, blank, force=force)
    match form:
        case "text":
            write_text(result, papers)
        case "json":
            dump_json(build_visit(result, papers))
        case _:
            sys.stdout.write(render_form(result, papers))
    return 2 if result.errors else 0


def _kind(blank: Path) -> Kind:
    return "workbook" if blank.suffix == ".xlsx" else "season file"


def _gather(result: Result, seed: str | None) -> VisitPapers:
    """The papers, drawn by the inspector's text where she gave one."""
    from certgen.dossier.visit_papers import gather_papers
    from certgen.manifest import ManifestError, digest_records

    if seed is None:
        return gather_papers(result)
    with refusing(ManifestError):
        records = digest_records(result.season)
    try:
        return gather_papers(result, seed, records)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--seed") from None


def _write(
    result: Result, papers: VisitPapers, out: Path | None, page: str, blank: Path | None, *, force: bool
) -> None:
    """The papers and the form, both or neither."""
    from certgen.cli.output import write_files
    from certgen.cli.progress import show_waiting
    from certgen.exchange.editing.visit_form import render_form
    from certgen.exchange.field_paper.visit_sheets import set_visit_sheets
    from certgen.output_places.places import Output
    from certgen.typeset.typst_pages import SettingError

    outputs = []
    with refusing(SettingError), show_waiting("setting pages"):
        if out is not None:
            outputs.append(Output(out, "field paper", set_visit_sheets(result, papers, page)))
        if blank is not None:
            text = render_form(result, papers)
            data = _fill_workbook(result, text) if _kind(blank) == "workbook" else text.encode()
            outputs.append(Output(blank, _kind(blank), data))
    if outputs:
        write_files(outputs, force=force)
        sys.stderr.write("".join(f"written: {one.path}\n" for one in outputs))


def _fill_workbook(result: Result, form: str) -> bytes:
    """A workbook that holds the form's record alone; what the season says of itself is left out."""
    import json
    from dataclasses import replace
    from tempfile import TemporaryDirectory

    from certgen.exchange.spreadsheets.workbook import build_workbook
    from certgen.standards.season_reading import read_case

    raw = {name: value for name, value in result.season.details.raw.items() if name in _NEEDED}
    with TemporaryDirectory() as folder:
        (Path(folder) / "season.yaml").write_text(json.dumps({"season": raw}, default=str), encoding="utf-8")
        (Path(folder) / "visits.yaml").write_text(form, encoding="utf-8")
        season, errors = read_case(Path(folder))
    if season is None:
        message = "; ".join(error.text() for error in errors)
        raise ValueError(message)
    return build_workbook(replace(season, details=replace(season.details, raw={})), result.profile)
