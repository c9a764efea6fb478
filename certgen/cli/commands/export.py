"""`certgen export`: the records as a workbook, or in a form that other programs read."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from certgen.cli.arguments import (
    PATH,
    choose,
    command,
    day_option,
    force_option,
    format_option,
    lots_option,
    option,
    reader_options,
    refusing,
    season_argument,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from certgen.examination import Result
    from certgen.output_places.kinds import Kind

#: Each form, the ending of its file, and what the file is.
FORMATS: Final[Mapping[str, tuple[str, Kind]]] = {
    "xlsx": (".xlsx", "workbook"),
    "csv": ("-csv.zip", "tables"),
    "json": (".json", "records as JSON"),
    "epcis": ("-epcis.jsonld", "EPCIS events"),
    "prov": ("-prov.json", "PROV document"),
    "sarif": (".sarif", "SARIF log"),
}

#: Readers that are shown listed facts and no records, and the forms in which these are written.
_LISTED: Final = {"member": ("json", "csv"), "public": ("json",)}


@command("certgen export example_season --format xlsx --out season.xlsx")
@season_argument
@format_option(*FORMATS, default="xlsx", help="The form to write.")
@option("--out", metavar="FILE", type=PATH, help="Where to. Default: the season's name here.")
@option("--empty", is_flag=True, help="A workbook without records, to fill in (xlsx).")
@option(
    "--base",
    metavar="URI",
    default="https://certgen.example/id/",
    help="What the names in epcis and prov begin with, before farm, season, table and number.",
)
@option("--offset", metavar="+HH:MM", default="+00:00", help="Your offset from universal time (epcis).")
@lots_option
@reader_options
@force_option
@day_option
def run(
    season: Path,
    form: str,
    out: Path | None,
    empty: bool,
    lot: list[str],
    reader: str,
    party: str,
    base: str,
    offset: str,
    force: bool,
    on: date | None,
) -> int:
    """Write the season's records in another form.

    xlsx: a workbook to fill in and import again. csv: a ZIP of tables with a data dictionary. json:
    everything, as schemas/output/records.json describes it. epcis: EPCIS 2.0 events. prov: PROV-JSON.
    sarif: the gaps.
    """
    from certgen.cli.disclosure import show_alone
    from certgen.cli.output import examine_or_refuse, hold_places, list_errors, write_files
    from certgen.cli.progress import show_waiting
    from certgen.output_places.places import Output

    if lot and reader == "certifier":
        raise click.BadParameter(
            "It goes with --for: the certifier is given all records.", param_hint="--lot"
        )
    ending, kind = FORMATS[form]
    if out is not None:
        hold_places({out: kind}, force=force)
    # What is handed over is read afresh.
    result = examine_or_refuse(season, on, cached=False, told=False)
    choose(lot, result.lots, "--lot")
    if reader in _LISTED:
        data = _list_facts(result, form, reader, party, lot)
    else:
        with (
            show_alone(result, lot, reader, party) as shown,
            refusing(ValueError),
            show_waiting("writing the records"),
        ):
            told = frozenset(lot) if reader != "certifier" else None
            data = _build(shown, form, base=base, offset=offset, empty=empty, told=told)
    path = out or Path(f"{_name_file(result)}{ending}")
    write_files([Output(path, kind, data)], force=force)
    sys.stdout.write(f"{path} is written.\n")
    list_errors(result.errors)
    return 2 if result.errors else 0


def _list_facts(result: Result, form: str, reader: str, party: str, lots: Sequence[str]) -> bytes:
    """What a member or the public is shown: listed facts, and no records."""
    from certgen.cli.disclosure import choose_member, gather_card
    from certgen.exchange.interchange.layout import render_csv, render_json
    from certgen.exchange.interchange.transactions import COLUMNS, build_transactions, tabulate_transactions
    from certgen.exchange.lot_card.facts import write_facts

    if form not in _LISTED[reader]:
        forms = " or ".join(_LISTED[reader])
        message = (
            f"What there is for {'a member' if reader == 'member' else 'the public'} is written as {forms}."
        )
        raise click.BadParameter(message, param_hint="--format")
    if reader == "public":
        return write_facts(gather_card(result, lots))
    content = build_transactions(result, choose_member(result, party), lots)
    if form == "json":
        return render_json(content).encode()
    return render_csv(COLUMNS, tabulate_transactions(content)).encode()


def _build(
    result: Result, form: str, *, base: str, offset: str, empty: bool, told: frozenset[str] | None
) -> bytes:
    """The file's bytes. `told` are the lots that a reader knows by their number, None for the certifier."""
    if form == "xlsx":
        from certgen.exchange.spreadsheets.workbook import build_workbook

        return build_workbook(None if empty else result.season, result.profile)
    if form == "csv":
        from certgen.exchange.spreadsheets.csv_tables import csv_bundle

        return csv_bundle(result.season)
    from certgen.exchange.interchange.epcis import build_epcis
    from certgen.exchange.interchange.layout import render_json
    from certgen.exchange.interchange.provenance import build_prov
    from certgen.exchange.interchange.records import build_records
    from certgen.exchange.interchange.sarif import build_sarif
    from certgen.records.names import Names, check_base, digest_codes

    coded = "" if told is None else digest_codes(result.season)
    names = Names(result.farm, check_base(base), coded, told or frozenset())
    builders: dict[str, Callable[[], dict[str, Any]]] = {
        "json": lambda: build_records(result),
        "epcis": lambda: build_epcis(result, names, offset=offset),
        "prov": lambda: build_prov(result, names),
        "sarif": lambda: build_sarif(result),
    }
    return render_json(builders[form]()).encode()


def _name_file(result: Result) -> str:
    label = "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in result.season.details.label)
    return f"season-{label}"[:60]
