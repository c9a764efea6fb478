"""A season's folder to a `Season`, with every reading error of the run beside it."""

from __future__ import annotations

import stat
from array import array
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from certgen.collector import pause_collector
from certgen.records.places import ReadingError, Refusals
from certgen.records.record_files.cache import ExtractCache
from certgen.records.record_files.details import FoundSeason, WordsOf, find_season
from certgen.records.record_files.extracts import (
    Extract,
    SharedTexts,
    Stretch,
    TableReader,
    lay_into_columns,
)
from certgen.records.record_files.files import (
    FolderContents,
    lay_over,
    list_folder,
    read_bytes,
    refuse_length,
)
from certgen.records.record_files.limits import EARLIER_SEASONS, SEASON_BYTES
from certgen.records.record_files.locating import Span, Spans, locate_in_span
from certgen.records.record_files.parsing import ParsingError, decode
from certgen.records.record_files.stray_files import find_home, find_several_seasons, set_strays_aside
from certgen.records.record_files.unread import find_unread
from certgen.records.season import Season, SeasonDetails, Source, digest
from certgen.records.tables import load_tables
from certgen.whole_files import name_type

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import pandas as pd

    from certgen.records.frames import Tables


def read_season(
    folder: Path,
    *,
    within: Path | None = None,
    words_of: WordsOf | None = None,
    cache: Path | None = None,
    refusals: Sequence[Refusals] = (),
    instead: Mapping[str, bytes] = MappingProxyType({}),
    _later: tuple[Path, ...] = (),
) -> tuple[Season | None, tuple[ReadingError, ...]]:
    """Read a season's folder: all errors in one run, the broken records left out, the rest as a `Season`.

    The season is None only when nothing can be checked: no such folder, or no sound `season` mapping.
    `words_of` gives the words that a crop's profile allows (ValueError: a crop it doesn't know); without it
    such words are taken as they stand. `within` bounds where `previous` may lead. `cache` is a folder for
    parsed files, None keeps nothing. `refusals` are what was told of the folder where these files lay, this
    season's first, then those of the seasons before: it counts as if it were found here. `instead` are files
    of this season, by their path, that are read as if they held these bytes, whether they are there or not.
    Errors of earlier seasons come last, their files named from this folder.
    """
    refusal, listing = _look_into(folder, instead)
    if refusal:
        return None, (ReadingError(folder.as_posix(), None, None, refusal),)
    told = refusals[len(_later)] if len(_later) < len(refusals) else Refusals()
    errors = [*listing.errors, *told.files]
    with pause_collector():
        sources = _read_sources(folder, listing.records, instead, errors)
        if several := find_several_seasons(folder, sources):
            return None, (ReadingError(folder.as_posix(), None, None, several),)
        refused = tuple(errors)
        read = _read_files(sources, words_of, ExtractCache(cache))
        errors.extend(read.errors())
        if read.season.details is None:
            errors.extend(_say_no_season(folder, listing, sources, read))
            return None, tuple(sorted(errors, key=_order))
        frames = _build_tables(read.extracts)
    spans = read.spans()
    previous, earlier = (None, told.before) if told.before else _read_previous(
        folder, read.season.details, spans, sources,
        within=within, words_of=words_of, cache=cache, refusals=refusals, later=_later,
    )  # fmt: skip
    left_out = [error for extract in read.extracts.values() for error in extract.left_out]
    # A season before that is named and can't be read at all may hold anything.
    lost = earlier if previous is None else ()
    found = Season(
        folder=folder,
        details=read.season.details,
        tables=frames,
        sources=sources,
        left_out=tuple(sorted(left_out, key=_order)),
        previous=previous,
        evidence_files=tuple(listing.evidence),
        empty_evidence=tuple(listing.empty),
        unread=find_unread(left_out, [*errors, *lost], spans, sources),
        spans=spans,
        refused=refused,
        lost=lost,
        partial=_build_partial({file: one.partial for file, one in read.extracts.items() if one.partial}),
    )
    return found, (*sorted(errors, key=_order), *earlier)


def _look_into(folder: Path, instead: Mapping[str, bytes]) -> tuple[str, FolderContents]:
    """What a folder holds, and why it is none of a season; an empty text if it may be."""
    try:
        mode = folder.stat().st_mode
    except OSError:
        if instead:
            return "", lay_over(FolderContents(), instead)
        return "there is no such folder", FolderContents()
    if not stat.S_ISDIR(mode):
        return f"is {name_type(mode)}; name the folder it lies in", FolderContents()
    listing = lay_over(list_folder(folder), instead)
    if listing.records or listing.errors:
        return "", listing
    asks = find_home(folder, listing.evidence) or "`certgen new` lays a season out"
    return f"holds no record file (*.yaml); {asks}", listing


@dataclass(frozen=True, slots=True)
class _ReadFiles:
    """What a folder's record files hold: the `season` mapping, and each file's part of the tables."""

    season: FoundSeason
    extracts: Mapping[str, Extract]

    def errors(self) -> Iterator[ReadingError]:
        yield from self.season.errors
        for extract in self.extracts.values():
            yield from extract.errors

    def spans(self) -> dict[tuple[str, str], Sequence[Span]]:
        """By file and table where each record stands."""
        found: dict[tuple[str, str], Sequence[Span]] = {
            (file, name): stretch.spans
            for file, extract in self.extracts.items()
            for name, stretch in extract.stretches.items()
        }
        if self.season.span is not None:
            found[self.season.file, "season"] = Spans([self.season.span])
        return found


def _order(error: ReadingError) -> tuple[str, int, int, str]:
    return (error.file, error.line or 0, error.column or 0, error.message)


def _read_sources(
    folder: Path, files: list[str], instead: Mapping[str, bytes], errors: list[ReadingError]
) -> dict[str, Source]:
    sources: dict[str, Source] = {}
    budget = SEASON_BYTES
    for file in files:
        data: bytes | ReadingError
        if file in instead:
            data = refuse_length(file, len(instead[file]), budget) or instead[file]
        else:
            data = read_bytes(folder, file, budget)
        if isinstance(data, ReadingError):
            errors.append(data)
            continue
        budget -= len(data)
        try:
            sources[file] = Source(decode(data, file), digest(data), len(data))
        except ParsingError as fault:
            errors.append(fault.error)
    set_strays_aside(sources, errors)
    return sources


def _read_files(sources: Mapping[str, Source], words_of: WordsOf | None, cache: ExtractCache) -> _ReadFiles:
    known = {file: cache.load(source.sha256) for file, source in sources.items()}
    # What the cache holds was sound, and nothing that holds a `season` is ever put into it.
    texts = {file: source.text for file, source in sources.items() if known[file] is None}
    season = find_season(texts, words_of)
    reader = TableReader(season.words, (season.file, season.line))
    found: dict[str, Extract] = {}
    for file, source in sources.items():
        extract = known[file]
        if extract is None or not cache.fits(extract, season.words):
            extract = reader.read(source.text, file)
            cache.store(source.sha256, extract, source.size, season.words)
        found[file] = extract
    cache.prune()
    return _ReadFiles(season, found)


def _say_no_season(
    folder: Path, listing: FolderContents, sources: Mapping[str, Source], read: _ReadFiles
) -> list[ReadingError]:
    """That there is no `season` mapping, where that is so."""
    if read.season.file:
        return []
    broken = [file for file, extract in read.extracts.items() if extract.errors and not extract.stretches]
    if any("season" in sources[file].text for file in broken):
        # It stands, most likely, in a file that is in the list of errors already.
        return []
    asks = find_home(folder, listing.evidence) or (
        "write a `season:` entry with operation, label, from, to, crop, standards"
    )
    return [ReadingError(folder.as_posix(), None, None, f"no file says whose season this is: {asks}")]


def _build_tables(extracts: Mapping[str, Extract]) -> Tables:
    from certgen.records.frames import Tables, build_columns

    return Tables({
        name: build_columns(
            table,
            [
                (file, extract.stretches[name])
                for file, extract in extracts.items()
                if name in extract.stretches
            ],
        )
        for name, table in load_tables().items()
    })  # fmt: skip


def _build_partial(
    partial: Mapping[str, Mapping[str, Sequence[tuple[int, dict[str, Any]]]]],
) -> dict[str, pd.DataFrame]:
    """By table what is left of records that were left out; `partial` gives it by file and table."""
    from certgen.records.frames import build_frame, drop_untyped

    names = dict.fromkeys(name for tables in partial.values() for name in tables)
    shared = SharedTexts()
    found = {}
    for name in names:
        table, stretches = load_tables()[name], []
        for file, tables in partial.items():
            records = [(at, drop_untyped(table, record)) for at, record in tables.get(name, ())]
            stretch = Stretch(at=array("I", [at for at, _ in records]))
            lay_into_columns(table, [record for _, record in records], stretch.columns, 0, shared)
            stretches.append((file, stretch))
        found[name] = build_frame(table, stretches)
    return found


def _read_previous(
    folder: Path,
    details: SeasonDetails,
    spans: Mapping[tuple[str, str], Sequence[Span]],
    sources: Mapping[str, Source],
    *,
    within: Path | None,
    words_of: WordsOf | None,
    cache: Path | None,
    refusals: Sequence[Refusals],
    later: tuple[Path, ...],
) -> tuple[Season | None, tuple[ReadingError, ...]]:
    if not details.previous:
        return None, ()

    def refuse(message: str) -> tuple[None, tuple[ReadingError, ...]]:
        span = spans[details.file, "season"][0]
        line, column = locate_in_span(sources[details.file].text, span, {0: ("previous",)})[0]
        return None, (ReadingError(details.file, line, column, message, field="previous"),)

    seen = (*later, folder.resolve())
    target, is_folder = _resolve(folder, details.previous)
    if within is not None and not target.is_relative_to(within.resolve()):
        return refuse(f"`previous` leads out of the folder that may be read ('{details.previous}')")
    if not is_folder:
        return refuse(f"`previous` names '{details.previous}', and there is no such folder")
    if target in seen:
        return refuse("`previous` leads back to a season that has been read already")
    if len(seen) > EARLIER_SEASONS:
        return refuse(f"more than {EARLIER_SEASONS} earlier seasons follow one another; name fewer")
    season, errors = read_season(
        target, within=within, words_of=words_of, cache=cache, refusals=refusals, _later=seen
    )
    named = tuple(
        replace(
            error,
            file=details.previous if error.file == target.as_posix() else f"{details.previous}/{error.file}",
        )
        for error in errors
    )
    return season, named


def _resolve(folder: Path, path: str) -> tuple[Path, bool]:
    """Where a path seen from a folder leads, and whether there is a folder; itself if no system could say."""
    try:
        target = (folder / path).resolve()
        return target, target.is_dir()
    except (OSError, RuntimeError, ValueError):
        return folder, False
