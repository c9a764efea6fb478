"""Measures of the report: what setting a register's row costs, and a whole packet."""

from __future__ import annotations

import html
import shutil
import subprocess
import tempfile
from datetime import date
from pathlib import Path

from harness import Material, Ratio, best_seconds, measure, python

ROWS = 1_000
HEADS = (
    "Bag",
    "Tree",
    "Covered",
    "Tag says",
    "Flower",
    "Care",
    "Checks",
    "Uncovered",
    "Outcome",
    "Also recorded",
)
PACKET = """
import sys
from datetime import date
from pathlib import Path
from certgen.examination import examine
from certgen.report.writing import write_pdf
if __name__ == "__main__":
    write_pdf(examine(Path(sys.argv[1]), date(2026, 12, 31)), Path(sys.argv[2]))
"""


def rows(count: int) -> list[tuple[str, ...]]:
    """Rows of ten columns like those of a season's bags."""
    return [
        (
            f"B{number:05d}",
            f"T{number % 2000:04d}",
            f"2026-02-{number % 28 + 1:02d}",
            f"Amber Kestrel, T{number % 2000:04d}",
            "hermaphrodite",
            "cinched, new",
            f"2026-03-{number % 28 + 1:02d} intact",
            "2026-03-30",
            "set",
            "" if number % 17 else "torn along the seam after the storm, a new bag put over it",
        )
        for number in range(count)
    ]


def set_register(count: int) -> None:
    """The rows as a register of the packet: tagged, linked, in the packet's faces."""
    from certgen.report.packet import Register, RegisterColumn
    from certgen.report.registers import set_registers

    listed = tuple(
        (
            f"bagging/{row[0]}",
            tuple(((text, f"trees/{text}" if at == 1 else ""),) for at, text in enumerate(row)),
        )
        for row in rows(count)
    )
    register = Register("bagging", "Bags", "", tuple(RegisterColumn(head, 1) for head in HEADS), listed)
    settings = {"heading": "Registers", "lead": "", "title": "t", "language": "en"}
    list(set_registers((register,), **settings, sheet_name="A4", epoch=1_700_000_000))


def plain_table(count: int) -> str:
    """The rows as a plain HTML table."""
    head = "".join(f"<th>{name}</th>" for name in HEADS)
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(text)}</td>" for text in row) + "</tr>" for row in rows(count)
    )
    return f"<html lang=en><title>t</title><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def against_plain_table(count: int) -> Ratio:
    """Seconds a thousand rows, ours for `count` rows against a tagged table of WeasyPrint's."""
    from weasyprint import HTML

    def set_table() -> None:
        HTML(string=plain_table(ROWS)).write_pdf(pdf_tags=True)

    ours = best_seconds(lambda: set_register(count), 2) * 1_000 / count
    return Ratio(ours, best_seconds(set_table, 1) * 1_000 / ROWS, "s")


@measure
def register_of_2000_rows_against_plain_table(_: Material) -> Ratio:
    """A thousand rows of a register, tagged and linked, against the same in a tagged WeasyPrint table."""
    return against_plain_table(2_000)


@measure
def register_of_20000_rows_against_plain_table(_: Material) -> Ratio:
    """A thousand rows of a register of 20,000, against the same in a tagged WeasyPrint table."""
    return against_plain_table(20_000)


if CHROMIUM := shutil.which("chromium"):

    @measure
    def register_against_chromium(_: Material) -> Ratio:
        """A thousand rows of a register against headless Chromium printing them as a plain HTML table."""
        with tempfile.TemporaryDirectory() as folder:
            page = Path(folder) / "page.html"
            page.write_text(plain_table(ROWS), encoding="utf-8")
            command = [
                CHROMIUM,
                "--headless",
                "--no-sandbox",
                f"--print-to-pdf={folder}/page.pdf",
                page.as_uri(),
            ]

            def print_page() -> None:
                subprocess.run(command, check=True, capture_output=True)

            return Ratio(best_seconds(lambda: set_register(ROWS), 2), best_seconds(print_page, 2), "s")


@measure
def packet_against_examining(material: Material) -> Ratio:
    """The whole packet of the season, read, checked and set by two cores, against reading and checking
    alone."""
    from certgen.examination import examine

    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "packet.py"
        program.write_text(PACKET, encoding="utf-8")
        out = str(Path(folder) / "packet.pdf")
        ours = best_seconds(python([str(program), str(material.season), out]), 1)
    return Ratio(ours, best_seconds(lambda: examine(material.season, date(2026, 12, 31)), 1), "s")
