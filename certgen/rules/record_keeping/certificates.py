"""The operation's own certificate and its inspections."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from certgen.records.columns import is_in
from certgen.rules.findings import Finding
from certgen.rules.record_keeping.visit_entries import list_visits
from certgen.rules.registry import rule
from certgen.rules.seed.departures import LEAVING, TOLD
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case
    from certgen.rules.record_keeping.visit_entries import Visit


def _stated(case: Case, name: str) -> date | None:
    """A day out of the `operation` mapping, as it was typed."""
    typed = case.season.details.raw.get("operation", {}).get(name)
    return None if typed is None else date.fromisoformat(str(typed))


@rule(
    weight="advice",
    clauses=("eu:2018/848 35", "us-nop:205.404"),
    remedy="Write under `valid_from` and `valid_until` what the certificate that held on that day says. If "
    "there was none, ask the certifier before more is sold as organic.",
)
def certificate_outdated(case: Case) -> Iterator[Finding]:
    """Seed left as organic on a day on which the operation's certificate, as it is recorded, didn't hold.

    Some certificates bear a period of validity; others go on until they are given up or taken away, and then
    there is nothing to enter. It says nothing of the trees that the seed came from.
    """
    first, last = _stated(case, "valid_from"), _stated(case, "valid_until")
    moves = case.columns("movements")
    if not len(moves) or (first is None and last is None):
        return
    left = case.own("movements") & is_in(moves["kind"], LEAVING)
    left &= case.columns("lots").look_up("lot", moves["lot"], "status") == "organic"
    for row, movement, when, lot, kind in moves.rows("movement", "date", "lot", "kind", where=left):
        late = last is not None and when > last
        if late or (first is not None and when < first):
            told = f"valid until {day(last)}" if late and last else f"valid from {day(first or when)}"
            yield Finding(
                "movements",
                movement,
                row,
                ("date",),
                f"Seed of lot {lot} was {TOLD[kind]} as organic on {day(when)}; the certificate is {told}.",
                cause=late,
                reaches=(),
            )


@rule(
    weight="advice",
    clauses=("us-nop:205.406(b)", "us-nop:205.403(a)", "eu:2018/848 38(3)", "codex:annex 3 A inspection"),
    remedy="Write the last inspection under `visits`, or its day under `inspected`. If a year went by "
    "without one, ask the certifier for it.",
)
def inspection_overdue(case: Case) -> Iterator[Finding]:
    """A whole calendar year went by since the last inspection that is recorded.

    A visit that is on record counts, and so does the day that the operation gives; a co-op's own doesn't.
    Standards ask for one each year; where one lets more time pass, the certifier says so.
    """
    visit = _last_visit(case)
    last = _stated(case, "inspected")
    if visit is not None and (last is None or last < visit.first):
        last = visit.first
    else:
        visit = None
    if last is None or not case.demand("inspections_per_year") or case.on.year - last.year < 2:
        return
    message = f"The last inspection that is recorded was on {day(last)}; none in {last.year + 1}."
    if visit is not None and visit.own:
        yield Finding("visits", visit.visit, visit.row, ("from",), message, reaches=())
    else:
        field = ("operation", "inspected")
        yield Finding("season", case.season.details.label, None, field, message, reaches=())


def _last_visit(case: Case) -> Visit | None:
    """The latest visit of a certifier to this operation."""
    made = [one for one in list_visits(case) if one.kind != "internal" and one.first <= case.on]
    return max((one for one in made if not one.strange), key=lambda one: one.first, default=None)
