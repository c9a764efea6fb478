"""Workbooks from strangers: what must hold before one is opened.

An .xlsx file is a ZIP archive of XML. The bounds below lie far above any season's workbook and far below
what would fill a small machine.
"""

from __future__ import annotations

import io
import re
import zipfile

FILE_BYTES = 64 * 1024 * 1024
ENTRIES = 2_000
UNPACKED_BYTES = 512 * 1024 * 1024
PART_BYTES = 256 * 1024 * 1024
RATIO = 200
#: Below this size a part may be packed as tightly as it likes: empty sheets pack very well.
RATIO_FROM = 4 * 1024 * 1024

_REFUSED = (
    (re.compile(r"vbaproject|\.bin$.*macro|macrosheets/|xlm", re.IGNORECASE), "it holds macros"),
    (re.compile(r"externallinks?/", re.IGNORECASE), "it links to other workbooks"),
    (re.compile(r"(^|/)connections\.xml$|querytables?/", re.IGNORECASE), "it fetches data from elsewhere"),
    (
        re.compile(r"embeddings/|activex/|ctrlprops/.*\.bin|oleobject", re.IGNORECASE),
        "it has other files or controls inside",
    ),
)


class HostileFileError(ValueError):
    """A file that is not opened; the message says why and what to do."""


def check_workbook(data: bytes) -> None:
    """Raise `HostileFileError` unless `data` is a workbook that is safe to open."""
    if len(data) > FILE_BYTES:
        raise HostileFileError(f"the file is larger than {FILE_BYTES // 2**20} MB; split it by table")
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise HostileFileError(
            "this is an old-style or password-protected workbook; save it as .xlsx without a password"
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_entries(archive)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, OSError, ValueError) as fault:
        if isinstance(fault, HostileFileError):
            raise
        raise HostileFileError(
            "this is no workbook that can be opened; save it as .xlsx once more"
        ) from fault


def _check_entries(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    if len(entries) > ENTRIES:
        raise HostileFileError(
            f"the workbook has {len(entries):,} parts inside; at most {ENTRIES:,} are opened"
        )
    if sum(entry.file_size for entry in entries) > UNPACKED_BYTES:
        raise HostileFileError("the workbook unpacks to more than a season can hold")
    names = [entry.filename for entry in entries]
    if len(set(names)) != len(names):
        raise HostileFileError("the workbook holds two parts of one name")
    for entry in entries:
        _check_entry(entry)
        if entry.filename.endswith((".xml", ".rels", ".vml")):
            _check_markup(archive, entry)


def _check_entry(entry: zipfile.ZipInfo) -> None:
    name = entry.filename
    if name.startswith(("/", "\\")) or ".." in name.replace("\\", "/").split("/") or ":" in name:
        raise HostileFileError("the workbook holds a part whose name leads elsewhere")
    if entry.flag_bits & 1:
        raise HostileFileError("the workbook is locked by a password; save it without one")
    if entry.file_size > PART_BYTES or (
        entry.file_size > RATIO_FROM and entry.file_size > RATIO * max(entry.compress_size, 1)
    ):
        raise HostileFileError(
            "the workbook unpacks to far more than it says; it looks made to fill a machine"
        )
    for pattern, reason in _REFUSED:
        if pattern.search(name):
            raise HostileFileError(
                f"the workbook is not opened because {reason}; save a copy with values only"
            )


def _check_markup(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
    """Refuse document types (entities that multiply) and encodings that would hide them."""
    with archive.open(entry) as stream:
        kept = b""
        first = True
        while piece := stream.read(1 << 20):
            if first and piece[:3].lstrip(b"\xef\xbb\xbf")[:1] not in (b"<", b" ", b"\n", b"\r", b"\t", b""):
                raise HostileFileError("the workbook holds a part in an unusual encoding")
            first = False
            window = kept + piece
            if b"<!DOCTYPE" in window or b"<!ENTITY" in window:
                raise HostileFileError("the workbook holds definitions that no spreadsheet program writes")
            if b"macroEnabled" in window:
                raise HostileFileError(
                    "the workbook is not opened because it holds macros; save a copy as .xlsx"
                )
            if (
                entry.filename.endswith(".rels")
                and b'TargetMode="External"' in window
                and b"hyperlink" not in window
            ):
                raise HostileFileError("the workbook is not opened because it links to other files")
            kept = window[-32:]
