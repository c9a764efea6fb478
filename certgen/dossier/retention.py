"""Until when records and samples are to be kept, as the season's standards ask."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Literal

from certgen.figures.ledger import stock_on
from certgen.figures.validity import add_years
from certgen.records.joining.farm import seasons_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.examination import Result
    from certgen.standards import Demand, Rulebook

Kept = Literal["records of the season", "records of the lot", "file sample"]


@dataclass(frozen=True, slots=True)
class Keep:
    """What is to be kept, of which season or lot, and until when (None: for longer than can be said yet).

    `counted_from` is the day that the clock starts on, and `why` says what that day is; the day itself is
    computed. `clause` names the clause, `mark` how it was read.
    """

    what: Kept
    identifier: str
    until: date | None
    years: int
    counted_from: date | None
    why: str
    clause: str
    mark: str


def list_retention(result: Result) -> tuple[Keep, ...]:
    """The clocks of each season and lot on record, of every standard that sets one; the longest first asked.

    Records made on several days are counted from the last of them, which is on the safe side. A file sample
    may go some time after the whole lot is gone, so a lot in stock has no day yet.
    """
    return (
        *_keep_seasons(result),
        *_keep_lots(result, "records of the lot", "seed_record_years"),
        *_keep_lots(result, "file sample", "file_sample_years"),
    )


def _keep_seasons(result: Result) -> Iterator[Keep]:
    asked = _asked(result, "record_years")
    for _, season in seasons_of(result.season):
        for _, demand, years in asked:
            end = season.details.end
            until = add_years(end, years)
            yield Keep(
                "records of the season", season.details.label, until, years, end,
                "the season's last day", demand.clause, demand.mark,
            )  # fmt: skip


def _keep_lots(result: Result, what: Kept, key: str) -> Iterator[Keep]:
    ledger = result.ledger
    # A count moves nothing: an empty box that is counted again starts no clock anew.
    moved = ledger[ledger["change_mg"] != 0]
    last = {str(lot): day.date() for lot, day in moved.groupby("lot")["date"].max().items()}
    stock = {str(lot): int(mass) for lot, mass in stock_on(ledger, result.on).items()}
    for _, demand, years in _asked(result, key):
        for lot in dict.fromkeys((*result.lots, *last)):
            start = last.get(lot)
            left = start is None or stock.get(lot, 0) > 0 or start > result.on
            until = None if start is None or left else add_years(start, years)
            why = "seed of the lot is still there" if left else "the last seed of the lot went"
            yield Keep(what, lot, until, years, None if left else start, why, demand.clause, demand.mark)


def _asked(result: Result, key: str) -> list[tuple[Rulebook, Demand, int]]:
    return [
        (book, demand, int(demand.value))
        for book, demand in result.case.demand(key)
        if isinstance(demand.value, int | float)
    ]
