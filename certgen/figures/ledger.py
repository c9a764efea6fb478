"""The stock ledger of clean seed: entries in whole milligrams, running stock, physical counts.

Within a day a lot's entries run opening stock, then what came in, then what went out, then counts: a count
is of the stock at the end of its day. After a count the running stock is what was counted. A season's book is
kept out of its records: the packing of lots, then the movements.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from certgen.figures.arguments import check_count

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    import pandas as pd

    from certgen.records import Season
    from certgen.records.columns import Columns


IN_KINDS = ("opening stock", "produced", "blended from", "received", "returned")
OUT_KINDS = (
    "sold", "transferred", "sown", "sampled", "retained", "downgraded", "discarded",
    "blended into", "lost in packing",
)  # fmt: skip
COUNT_KIND = "counted"
GAIN, LOSS = "count gain", "count loss"
SIGNS: Mapping[str, int] = MappingProxyType(
    dict.fromkeys(IN_KINDS, 1) | dict.fromkeys(OUT_KINDS, -1) | {COUNT_KIND: 0}
)
_ORDER = MappingProxyType(
    dict.fromkeys(IN_KINDS, 1) | dict.fromkeys(OUT_KINDS, 2) | {COUNT_KIND: 3, "opening stock": 0}
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the ledger: a lot's seed that came in, went out or was counted, in whole milligrams.

    `kind` is one of IN_KINDS, OUT_KINDS or `counted`; the mass is never negative, its kind says the way it
    went.
    """

    date: date
    lot: str
    variety: str
    kind: str
    mass_mg: int
    document: str = ""
    party: str = ""
    record: str = ""


def pack_lot(
    packed: date,
    lot: str,
    variety: str,
    mass_mg: int,
    blended: Mapping[tuple[str, str], int] | None = None,
    *,
    record: str = "",
) -> tuple[Entry, ...]:
    """The entries that a lot's packing makes, in its own ledger and in those of the lots blended into it.

    `blended` gives, by (lot, variety), the milligrams taken from other lots: out there as `blended into`,
    in here as `blended from`, so that they cancel in the season's total. What the lot weighs beyond them is
    `produced`; what it weighs less is `lost in packing`.
    """
    blended = blended or {}
    check_count(mass_mg, f"The weight of lot {lot} in milligrams")
    taken = sum(check_count(mass, f"The weight taken from {name}") for (name, _), mass in blended.items())
    entries = []
    for (name, kind_of), mass in blended.items():
        entries.append(Entry(packed, name, kind_of, "blended into", mass, party=lot, record=record))
        entries.append(Entry(packed, lot, variety, "blended from", mass, party=name, record=record))
    if mass_mg > taken:
        entries.append(Entry(packed, lot, variety, "produced", mass_mg - taken, record=record))
    elif mass_mg < taken:
        entries.append(Entry(packed, lot, variety, "lost in packing", taken - mass_mg, record=record))
    return tuple(entries)


def tabulate_entries(entries: Iterable[Entry]) -> pd.DataFrame:
    """The entries as a table, one row each in the order given; columns as Entry's fields.

    Raises ValueError for an unknown kind, a negative mass, or a lot that stands under two varieties.
    """
    import pandas as pd

    rows = list(entries)
    names = [field.name for field in fields(Entry)]
    frame = pd.DataFrame({name: [getattr(row, name) for row in rows] for name in names}, columns=names)
    frame["date"] = pd.to_datetime(frame["date"]).astype("datetime64[s]")
    frame["mass_mg"] = frame["mass_mg"].astype("int64")
    texts = [name for name in names if name not in {"date", "mass_mg"}]
    frame[texts] = frame[texts].astype("str")
    _refuse_bad_entries(frame)
    return frame


def _refuse_bad_entries(frame: pd.DataFrame) -> None:
    unknown = frame.loc[~frame["kind"].isin(list(SIGNS)), "kind"]
    if len(unknown):
        raise ValueError(f"'{unknown.iloc[0]}' is not a kind of ledger entry; there are {', '.join(SIGNS)}.")
    negative = frame.loc[frame["mass_mg"] < 0, "lot"]
    if len(negative):
        raise ValueError(
            f"Lot {negative.iloc[0]} has an entry with a negative weight: use a kind that goes out."
        )
    varieties = frame.groupby("lot")["variety"].nunique()
    mixed = varieties[varieties > 1]
    if len(mixed):
        raise ValueError(f"Lot {mixed.index[0]} stands in the ledger under more than one variety.")


def run_stock(entries: pd.DataFrame) -> pd.DataFrame:
    """The ledger in running order, with what each entry changed and the lot's stock after it, in milligrams.

    Adds `change_mg` (signed; of a count: what was counted less what the book said), `stock_mg`, and
    `posting`: the entry's kind, or `count gain` or `count loss` for a count that differed. The changes of a
    lot add up to its stock.
    """
    frame = entries.assign(rank=entries["kind"].map(dict(_ORDER)).astype("int64"))
    frame = frame.sort_values(["date", "rank"], kind="stable").drop(columns="rank").reset_index(drop=True)
    counted = frame["kind"] == COUNT_KIND
    flow = frame["mass_mg"] * frame["kind"].map(dict(SIGNS)).astype("int64")
    flowed = flow.groupby(frame["lot"]).cumsum()
    offset = (frame["mass_mg"] - flowed).astype("Int64").where(counted)
    offset = offset.groupby(frame["lot"]).ffill().fillna(0).astype("int64")
    before = offset.groupby(frame["lot"]).shift(fill_value=0)
    adjustment = offset - before
    posting = frame["kind"].mask(counted & (adjustment > 0), GAIN).mask(counted & (adjustment < 0), LOSS)
    return frame.assign(change_mg=flow + adjustment, stock_mg=flowed + offset, posting=posting)


def find_negative_days(ledger: pd.DataFrame) -> pd.DataFrame:
    """The days at whose end a lot had less than nothing: columns `date`, `lot`, `variety`, `stock_mg`."""
    days = ledger.groupby(["lot", "date"]).tail(1)
    days = days.loc[days["stock_mg"] < 0, ["date", "lot", "variety", "stock_mg"]]
    return days.sort_values(["date", "lot"], kind="stable").reset_index(drop=True)


def compare_with_counts(ledger: pd.DataFrame) -> pd.DataFrame:
    """Every physical count beside the book.

    Columns `date`, `lot`, `variety`, `record`, `counted_mg`, `book_mg` and `difference_mg` (counted less
    book).
    """
    counts = ledger.assign(
        counted_mg=ledger["mass_mg"],
        book_mg=ledger["mass_mg"] - ledger["change_mg"],
        difference_mg=ledger["change_mg"],
    )
    columns = ["date", "lot", "variety", "record", "counted_mg", "book_mg", "difference_mg"]
    return counts.loc[counts["kind"] == COUNT_KIND, columns].reset_index(drop=True)


def stock_on(ledger: pd.DataFrame, day: date) -> pd.Series[int]:
    """Each lot's stock in milligrams at the end of a day; lots without an entry by then are left out."""
    import pandas as pd

    until = ledger.loc[ledger["date"] <= pd.Timestamp(day)]
    return until.groupby("lot")["stock_mg"].last()


def list_entries(season: Season) -> tuple[Entry, ...]:
    """The ledger's entries in the order of the records; one that lacks a lot, day, kind or weight makes none.

    A lot of an earlier season that is still in stock has no record in this one: its variety is looked up
    there. Of two lots with one number the first is meant, as everywhere.
    """
    varieties = _find_varieties(season)
    return (*_list_packings(season, varieties), *_list_movements(season, varieties))


def keep_book(season: Season) -> pd.DataFrame:
    """The season's ledger in running order, as `run_stock` gives it, of the lots whose stock it tells."""
    entries = list_entries(season)
    if season.stock_of:
        entries = tuple(entry for entry in entries if entry.lot in season.stock_of)
    return run_stock(tabulate_entries(entries))


def _find_varieties(season: Season) -> dict[str, str]:
    found: dict[str, str] = {}
    within: Season | None = season
    while within is not None:
        for lot, variety in _walk(within.columns("lots"), "lot", "variety"):
            if lot is not None:
                found.setdefault(lot, variety or "")
        within = within.previous
    return found


def _list_packings(season: Season, varieties: Mapping[str, str]) -> Iterator[Entry]:
    seen: set[str] = set()
    lots = season.columns("lots")
    for lot, packed, weight, sources in _walk(lots, "lot", "packed", "weight_mg", "sources"):
        if lot is None or packed is None or weight is None or lot in seen:
            continue
        seen.add(lot)
        blended: dict[tuple[str, str], int] = {}
        for part in sources or ():
            if part.get("lot"):
                of = (part["lot"], varieties.get(part["lot"], ""))
                blended[of] = blended.get(of, 0) + int(part.get("weight_mg") or 0)
        yield from pack_lot(packed, lot, varieties.get(lot, ""), int(weight), blended, record=lot)


def _list_movements(season: Season, varieties: Mapping[str, str]) -> Iterator[Entry]:
    columns = ("movement", "date", "lot", "kind", "weight_mg", "party", "document")
    for movement, day, lot, kind, weight, party, document in _walk(season.columns("movements"), *columns):
        if lot is None or day is None or kind is None or weight is None:
            continue
        yield Entry(
            day,
            lot,
            varieties.get(lot, ""),
            kind,
            int(weight),
            document or "",
            party or "",
            movement or "",
        )


def _walk(records: Columns, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Rows as plain values, absent ones as None."""
    return (values[1:] for values in records.rows(*columns))
