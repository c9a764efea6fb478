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
    import numpy as np
    import pandas as pd

    rows = list(entries)
    _refuse_bad_entries(rows)
    columns: dict[str, Any] = {
        field.name: pd.array([getattr(row, field.name) for row in rows], dtype="str")
        for field in fields(Entry)
        if field.name not in {"date", "mass_mg"}
    }
    columns["date"] = np.array([row.date for row in rows], dtype="datetime64[D]").astype("datetime64[s]")
    columns["mass_mg"] = np.array([row.mass_mg for row in rows], dtype="int64")
    return pd.DataFrame({field.name: columns[field.name] for field in fields(Entry)})


def _refuse_bad_entries(entries: Iterable[Entry]) -> None:
    varieties: dict[str, str] = {}
    for entry in entries:
        if entry.kind not in SIGNS:
            kinds = ", ".join(SIGNS)
            raise ValueError(f"'{entry.kind}' is not a kind of ledger entry; there are {kinds}.")
        if entry.mass_mg < 0:
            raise ValueError(
                f"Lot {entry.lot} has an entry with a negative weight: use a kind that goes out."
            )
        if varieties.setdefault(entry.lot, entry.variety) != entry.variety:
            raise ValueError(f"Lot {entry.lot} stands in the ledger under more than one variety.")


def run_stock(entries: pd.DataFrame) -> pd.DataFrame:
    """The ledger in running order, with what each entry changed and the lot's stock after it, in milligrams.

    Adds `change_mg` (signed; of a count: what was counted less what the book said), `stock_mg`, and
    `posting`: the entry's kind, or `count gain` or `count loss` for a count that differed. The changes of a
    lot add up to its stock.
    """
    import numpy as np
    import pandas as pd

    ranks = np.array([_ORDER[kind] for kind in entries["kind"].tolist()], dtype="int64")
    frame = entries.iloc[np.lexsort((ranks, entries["date"].to_numpy()))].reset_index(drop=True)
    stock: dict[str, int] = {}
    run: list[tuple[int, int, str]] = []
    # Entry by entry: a season's book is short, and to ask pandas of its columns takes longer than to add up.
    for lot, kind, mass in zip(*(frame[name].tolist() for name in ("lot", "kind", "mass_mg")), strict=True):
        before, posting = stock.get(lot, 0), kind
        change = SIGNS[kind] * mass
        if kind == COUNT_KIND:
            change = mass - before
            posting = GAIN if change > 0 else LOSS if change < 0 else kind
        stock[lot] = before + change
        run.append((change, stock[lot], posting))
    return frame.assign(
        change_mg=np.array([change for change, _, _ in run], dtype="int64"),
        stock_mg=np.array([after for _, after, _ in run], dtype="int64"),
        posting=pd.array([posting for _, _, posting in run], dtype="str"),
    )


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
