"""The documents of the index: an entry each, by number or file name, with what opens it.

A paper's pages are those of the records that name it and of the gaps that stand at them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.records.joining.renaming import FILES_IN_PARTS
from certgen.records.rows import is_absent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from certgen.report.context import Context

_PHOTOS: Final = frozenset({".heic", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".webp"})
#: The field of a table that bears the number of its papers, and what they are called in the index.
_NUMBERED: Final = {
    "movements": ("document", "Invoices and documents"),
    "letters": ("report", "Letters and reports"),
    "screening": ("report", "Letters and reports"),
    "tests": ("report", "Letters and reports"),
    "water_tests": ("report", "Letters and reports"),
    "submissions": ("receipt", "Letters and reports"),
}
_OTHERS: Final = "Certificates and other papers"
_PICTURES: Final = "Photos"
_ORDER: Final = ("Letters and reports", "Invoices and documents", _OTHERS, _PICTURES)


@dataclass(slots=True)
class _Paper:
    """A paper while records are gone through: what it is, its numbers, where it stands, what opens it."""

    kind: str
    href: str = ""
    numbers: dict[str, None] = field(default_factory=dict)
    anchors: dict[str, None] = field(default_factory=dict)

    def note(self, anchors: Iterable[str], number: str, kind: str) -> None:
        """Say where it stands, and of which number and kind a record says that it is."""
        self.anchors |= dict.fromkeys(anchors)
        if number:
            self.numbers[number] = None
            self.kind = self.kind if self.kind == _PICTURES else kind


def index_papers(
    context: Context,
) -> tuple[tuple[str, tuple[tuple[str, tuple[str, ...], str], ...]], ...]:
    """The documents by kind: name, the anchors where it stands, and what opens it (or an empty text)."""
    papers = _gather(context)
    _join_copies(papers)
    named = sorted(((_name(path, paper), paper) for path, paper in papers.items()), key=lambda one: one[0])
    kinds = [kind for kind in _ORDER if any(paper.kind == kind for _, paper in named)]
    return tuple(
        (kind, tuple((name, tuple(one.anchors), one.href) for name, one in named if one.kind == kind))
        for kind in kinds
    )


def _gather(context: Context) -> dict[str, _Paper]:
    """Each file by its path, and each numbered document of which none is filed."""
    papers = {path: _Paper(_kind(path), href) for path, href in context.evidence_names().items()}
    for table in context.tables:
        for id_, files, number in _read(context, table):
            kind = _NUMBERED[table][1] if number else ""
            filed = [papers[file] for file in files if file in papers]
            if number and not filed:
                filed.append(papers.setdefault(f"\0{kind}/{number}", _Paper(kind)))
            gaps = (f"gap/{one}" for one in context.result.numbers_of(Node(table, id_)))
            for paper in filed:
                paper.note((f"row/{table}/{id_}", f"{table}/{id_}", *gaps), number, kind)
    return papers


def _join_copies(papers: dict[str, _Paper]) -> None:
    """One entry a document: where a record bears only the number of a paper that is filed, it is that one."""
    filed = {number: paper for paper in papers.values() if paper.href for number in paper.numbers}
    for path, paper in list(papers.items()):
        for number in () if paper.href else paper.numbers:
            if number in filed:
                filed[number].anchors |= paper.anchors
                del papers[path]


def _kind(path: str) -> str:
    return _PICTURES if PurePosixPath(path).suffix.lower() in _PHOTOS else _OTHERS


def _name(path: str, paper: _Paper) -> str:
    """The number that a paper bears, or its file's name where it bears none or several."""
    if len(paper.numbers) == 1:
        return next(iter(paper.numbers))
    return paper.href.replace("evidence/", "", 1) or path


def _read(context: Context, table: str) -> Iterator[tuple[str, list[str], str]]:
    """Of each record of the season its identifier, the files that it names, and its papers' number."""
    columns, key = context.season.columns(table), context.tables[table].key
    if not key:
        return
    number = _NUMBERED.get(table, ("", ""))[0]
    names = columns.values(key)
    numbers = columns.values(number) if number else [None] * len(names)
    for id_, files, bears in zip(names, _list_files(context, table), numbers, strict=True):
        if id_ is not None:
            yield str(id_), files, "" if is_absent(bears) else str(bears)


def _list_files(context: Context, table: str) -> list[list[str]]:
    """The files that each record names, in fields of its own and in entries of its lists."""
    columns = context.season.columns(table)
    files: list[list[str]] = [[] for _ in range(len(columns))]
    for column in context.tables[table].columns:
        inside = FILES_IN_PARTS.get((table, column.name), ())
        if column.kind != "evidence" and not inside:
            continue
        for listed, value in zip(files, columns.values(column.name), strict=True):
            if column.kind == "evidence":
                listed.extend(_files(value))
            for part in inside:
                listed.extend(entry[part] for entry in value or () if entry.get(part))
    return files


def _files(value: Any) -> list[str]:
    if is_absent(value):
        return []
    return [value] if isinstance(value, str) else list(value)
