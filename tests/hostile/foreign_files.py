"""Files from strangers, as `import` and `verify` meet them: sheets, column maps, workbooks and packets.

Bytes that are mutated inside a ZIP archive or behind a digest are refused at the door. So a workbook or a
packet may also be given as its parts in plain text, which are packed here: that way mutations get inside.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import tempfile
import zipfile
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.exchange.editing.splicing import SpliceError
from certgen.exchange.importing.column_maps import MapError
from certgen.exchange.importing.grids import GridError
from certgen.exchange.importing.map_files import map_text, read_map
from certgen.exchange.importing.opening import open_spreadsheet
from certgen.exchange.importing.plan import plan_import
from certgen.exchange.importing.trial import ImportRefusedError
from certgen.standards.season_reading import read_case
from certgen.verification.attachments import PacketError, read_packet
from certgen.verification.earlier import compare_folder
from certgen.verification.verification import verify_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records import Season

#: A part begins with a line of its own: `=== name`.
_PART = re.compile(rb"^=== ([^\n]*)\n", re.MULTILINE)
SEASON = """season:
  operation:
    name: Lantern Gully
  label: "2026"
  from: 2026-01-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
"""
TREES = """trees:
  - {tree: T1, planting: P1, sex: hermaphrodite}
  # the bent one
  - tree: T2
    planting: P1
    sex: female
"""
#: What is said of a file fits on a screen, however the file is made.
_LONGEST = 4000
#: Examined seasons that are kept while fuzzing.
_REMEMBERED = 50


def split_parts(data: bytes) -> dict[str, bytes]:
    """The parts by name, as text in the form of this module gives them."""
    pieces = _PART.split(data)[1:]
    return {
        name.decode("utf-8", "replace"): content
        for name, content in zip(pieces[::2], pieces[1::2], strict=True)
    }


def join_parts(parts: dict[str, bytes]) -> bytes:
    """Parts in the form of this module."""
    return b"".join(b"=== " + name.encode() + b"\n" + content + b"\n" for name, content in parts.items())


def pack_workbook(data: bytes) -> bytes:
    """A workbook of its parts, or the bytes as they are when they hold none."""
    parts = split_parts(data)
    if not parts:
        return data
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            # The form needs a line end behind each part; XML must have none before its declaration.
            archive.writestr(zipfile.ZipInfo(name[:200] or "x"), content.removesuffix(b"\n"))
    return out.getvalue()


def pack_packet(data: bytes) -> bytes:
    """A PDF with the parts inside, or the bytes as they are when they hold none."""
    import pikepdf

    parts = split_parts(data)
    if not parts:
        return data
    document = pikepdf.new()
    document.add_blank_page()
    for name, content in parts.items():
        inside = content.removesuffix(b"\n")
        document.attachments[name] = pikepdf.AttachedFileSpec(document, inside, filename=name)
    out = io.BytesIO()
    document.save(out, deterministic_id=True)
    return out.getvalue()


def import_csv(data: bytes) -> None:
    """Any bytes as a CSV file of bags."""
    with _season() as folder:
        _import(folder, data, "bagging.csv")


def import_xlsx(data: bytes) -> None:
    """Any bytes as a workbook, or as the parts of one."""
    with _season() as folder:
        _import(folder, pack_workbook(data), "bagging.xlsx")


def import_map(data: bytes) -> None:
    """Any bytes as a column map that somebody has saved and mended."""
    with _season() as folder:
        (folder.parent / "map.yaml").write_bytes(data)
        sheet = b"Bag no,Tree,Covered on,Stage\nB1,T1,3.4.2026,closed bud\n"
        _import(folder, sheet, "bagging.csv", folder.parent / "map.yaml")


def verify(data: bytes) -> None:
    """Any bytes as a packet, or as the files inside one."""
    with _season() as folder:
        path = folder.parent / "packet.pdf"
        path.write_bytes(pack_packet(data))
        try:
            found = verify_bytes(read_packet(path), quick=True)
            compare_folder(found, folder)
        except PacketError as fault:
            _hold(str(fault))
            return
        for answer in found.answers:
            for told in (answer.says, *answer.details):
                _hold(told)
        if found.manifest:
            _hold(found.manifest["season"]["operation"] + found.manifest["season"]["label"] + ".")
        assert ["packet.pdf", "season"] == sorted(one.name for one in folder.parent.iterdir())


def make_cheap() -> None:
    """For runs of a million: nothing on a disk, no waiting for a file to come to rest, and the same records
    read and examined once.

    What is left out this way doesn't hang on the input.
    """
    from certgen import examination
    from certgen.exchange.importing import plan
    from certgen.records.record_files import files

    if Path("/dev/shm").is_dir():
        tempfile.tempdir = "/dev/shm"
    files.MOMENT = 0
    read = plan._read_existing
    kept: list[Season] = []

    def read_once(folder: Path, cache: Path) -> Season | None:
        if not kept:
            season = read(folder, cache)
            assert season is not None
            kept.append(season)
        return replace(kept[0], folder=folder)

    plan._read_existing = read_once
    look, looked_at = examination.examine, {}

    def examine_once(folder: Path, on: dt.date, *, within: Path | None = None) -> object:
        content = tuple(
            (path.relative_to(within), path.read_bytes())
            for path in sorted(within.rglob("*"))
            if path.is_file()
        )
        if (key := (folder.relative_to(within), on, content)) not in looked_at:
            if len(looked_at) > _REMEMBERED:
                looked_at.clear()
            try:
                looked_at[key] = look(folder, on, within=within)
            except examination.ReadFailure as fault:
                looked_at[key] = fault
        if isinstance(looked_at[key], examination.ReadFailure):
            raise looked_at[key]
        return looked_at[key]

    examination.examine = examine_once


@contextmanager
def _season() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "season"
        folder.mkdir()
        (folder / "season.yaml").write_text(SEASON)
        (folder / "trees.yaml").write_text(TREES)
        yield folder


def _import(folder: Path, data: bytes, name: str, map_file: Path | None = None) -> None:
    """As the command does it: guess, save the guess, use it, and take the sound rows."""
    path = folder.parent / name
    path.write_bytes(data)
    try:
        sheets = open_spreadsheet(path, map_file=map_file, dates="dmy")
        if sheets.guessed:
            guessed = folder.parent / "guess.yaml"
            guessed.write_text(map_text([*(one for _, one in sheets.mapped), *sheets.guessed]), "utf-8")
            read_map(guessed)
            sheets = open_spreadsheet(path, map_file=guessed, dates="dmy")
        plan = plan_import(folder, sheets.mapped, season_sheet=sheets.season, replace=True, keep_going=True)
    except (GridError, MapError, SpliceError, ImportRefusedError) as fault:
        _hold(str(fault))
        assert {"season.yaml", "trees.yaml"} == {one.name for one in folder.iterdir()}
        return
    for fault in plan.faults:
        _hold(fault.text())
    plan.carry_out()
    if not plan.contents:
        assert {"season.yaml", "trees.yaml"} == {one.name for one in folder.iterdir()}
        return
    season, errors = read_case(folder)
    assert not errors
    assert season is not None
    assert season.row("trees", "T2") is not None


def _hold(told: str) -> None:
    """What is said of a file can be shown, and is short enough to be read."""
    told.encode("utf-8")
    assert told
    assert len(told) < _LONGEST
