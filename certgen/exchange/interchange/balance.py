"""The mass balance for other programs: one JSON object, or its lines as rows."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.interchange.layout import describe_custody, describe_standing, grams, name_season
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, WITHIN

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.dossier.balance import Account, Count, RunAccount
    from certgen.examination import Result

#: The form of `balance --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 2

_MASSES: Final = (*COLUMNS_IN, *COLUMNS_OUT, "closing_mg", WITHIN)
#: The columns of `balance --format csv`.
COLUMNS: Final = ("line", *(f"{name.removesuffix('_mg')}_g" for name in _MASSES))


def build_balance(result: Result, account: Account, runs: Sequence[RunAccount]) -> dict[str, Any]:
    """The object that `schemas/output/balance.json` describes."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "period": {"from": account.period.start, "to": account.period.end},
        "total": _in_grams(account.totals),
        "lines": [{"line": name, **_in_grams(masses)} for name, masses in account.lines],
        "periods": [{"from": period.start, "to": period.end} for period in account.periods],
        "counts": [
            {
                "date": count.day,
                "lot": count.lot,
                "counted_g": grams(count.counted_mg),
                "book_g": grams(count.book_mg),
                "difference_g": grams(count.difference_mg),
                "readings": count.readings,
                "off_step": count.off_step,
                "tolerance": _describe_tolerance(account, count),
                "judged": account.judge(count),
            }
            for count in account.counted
        ],
        "scale": {
            "step_g": None if account.step_mg is None else grams(account.step_mg),
            "says": account.scale,
        },
        "below_nothing": [
            {"date": day, "lot": lot, "stock_g": grams(stock)} for day, lot, stock in account.overdrawn
        ],
        "custody": [
            {"lot": name, **describe_standing(lot), **(describe_custody(result, name) or {})}
            for name, lot in result.lots.items()
        ],
        "runs": [_describe_run(run) for run in runs],
    }


def tabulate_balance(account: Account) -> Iterator[tuple[str | float, ...]]:
    """A row a line of the balance, below `COLUMNS`, and one of all."""
    lines = [*account.lines, *([("all", account.totals)] if account.totals else [])]
    for name, masses in lines:
        yield (name, *(grams(masses[column]) for column in _MASSES))


def _describe_tolerance(account: Account, count: Count) -> dict[str, float] | None:
    tolerance = account.tolerance(count)
    if tolerance is None:
        return None
    return {
        "likely_g": round(tolerance.likely_mg / 1000, 4),
        "worst_g": round(tolerance.worst_mg / 1000, 4),
    }


def _describe_run(account: RunAccount) -> dict[str, Any]:
    return {
        "batch": account.batch,
        "varieties": list(account.varieties),
        **_in_grams(asdict(account.run)),
        "yields": asdict(account.yields),
        "history": None if account.history is None else asdict(account.history),
    }


def _in_grams(figures: Mapping[str, int | None]) -> dict[str, float | None]:
    """Figures by name, masses in grams under a name that says so, others as they are."""
    return dict(_convert(name, value) for name, value in figures.items())


def _convert(name: str, value: int | None) -> tuple[str, float | None]:
    if not name.endswith("_mg"):
        return name, value
    return f"{name.removesuffix('_mg')}_g", None if value is None else grams(value)
