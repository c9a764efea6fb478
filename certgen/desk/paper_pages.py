"""Papers: letters and photographs, which records name each, and which records have none.

A paper is copied into the season's `evidence/` and named to all its records in one step. Nothing is put
over a file that is there, and nothing is shown that lies outside `evidence/`.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from starlette.responses import FileResponse

from certgen.desk.answering import RefusedError, address, hand
from certgen.desk.form_fields import is_picture, show_value
from certgen.desk.saving import Mending, save
from certgen.dossier.papers import list_unpapered
from certgen.exchange.editing.evidence import named_evidence
from certgen.exchange.editing.filing import FILE_BYTES
from certgen.exchange.editing.record_choice import expand_names, papers_through_letters
from certgen.records.nouns import noun
from certgen.records.record_files.files import EVIDENCE, find_evidence, list_folder
from certgen.records.rows import plain_rows, plain_values
from certgen.records.tables import load_tables
from certgen.whole_files import PathError, contained_path, read_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot

#: A paper is shown as if it came from nowhere, beside what holds for every answer. The browser's own reader
#: of PDFs, which runs no script in the desk's name, would show nothing then.
_SANDBOX: Final = "sandbox"
_PDF: Final = "application/pdf"
#: What a browser shows by itself, by ending. Anything else it only keeps: a drawing or page may hold scripts.
_SHOWN: Final = {
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".gif": "image/gif",
    ".webp": "image/webp",
    ".txt": "text/plain; charset=utf-8",
    ".pdf": _PDF,
}
#: Tables whose records are named on a paper, the most usual first.
_USUAL: Final = ("screening", "letters", "movements", "tests", "bagging", "lots")
_MOST: Final = 2000


def show_papers(desk: Desk, ask: Ask) -> Response:
    """Every file below `evidence/` with the records that name it, and the records that have none."""
    snapshot = desk.held.look()
    naming: dict[str, list[tuple[str, str]]] = {}
    for one in named_evidence(snapshot.season):
        naming.setdefault(one.path, []).append((one.table, one.id))
    files = snapshot.season.evidence_files
    takes = [name for name, table in load_tables().items() if "evidence" in table.fields and table.key]
    return desk.show(
        "papers",
        snapshot,
        page="papers",
        files=[(name, is_picture(name), naming.get(name, [])) for name in files],
        gone=[
            (name, records)
            for name, records in naming.items()
            if find_evidence(desk.held.folder, name) is None
        ],
        unpapered=list(_list_unpapered(snapshot)),
        tables=sorted(takes, key=lambda name: (_USUAL.index(name) if name in _USUAL else len(_USUAL), name)),
        table=ask.query.get("table", ""),
        records=ask.query.get("records", ""),
        said=ask.query,
    )


def _list_unpapered(snapshot: Snapshot) -> Iterator[tuple[str, int, list[_Without], str]]:
    """Each kind of record that should have a paper: its title, how many there are, those that lack one, and
    the address of a form that names a paper to them all.
    """
    reported: defaultdict[str, list[str]] = defaultdict(list)
    for report, sample in plain_rows(snapshot.result.season.tables["screening"], "report", "sample"):
        if report is not None and sample is not None:
            reported[report].append(sample)
    for kind in list_unpapered(snapshot.result.case):
        records = [_name_unpapered(reported, named, says) for named, says in kind.records]
        table = records[0].table if records else ""
        names = ", ".join(one.names for one in records[:_MOST])
        yield kind.title, kind.of, records, address("papers", table=table, records=names) if table else ""


class _Without(NamedTuple):
    """What has no paper: what it is called, the table and the numbers that the paper would be named to."""

    called: str
    table: str
    names: str
    says: str


def _name_unpapered(reported: Mapping[str, list[str]], named: str, says: str) -> _Without:
    """`reported` are the samples of each report."""
    kind, _, name = named.partition(" ")
    if kind in load_tables():
        return _Without(f"{noun(kind)} {name}", kind, name, says)
    # A report is no record of its own: its paper is named to the samples that it speaks of.
    return _Without(named, "screening", ", ".join(reported.get(name, ())), says)


def show_paper(desk: Desk, ask: Ask) -> Response:
    """One file of the evidence. Raises `RefusedError` for any other."""
    name = ask.path.get("name", "")
    found = find_evidence(desk.held.folder, name)
    if found is None:
        raise RefusedError(f"There is no paper '{name}' in the season's evidence.")
    kind = _SHOWN.get(found.suffix.lower())
    return FileResponse(
        found,
        media_type=kind or "application/octet-stream",
        filename=found.name,
        content_disposition_type="inline" if kind else "attachment",
        headers={
            "cache-control": "no-store",
            **({} if kind == _PDF else {"content-security-policy": _SANDBOX}),
        },
    )


class _PaperError(ValueError):
    """A paper that can't be taken in; the message says why and what to do."""


def send_paper(desk: Desk, ask: Ask) -> Response:
    """Takes a paper in, as a script sends it: its bytes as they are, its name and records in the address."""
    snapshot = desk.held.look()
    try:
        path = _find_path(desk, ask)
        mendings = _name_records(snapshot, ask, path)
        there = _is_there(desk, path, ask.data)
    except _PaperError as fault:
        return _refuse(str(fault))
    outcome = save(desk.held, mendings, papers={} if there else {f"{EVIDENCE}/{path}": ask.data})
    if outcome.refused:
        said = [fault.says for _, fault in outcome.faults]
        said += [f"{one.record} was changed meanwhile; show the page anew." for one in outcome.conflicts]
        return _refuse(" ".join(said))
    return hand({"faults": [], "done": outcome.done or outcome.same, "path": path, "change": outcome.change})


def _refuse(says: str) -> Response:
    return hand({"faults": [says], "done": []}, 422)


def _find_path(desk: Desk, ask: Ask) -> str:
    """Where below `evidence/` the paper is to lie. Raises `_PaperError` for what no paper can be."""
    if not isinstance(ask.data, bytes) or not ask.data:
        raise _PaperError("Choose a file that holds something.")
    path = ask.query.get("name", "").strip()
    parts = path.split("/")
    plain = all(map(_is_plain, parts))
    try:
        contained_path(desk.held.folder / EVIDENCE, path)
    except PathError:
        plain = False
    if not plain or len(parts) > 4:
        raise _PaperError(
            "Give it a plain name, with a folder before it if you like: letters/bf-26-0034.pdf."
        )
    there = {name.casefold(): name for name in list_folder(desk.held.folder).evidence}
    alike = there.get(path.casefold(), path)
    if alike != path:
        raise _PaperError(
            f"evidence/{alike} is there already, the same name on some systems; give yours another."
        )
    if any((desk.held.folder / EVIDENCE / "/".join(parts[:end])).is_file() for end in range(1, len(parts))):
        raise _PaperError(f"A file stands where the folder of {path} would be; give it another name.")
    return path


#: What no file may be called on some system to which the season may be carried.
_RESERVED: Final = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.IGNORECASE)


def _is_plain(part: str) -> bool:
    """Whether a file or a folder can bear a name on every system."""
    return bool(
        part
        and part.isprintable()
        and len(part.encode("utf-8", "replace")) < 200
        and not part.startswith(".")
        and part == part.strip(" .")
        and not set(part) & set('<>:"|?*')
        and not _RESERVED.fullmatch(part)
    )


def _is_there(desk: Desk, path: str, data: bytes) -> bool:
    """Whether the paper is there already. Raises `_PaperError` where another file is."""
    target = desk.held.folder / EVIDENCE / path
    if not target.exists():
        return False
    if not target.is_file() or read_ordinary(target, FILE_BYTES) != data:
        raise _PaperError(f"evidence/{path} is there already and is another file; give yours another name.")
    return True


def _name_records(snapshot: Snapshot, ask: Ask, path: str) -> list[Mending]:
    """The changes that name a paper to the records that were chosen. Raises `_PaperError`."""
    table = ask.query.get("table", "")
    declared = load_tables().get(table)
    if declared is None or "evidence" not in declared.fields or not declared.key:
        raise _PaperError("Choose what the paper is about.")
    known = plain_values(snapshot.season.tables[table][declared.key])
    names, unknown = expand_names(known, ask.query.get("records", ""))
    if unknown:
        raise _PaperError(f"No {noun(table)} is called {', '.join(unknown[:5])}.")
    if not names:
        raise _PaperError("Say which records it belongs to.")
    through = papers_through_letters(snapshot.season) if table == "screening" else {}
    return [_name_paper(snapshot, table, name, path, through) for name in names]


def _name_paper(
    snapshot: Snapshot, table: str, name: str, path: str, through: Mapping[str, tuple[str, ...]]
) -> Mending:
    """The record with the paper among its own, where it isn't yet. A sample that has papers `through` its
    letter keeps them beside its first own one.
    """
    held: Any = (snapshot.season.record(table, name) or {}).get("evidence", ())
    papers = [held] if isinstance(held, str) else list(held or through.get(name, ()))
    now: Any = papers if path in papers else [*papers, path] if papers else path
    return Mending(table, name, {"evidence": now}, {"evidence": show_value(held)})
