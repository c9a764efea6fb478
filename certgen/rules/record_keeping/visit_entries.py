"""What the records of visits hold: each exercise, request and finding, and whether a paper shows its end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.records.joining.placeholders import says_nothing

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import date

    from certgen.rules.case import Case

#: Kinds of finding that speak against the seed of what they are about.
AGAINST_SEED: Final = ("other seed", "origin", "quantity", "substance")
#: Records of the line, whose seed is in question with them.
_LINE: Final = ("lots", "batches", "harvests", "bagging", "trees", "screening", "plantings", "blocks")
#: Records beside the line, with the field and the table of what on it they speak of.
_BESIDE: Final = (
    ("movements", "lot", "lots"),
    ("tests", "lot", "lots"),
    ("cleaning", "before", "batches"),
    ("inputs", "block", "blocks"),
)


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit: its `row` in the farm's table, its days, and what it is to this season.

    `own` says that it stands in this season's folder, `earlier` that it was before the season began, and
    `strange` that it was at another operation, whose seasons came before.
    """

    visit: str
    row: int
    kind: str
    announced: date | None
    first: date
    until: date | None
    inspector: str
    certifier: str
    own: bool
    earlier: bool
    strange: bool


@dataclass(frozen=True, slots=True)
class Entry:
    """One exercise, request or finding: where it stands in its visit's `column`, and what it says.

    `shown` tells whether each file that it names is filed and stands among the visit's evidence.
    """

    visit: Visit
    column: str
    position: int
    says: Mapping[str, Any]
    shown: Mapping[str, bool]

    def text(self, field: str) -> str:
        """What a field says, empty where it says nothing."""
        told = self.says.get(field)
        return "" if told is None or says_nothing(str(told)) else str(told)

    def day(self, field: str) -> date | None:
        """The day in a field, if one is given."""
        told: date | None = self.says.get(field)
        return told

    @property
    def about(self) -> tuple[str, ...]:
        """The records that it names."""
        return tuple(self.says.get("about") or ())

    @property
    def number(self) -> str:
        """How it is called: a finding by its number, the others by their place in the visit."""
        return str(self.says.get("finding") or f"{self.visit.visit}-{self.position + 1}")


def list_visits(case: Case) -> tuple[Visit, ...]:
    """Every visit of all years, this season's own first."""
    visits = case.columns("visits")
    if not len(visits):
        return ()
    own, strange = case.season.own("visits"), case.strange("visits")
    start = case.season.details.start
    columns = ("visit", "kind", "notice.given", "from", "to", "inspector", "certifier")
    return tuple(
        Visit(
            visit,
            row,
            kind,
            announced,
            first,
            until,
            inspector or "",
            certifier or "",
            own=row < own,
            earlier=first < start,
            strange=bool(strange[row]),
        )
        for row, visit, kind, announced, first, until, inspector, certifier in visits.rows(*columns)
    )


def list_entries(case: Case, column: str) -> Iterator[Entry]:
    """Every entry of a column (`exercises`, `requests` or `findings`) of all visits."""
    visits = case.columns("visits")
    filed = set(case.season.evidence_files) - set(case.season.empty_evidence)
    for visit in list_visits(case):
        named = filed.intersection(visits["evidence"][visit.row])
        for position, says in enumerate(visits[column][visit.row]):
            shown = {field: says.get(field) in named for field in ("paper", "letter")}
            yield Entry(visit, column, position, says, shown)


def is_settled(case: Case, exercise: Entry) -> bool:
    """Whether a difference was cleared up on a day, from the visit to today, and a filed paper shows it."""
    when = exercise.day("settled")
    return when is not None and exercise.visit.first <= when <= case.on and exercise.shown["paper"]


def is_closed(case: Case, finding: Entry) -> bool:
    """Whether somebody named closed a finding, from the visit to today, and a filed letter shows it."""
    when = finding.day("closed")
    return (
        when is not None
        and finding.visit.first <= when <= case.on
        and bool(finding.text("closed_by"))
        and finding.shown["letter"]
    )


def is_answered(case: Case, entry: Entry) -> bool:
    """Whether a finding or a request was answered by today; what was closed needs no answer any more."""
    if entry.column == "findings" and is_closed(case, entry):
        return True
    when = entry.day("done" if entry.column == "findings" else "answered")
    return when is not None and entry.visit.first <= when <= case.on


def nodes_meant(case: Case, about: Iterable[str]) -> tuple[Node, ...]:
    """The records of the line that numbers mean. What stands beside the line means what it speaks of."""
    found: dict[Node, None] = {}
    for one in about:
        for table in _LINE:
            if case.season.row(table, one) is not None:
                found[Node(table, one)] = None
        for table, field, target in _BESIDE:
            row = case.season.row(table, one)
            meant = None if row is None else case.columns(table)[field][row]
            if meant is not None:
                found[Node(target, meant)] = None
    return tuple(found)
