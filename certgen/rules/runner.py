"""Runs the rules and makes gaps of what they find: one cause, one gap.

First come the rules that look at records; what of the claim they leave unshown without a word becomes a gap
of its own (`rules.claim`). Then the lots are judged, and the rules that look at standings have their turn:
what was sown from doubtful seed makes other lots doubtful, until nothing changes any more. Last come the
rules that look at gaps.

One season under each of its standards by itself shows where they part.
"""

from __future__ import annotations

import traceback
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from certgen.lineage import Fault, Node, Trials, judge_lots
from certgen.lineage.reach import unite
from certgen.records import Place
from certgen.records.rows import is_absent
from certgen.rules.findings import Crash, Explanation, Finding, Gap, Weight
from certgen.rules.gathering import Causes
from certgen.rules.headlines import write_headline
from certgen.rules.registry import CRASHED, Rule, load_rules
from certgen.rules.seed.purchases import supplied_parts
from certgen.standards.coverage import asked_by

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.lineage import LotStanding, Standings
    from certgen.rules.case import Case


class Findings(NamedTuple):
    """What the rules found: gaps in the order of the files, rules that failed, and what it makes of the
    lots."""

    gaps: tuple[Gap, ...]
    crashed: tuple[Crash, ...]
    standings: Standings


def run_rules(case: Case, rules: Mapping[str, Rule] | None = None) -> Findings:
    """Every rule's gaps, and the standings that follow from them.

    A rule that fails loses none of the others' gaps: it becomes a gap itself, which leaves every lot
    unproven, for nobody knows what it would have found.
    """
    rules = load_rules() if rules is None else rules
    run = _Run(case)
    for one in _at(rules, "records"):
        run.add(one, case)
    for one in _at(rules, "claim"):
        run.add(one, case.changed(gaps=tuple(run.gaps)))
    standings = _settle(run, case, _at(rules, "sowing"))
    for one in _at(rules, "standings"):
        run.add(one, case.changed(gaps=tuple(run.gaps), standings=standings))
    run.explain()
    run.narrow()
    for one in _at(rules, "gaps"):
        run.add(one, case.changed(gaps=tuple(run.gaps), standings=standings))
    gaps = sort_gaps(run.gaps)
    return Findings(gaps, tuple(run.crashes), _judge_again(case, gaps, standings))


def sort_gaps(gaps: Iterable[Gap]) -> tuple[Gap, ...]:
    """Gaps in the order of the files."""
    return tuple(sorted(gaps, key=_order))


def told_lots(case: Case, gaps: Iterable[Gap]) -> tuple[str, ...]:
    """The lots that the season is about, and earlier ones that its own records speak against."""
    accused = unite(gap.lots for gap in gaps if gap.weight != "advice" and _is_own(case, gap))
    told = {*case.lots_told, *accused}
    return tuple(lot for lot in case.columns("lots").first("lot") if lot in told)


def _is_own(case: Case, gap: Gap) -> bool:
    """Whether a gap stands at a record of the season's own, or at none."""
    season = case.season
    return gap.row is None or gap.table not in season.tables or gap.row < season.own(gap.table)


def _at(rules: Mapping[str, Rule], turn: str) -> list[Rule]:
    return [one for one in rules.values() if one.turn == turn]


def judge_gaps(case: Case, gaps: Iterable[Gap]) -> Standings:
    """What gaps make of every lot of the farm."""
    return _judge(case, [gap.fault for gap in gaps])


def _judge_again(case: Case, gaps: Iterable[Gap], before: Standings) -> Standings:
    """The same where gaps may have come or gone since: most that do make nothing of any gram."""
    faults = [gap.fault for gap in gaps]
    return before.under(faults) or _judge(case, faults)


def _judge(case: Case, faults: Sequence[Fault]) -> Standings:
    return judge_lots(
        case.season, case.lineage, faults, case.books, case.scale_step_mg, supplied_parts(case.purchases)
    )


def open_trials(case: Case) -> Trials:
    """The lots as the gaps leave them, ready for one fault more at a time."""
    return Trials(
        case.season,
        case.lineage,
        [gap.fault for gap in case.gaps],
        case.books,
        case.scale_step_mg,
        supplied_parts(case.purchases),
    )


def settle_with(case: Case, start: Node) -> Standings:
    """Every lot as it would be if a fault that rejects stood at a record, with what is sown from them."""
    faults = [*(gap.fault for gap in case.gaps), Fault("rejects", (start,))]
    run, before = _Run(case), -1
    while True:
        standings = _judge(case, [*faults, *(gap.fault for gap in run.gaps)])
        if len(run.gaps) == before:
            return standings
        before = len(run.gaps)
        run.gaps = []
        for one in _at(load_rules(), "sowing"):
            run.add(one, case.changed(standings=standings))


def _settle(run: _Run, case: Case, rules: Iterable[Rule]) -> Standings:
    """Standings once no lot's makes another's worse. Each turn one generation of plantings at least
    settles."""
    before, base = -1, list(run.gaps)
    standings = judge_gaps(case, sort_gaps(run.gaps))
    rules = list(rules)
    # Every turn starts from the records' own gaps: what is sown from a lot follows from where it ends.
    while len(run.gaps) != before:
        before = len(run.gaps)
        run.gaps = list(base)
        for one in rules:
            run.add(one, case.changed(gaps=tuple(base), standings=standings))
        if len(run.gaps) > len(base):
            standings = _judge_again(case, sort_gaps(run.gaps), standings)
    return standings


class _Reached(NamedTuple):
    """What a finding says it reaches (kept, so that nothing else can be taken for it), the records that are
    meant, and the lots that rest on them."""

    given: Sequence[Node] | None
    starts: tuple[Node, ...]
    lots: Sequence[str]


@dataclass
class _Run:
    case: Case
    gaps: list[Gap] = field(default_factory=list)
    crashes: list[Crash] = field(default_factory=list)
    _flagged: dict[str, set[tuple[str, int | None]]] = field(default_factory=dict)
    _standing_at: dict[str, tuple[list[str], list[int]]] = field(default_factory=dict)
    _shared: dict[int, _Reached] = field(default_factory=dict)
    #: What was made of clauses and fields before: few differ among thousands of gaps.
    _spoken: dict[tuple[str, ...], tuple[str, ...]] = field(default_factory=dict)
    _steps: dict[tuple[str | int, ...], tuple[str | int, ...]] = field(default_factory=dict)

    def add(self, rule: Rule, case: Case) -> None:
        """Runs one rule; findings at records that an earlier named rule has flagged are dropped."""
        skipped = set().union(*(self._flagged.get(one, ()) for one in rule.after))
        flagged = self._flagged.setdefault(rule.slug, set())
        causes = Causes()
        try:
            for finding in rule.check(case):
                at = (finding.table, finding.row)
                if at not in skipped:
                    flagged.add(at)
                    causes.add(finding)
            made = [self._make_gap(rule, findings) for findings in causes]
        except MemoryError:
            # No fault of the rule's: whoever gave this season so much memory has an answer for it.
            raise
        except Exception as error:  # noqa: BLE001 (the others' gaps must be seen, whatever one rule does)
            self._add_crash(rule.slug, error)
        else:
            self.gaps += made

    def explain(self) -> None:
        """Puts each explanation beside the gaps that it speaks of."""
        spoken: dict[tuple[str, str], Explanation] = {}
        explanations = self.case.columns("explanations")
        for _, rule, about, reason, by, when in explanations.rows("rule", "about", "reason", "by", "date"):
            for identifier in about:
                spoken[rule, identifier] = Explanation(reason, by, when)
        if spoken:
            self.gaps = [self._explained(gap, spoken) for gap in self.gaps]

    @staticmethod
    def _explained(gap: Gap, spoken: Mapping[tuple[str, str], Explanation]) -> Gap:
        found = (spoken[gap.rule, one] for one in gap.ids if (gap.rule, one) in spoken)
        return replace(gap, explanation=next(found, None))

    def narrow(self) -> None:
        """Leaves earlier seasons' gaps out that touch no lot this season is about; theirs were told in
        their year."""
        case = self.case
        if len(case.season.stretches) > 1:
            told = set(told_lots(case, self.gaps))
            self.gaps = [
                gap for gap in self.gaps
                if _is_own(case, gap) or (gap.weight != "advice" and not told.isdisjoint(gap.lots))
            ]  # fmt: skip

    def _make_gap(self, rule: Rule, findings: list[Finding]) -> Gap:
        first = findings[0]
        starts, lots = self._start(findings)
        default: Weight = rule.weight if lots else "advice"
        places = [self._place(one) for one in findings]
        ids = (first.id,) if len(findings) == 1 else tuple(dict.fromkeys(one.id for one in findings))
        return Gap(
            rule=rule.slug,
            weight=first.weight or default,
            table=first.table,
            id=first.id,
            field=first.field,
            place=places[0],
            message=first.message,
            remedy=first.remedy or rule.mend(in_a_lot=bool(lots)),
            clauses=self._cited(rule.clauses if first.clauses is None else first.clauses),
            lots=lots,
            others=tuple(places[1:]),
            supply=first.supply,
            ids=ids,
            starts=starts,
            take_out=first.take_out,
            touches=first.touches,
            row=first.row,
            headline=self._write_headline(rule.slug, first, ids),
            lineage=self.case.lineage,
        )

    def _start(self, findings: Sequence[Finding]) -> tuple[tuple[Node, ...], Sequence[str]]:
        """The records that a gap stands at, and the lots that it reaches."""
        first = findings[0]
        given = first.reaches if len(findings) == 1 else None
        if given is None and len(findings) == 1:
            node = Node(first.table, first.id)
            return (node,), self._reach(self.case.lineage.lots_of((node,)), findings)
        known = None if given is None else self._shared.get(id(given))
        if known is None:
            starts = tuple(dict.fromkeys(node for one in findings for node in _starts(one)))
            known = _Reached(given, starts, self.case.lineage.lots_of(starts))
            if given is not None and len(given) > 1:
                # Thousands of rounds may each reach the same thousands of bags.
                self._shared[id(given)] = known
        return known.starts, self._reach(known.lots, findings)

    @staticmethod
    def _reach(lots: Sequence[str], findings: Iterable[Finding]) -> Sequence[str]:
        """The lots that rest on the records, then those that the findings name besides."""
        named = [lot for one in findings if one.names for lot in one.names]
        # Gaps at one record share what reaches it: of thousands of lots thousands of lists would be too many.
        return tuple(dict.fromkeys((*lots, *named))) if any(lot not in lots for lot in named) else lots

    def _write_headline(self, rule: str, first: Finding, ids: Sequence[str]) -> str:
        def value_of(field: str) -> str:
            table = self.case.columns(first.table)
            value = None if first.row is None else table.values(field, np.array([first.row]))[0]
            return "" if is_absent(value) else str(value)

        return write_headline(rule, first.table, ids, first.message, value_of, first.headline)

    def _cited(self, clauses: tuple[str, ...]) -> tuple[str, ...]:
        """The clauses that speak to this season: those of its own standards, and of practice."""
        found = self._spoken.get(clauses)
        if found is None:
            spoken = {"practice", *self.case.season.details.standards}
            found = tuple(clause for clause in clauses if clause.partition(":")[0] in spoken)
            self._spoken[clauses] = found
        return found

    def _place(self, finding: Finding) -> Place:
        if finding.place is not None:
            return finding.place
        if finding.table == "season" or finding.row is None:
            return self.case.season.season_place(*finding.field)
        if finding.table not in self._standing_at:
            records = self.case.columns(finding.table)
            # As `Season.place`, with the columns taken out once: a season may have thousands of gaps.
            self._standing_at[finding.table] = (records["file"].tolist(), records["at"].tolist())
        files, at = self._standing_at[finding.table]
        steps = self._steps.get(finding.field)
        if steps is None:
            steps = self._steps[finding.field] = tuple(
                part
                for step in finding.field
                for part in (step.split(".") if isinstance(step, str) else [step])
            )
        return Place(files[finding.row], (finding.table, at[finding.row], *steps))

    def _add_crash(self, slug: str, error: Exception) -> None:
        said = f"{type(error).__name__}: {error}"
        self.crashes.append(Crash(slug, said, "".join(traceback.format_exception(error))))
        season = self.case.season
        starts = tuple(Node("lots", lot) for lot in season.columns("lots").first("lot"))
        label = season.details.label
        self.gaps.append(
            Gap(
                rule=CRASHED,
                weight="unproven",
                table="season",
                id=label,
                field=(),
                place=season.season_place(),
                message=f"The check '{slug}' failed, so what it looks for is not known. {said}",
                headline=f"The check '{slug}' failed",
                remedy="This is a fault of certgen, not of your records. Please report it with this message.",
                clauses=(),
                lots=self.case.lineage.lots_of(starts),
                supply=f"a run of the check '{slug}' that succeeds",
                ids=(label,),
                starts=starts,
            )
        )


def _starts(finding: Finding) -> Sequence[Node]:
    if finding.reaches is not None:
        return finding.reaches
    return (Node(finding.table, finding.id),)


def _order(gap: Gap) -> tuple[object, ...]:
    # Steps are names or numbers; told apart, so that they can be sorted together.
    steps = tuple((isinstance(step, str), step) for step in gap.place.path)
    return (gap.place.file, steps, gap.rule, gap.message)


@dataclass(frozen=True, slots=True)
class UnderStandard:
    """The gaps that count under one rulebook, with the weight they have there, and the lots' standing."""

    rulebook: str
    gaps: tuple[Gap, ...]
    lots: Mapping[str, LotStanding]


def judge_apart(case: Case) -> Mapping[str, UnderStandard]:
    """The season under each of its rulebooks, by key, as if it were checked against that one alone.

    The rules run with that rulebook's demands only, so a gap has the weight that it has there. Of what
    they find a gap counts unless its rule cites other rulebooks and this one asks nothing about the
    subject; a rule that rests on practice alone counts everywhere, for it speaks of the trace itself. So
    does a rule that failed.
    """
    return {book.key: _judge_apart(case, book.key) for book in case.rulebooks}


def _judge_apart(case: Case, key: str) -> UnderStandard:
    alone = case.under(tuple(book for book in case.rulebooks if book.key == key))
    found = run_rules(alone).gaps
    gaps = tuple(_cited(gap, key) for gap in found if counts_under(gap, key))
    return UnderStandard(key, gaps, judge_gaps(case, gaps).judge())


def _cited(gap: Gap, key: str) -> Gap:
    """The gap with the clauses of the one rulebook, and of practice."""
    kept = tuple(clause for clause in gap.clauses if clause.partition(":")[0] in {key, "practice"})
    return replace(gap, clauses=kept)


def counts_under(gap: Gap, key: str) -> bool:
    """Whether a gap counts under a rulebook: it asks about the subject, or no rulebook does."""
    rule = load_rules().get(gap.rule)
    asking = asked_by(rule.clauses if rule is not None else ())
    return not asking or key in asking
