"""`certgen report`: the packet for the inspector, as PDF and as a file for a tablet."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from certgen.cli.arguments import Lots, OnDay, SeasonFolder, choose, parse_day, split_list

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.examination import Result

_PAGES = ("A4", "Letter")
_REGISTERS = ("full", "lots", "none")


def run(
    season: SeasonFolder = Path(),
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help="Where the packet goes. Default: report.pdf.")
    ] = None,
    html: Annotated[
        Path | None, typer.Option(metavar="FILE.html", help="Also, or only, a file for a browser or tablet.")
    ] = None,
    lot: Lots = None,
    registers: Annotated[
        str, typer.Option(metavar="full|lots|none", help="All records, those behind lots, or none.")
    ] = "full",
    page: Annotated[str, typer.Option(metavar="A4|Letter", help="The paper it is to be printed on.")] = "A4",
    key: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Seal the packet with this key as well.")
    ] = None,
    on: OnDay = None,
) -> int:
    """Print the season's packet: cover, gaps, a dossier a lot, mass balance, registers, index.

    Example:  certgen report example_season --out report.pdf --html report.html --on 2026-11-25
    """
    choose(registers, _REGISTERS, "--registers")
    choose(page, _PAGES, "--page")
    _expect(out, ".pdf", "--out")
    _expect(html, ".html", "--html")
    day, lots = parse_day(on), split_list(lot)
    from certgen.cli.output import examine_or_refuse
    from certgen.cli.progress import show_steps, show_waiting
    from certgen.report.writing import write_html, write_pdf

    seal = _seal(key)
    # What is handed over is read afresh.
    result = examine_or_refuse(season, day, cached=False)
    if result is None:
        return 2
    for one in lots:
        choose(one, result.lots, "--lot")
    if html is not None:
        with show_waiting("writing the binder"):
            write_html(result, html)
        sys.stdout.write(f"{html}\n")
    if out is not None or html is None:
        target = out or Path("report.pdf")
        with show_steps("setting pages") as steps:
            write_pdf(
                result,
                target,
                page=page,
                registers=registers,
                lots=lots or None,
                seal=seal,
                progress=lambda what, done, whole: steps(done, whole, what),
            )
        sys.stdout.write(f"{target}\n")
    _say_result(result)
    return result.exit_code


def _expect(file: Path | None, ending: str, option: str) -> None:
    """Whoever names a PDF report.txt meant something else."""
    if file is not None and file.suffix.lower() not in {ending, ending.removesuffix("l")}:
        message = f"What is written is a {ending[1:].upper()} file; let its name end in {ending}."
        raise typer.BadParameter(message, param_hint=option)


def _seal(key: Path | None) -> Callable[[bytes], bytes]:
    from certgen.exchange.sealing.seal import seal_bytes

    if key is None:
        return seal_bytes
    from certgen.exchange.sealing.keys import load_key

    private = load_key(key)
    return lambda data: seal_bytes(data, private)


def _say_result(result: Result) -> None:
    from certgen.cli.findings_text import count_gaps

    summary = result.summary
    lots = ", ".join(f"{number} {standing}" for standing, number in summary.lots.items() if number)
    sys.stdout.write(f"Lots: {lots or 'none'}. Gaps: {count_gaps(summary.gaps)}.\n")
