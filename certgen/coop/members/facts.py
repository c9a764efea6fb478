"""What is kept of an examined member: numbers that add up, and the facts that other members' records meet.

Plain values only, so that it can be written as JSON, sent between machines and kept for years. Of lists
that records could make endless only so much is kept; how many there were is always kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple

from certgen.examination import SeasonSummary
from certgen.records.quantities import format_mass

#: Gaps and reading errors kept in full a member; all are counted.
GAPS_KEPT: Final = 150
ERRORS_KEPT: Final = 40
MENDS_KEPT: Final = 5
#: Names kept a lot, a gap or a report.
NAMES_KEPT: Final = 24
#: Parents named a lot: more than a lot of seed from bagged fruit has.
TREES_KEPT: Final = 500
#: Records of a table whose place is kept.
PLACES_KEPT: Final = 1000
TEXT_KEPT: Final = 600

#: How an examination can end.
State = Literal["read", "unreadable", "refused", "lost", "failed"]


class Grams(NamedTuple):
    """How a mass divides by standing, in whole milligrams.

    `unsettled` counts the lots that are unproven as a whole, though each of their grams is traced: their
    sums don't meet.
    """

    traced_mg: int = 0
    unproven_mg: int = 0
    rejected_mg: int = 0
    unaccounted_mg: int = 0
    unsettled: int = 0

    @property
    def whole_mg(self) -> int:
        """All of it."""
        return self.traced_mg + self.unproven_mg + self.rejected_mg + self.unaccounted_mg

    def phrases(self) -> tuple[str, ...]:
        """Each mass with its unit and word, those that there are."""
        return tuple(f"{format_mass(mass)} {word}" for mass, word in self.split())

    def split(self) -> tuple[tuple[int, str], ...]:
        """Each mass with its word, those that there are."""
        words = ("traced", "unproven", "rejected", "unaccounted")
        return tuple((mass, word) for mass, word in zip(self, words, strict=False) if mass)

    @property
    def standing(self) -> str:
        """The worst that any gram has."""
        open_ = self.unproven_mg or self.unaccounted_mg or self.unsettled
        return "rejected" if self.rejected_mg else "unproven" if open_ else "traced"

    def plus(self, other: Grams) -> Grams:
        """Both together."""
        return Grams(*(one + two for one, two in zip(self, other, strict=True)))


class ShareFact(NamedTuple):
    """Grams of a lot that rest on the same lots of other members, by their position in the lot's `outside`.

    `own` is what they are by the member's records alone, `answered` what they are when those lots are traced
    and led to. `blended`: the seed itself came from there, and not the trees that bore it.
    """

    weight_mg: int
    own: str
    answered: str
    needs: tuple[int, ...]
    blended: bool


class LotFact(NamedTuple):
    """A lot as the co-op sees it: this season's, or an earlier one's that others' trees may have grown from.

    `current` says whether the member's season is about it: its own, or one that it has or moves. `own` is its
    standing by the member's records alone; `answered` what it is when every lot of another member that its
    line names is traced there. `outside` are those lots; `shares` divide what was packed by them. `parents`
    counts its seed parents, `cleared` those that screening cleared; `trees` names them, and `uncleared` the
    rest, as many as are kept. `plantings` are where they stand, in these `blocks`. `packed` is an ISO date,
    empty where none is written.
    """

    lot: str
    current: bool
    variety: str
    own: Grams
    answered: Grams
    outside: tuple[str, ...]
    parents: int
    cleared: int
    plantings: tuple[str, ...]
    shares: tuple[ShareFact, ...] = ()
    trees: tuple[str, ...] = ()
    uncleared: tuple[str, ...] = ()
    blocks: tuple[str, ...] = ()
    packed: str = ""


class PlantingFact(NamedTuple):
    """A planting whose origin names a lot; `known` says that the lot is the member's own.

    `planted` is an ISO date, empty where none is written.
    """

    planting: str
    lot: str
    supplier: str
    known: bool
    planted: str = ""
    variety: str = ""
    certificate: str = ""


class MoveFact(NamedTuple):
    """Seed that went to, or came from, somebody: an entry of the stock book with a party, or a bought lot.

    `earlier` ones stand in a season before this one.
    """

    movement: str
    date: str
    lot: str
    kind: str
    weight_mg: int
    party: str
    document: str
    status: str
    table: str = "movements"
    earlier: bool = False


class ReportFact(NamedTuple):
    """A laboratory's report and how many `things` of a table it is claimed for: `trees` or `lots`.

    `samples` are the numbers of the leaf samples that went to the laboratory.
    """

    laboratory: str
    report: str
    table: str
    about: tuple[str, ...]
    things: int
    samples: tuple[str, ...] = ()


class MeasuredFact(NamedTuple):
    """What a table's records measured and counted, with their days and without any number or name: `digest`
    stands for all `entries` of them.
    """

    table: str
    digest: str
    entries: int


class EvidenceFact(NamedTuple):
    """A file that a record names as evidence and that is there. `digest` stands for its bytes
    (`cache.digest_file`).

    `report` is the laboratory report that the record is about, empty where it is about none; `unnamed` counts
    the samples of that report that its text doesn't name (None: it isn't plain text). `lots` rest on the
    record, where it tells of the grower's own work.
    """

    digest: str
    path: str
    table: str
    id: str
    report: str = ""
    unnamed: int | None = None
    lots: tuple[str, ...] = ()


class UseFact(NamedTuple):
    """Equipment used by a batch, or cleaned. `order` is the place among the member's entries of that day.

    `lots` are those that rest on the batch, `before` is the batch that a cleaning made ready for.
    """

    equipment: str
    date: str
    order: int
    cleaning: bool
    record: str
    varieties: tuple[str, ...]
    status: str
    lots: tuple[str, ...] = ()
    before: str = ""


class YieldFact(NamedTuple):
    """Seed packed of a variety, and the screened seed parents that bore it."""

    variety: str
    seed_mg: int
    trees: int


class GapFact(NamedTuple):
    """A gap, with the lot of another member that would answer it, if one would, and those needed `also`."""

    rule: str
    weight: str
    stage: str
    table: str
    id: str
    file: str
    line: int
    message: str
    remedy: str
    lots: tuple[str, ...]
    outside: str
    named: str
    also: tuple[str, ...] = ()


class PaperFact(NamedTuple):
    """Records of one kind that lack their paper: what they are, the first of them as `screening S-1`, how
    many there are, and how many leave seed unproven for want of it."""

    title: str
    names: tuple[str, ...]
    lacking: int
    weighing: int


class MendFact(NamedTuple):
    """What mends most at once: the words, and the milligrams that it proves or leaves traced.

    `outside` are the lots of other members whose records would do it; empty where only an own entry does.
    """

    text: str
    proves_mg: int
    lots: tuple[str, ...]
    outside: tuple[str, ...]


class Stated(NamedTuple):
    """What the member's own records say of the operation. `scale_step_mg` is the last digit of its scale.

    `first` is the day on which the earliest season in reach begins, `start` that on which this one does and
    `last` its last day, as ISO dates.
    """

    operation: str = ""
    certificate: str = ""
    label: str = ""
    standards: tuple[str, ...] = ()
    crop: str = ""
    responsible: str = ""
    scale_step_mg: int = 0
    first: str = ""
    start: str = ""
    last: str = ""


@dataclass(frozen=True, slots=True)
class MemberSummary:
    """One member examined. Masses in whole milligrams; `numbers` can be added to other members'.

    `stages` counts gaps by stage and weight. `balance` holds a mass balance by variety, its columns as
    `figures.balance` names them. `drawn` is by lot that the records name and don't hold how much of it went
    into own lots or left. `blocks` are those with a planting. `errors` say why nothing, or not everything,
    could be read. `absent` are papers that records name and that weren't handed in, `papers` the records that
    lack theirs. `evidence` are files named and there, `measured` what was counted and weighed. `places`
    say in which file and line the records stand that may be told of beside others', by table and number.
    """

    member: str
    state: State
    fingerprint: str = ""
    stated: Stated = field(default_factory=Stated)
    numbers: SeasonSummary = field(default_factory=SeasonSummary)
    stages: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    gaps: tuple[GapFact, ...] = ()
    lots: tuple[LotFact, ...] = ()
    plantings: tuple[PlantingFact, ...] = ()
    moves: tuple[MoveFact, ...] = ()
    reports: tuple[ReportFact, ...] = ()
    uses: tuple[UseFact, ...] = ()
    yields: tuple[YieldFact, ...] = ()
    balance: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    drawn: Mapping[str, int] = field(default_factory=dict)
    blocks: tuple[str, ...] = ()
    mend: tuple[MendFact, ...] = ()
    errors: tuple[str, ...] = ()
    error_count: int = 0
    crashed: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    absent_count: int = 0
    papers: tuple[PaperFact, ...] = ()
    evidence: tuple[EvidenceFact, ...] = ()
    measured: tuple[MeasuredFact, ...] = ()
    places: Mapping[str, tuple[str, int]] = field(default_factory=dict)


def shorten(text: str) -> str:
    """Text as it is kept: what a record could make endless ends here."""
    return text if len(text) <= TEXT_KEPT else f"{text[: TEXT_KEPT - 1]}…"
