"""What is fuzzed: functions that take any bytes at all, and must come back with values or with plain errors.

Each target raises on a broken promise; anything it raises is a finding.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from foreign_files import import_csv, import_map, import_xlsx, verify

from certgen.records.frames import build_frame
from certgen.records.places import ReadingError
from certgen.records.quantities import SUFFIXES, QuantityError, format_mass, grams, parse_quantity
from certgen.records.record_files.details import find_season
from certgen.records.record_files.extracts import TableReader
from certgen.records.record_files.locating import locate_in_span
from certgen.records.record_files.parsing import ParsingError, compose, decode
from certgen.records.tables import load_tables

CORPUS = Path(__file__).parent / "corpus"
WORDS = {
    "sexes": ("hermaphrodite", "female", "male", "unknown"),
    "flowers": ("hermaphrodite", "female", "male"),
}
KINDS = sorted(SUFFIXES)


def hold_error(error: ReadingError, lines: int) -> None:
    """An error is one printable line, with its place inside the file."""
    text = error.text()
    text.encode("utf-8")
    assert "\n" not in text
    assert "\x1b" not in text
    assert len(text) < 3000
    assert error.message
    if error.line is not None:
        assert 1 <= error.line <= lines
        assert error.column is not None
        assert error.column >= 1


def read_file(data: bytes) -> None:
    """A record file of any bytes: sound records become rows, everything else is told."""
    try:
        text = decode(data, "a.yaml")
    except ParsingError as fault:
        hold_error(fault.error, data.count(b"\n") + 1)
        return
    # YAML knows more line ends than the line feed, and notices some faults behind the last line.
    lines = sum(text.count(end) for end in ("\n", "\r", "\x85", "\u2028", "\u2029")) + 2
    season = find_season({"a.yaml": text}, lambda _: WORDS)
    for error in season.errors:
        hold_error(error, lines)
    assert season.details is None or not season.errors
    extract = TableReader(season.words, (season.file, season.line)).read(text, "a.yaml")
    for error in (*extract.errors, *extract.left_out):
        hold_error(error, lines)
    assert bool(extract.left_out) <= bool(extract.errors)
    entries = 0
    for name, stretch in extract.stretches.items():
        table = load_tables()[name]
        entries += len(stretch.spans) - len(stretch.at)
        assert sorted(set(stretch.at)) == list(stretch.at)
        assert {len(stretch.at)} >= {len(values) for values in stretch.columns.values()}
        for span in stretch.spans[:3]:
            assert 0 <= span.start <= span.end <= len(text)
            paths = {column.path: column.path for column in table.columns}
            for line, column in locate_in_span(text, span, paths).values():
                assert 1 <= line <= lines
                assert column >= 1
        if stretch.at:
            frame = build_frame(table, [("a.yaml", stretch)])
            assert len(stretch.at) == len(frame)
            if table.key:
                assert not frame[table.key].isna().any()
    assert entries == len(extract.left_out)


def compose_nodes(data: bytes) -> None:
    """The nodes of any text, or one error."""
    try:
        compose(decode(data, "a.yaml"), "a.yaml")
    except ParsingError as fault:
        hold_error(fault.error, 2 * len(data) + 2)


def read_quantity(data: bytes) -> None:
    """Any text as a quantity of any kind: a finite value, or an error that fits on a line or two."""
    text = data.decode("utf-8", "replace")
    for kind in KINDS:
        try:
            quantity = parse_quantity(text, kind)
        except QuantityError as fault:
            hold_error(ReadingError("a.yaml", 1, 1, str(fault)), 1)
            continue
        assert text == quantity.text
        assert math.isfinite(quantity.si)
        if kind == "mass":
            assert isinstance(quantity.si, int)
            assert quantity.si == grams(quantity.si) * 1000
            assert format_mass(quantity.si)
        if kind != "temperature":
            assert quantity.si >= 0


TARGETS: dict[str, Callable[[bytes], None]] = {
    "reader": read_file,
    "nodes": compose_nodes,
    "quantities": read_quantity,
    "importer-csv": import_csv,
    "importer-xlsx": import_xlsx,
    "importer-map": import_map,
    "verify": verify,
}
#: Inputs are cut off here; files from strangers need room for their parts.
MOST_BYTES = {"importer-xlsx": 16_384, "verify": 32_768}
MOST_BYTES_OTHERWISE = 4096


def bound_of(target: str) -> int:
    """How long an input of a target may be, in bytes."""
    return MOST_BYTES.get(target, MOST_BYTES_OTHERWISE)


def corpus_of(target: str) -> list[Path]:
    """The inputs that are kept for a target: shapes worth starting from, and every finding of the past."""
    folder = CORPUS / {"nodes": "reader"}.get(target, target)
    return sorted(path for path in folder.iterdir() if path.is_file())
