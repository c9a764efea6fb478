"""The claim as a whole: what nothing shows, what own figures let pass, and doubtful seed that has left."""

from __future__ import annotations

from datetime import date
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.lineage.reach import unite
from certgen.records.quantities import format_mass
from certgen.rules.clauses import RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.obligations import GENERAL, OBLIGATIONS, open_rows
from certgen.rules.registry import load_rules, rule
from certgen.rules.seed.departures import LEAVING, TOLD
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from certgen.lineage.faults import Touch
    from certgen.rules.case import Case
    from certgen.rules.findings import Gap
    from certgen.rules.registry import Rule


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Write down what shows it, in the record or in the round, letter or routine that it was true of. "
    "The page 'What traced means' names the fields.",
    turn="claim",
)
def claim_unproven(case: Case) -> Iterator[Finding]:
    """Something that the claim needs is shown by nothing, and no other check says why.

    Seed is traced only when every step behind it is shown. Whatever no rule has a word for is unproven all
    the same.
    """
    told = _told_by_rule(case)
    for one in OBLIGATIONS:
        tables = (told[slug] for slug in (*one.rules, *GENERAL) if slug in told)
        known = set[str]().union(*(by_table.get(one.table, ()) for by_table in tables))
        silent = [(row, identifier) for row, identifier in open_rows(case, one) if identifier not in known]
        if not silent:
            continue
        identifiers = [identifier for _, identifier in silent]
        names = name(one.table, identifiers)
        was = "was" if len(identifiers) == 1 else "were"
        says = one.says.format(names=names, was=was)
        briefly = name(one.table, identifiers, most=1)
        message, supply = f"Nothing in the records shows that {says}.", f"what shows that {says}"
        headline = f"Not shown: {one.says.format(names=briefly, was=was)}"
        touches: Touch = "whole" if one.key == "lot-accounted" else "own"
        for row, identifier in silent:
            yield Finding(
                one.table,
                identifier,
                row,
                (),
                message,
                weight="unproven",
                cause=one.key,
                touches=touches,
                supply=supply,
                headline=headline,
            )


def _told_by_rule(case: Case) -> dict[str, Mapping[str, AbstractSet[str]]]:
    """By rule, and by table, the records that its gaps touch, advice apart."""
    starts: dict[str, set[Node]] = {}
    lots: dict[str, list[Sequence[str]]] = {}
    for gap in case.gaps:
        if gap.weight != "advice":
            starts.setdefault(gap.rule, set()).update(gap.starts)
            if gap.touches != "own" or gap.table == "movements":
                lots.setdefault(gap.rule, []).append(gap.lots)
    # Several rules speak of the same thousands of records; what rests on those is looked for once.
    resting: dict[frozenset[Node], Mapping[str, AbstractSet[str]]] = {}
    told = {}
    for slug, nodes in starts.items():
        key = frozenset(nodes)
        if key not in resting:
            resting[key] = _split_by_table((*key, *case.lineage.claim_forward_of(key)))
        told[slug] = resting[key]
        if slug in lots:
            told[slug] = {**told[slug], "lots": unite(lots[slug]).union(told[slug].get("lots", ()))}
    return told


def _split_by_table(nodes: Iterable[Node]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for table, identifier in nodes:
        found.setdefault(table, set()).add(identifier)
    return found


@rule(
    weight="advice",
    clauses=("us-nop:205.201(a)(2)", "us-nop:205.103(b)(2)"),
    remedy="Have the figure's ground at hand: an inspector will ask for it. The crop's own figure "
    "stands in the pages on how everything was computed.",
    turn="gaps",
)
def own_figure_loosens(case: Case) -> Iterator[Finding]:
    """A figure of the season's own lets something pass that the crop's figure would not.

    Own figures are allowed where the crop's is a matter of practice, within its bounds. What they made of the
    findings is said.
    """
    own = _own_figures(case)
    lost = _list_lost(case, [slug for slugs in own.values() for slug in slugs])
    if not lost:
        return
    telling = {
        steps: join(f"{slug} at {_some(lost[slug])}" for slug in slugs if slug in lost)
        for steps, slugs in own.items()
    }
    told = {steps: what for steps, what in telling.items() if what}
    season = "; ".join(f"`{steps[-1]}` lets pass {what}" for steps, what in told.items())
    yield Finding(
        "season",
        case.season.details.label,
        None,
        next(iter(told)),
        f"By the crop's own figures more would be found. The season's {season}.",
        weight="advice",
        reaches=(),
    )


def _list_lost(case: Case, slugs: Sequence[str]) -> dict[str, list[str]]:
    """By rule the records at which it would find more, or find it graver, by the crop's own figures."""
    if not slugs:
        return {}
    rules = load_rules()
    told: dict[tuple[str, str], bool] = {}
    for gap in case.gaps:
        for identifier in gap.ids:
            place = (gap.rule, identifier)
            told[place] = told.get(place, False) or gap.weight != "advice"
    book = case.by_the_book()
    lost = {}
    for slug in dict.fromkeys(slug for slug in slugs if slug in rules):
        found = (
            finding.id for finding in rules[slug].check(book) if _is_lost(case, rules[slug], finding, told)
        )
        if names := list(islice(_without_repeats(found), _MOST_LOST)):
            lost[slug] = names
    return lost


def _is_lost(case: Case, rule: Rule, finding: Finding, told: Mapping[tuple[str, str], bool]) -> bool:
    """Whether the season's own figures hide a finding; `told` says of each place whether gravely."""
    place = (rule.slug, finding.id)
    if place not in told:
        return True
    grave = (finding.weight or rule.weight) != "advice"
    return grave and not told[place] and _touches_lot(case, finding)


def _without_repeats(names: Iterable[str]) -> Iterator[str]:
    seen: set[str] = set()
    for identifier in names:
        if identifier not in seen:
            seen.add(identifier)
            yield identifier


#: So many records at which a rule would find more are counted, and after that no longer.
_MOST_LOST: Final = 200
#: What rests on which events are to be ruled out, and on the scale's step.
_OF_EVENTS: Final = ("method-does-not-cover", "screened-after-covering", "sold-before-cleared")
_OF_SCALE: Final = (
    "ledger-does-not-close", "batch-overdrawn", "batch-remainder-unaccounted", "lot-overdrawn",
    "lot-without-source", "lot-packing-differs", "carry-over-differs", "returned-seed-mixed",
)  # fmt: skip


#: Figures that there is one of for each kind of storage, with the rule that cites the one it needs.
_BY_STORAGE: Final = {
    "storage_months_": "storage-too-long",
    "storage_c_": "storage-temperature-out-of-range",
}


def _own_figures(case: Case) -> dict[tuple[str, ...], tuple[str, ...]]:
    """The season's own figures by their place in the `season` mapping, with the rules that rest on each."""
    details = case.season.details
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    for key in details.practice:
        clause = f"practice:{key}"
        slugs = [slug for slug, one in load_rules().items() if clause in one.clauses]
        stored = [slug for stem, slug in _BY_STORAGE.items() if key.startswith(stem)]
        found["practice", key] = tuple(dict.fromkeys([*slugs, *stored]))
    if details.events_of_concern and set(case.profile.default_events) - set(case.events_of_concern):
        found["events_of_concern",] = _OF_EVENTS
    if case.scale_step_mg > case.by_the_book().scale_step_mg:
        found["scale_step",] = _OF_SCALE
    return found


def _touches_lot(case: Case, finding: Finding) -> bool:
    starts = (Node(finding.table, finding.id),) if finding.reaches is None else finding.reaches
    return bool(case.lineage.lots_of(starts))


def _some(identifiers: list[str], most: int = 4) -> str:
    shown = identifiers[:most]
    left = len(identifiers) - most
    more = f"{'over ' if len(identifiers) >= _MOST_LOST else ''}{left} more"
    return join([*shown, *([more] if left > 0 else [])])


@rule(
    weight="unproven",
    clauses=("us-nop:205.400(f)", "us-nop:205.103(b)(2)", "eu:2018/848 27"),
    remedy="Tell the buyer and the certifier which lot it is and what is known, and keep the rest back. "
    "A draft of the notice is in the report.",
    turn="standings",
)
def suspect_seed_left(case: Case) -> Iterator[Finding]:
    """Seed that isn't traced has left the farm.

    Where it is now others plant it, sell it or eat of it. Which lot, how much, to whom, on which paper and
    when is the first thing that an inspector asks.
    """
    standings = case.standings
    if standings is None:
        return
    moves, strange = case.columns("movements"), case.strange("movements")
    parties, documents = moves.values("party"), moves.values("document")
    doubts = _Doubts(case)
    # Of a lot that is sold by the gram thousands leave at one stage.
    worst_at = cache(standings.worst_at)
    for lot, book in case.books.items():
        since = doubts.since(lot)
        for gone in book.departures:
            if gone.entry.kind not in LEAVING or since is None or gone.entry.day < since:
                continue
            worst = worst_at(lot, gone.stage)
            if worst == "traced":
                continue
            movement = gone.entry.node.id
            row = moves.first("movement")[movement]
            if strange[row]:
                # Another operation's deliveries are for its own records to answer for.
                continue
            to = f" to {parties[row]}" if parties[row] else ""
            paper = f" on {documents[row]}" if documents[row] else ""
            weight: Weight = "rejects" if worst == "rejected" else "unproven"
            yield Finding(
                "movements",
                movement,
                row,
                ("lot",),
                f"{format_mass(gone.entry.mass_mg)} of lot {lot}, which is {worst}, was"
                f" {TOLD[gone.entry.kind]}{to}{paper} on {day(gone.entry.day)}.",
                weight=weight,
                reaches=(),
                names=(lot,),
                headline=f"{format_mass(gone.entry.mass_mg)} of {worst} lot {lot}"
                f" {TOLD[gone.entry.kind]}{to}",
            )


class _Doubts:
    """Since when something is open about each lot's seed itself, and not only about its papers at a sale.

    A number used twice leaves open which lot a packet is of, but only since there were two.
    """

    def __init__(self, case: Case) -> None:
        lots = case.columns("lots")
        packed = lots.values("packed")
        self._packed = {lot: packed[row] for lot, row in lots.first("lot").items()}
        gaps = [gap for gap in case.gaps if _speaks_of_seed(gap)]
        self._always = unite(gap.lots for gap in gaps if gap.rule != _REUSED)
        self._reused: dict[str, list[Gap]] = {}
        for gap in gaps:
            for lot in gap.lots if gap.rule == _REUSED else ():
                self._reused.setdefault(lot, []).append(gap)

    def since(self, lot: str) -> date | None:
        """The day; None where nothing is open."""
        if lot in self._always:
            return date.min
        if lot not in self._reused:
            return None
        named = {other for gap in self._reused[lot] for other in gap.lots}
        days = (self._packed.get(other) for other in named)
        return max((day for day in days if day is not None), default=date.min)


def _speaks_of_seed(gap: Gap) -> bool:
    return gap.weight == "rejects" or (gap.weight != "advice" and gap.rule in _OF_SEED)


_REUSED = "lot-number-reused"
#: Rules that speak against seed itself, beside those that explain an obligation.
_SPEAKING = {
    "claim-unproven", "lot-transgene-positive", "transgene-in-kin", "planting-seed-unproven",
    "incident-of-drift",
    "incident-of-mixing", "incident-unresolved", "recall-unresolved", "purity-other-seed", "bag-fate-unknown",
    "positive-left-standing",
    _REUSED, "split-operation-unseparated", "input-unlisted",
}  # fmt: skip
_OF_SEED = {slug for one in OBLIGATIONS for slug in one.rules} | set(GENERAL) | _SPEAKING
