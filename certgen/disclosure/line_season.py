"""The season cut down to the line of some lots, for the certifier: its own files without the records of
others, and the papers of those that stay."""

from __future__ import annotations

import posixpath
import shutil
import tempfile
from collections import defaultdict
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.disclosure.disclosing import DisclosureError, judge_lot, keep_lots, say_differing
from certgen.disclosure.file_cuts import cut_file
from certgen.disclosure.line_records import WIDER, LineRecords, choose_line
from certgen.examination import ReadFailure, examine
from certgen.manifest import LeftOut, list_folders
from certgen.records.record_files.files import find_evidence
from certgen.records.tables import TABLE_NAMES
from certgen.rules.wording import join
from certgen.whole_files import contained_path

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.disclosure.choice import Rows
    from certgen.disclosure.disclosing import Verdict
    from certgen.examination import Result
    from certgen.records import Season
    from certgen.records.supplied import PacketReader

_HOME: Final = "season"
_INSTEAD: Final = "make the packet of the whole season instead (without --lot)"


@contextmanager
def cut_to_lots(
    result: Result, lots: Sequence[str], *, packets: PacketReader | None = None
) -> Iterator[tuple[Result, LeftOut]]:
    """The season of some lots' line alone, examined, and what of the whole isn't in it; its folder goes when
    the block ends.

    `packets` is as in `examine`. Raises `DisclosureError` where a lot would come out other than the whole
    season says, `KeyError` for a lot that the season doesn't tell of.
    """
    wanted = tuple(dict.fromkeys(lots))
    whole = {lot: judge_lot(result, lot) for lot in wanted}
    if result.errors or result.crashed:
        raise DisclosureError(
            "parts of the records can't be read, so nobody knows whether they are of the lot's line; put them"
            f" right first (certgen check names them), or {_INSTEAD}"
        )
    last: dict[str, Verdict | None] = {}
    for rows in _list_choices(result, wanted):
        with tempfile.TemporaryDirectory(prefix="certgen-line-") as name:
            root = Path(name).resolve()
            folder, left_out = _write(LineRecords(result, rows), result, root, wanted)
            found = _examine(folder, result, root, packets)
            last = {lot: judge_lot(found, lot) if lot in found.lots else None for lot in wanted}
            if last == whole:
                yield keep_lots(found, wanted), left_out
                return
    lot = next(one for one in wanted if last[one] != whole[one])
    seen = last[lot]
    said = "nothing would be left of it" if seen is None else say_differing(whole[lot], seen)
    raise DisclosureError(f"lot {lot} doesn't come out the same by its own line alone: {said}; {_INSTEAD}")


def _list_choices(result: Result, lots: Sequence[str]) -> Iterator[Rows]:
    """The records to be kept, the fewest first, no choice twice."""
    tried: list[Rows] = []
    for measure in WIDER:
        rows = choose_line(result, lots, measure)
        if rows not in tried:
            tried.append(rows)
            yield rows


def _examine(folder: Path, result: Result, root: Path, packets: PacketReader | None) -> Result:
    """The cut-down season, examined. Raises `DisclosureError` where it can't be read."""
    try:
        found = examine(folder, result.on, within=root, packets=packets)
    except ReadFailure as failure:
        raise DisclosureError(_say_unreadable(failure.errors[0].message)) from failure
    if found.errors:
        raise DisclosureError(_say_unreadable(found.errors[0].text()))
    return replace(found, version=result.version)


def _say_unreadable(message: str) -> str:
    return f"cut down to the lot's line these records can't be read ({message}); {_INSTEAD}"


class _Papers(NamedTuple):
    """By the texts in records: what those that stay say, and what those say that went or were cut."""

    stays: set[str]
    shared: set[str]


def _by_last_part(texts: set[str]) -> Mapping[str, list[str]]:
    """Texts by what stands behind their last slash: as a path, the file's name."""
    found: defaultdict[str, list[str]] = defaultdict(list)
    for text in texts:
        found[posixpath.basename(text)].append(text)
    return found


def _write(records: LineRecords, result: Result, root: Path, lots: Sequence[str]) -> tuple[Path, LeftOut]:
    """Writes what belongs to the line below an empty folder: the season's folder there, what was left
    out."""
    whose = f"lot {lots[0]}" if len(lots) == 1 else f"lots {join(lots)}"
    folders = list(list_folders(result.season))
    climbs = max(path.split("/").count("..") for _, path, _ in folders)
    home = "/".join([*(f"above-{at}" for at in range(climbs)), _HOME])
    shared: list[str] = []
    files = 0
    for number, (name, path, season) in enumerate(folders):
        folder = contained_path(root, posixpath.normpath(posixpath.join(home, path)))
        folder.mkdir(parents=True, exist_ok=True)
        papers, written = _write_records(records, number, season, folder, whose)
        stays, others = _by_last_part(papers.stays), _by_last_part(papers.shared)
        carried = [paper for paper in season.evidence_files if _is_named(season, paper, stays)]
        for paper in carried:
            target = folder / "evidence" / paper
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(season.folder / "evidence" / paper, target)
        files += len(season.sources) - written + len(season.evidence_files) - len(carried)
        lead = f"{name}/" if name else ""
        shared += [f"{lead}evidence/{one}" for one in carried if _is_named(season, one, others)]
    return contained_path(root, home), LeftOut(_count_left_out(records), files, tuple(shared))


def _write_records(
    records: LineRecords, number: int, season: Season, folder: Path, whose: str
) -> tuple[_Papers, int]:
    """Writes one season's record files, as far as anything of them belongs; how many were written."""
    kept: dict[str, dict[str, set[int]]] = {file: {} for file in season.sources}
    for name in TABLE_NAMES:
        for row, file, at in season.columns(name).rows("file", "at"):
            if row in records.kept[number][name]:
                kept[file].setdefault(name, set()).add(at)
    papers, written = _Papers(set(), set()), 0
    for file, source in season.sources.items():
        cut = cut_file(
            source.text,
            file,
            kept[file],
            lambda tables, text: records.cut_text(number, tables, text),
            whose,
        )
        papers.stays.update(cut.stays)
        papers.shared.update(cut.shared)
        if cut.text:
            target = contained_path(folder, file)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(cut.text.encode())
            written += 1
    return papers, written


def _is_named(season: Season, paper: str, texts: Mapping[str, Sequence[str]]) -> bool:
    """Whether any of some texts, by their last parts, names a file of evidence, however it is spelt."""
    named = texts.get(posixpath.basename(paper), ())
    if paper in named:
        return True
    place = find_evidence(season.folder, paper) if named else None
    return any(find_evidence(season.folder, text) == place for text in named)


def _count_left_out(records: LineRecords) -> tuple[tuple[str, int], ...]:
    """By table how many records aren't of the line."""
    counts = {
        name: sum(
            len(season.columns(name)) - len(records.kept[number][name])
            for number, season in enumerate(records.seasons)
        )
        for name in TABLE_NAMES
    }
    return tuple(sorted((name, count) for name, count in counts.items() if count))
