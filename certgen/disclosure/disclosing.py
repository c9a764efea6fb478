"""One lot disclosed: its season made anew, examined again, and held against the whole season."""

from __future__ import annotations

import tempfile
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from certgen.disclosure.choice import MEASURES, choose_rows
from certgen.disclosure.season_copy import SeasonCopy
from certgen.examination import ReadFailure, examine
from certgen.lineage import find_mending

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.disclosure.season_copy import Outside
    from certgen.examination import Result
    from certgen.lineage import Mend


class DisclosureError(ValueError):
    """What can't be disclosed; the message says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a lot comes to: its standing, its milligrams, and its findings by rule and weight."""

    standing: str
    weight_mg: int
    traced_mg: int
    unproven_mg: int
    rejected_mg: int
    unaccounted_mg: int
    findings: tuple[tuple[str, str, int], ...]


def judge_lot(result: Result, lot: str) -> Verdict:
    """What a lot comes to."""
    one = result.lots[lot]
    found = Counter((gap.rule, gap.weight) for gap in result.gaps_of_lot(lot))
    return Verdict(
        one.standing,
        int(one.weight_mg),
        int(one.traced_mg),
        int(one.unproven_mg),
        int(one.rejected_mg),
        int(one.unaccounted_mg),
        tuple((*key, count) for key, count in sorted(found.items())),
    )


@contextmanager
def disclose_lot(
    result: Result, lot: str, party: str = "", outside: Outside = MappingProxyType({})
) -> Iterator[Result]:
    """The season of one lot as its reader may see it, examined; its folder goes when the block ends.

    `party` is the buyer that it is for, `outside` as in `manifest.held_files`. Raises `DisclosureError` where
    it would come out other than the whole season says, `KeyError` for a lot that the season doesn't tell of.
    """
    whole = judge_lot(result, lot)
    if result.errors or result.crashed:
        raise DisclosureError(
            "parts of the records can't be read, so nobody knows what is in them; put them right first"
            " (certgen check names them)"
        )
    seen = []
    for measure in MEASURES:
        with tempfile.TemporaryDirectory(prefix="certgen-disclosed-") as name:
            folder = Path(name)
            rows = choose_rows(result, lot, party, measure)
            SeasonCopy(result, lot, party, rows, outside).write(folder)
            try:
                found = examine(folder, result.on, within=folder)
            except ReadFailure as failure:
                raise DisclosureError(_say_unreadable(failure.errors[0].message)) from failure
            if found.errors:
                raise DisclosureError(_say_unreadable(found.errors[0].message))
            if lot in found.lots:
                seen.append(judge_lot(found, lot))
                if seen[-1] == whole:
                    yield keep_lot(replace(found, version=result.version), lot)
                    return
    raise DisclosureError(_say_other(lot, whole, seen))


def keep_lot(result: Result, lot: str) -> Result:
    """A disclosed season's result with its one lot, and what reaches it, alone.

    What is found at the edges of the records shown is none of the reader's findings: there the rest was cut
    off.
    """
    told = {name: standing for name, standing in result.lots.items() if name == lot}
    return replace(result, gaps=result.gaps_of_lot(lot), lots=told, mend=(), stock_told=False)


def keep_lots(result: Result, lots: Sequence[str]) -> Result:
    """The result of a season cut down to some lots' line with these lots, and what reaches them, alone.

    What else was filled out of the line stands among its records, and its stock isn't told: a part of it is
    there.
    """
    told = {name: standing for name, standing in result.lots.items() if name in lots}
    kept = [at for at, gap in enumerate(result.gaps) if not told.keys().isdisjoint(gap.lots)]
    return replace(
        result,
        season=replace(result.season, stock_of=frozenset(told)),
        gaps=tuple(result.gaps[at] for at in kept),
        lots=told,
        mend=_mend_lots(result, told, {old: new for new, old in enumerate(kept)}),
    )


def _mend_lots(result: Result, lots: Iterable[str], numbers: Mapping[int, int]) -> tuple[Mend, ...]:
    """What to do first for some lots; `numbers` gives each gap's new position by its old one."""
    standings = result.case.standings
    if standings is None:
        return ()
    separable = {lot for lot, book in result.books.items() if not book.departures}
    return tuple(
        replace(one, gaps=tuple(numbers[at] for at in one.gaps if at in numbers))
        for one in find_mending(standings.only(lots), separable).mends
    )


def _say_unreadable(message: str) -> str:
    return f"what may be shown of these records makes no season that can be read: {message}"


def _say_other(lot: str, whole: Verdict, seen: list[Verdict]) -> str:
    """In which way the lot comes out otherwise by what may be shown."""
    if not seen:
        return f"by what may be shown nothing is left of lot {lot}, so nothing is given out"
    return (
        f"lot {lot} doesn't come out the same by what may be shown of it: {say_differing(whole, seen[-1])}."
        " Give the full packet to the certifier, and let the buyer ask there."
    )


def say_differing(whole: Verdict, last: Verdict) -> str:
    """In which way a lot comes out otherwise by a part of the records."""
    if last.standing != whole.standing:
        return f"it would be called {last.standing}, and it is {whole.standing}"
    if last.findings != whole.findings:
        rules = sorted({rule for rule, *_ in {*last.findings} ^ {*whole.findings}})
        return f"the findings on it would be others ({', '.join(rules)})"
    return "its grams would be others"
