"""What an earlier output is: its content says so, and never its name.

Each kind has a mark that is lost when a person works on the file. A workbook that was filled in, a letter
with a line added or a packet with remarks on a page is the person's from then on.

- packet, lot card, co-op's report, field paper: a PDF by certgen (`Producer`; `Keywords` where Typst sets the
  file), written once (no earlier revision, both halves of its `ID` alike), with no form and no remarks on a
  page.
- binder, drawing, letter: a last line with a digest of all before it; it is put on here.
- workbook, tables: an archive all of whose files bear the day that certgen gives them.
- exports as JSON: certgen's head, and laid out to the letter as certgen lays JSON out.
- a season's files, a column map, a round's form, a key, a certificate: none. A person works on the first
  three, and a key can't be made again.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Mapping

    import pikepdf

Kind = Literal[
    "packet", "lot card", "co-op's report", "field paper", "binder", "drawing", "letter", "workbook",
    "tables", "records as JSON", "EPCIS events", "PROV document", "SARIF log", "season file", "column map",
    "round form", "key", "certificate",
]  # fmt: skip

#: What taking a PDF apart may end in, besides the library's own error.
_UNREADABLE: Final = (ValueError, TypeError, AttributeError, LookupError, RecursionError, RuntimeError)


def recognise(data: bytes) -> Kind | None:
    """Which kind of output these bytes are, as certgen left them; None for everything else."""
    if data.startswith(b"%PDF-"):
        signed, kind = _look_into(data)
        return None if signed else kind
    if data.startswith(b"PK\x03\x04"):
        return _recognise_archive(data)
    if data.startswith(b"{"):
        return _recognise_json(data)
    return _recognise_text(data)


def is_signed(pdf: bytes) -> bool:
    """Whether a PDF bears a signature, or a field for one.

    Of a file that can't be taken apart the bytes alone are asked.
    """
    return _look_into(pdf)[0]


#: Looked into in a process of its own from so many bytes on: taken apart, a packet of 20,000 bags takes up
#: thirty times its bytes, just before its season takes up as much, and what is freed doesn't go back.
_LARGE: Final = 4 << 20
#: What the last PDFs were found to be, by digest: a place is looked at before the work and after it.
_FOUND: Final[dict[bytes, tuple[bool, Kind | None]]] = {}
_MOST_FOUND: Final = 16


def _look_into(pdf: bytes) -> tuple[bool, Kind | None]:
    """Whether a PDF is signed, and which kind of output it is otherwise."""
    digest = hashlib.sha256(pdf).digest()
    if digest not in _FOUND:
        found = _look_apart(pdf) if len(pdf) >= _LARGE else take_apart(pdf)
        if len(_FOUND) >= _MOST_FOUND:
            _FOUND.clear()
        _FOUND[digest] = found
    return _FOUND[digest]


def _look_apart(pdf: bytes) -> tuple[bool, Kind | None]:
    from concurrent.futures import BrokenExecutor

    from certgen.process_pool import work_apart

    try:
        return work_apart(take_apart, pdf)
    except (OSError, BrokenExecutor):
        # The system allows no more processes.
        return take_apart(pdf)


def take_apart(pdf: bytes) -> tuple[bool, Kind | None]:
    """Whether a PDF is signed, and which kind of output it is as far as its parts tell; for `recognise`."""
    import pikepdf

    try:
        with pikepdf.open(io.BytesIO(pdf), attempt_recovery=False, suppress_warnings=True) as document:
            form: Any = document.Root.get("/AcroForm", {})
            if "/Perms" in document.Root or _has_signature(form):
                return True, None
            with suppress(pikepdf.PdfError, *_UNREADABLE):
                return False, _name_kind(document)
            return False, None
    except (pikepdf.PdfError, *_UNREADABLE):
        return re.search(rb"/ByteRange\s*\[", pdf) is not None, None


def _has_signature(form: Any) -> bool:
    """Whether a PDF's form has a field for a signature; one with more fields than can be looked at has."""
    if int(form.get("/SigFlags", 0)) & 1:
        return True
    waiting = list(form.get("/Fields", ()))
    for _ in range(10_000):
        if not waiting:
            return False
        field = waiting.pop()
        if str(field.get("/FT", "")) == "/Sig":
            return True
        waiting.extend(field.get("/Kids", ()))
    return True


#: What stands before and behind the digest.
_TEXTS: Final[Mapping[Kind, tuple[str, str]]] = {
    "binder": ("<!-- certgen binder ", " -->\n"),
    "drawing": ("<!-- certgen drawing ", " -->\n"),
    "letter": ("\ncertgen letter ", "\n"),
}
#: It need only notice a change, so its first letters are enough.
_DIGITS: Final = 16


def mark(kind: Kind, data: bytes) -> bytes:
    """The bytes with the mark of their kind, if it is one that is put on."""
    if kind not in _TEXTS:
        return data
    before, after = _TEXTS[kind]
    if not data.endswith(b"\n"):
        data += b"\n"
    return data + f"{before}{hashlib.sha256(data).hexdigest()[:_DIGITS]}{after}".encode()


def _recognise_text(data: bytes) -> Kind | None:
    for kind, (before, after) in _TEXTS.items():
        length = len(before) + _DIGITS + len(after)
        if data[-length:].startswith(before.encode()) and mark(kind, data[:-length]) == data:
            return kind
    return None


def _name_kind(document: pikepdf.Pdf) -> Kind | None:
    if not _is_as_written(document):
        return None
    if str(document.docinfo.get("/Keywords", "")).startswith("certgen field paper"):
        return "field paper"
    if str(document.docinfo.get("/Keywords", "")).startswith("certgen lot card"):
        return "lot card"
    if not str(document.docinfo.get("/Producer", "")).startswith("certgen "):
        return None
    return "co-op's report" if "coop.json" in document.attachments else "packet"


def _is_as_written(document: pikepdf.Pdf) -> bool:
    """Whether nobody wrote behind a PDF's end, gave it a form, put a remark on a page or saved it anew."""
    trailer = document.trailer
    if "/Prev" in trailer or "/AcroForm" in document.Root:
        return False
    first, last = trailer.get("/ID", (b"", b"?"))
    if bytes(first) != bytes(last):
        return False
    files = {spec.obj.objgen for spec in document.attachments.values()}
    return all(_is_link(note, files) for page in document.pages for note in page.get("/Annots", ()))


#: What a reader writes at a remark, of its author and its day: a link of certgen's has none of it.
_OF_REMARKS: Final = frozenset({"/T", "/M", "/CreationDate", "/Popup", "/RC"})


def _is_link(note: pikepdf.Object, files: Container[tuple[int, int]]) -> bool:
    """Whether an annotation leads to a place, or opens one of the files that are attached."""
    kind = str(note.get("/Subtype"))
    if kind == "/FileAttachment":
        return "/FS" in note and note["/FS"].objgen in files and not _OF_REMARKS & set(note.keys())
    return kind == "/Link"


#: A larger one isn't taken apart to be recognised.
_JSON_BYTES: Final = 64 << 20
#: The day of every file in an archive that certgen packs: a program that saves one anew writes its own.
_PACKED: Final = (2000, 1, 1, 0, 0, 0)


def _recognise_archive(data: bytes) -> Kind | None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
    except (zipfile.BadZipFile, EOFError, ValueError, NotImplementedError, OSError):
        return None
    names = {entry.filename for entry in entries}
    if any(entry.date_time != _PACKED for entry in entries):
        return None
    if {"xl/workbook.xml", "docProps/core.xml"} <= names:
        return "workbook"
    return "tables" if {"season.csv", "data-dictionary.csv"} <= names else None


def _recognise_json(data: bytes) -> Kind | None:
    if len(data) > _JSON_BYTES or not data.startswith(b'{\n "'):
        return None
    try:
        content = json.loads(data)
        if json.dumps(content, ensure_ascii=False, indent=1).encode() + b"\n" != data:
            return None
    except (ValueError, RecursionError):
        return None
    for kind, shows in _HEADS.items():
        with suppress(LookupError, TypeError, AttributeError):
            if shows(content):
                return kind
    return None


_HEADS: Final[Mapping[Kind, Callable[[Any], bool]]] = {
    "records as JSON": lambda content: content["tool"] == "certgen" and "tables" in content,
    "EPCIS events": lambda content: "certgen" in content["@context"][1],
    "PROV document": lambda content: {"r", "voc"} <= content["prefix"].keys(),
    "SARIF log": lambda content: content["runs"][0]["tool"]["driver"]["name"] == "certgen",
}
