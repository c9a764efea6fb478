"""What can still be read of a record that was left out speaks against the claim, and for nothing.

A slip in one field leaves the whole record out, and with it a word that would have rejected a lot. So where
records were left out, the season is checked a second time with what of them can be read. Only what then
rejects counts; whatever the second look finds better is as unproven as before.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from certgen.lineage import build_lineage
from certgen.records.frames import stack_frames
from certgen.records.joining.farm import join_seasons
from certgen.records.tables import load_tables
from certgen.rules.runner import Findings, run_rules, sort_gaps

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pandas import DataFrame

    from certgen.lineage import LotStanding
    from certgen.records import Place, Season
    from certgen.records.record_files.unread import Unread
    from certgen.rules.case import Case
    from certgen.rules.findings import Gap
    from certgen.rules.registry import Rule


def add_rejections(
    season: Season, case: Case, gaps: tuple[Gap, ...], rules: Mapping[str, Rule]
) -> tuple[tuple[Gap, ...], Mapping[str, LotStanding]]:
    """The gaps with those that reject once left-out records count in part, and what these make of lots.

    `gaps` are those found without them: they come back as they were where no record was left out, and with
    every lot that they reach otherwise.
    """
    whole = _complete(season, sound_only=False)
    if whole is season:
        return gaps, {}
    try:
        found, _, standings = _look(whole, case, rules)
    except (TypeError, ValueError, KeyError, AttributeError):
        # Some record lacks what no record of its table may lack, and can't be reckoned with.
        found, _, standings = _look(_complete(season, sound_only=True), case, rules)
    told = {_name(gap): gap for gap in gaps}
    kept = set(case.season.table("lots")["lot"])
    reached: dict[str, None] = {}
    for gap in found:
        if gap.weight == "rejects":
            known = told.get(_name(gap))
            # A lot whose own record was left out is told by that alone.
            there = [lot for lot in gap.lots if lot in kept]
            lots = tuple(dict.fromkeys((*(known.lots if known else ()), *there)))
            told[_name(gap)] = replace(gap, lots=lots, row=known.row if known else None)
            reached |= dict.fromkeys(lots)
    judged = standings.only(reached).judge()
    return sort_gaps(told.values()), {lot: _without_proof(standing) for lot, standing in judged.items()}


def _look(season: Season, case: Case, rules: Mapping[str, Rule]) -> Findings:
    farm = join_seasons(season)
    return run_rules(replace(case, season=farm, lineage=build_lineage(farm)), rules)


def _name(gap: Gap) -> tuple[str, str, tuple[str, ...], Place]:
    return gap.rule, gap.table, gap.ids, gap.place


def _complete(season: Season, *, sound_only: bool) -> Season:
    """The season, and those before it, with what can be read of their left-out records; itself if nothing.

    With `sound_only` of those alone that lack nothing which their table asks of every record.
    """
    before = season.previous
    previous = None if before is None else _complete(before, sound_only=sound_only)
    if previous is before and not season.partial:
        return season
    tables: dict[str, DataFrame] = {}
    for name, part in season.partial.items():
        needed = list(load_tables()[name].schema["required"])
        columns = [column for column in needed if column in part.columns]
        kept = part[part[columns].notna().all(axis="columns")] if sound_only else part
        tables[name] = stack_frames([season.table(name), kept])
    return replace(season.with_tables(tables), previous=previous, unread=_leave_one(season.unread))


def _leave_one(unread: Sequence[Unread]) -> tuple[Unread, ...]:
    """What wasn't read, as far as it matters to a look for what rejects: one that may speak of any lot leaves
    them all in doubt, and of thousands more that do so each would stand at every lot."""
    of_any = next((one for one in unread if one.names is None), None)
    return tuple(unread) if of_any is None else (of_any,)


def _without_proof(standing: LotStanding) -> LotStanding:
    """The standing with its traced grams unproven: a record that can't be read whole shows nothing."""
    return replace(
        standing,
        standing="unproven" if standing.standing == "traced" else standing.standing,
        traced_mg=0,
        unproven_mg=standing.unproven_mg + standing.traced_mg,
        parts=tuple(
            replace(part, traced_mg=0, unproven_mg=part.unproven_mg + part.traced_mg)
            for part in standing.parts
        ),
    )
