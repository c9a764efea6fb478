"""Measures of the report: what setting a register's row costs, and a whole packet."""

from __future__ import annotations

import html
import json
import shutil
import subprocess
import tempfile
import time
from datetime import date
from pathlib import Path

from harness import ROOT, Material, Ratio, best_seconds, measure, python

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
EXAMPLE = ROOT / "example_season"
#: A table as Typst's users write it: no tags, no links, its own faces.
BARE = """
#let rows = json(bytes(sys.inputs.rows))
#set page(margin: 12mm)
#set text(size: 7pt)
#table(columns: rows.at(0).len(), ..rows.flatten())
"""
PACKET = """
import resource, sys
from datetime import date
from pathlib import Path
from certgen.examination import examine
from certgen.report.writing import set_pdf
Path(sys.argv[2]).write_bytes(set_pdf(examine(Path(sys.argv[1]), date(2026, 12, 31))))
status = Path("/proc/self/status")
if status.exists():
    # Linux hands ru_maxrss down to a child process: the kernel's own mark is this process's.
    own = int([line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM")][0])
else:
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
scale = 1024 if sys.platform != "darwin" else 1024 * 1024
print(max(own, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) / scale)
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
            "secured, new",
            f"2026-03-{number % 28 + 1:02d} intact",
            "2026-03-30",
            "set",
            "" if number % 17 else "torn along the seam after the storm, a new bag put over it",
        )
        for number in range(count)
    ]


def set_register(count: int) -> bytes:
    """The rows as a register of the packet: tagged, linked, in the packet's faces, joined into one file."""
    from certgen.typeset.conformance import declare
    from certgen.typeset.design import SHEETS, Settings
    from certgen.typeset.joining import JoinedFile
    from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
    from certgen.typeset.registers import set_registers

    listed = tuple(
        (
            f"bagging/{row[0]}",
            tuple(((text, f"bagging/{row[0]}" if at == 1 else ""),) for at, text in enumerate(row)),
        )
        for row in rows(count)
    )
    register = Register("bagging", "Bags", "", tuple(RegisterColumn(head, 1) for head in HEADS), listed)
    settings = Settings("t", "en", SHEETS["A4"], date(2026, 11, 25), "Go to")
    joined = JoinedFile()
    group = RegisterSet("Registers", "", (register,))
    for batch in set_registers(group, settings):
        joined.append_batch(batch)
    joined.finish(settings)
    declare(joined.pdf, settings, "certgen 0")
    return joined.save()


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
def register_of_20000_rows_against_2000(_: Material) -> Ratio:
    """A register of 20,000 rows against ten times one of 2,000: what length itself costs."""
    return Ratio(
        best_seconds(lambda: set_register(20_000), 1), best_seconds(lambda: set_register(2_000), 2) * 10, "s"
    )


@measure
def register_against_bare_typst(_: Material) -> Ratio:
    """2,000 rows of a register against the same rows as Typst's own table, untagged and without links."""
    import typst

    given = {"rows": json.dumps([HEADS, *rows(2_000)])}

    def set_bare() -> None:
        typst.compile(BARE.encode(), format="pdf", sys_inputs=given, pdf_tags=False)

    return Ratio(best_seconds(lambda: set_register(2_000), 2), best_seconds(set_bare, 1), "s")


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


def set_packet(season: Path, out: Path) -> tuple[float, float]:
    """Seconds for a packet, read, checked and set on two cores, and the largest process's memory in MiB."""
    program = out.with_suffix(".py")
    program.write_text(PACKET, encoding="utf-8")
    start = time.perf_counter()
    printed = python([str(program), str(season), str(out)])()
    return time.perf_counter() - start, float(printed.split()[-1])


@measure
def packet_of_the_example_against_examining(_: Material) -> Ratio:
    """The example season's whole packet, set by two cores, against reading and checking that season alone."""
    from certgen.examination import examine

    with tempfile.TemporaryDirectory() as folder:
        seconds, _memory = set_packet(EXAMPLE, Path(folder) / "packet.pdf")
    return Ratio(seconds, best_seconds(lambda: examine(EXAMPLE, date(2026, 12, 31)), 1), "s")


@measure
def packet_against_half_a_minute(material: Material) -> Ratio:
    """The generated season's packet against the goal for 20,000 bags on two idle cores, in its share."""
    with tempfile.TemporaryDirectory() as folder:
        seconds, _memory = set_packet(material.season, Path(folder) / "packet.pdf")
    return Ratio(seconds, 30 * material.bags / 20_000, "s")


@measure
def memory_of_a_packet_against_one_gibibyte(material: Material) -> Ratio:
    """The largest process that sets the generated season's packet against the goal for 20,000 bags."""
    with tempfile.TemporaryDirectory() as folder:
        _seconds, memory = set_packet(material.season, Path(folder) / "packet.pdf")
    return Ratio(memory, 1024, "MiB")


@measure
def verify_against_report(_: Material) -> Ratio:
    """Verifying the example's packet, its pages made anew and compared, against printing it: goal 1.2."""
    on = "2026-12-31"
    with tempfile.TemporaryDirectory() as folder:
        packet = f"{folder}/packet.pdf"
        report = ["-m", "certgen", "report", str(EXAMPLE), "--on", on, "--out", packet]
        printing = best_seconds(python(report, (0, 1)), 2)
        return Ratio(best_seconds(python(["-m", "certgen", "verify", packet]), 2), printing, "s")
