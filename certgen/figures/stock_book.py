"""A season's stock ledger out of its records: the packing of lots, then the movements."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.figures.ledger import Entry, pack_lot, run_stock, tabulate_entries

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from certgen.records import Season


def list_entries(season: Season) -> tuple[Entry, ...]:
    """The ledger's entries in the order of the records; one that lacks a lot, day, kind or weight makes none.

    A lot of an earlier season that is still in stock has no record in this one: its variety is looked up
    there. Of two lots with one number the first is meant, as everywhere.
    """
    varieties = _find_varieties(season)
    return (*_list_packings(season, varieties), *_list_movements(season, varieties))


def keep_book(season: Season) -> pd.DataFrame:
    """The season's ledger in running order, as `run_stock` gives it."""
    return run_stock(tabulate_entries(list_entries(season)))


def _find_varieties(season: Season) -> dict[str, str]:
    found: dict[str, str] = {}
    within: Season | None = season
    while within is not None:
        for lot, variety in _walk(within.table("lots"), "lot", "variety"):
            if lot is not None:
                found.setdefault(lot, variety or "")
        within = within.previous
    return found


def _list_packings(season: Season, varieties: Mapping[str, str]) -> Iterator[Entry]:
    seen: set[str] = set()
    lots = season.table("lots")
    for lot, packed, weight, sources in _walk(lots, "lot", "packed", "weight_mg", "sources"):
        if lot is None or packed is None or weight is None or lot in seen:
            continue
        seen.add(lot)
        blended: dict[tuple[str, str], int] = {}
        for part in sources or ():
            if part.get("lot"):
                of = (part["lot"], varieties.get(part["lot"], ""))
                blended[of] = blended.get(of, 0) + int(part.get("weight_mg") or 0)
        yield from pack_lot(packed.date(), lot, varieties.get(lot, ""), int(weight), blended, record=lot)


def _list_movements(season: Season, varieties: Mapping[str, str]) -> Iterator[Entry]:
    columns = ("movement", "date", "lot", "kind", "weight_mg", "party", "document")
    for movement, day, lot, kind, weight, party, document in _walk(season.table("movements"), *columns):
        if lot is None or day is None or kind is None or weight is None:
            continue
        yield Entry(
            day.date(),
            lot,
            varieties.get(lot, ""),
            kind,
            int(weight),
            document or "",
            party or "",
            movement or "",
        )


def _walk(frame: pd.DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Rows as plain values, absent ones as None."""
    lists = []
    for column in columns:
        values = frame[column]
        # A list column is never absent: it holds empty tuples.
        missing = values.isna().tolist() if values.dtype != object else [False] * len(values)
        lists.append([None if gone else value for value, gone in zip(values.tolist(), missing, strict=True)])
    return zip(*lists, strict=True)
