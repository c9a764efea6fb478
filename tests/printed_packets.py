"""Packets of small seasons for tests, and ways to change one as a forger would."""

from __future__ import annotations

import io
import json
import warnings
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pikepdf
from seasons import one_line, sale, write_season

from certgen.examination import examine
from certgen.manifest import NAME, PacketOptions, build_manifest
from certgen.process_pool import Pool
from certgen.report.packet import find_maker
from certgen.report.writing import compose_pdf

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from certgen.verification.answers import Verification

ON = date(2026, 10, 1)


def sold_line() -> dict[str, Any]:
    """The tables of one line from a tree to a lot, a part of which was sold, with a letter in evidence."""
    tables = one_line()
    tables["screening"][0]["evidence"] = "letters/S1.txt"
    tables["movements"] = [sale("M1", "L1", 3)]
    return tables


def write_line(folder: Path, **changed: Any) -> Path:
    """A season of `sold_line` in a folder, some tables changed."""
    folder.mkdir(parents=True, exist_ok=True)
    write_season(folder, **{**sold_line(), **changed})
    return folder


def packet_of(folder: Path, options: PacketOptions | None = None, *, replaced: bytes = b"") -> bytes:
    """The packet of a season's folder, set in this process alone."""
    result = examine(folder, ON)
    manifest = build_manifest(result, find_maker(result), options, replaced=replaced)
    return compose_pdf(result, options, manifest=manifest, pool=Pool(0))


@cache
def line_packet() -> bytes:
    """The packet of `sold_line`, made once."""
    with TemporaryDirectory() as folder:
        return packet_of(write_line(Path(folder)))


def edited(pdf: bytes, change: Callable[[pikepdf.Pdf], object]) -> bytes:
    """A packet with its objects changed, written anew."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        change(document)
        out = io.BytesIO()
        with warnings.catch_warnings():
            # Forgers don't care where a field is listed.
            warnings.simplefilter("ignore", pikepdf.PageCopyWarning)
            document.save(out, deterministic_id=True)
    return out.getvalue()


def inside(pdf: bytes) -> dict[str, bytes]:
    """The files inside a packet."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return {name: spec.get_file().read_bytes() for name, spec in document.attachments.items()}


def manifest_of(pdf: bytes) -> dict[str, Any]:
    """The manifest inside a packet."""
    content: dict[str, Any] = json.loads(inside(pdf)[NAME])
    return content


def put_inside(document: pikepdf.Pdf, name: str, data: bytes) -> None:
    """A file inside takes the place of the one of its name, or is put beside the others."""
    embedded = document.Root.Names.EmbeddedFiles
    found = pikepdf.NameTree(embedded)
    if name in found:
        stream = found[name].EF.F
        stream.write(data)
        stream.Params.Size = len(data)
    else:
        document.attachments[name] = pikepdf.AttachedFileSpec(document, data, filename=name)


def with_files(pdf: bytes, files: Mapping[str, bytes]) -> bytes:
    """A packet with files inside changed or added."""
    return edited(pdf, lambda document: [put_inside(document, name, data) for name, data in files.items()])


def with_manifest(pdf: bytes, change: Callable[[dict[str, Any]], object]) -> bytes:
    """A packet whose manifest says something else."""
    manifest = manifest_of(pdf)
    change(manifest)
    text = json.dumps(manifest, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n"
    return with_files(pdf, {NAME: text.encode()})


def blank_pdf(files: Mapping[str, bytes]) -> bytes:
    """A PDF of one empty page with files inside."""
    document = pikepdf.new()
    document.add_blank_page()
    for name, data in files.items():
        document.attachments[name] = pikepdf.AttachedFileSpec(document, data, filename=name)
    out = io.BytesIO()
    document.save(out, deterministic_id=True)
    return out.getvalue()


def verdicts(found: Verification) -> dict[str, str]:
    """The verdict of each answer by its subject."""
    return {answer.subject: answer.verdict for answer in found.answers}
