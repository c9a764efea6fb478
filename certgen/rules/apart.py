"""One season under each of its standards by itself, so that a page can show where they part."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from certgen.lineage import judge_lots
from certgen.rules.registry import load_rules
from certgen.rules.runner import run_rules
from certgen.standards.coverage import asked_by

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.lineage import LotStanding
    from certgen.rules.case import Case
    from certgen.rules.findings import Gap


@dataclass(frozen=True, slots=True)
class UnderStandard:
    """The gaps that count under one rulebook, with the weight they have there, and the lots' standing."""

    rulebook: str
    gaps: tuple[Gap, ...]
    lots: Mapping[str, LotStanding]


def judge_apart(case: Case) -> Mapping[str, UnderStandard]:
    """The season under each of its rulebooks, by key, as if it were held against that one alone.

    The rules run with that rulebook's demands only, so a gap has the weight that it has there. Of what
    they find a gap counts unless its rule cites other rulebooks and this one asks nothing about the
    subject; a rule that rests on practice alone counts everywhere, for it speaks of the trace itself. So
    does a rule that failed.
    """
    return {book.key: _judge(case, book.key) for book in case.rulebooks}


def _judge(case: Case, key: str) -> UnderStandard:
    alone = case.under(tuple(book for book in case.rulebooks if book.key == key))
    found = run_rules(alone).gaps
    gaps = tuple(_cited(gap, key) for gap in found if counts_under(gap, key))
    faults = [gap.fault for gap in gaps]
    standings = judge_lots(case.season, case.lineage, faults, case.books, case.scale_step_mg)
    return UnderStandard(key, gaps, standings.judge())


def _cited(gap: Gap, key: str) -> Gap:
    """The gap with the clauses of the one rulebook, and of practice."""
    kept = tuple(clause for clause in gap.clauses if clause.partition(":")[0] in {key, "practice"})
    return replace(gap, clauses=kept)


def counts_under(gap: Gap, key: str) -> bool:
    """Whether a gap counts under a rulebook: it asks about the subject, or no rulebook does."""
    rule = load_rules().get(gap.rule)
    asking = asked_by(rule.clauses if rule is not None else ())
    return not asking or key in asking
