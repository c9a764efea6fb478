"""What the folders of several seasons hold, every file named from the latest one's folder."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from certgen.records.places import evidence_from, file_from, moved_from

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.records.places import ReadingError
    from certgen.records.record_files.locating import Span
    from certgen.records.record_files.unread import Unread
    from certgen.records.season import Season, Source


def gather_files(seasons: Iterable[tuple[Season, str]]) -> dict[str, Any]:
    """The fields of a farm that tell of files and of what couldn't be read, from each season and the path of
    its folder."""
    sources: dict[str, Source] = {}
    spans: dict[tuple[str, str], Sequence[Span]] = {}
    left_out: list[ReadingError] = []
    unread: list[Unread] = []
    evidence: list[str] = []
    empty: list[str] = []
    for season, path in seasons:
        sources |= {file_from(path, file): source for file, source in season.sources.items()}
        spans |= {(file_from(path, file), name): part for (file, name), part in season.spans.items()}
        left_out += [moved_from(error, path) for error in season.left_out]
        unread += [replace(left, error=moved_from(left.error, path)) for left in season.unread]
        evidence += [evidence_from(path, file) for file in season.evidence_files]
        empty += [evidence_from(path, file) for file in season.empty_evidence]
    return {
        "sources": sources,
        "spans": spans,
        "left_out": tuple(left_out),
        "unread": tuple(unread),
        "evidence_files": tuple(evidence),
        "empty_evidence": tuple(empty),
    }
