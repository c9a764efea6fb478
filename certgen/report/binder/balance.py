"""The season's mass balance: what the counts met, the book beside each count, and every lot's grams."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.dossier.balance import HEADINGS
from certgen.report.wording import plain, weigh
from certgen.rules.wording import count, day, join

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.dossier.balance import Account, Count
    from certgen.report.context import Context
    from certgen.typeset.parts import Run


@dataclass(frozen=True, slots=True)
class Counted:
    """A count beside the book; `says` tells what the scale can tell of a difference."""

    lot: tuple[Run, ...]
    day: str
    book: str
    counted: str
    difference: str
    meets: bool
    says: str


@dataclass(frozen=True, slots=True)
class Balance:
    """The balance as the page shows it: conclusions first, the counts, then a row a lot under its heads."""

    verdict: tuple[str, ...]
    counts: tuple[Counted, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[tuple[Run, ...], tuple[str, ...]], ...]
    total: tuple[str, ...]


def build_balance(context: Context) -> Balance:
    """The balance from the season's first day to the day that is looked at."""
    account = context.account
    used = [name for name in HEADINGS if account.totals.get(name) or name == "closing_mg"]
    return Balance(
        verdict=(*_conclude(context, account), account.scale),
        counts=tuple(_show_count(context, account, one) for one in account.counted),
        heads=tuple(HEADINGS[name] for name in used),
        rows=tuple((_link_lot(context, lot), _write_row(masses, used)) for lot, masses in account.lines),
        total=_write_row(account.totals, used) if account.totals else (),
    )


def _link_lot(context: Context, lot: str) -> tuple[Run, ...]:
    """A lot by its number, which leads to it if it is of this season."""
    return plain(lot, context.href_in(("lots",), lot))


def _write_row(masses: Mapping[str, int], used: list[str]) -> tuple[str, ...]:
    return tuple(weigh(masses[name]) if masses.get(name) else "–" for name in used)


def _show_count(context: Context, account: Account, one: Count) -> Counted:
    sign = "+" if one.difference_mg > 0 else "−" if one.difference_mg else ""
    return Counted(
        lot=_link_lot(context, one.lot),
        day=day(one.day),
        book=weigh(one.book_mg),
        counted=weigh(one.counted_mg),
        difference=f"{sign}{weigh(abs(one.difference_mg))}",
        meets=not one.difference_mg,
        says=account.say_tolerance(one) if one.difference_mg else "",
    )


def _conclude(context: Context, account: Account) -> tuple[str, ...]:
    """How many counts meet the book and which don't, which lots were never counted, which ran below
    nothing."""
    period = f"From {day(account.period.start)} to {day(account.period.end)}"
    counts = account.counted
    if not counts:
        return (f"{period} no lot was counted, so the book stands alone.", *_tell_overdrawn(account))
    off = [one for one in counts if one.difference_mg]
    met = f"{period} {len(counts) - len(off)} of {count(len(counts), 'count')} met the book"
    told = [
        f"lot {one.lot} was {weigh(abs(one.difference_mg))} {'above' if one.difference_mg > 0 else 'short'}"
        f" on {day(one.day)}"
        for one in off
    ]
    never = [lot for lot in context.result.lots if lot not in {one.lot for one in counts}]
    uncounted = (f"Never counted: {join(never)}.",) if never else ()
    return (f"{met}{f': {join(told)}' if told else ''}.", *uncounted, *_tell_overdrawn(account))


def _tell_overdrawn(account: Account) -> tuple[str, ...]:
    return tuple(
        f"By the book lot {lot} held {weigh(stock)} on {day(when)}: less than nothing."
        for when, lot, stock in account.overdrawn
    )
