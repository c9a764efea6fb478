"""What a member handed in beside its records, and what its records measured: to be held against others'."""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from itertools import islice
from typing import TYPE_CHECKING, Final

from certgen.coop.members.cache import digest_file
from certgen.coop.members.facts import NAMES_KEPT, EvidenceFact, MeasuredFact, shorten
from certgen.exchange.editing.evidence import named_evidence
from certgen.lineage import Node
from certgen.records.record_files.files import find_evidence

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from certgen.examination import Result
    from certgen.exchange.editing.evidence import Named
    from certgen.records import Season

#: Records of the grower's own work: what shows it can't show another's.
OWN_WORK: Final = frozenset({"trees", "bagging", "rounds", "harvests", "batches", "observations", "scouting"})
#: Records of what a laboratory wrote: one letter may well be about several members' samples.
LETTERS: Final = frozenset({"letters", "screening", "tests", "submissions"})
#: What goes from hand to hand with goods, and labels of what is bought: the same at everybody who has them.
_GOODS: Final = frozenset(
    {"movements", "inputs", "materials", "plantings", "compost", "lots", "recalls", "visits"}
)
_LINEAGE: Final = frozenset({"trees", "bagging", "harvests", "batches"})
#: Files kept a member. Of more the first in the order of the tables are.
_FILES_KEPT: Final = 2000
#: A smaller file says too little to be anybody's own; a larger text is no letter.
_LEAST_BYTES, _MOST_TEXT = 12, 1 << 18
#: What records measure or count, and when: columns that hold no number or name of anything.
_MEASURED: Final = {
    "screening": ("collected", "petiole_mm"),
    "bagging": ("covered", "uncovered"),
    "harvests": ("date", "fruits", "weight_mg"),
    "batches": ("date", "wet_weight_mg", "dry_weight_mg", "moisture_pct"),
    "lots": ("packed", "weight_mg"),
    "tests": ("date", "replicates"),
}


def list_evidence(result: Result) -> Iterator[EvidenceFact]:
    """The files that records name and that are there: of a laboratory's letter the first record that names it
    for a report, of other papers each.
    """
    season, reports, samples = result.season, _list_reports(result), samples_by_report(result)
    digests: dict[str, str] = {}
    for named in islice(_name_once(season, reports), _FILES_KEPT):
        path = find_evidence(season.folder, named.path)
        if path is None or path.stat().st_size < _LEAST_BYTES:
            continue
        if named.path not in digests:
            digests[named.path] = digest_file(path, path.stat().st_size)
        report = reports.get((named.table, named.id), "")
        lots = result.lineage.lots_reached(Node(named.table, named.id)) if named.table in _LINEAGE else ()
        yield EvidenceFact(
            digests[named.path],
            shorten(named.path),
            named.table,
            shorten(named.id),
            shorten(report),
            _count_unnamed(path, samples.get(report, {})) if report else None,
            tuple(lots)[:NAMES_KEPT],
        )


def _name_once(season: Season, reports: Mapping[tuple[str, str], str]) -> Iterator[Named]:
    """The papers named, but what goes with goods; a letter once for each report."""
    told: set[tuple[str, str]] = set()
    for named in named_evidence(season):
        letter = (named.path, reports.get((named.table, named.id), ""))
        if named.table in _GOODS or (named.table in LETTERS and letter in told):
            continue
        told.add(letter)
        yield named


def _list_reports(result: Result) -> Mapping[tuple[str, str], str]:
    """The laboratory report that a record is about, by table and number."""
    season = result.season
    letters = season.columns("letters").rows("letter", "report")
    found = {("letters", name): report or name for _, name, report in letters}
    for table, key in (("screening", "sample"), ("tests", "test")):
        records = season.columns(table)
        for _, name, report in records.rows(key, "report", where=records.known("report")):
            found[table, name] = report
    return found


def samples_by_report(result: Result) -> Mapping[str, Mapping[str, str]]:
    """The leaf samples that each report is claimed for, each with its mark."""
    screening = result.season.columns("screening")
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for _, sample, mark, report in screening.rows(
        "sample", "mark", "report", where=screening.known("report")
    ):
        found[report][sample] = mark or ""
    return found


def _count_unnamed(path: Path, samples: Mapping[str, str]) -> int | None:
    """How many of the samples a letter's text names neither by number nor by mark; None for what isn't plain
    text.
    """
    if path.suffix.lower() not in {".txt", ".csv", ".md"} or path.stat().st_size > _MOST_TEXT:
        return None
    try:
        text = path.read_text(encoding="utf-8").casefold()
    except (OSError, ValueError):
        return None
    words = set(re.findall(r"[\w./-]*\w", text))
    return sum(not {sample.casefold(), mark.casefold()} & words for sample, mark in samples.items())


def list_measured(result: Result) -> Iterator[MeasuredFact]:
    """What was measured and counted, by table, where there is more than one record of it."""
    for table, columns in _MEASURED.items():
        records = result.season.columns(table)
        there = [name for name in columns if name in records]
        entries = sorted(" ".join(map(str, values)) for _, *values in records.rows(*there))
        if len(entries) > 1:
            yield MeasuredFact(table, hashlib.sha256("\n".join(entries).encode()).hexdigest(), len(entries))
