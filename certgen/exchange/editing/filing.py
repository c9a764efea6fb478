"""Papers put into a season: files copied into `evidence/`, and named to one record or to many.

What belongs together is one change of the history: all files and all records, or nothing. A paper of a letter
that has a record of its own is named there, once, for what holds of a letter holds of its samples.
"""

from __future__ import annotations

import errno
import hashlib
from collections import Counter
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.dossier.photographs import describe_photograph
from certgen.exchange.editing.history import Author, ChangedMeanwhileError, write_change
from certgen.exchange.editing.record_choice import Chosen, EvidenceError, papers_through_letters
from certgen.exchange.editing.splicing import change_records
from certgen.records.nouns import count
from certgen.records.record_files.files import EVIDENCE
from certgen.records.tables import load_tables
from certgen.rules.wording import join
from certgen.whole_files import PathError, contained_path, read_ordinary

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from certgen.records import Season

FILE_BYTES: Final = 256 * 1024 * 1024
#: A file of more bytes is told: each copy of the records carries it along.
_HEAVY_BYTES: Final = 10 * 1024 * 1024


class Naming(NamedTuple):
    """A record, the file that it stands in, and the papers among those filed that it names anew."""

    record: Chosen
    file: str
    papers: tuple[str, ...]


class Filed(NamedTuple):
    """A paper: its path below `evidence/`, its SHA-256, whether it lay there before, what is to be said."""

    path: str
    sha256: str
    there: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Filing:
    """What is to be written: whole files by path below the season, with the SHA-256 of what they stood on."""

    papers: tuple[Filed, ...]
    namings: tuple[Naming, ...]
    contents: Mapping[str, bytes]
    read: Mapping[str, str]

    def named_anew(self) -> tuple[Naming, ...]:
        """The records that name a paper which they didn't name before."""
        return tuple(naming for naming in self.namings if naming.papers)


def plan_filing(
    season: Season,
    files: Sequence[Path],
    chosen: Sequence[Chosen],
    *,
    to: str = "",
    field: str = "evidence",
) -> Filing:
    """What is written where files are named to records. Raises `EvidenceError`; writes nothing.

    `to` is the path below `evidence/`, by default the file's own name; ending with a stroke it is the folder
    for all of them. A file of that name with other content is never overwritten.
    """
    if to and len(files) > 1 and not to.endswith("/"):
        raise EvidenceError(f"several files can't all be called {to}; name a folder, as in --as letters/")
    papers, contents = _lay(season, files, to)
    told = [paper.path for paper in papers]
    through = papers_through_letters(season)
    namings = [_name(season, record, told, field, through.get(record.identifier, ())) for record in chosen]
    by_file: dict[str, list[Naming]] = {}
    for naming in namings:
        if naming.papers:
            by_file.setdefault(naming.file, []).append(naming)
    contents |= {name: _splice(season, name, some, field) for name, some in by_file.items()}
    read = {name: season.sources[name].sha256 for name in by_file}
    return Filing(tuple(papers), tuple(namings), contents, read)


def _lay(season: Season, files: Sequence[Path], to: str) -> tuple[list[Filed], dict[str, bytes]]:
    """The papers as they will lie below `evidence/`, and what is written there."""
    contents: dict[str, bytes] = {}
    papers = []
    for file in files:
        data = _read(file)
        path = f"{to}{file.name}" if to.endswith("/") or not to else to
        if contents.get(f"{EVIDENCE}/{path}") == data:
            continue
        there = _hold_place(season.folder / EVIDENCE, path, data)
        if contents.get(f"{EVIDENCE}/{path}", data) != data:
            raise EvidenceError(f"two of the files are called {path}; add them one by one, with --as")
        contents[f"{EVIDENCE}/{path}"] = data
        papers.append(Filed(path, hashlib.sha256(data).hexdigest(), there, _notice(path, data)))
    return papers, contents


def file_papers(season: Season, filing: Filing, author: Author) -> bool:
    """Write what was planned, as one change of the season's history; whether anything was to be written.

    Raises `EvidenceError` where a file was changed meanwhile, and as `write_change` does.
    """
    new = filing.named_anew()
    told = [paper.path for paper in filing.papers]
    what = told[0] if len(told) == 1 else count(len(told), "paper")
    about = Counter(naming.record.table for naming in new)
    records = join(count(number, table) for table, number in about.items())
    says = f"{what} named to {records}" if new else f"{what} laid into {EVIDENCE}"
    try:
        change = write_change(season.folder, filing.contents, author, read=filing.read, says=says)
    except ChangedMeanwhileError as fault:
        raise EvidenceError(f"{fault.file} was changed meanwhile; run the command again") from None
    return change is not None


def _name(
    season: Season, record: Chosen, papers: Sequence[str], field: str, through: tuple[str, ...]
) -> Naming:
    """The record with the papers that it doesn't have yet. A sample that has some `through` its letter and
    names one of its own would lose those, so that it names them too.
    """
    if not _takes_papers(record, field):
        raise EvidenceError(f"`{record.table}` has no field `{field}` that takes evidence")
    held = _held(season, record, field)
    through = through if record.table == "screening" and field == "evidence" and not held else ()
    place = season.season_place() if record.row is None else season.place(record.table, record.row)
    new = tuple(dict.fromkeys(path for path in papers if path not in (*held, *through)))
    return Naming(record, place.file, (*through, *new) if new else ())


def _takes_papers(record: Chosen, field: str) -> bool:
    if record.row is None:
        return field == "evidence"
    declared = load_tables()[record.table].fields.get(field)
    return declared is not None and declared.kind == "evidence"


def _held(season: Season, record: Chosen, field: str) -> tuple[str, ...]:
    """What the record itself names under the field."""
    told = season.details.raw if record.row is None else season.record_at(record.table, record.row)
    held = told.get(field, ())
    return (held,) if isinstance(held, str) else tuple(held)


def _splice(season: Season, file: str, namings: Sequence[Naming], field: str) -> bytes:
    """A record file with papers named in it, every other byte as it was."""
    source = season.sources[file]
    before = read_ordinary(season.folder / file)
    if hashlib.sha256(before).hexdigest() != source.sha256:
        raise EvidenceError(f"{file} was changed meanwhile; run the command again")
    wanted = []
    for naming in namings:
        record = naming.record
        papers = [*_held(season, record, field), *naming.papers]
        at = None if record.row is None else int(season.place(record.table, record.row).path[1])
        wanted.append((record.table, at, {field: papers if len(papers) > 1 else papers[0]}))
    text = change_records(source.text, file, wanted)
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    return mark + text.encode()


def _hold_place(folder: Path, path: str, data: bytes) -> bool:
    """Whether the file lies there already. Refuses a place outside the evidence folder, and one where
    another file lies.
    """
    plain = all(part and not part.startswith(".") and part.isprintable() for part in path.split("/"))
    try:
        target = contained_path(folder, path)
    except PathError as fault:
        raise EvidenceError(f"the evidence folder cannot take it: {fault}") from fault
    if not plain:
        raise EvidenceError(
            f"the evidence folder cannot take '{path}': a name has no dot in front and no sign that can't be"
            " seen; give it another with --as"
        )
    if not target.exists():
        return False
    if not target.is_file() or read_ordinary(target) != data:
        raise EvidenceError(
            f"evidence/{path} is there already and is another file; give yours another name with --as"
        )
    return True


def _notice(path: str, data: bytes) -> tuple[str, ...]:
    """What whoever adds a paper should know of it."""
    notes = list(describe_photograph(PurePosixPath(path).name, data))
    if len(data) > _HEAVY_BYTES:
        notes.append(
            f"takes {len(data) / 2**20:.0f} MB, and each packet with the records carries it; a smaller scan "
            "or photo is enough where its words can be read"
        )
    return tuple(notes)


def _read(file: Path) -> bytes:
    try:
        data = read_ordinary(file, FILE_BYTES)
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise EvidenceError(
                f"{file.name} is larger than {FILE_BYTES // 2**20} MB; a smaller scan or photo will do"
            ) from fault
        raise EvidenceError(f"{file}: cannot be read ({fault.strerror})") from fault
    if not data:
        raise EvidenceError(f"{file.name} holds nothing; scan or save it again")
    return data
