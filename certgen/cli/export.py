"""`certgen export`: the records as a workbook, or in a form that other programs read."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from certgen.cli.arguments import OnDay, SeasonFolder, choose, parse_day

if TYPE_CHECKING:
    from certgen.examination import Result

_DEFAULT_BASE: Final = "https://certgen.example/id/"


def run(
    season: SeasonFolder = Path(),
    form: Annotated[
        str, typer.Option("--format", metavar="xlsx|csv|json|epcis|prov|sarif", help="The form to write.")
    ] = "xlsx",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Where to. Default: the season's name here.")
    ] = None,
    empty: Annotated[
        bool, typer.Option("--empty", help="A workbook without records, to fill in (xlsx).")
    ] = False,
    base: Annotated[
        str, typer.Option("--base", metavar="URI", help="What the names in epcis and prov begin with.")
    ] = _DEFAULT_BASE,
    offset: Annotated[
        str, typer.Option("--offset", metavar="+HH:MM", help="Your offset from universal time (epcis).")
    ] = "+00:00",
    force: Annotated[bool, typer.Option("--force", help="Overwrite the file if it is there.")] = False,
    on: OnDay = None,
) -> int:
    """Write the season's records in another form.

    xlsx: a workbook to fill in and import again. csv: a ZIP of tables with a data dictionary. json:
    everything, as schemas/output/records.json describes it. epcis: EPCIS 2.0 events. prov: PROV-JSON.
    sarif: the gaps.

    Example:  certgen export example_season --format xlsx --out season.xlsx
    """
    choose(form, FORMATS, "--format")
    day = parse_day(on)
    from certgen.cli.output import examine_or_refuse, list_errors
    from certgen.cli.progress import show_waiting
    from certgen.whole_files import write_whole

    # What is handed over is read afresh.
    result = examine_or_refuse(season, day, cached=False, told=False)
    if result is None:
        return 2
    try:
        with show_waiting("writing the records"):
            data = _write(result, form, base=base, offset=offset, empty=empty)
    except ValueError as fault:
        sys.stderr.write(f"certgen export: {fault}.\n")
        return 2
    path = out or Path(f"{_file_name(result)}{FORMATS[form]}")
    if str(path) == "-":
        sys.stdout.buffer.write(data)
    else:
        try:
            write_whole(path, data, replace=force)
        except FileExistsError as fault:
            sys.stderr.write(f"certgen export: {fault}; --force overwrites it.\n")
            return 2
        sys.stdout.write(f"{path} is written.\n")
    list_errors(result.errors)
    return 2 if result.errors else 0


def _write(result: Result, form: str, *, base: str, offset: str, empty: bool) -> bytes:
    if form == "xlsx":
        from certgen.exchange.spreadsheets.workbook import build_workbook

        return build_workbook(None if empty else result.season, result.profile.words)
    if form == "csv":
        from certgen.exchange.spreadsheets.csv_tables import csv_bundle

        return csv_bundle(result.season)
    from certgen.exchange.interchange.epcis import build_epcis
    from certgen.exchange.interchange.layout import render_json
    from certgen.exchange.interchange.provenance import build_prov
    from certgen.exchange.interchange.records import build_records
    from certgen.exchange.interchange.sarif import build_sarif

    builders: dict[str, Callable[[], dict[str, Any]]] = {
        "json": lambda: build_records(result),
        "epcis": lambda: build_epcis(result, base=base, offset=offset),
        "prov": lambda: build_prov(result, base=base),
        "sarif": lambda: build_sarif(result),
    }
    return render_json(builders[form]()).encode()


#: Each form and the ending of its file.
FORMATS: Final = {
    "xlsx": ".xlsx",
    "csv": "-csv.zip",
    "json": ".json",
    "epcis": "-epcis.jsonld",
    "prov": "-prov.json",
    "sarif": ".sarif",
}


def _file_name(result: Result) -> str:
    label = "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in result.season.details.label)
    return f"season-{label}"[:60]
