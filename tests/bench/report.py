"""Measures of the report: what setting a register's row costs, and a whole packet."""

from __future__ import annotations

import html
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path

from harness import ROOT, Material, Ratio, aiming, best_seconds, measure, python

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
ON = "2026-11-25"
LOT = "AK-26-3"
#: How long somebody waits who asks for one lot, in seconds.
AT_ONCE = 1.5
#: The most that all processes of a packet of 20,000 bags may hold together, in MiB.
MOST_MEMORY = 800


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


@aiming(times=0.5)
def register_of_2000_rows_against_plain_table(_: Material) -> Ratio:
    """A thousand rows of a register, tagged and linked, against the same in a tagged WeasyPrint table."""
    return against_plain_table(2_000)


@aiming(times=1.2)
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

    @aiming(times=1)
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


def run_certgen(*arguments: str) -> Callable[[], str]:
    """A command as somebody gives it, start-up and all; a season may have gaps."""
    return python(["-m", "certgen", *arguments], (0, 1))


def against_plain_rows(work: Callable[[], object]) -> Ratio:
    """A packet's seconds on two cores against those of a thousand plain rows of WeasyPrint's in one process.

    Each in turn, for a machine's mood changes from minute to minute.
    """
    from weasyprint import HTML

    ours = other = float("inf")
    for _ in range(2):
        ours = min(ours, best_seconds(work, 1))
        other = min(other, best_seconds(lambda: HTML(string=plain_table(ROWS)).write_pdf(pdf_tags=True), 1))
    return Ratio(ours, other, "s")


@aiming(times=0.4)
def packet_of_the_example_against_plain_rows(_: Material) -> Ratio:
    """`certgen report` of the example season against 1,000 plain tagged rows of WeasyPrint's."""
    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/packet.pdf"
        return against_plain_rows(run_certgen("report", str(EXAMPLE), "--on", ON, "--out", out, "--force"))


@aiming(times=2.5)
def packet_against_plain_rows(material: Material) -> Ratio:
    """The generated season's packet against 1,000 plain rows of WeasyPrint; the goal is of 20,000 bags."""
    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/packet.pdf"
        return against_plain_rows(
            run_certgen("report", str(material.season), "--on", ON, "--out", out, "--force")
        )


@aiming(times=1)
def packet_of_one_lot_against_a_second_and_a_half(_: Material) -> Ratio:
    """`certgen report --lot` of the example season against 1.5 seconds on two idle cores."""
    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/lot.pdf"
        command = run_certgen("report", str(EXAMPLE), "--on", ON, "--lot", LOT, "--out", out, "--force")
        return Ratio(best_seconds(command, 3), AT_ONCE, "s")


@aiming(times=1)
def card_of_a_lot_against_a_second_and_a_half(_: Material) -> Ratio:
    """`certgen card` of a lot of the example season against 1.5 seconds on two idle cores."""
    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/card.pdf"
        command = run_certgen("card", str(EXAMPLE), LOT, "--on", ON, "--out", out, "--force")
        return Ratio(best_seconds(command, 3), AT_ONCE, "s")


@aiming(times=1)
def binder_of_the_example_against_a_second_and_a_half(_: Material) -> Ratio:
    """`certgen report --html` of the example season against 1.5 seconds."""
    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/binder.html"
        command = run_certgen("report", str(EXAMPLE), "--on", ON, "--html", out, "--force")
        return Ratio(best_seconds(command, 3), AT_ONCE, "s")


def processes_of(process: int) -> Iterator[int]:
    """A process and all that it started, as the kernel lists them."""
    yield process
    with suppress(OSError):
        for thread in Path(f"/proc/{process}/task").iterdir():
            for child in (thread / "children").read_text().split():
                yield from processes_of(int(child))


def held_by(process: int) -> float:
    """What a process holds in MiB; what it shares with others counts in its part (PSS)."""
    with suppress(OSError):
        lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
        return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("Pss:")), 0.0)
    return 0.0


if Path("/proc/self/smaps_rollup").exists():

    @aiming(times=1)
    def memory_of_a_packet_against_800_mebibytes(material: Material) -> Ratio:
        """What all processes of the generated season's packet hold together at most, against the goal."""
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "certgen", "report", str(material.season), "--on", ON]
            environment = {**os.environ, "PYTHONPATH": str(ROOT)}
            process = subprocess.Popen(
                [*command, "--out", f"{folder}/packet.pdf"], env=environment, stdout=subprocess.DEVNULL
            )
            most = 0.0
            while process.poll() is None:
                most = max(most, sum(map(held_by, processes_of(process.pid))))
                time.sleep(0.25)
        if process.returncode not in {0, 1}:
            message = f"certgen report ended with {process.returncode}"
            raise RuntimeError(message)
        return Ratio(most, MOST_MEMORY, "MiB")


@aiming(times=1.2)
def verify_against_report(_: Material) -> Ratio:
    """Verifying the example's packet, its pages made anew and compared, against printing it."""
    with tempfile.TemporaryDirectory() as folder:
        packet = f"{folder}/packet.pdf"
        report = run_certgen("report", str(EXAMPLE), "--on", ON, "--out", packet, "--force")
        printing, verifying = float("inf"), float("inf")
        for _round in range(2):
            printing = min(printing, best_seconds(report, 1))
            verifying = min(verifying, best_seconds(python(["-m", "certgen", "verify", packet]), 1))
        return Ratio(verifying, printing, "s")
