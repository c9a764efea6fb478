"""`certgen balance`: do the quantities meet?"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from certgen.cli.arguments import Lots, OnDay, SeasonFolder, choose, parse_day, split_list

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.balance import Account, RunAccount
    from certgen.examination import Result

FORMATS: Final = ("text", "json", "csv")
_BY: Final = ("lot", "variety", "all")


def run(
    season: SeasonFolder = Path(),
    form: Annotated[
        str, typer.Option("--format", metavar="text|json|csv", help="How the balance is written.")
    ] = "text",
    by: Annotated[
        str, typer.Option(metavar="lot|variety|all", help="What the balance has a line for.")
    ] = "lot",
    lot: Lots = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="The first day of the period.")
    ] = None,
    end: Annotated[
        str | None, typer.Option("--to", metavar="DATE", help="The last day of the period.")
    ] = None,
    on: OnDay = None,
) -> int:
    """Balance what came in against what went out and what is left, to the milligram.

    Without --from and --to the period is the season. A count of stock corrects the book: what was found
    more or less stands in the balance as a gain or a loss. Exit code 1: a count differs from the book, or a
    lot held less than nothing on some day.

    Example:  certgen balance example_season --by variety --from 2026-01-01 --to 2026-11-20
    """
    choose(form, FORMATS, "--format")
    choose(by, _BY, "--by")
    lots, day = split_list(lot), parse_day(on)
    from certgen.cli.output import examine_or_refuse
    from certgen.dossier.balance import account_runs, take_account
    from certgen.figures.balance import Period

    result = examine_or_refuse(season, day, form)
    if result is None:
        return 2
    details = result.season.details
    period = None
    if start or end:
        first = _day(start, "--from") or details.start
        last = _day(end, "--to") or details.end
        if last < first:
            message = f"The period ends on {last}, before it begins on {first}."
            raise typer.BadParameter(message, param_hint="--to")
        period = Period(first, last)
    account = take_account(result.season, by, period, lots, result.on)  # type: ignore[arg-type]
    for one in lots:
        choose(one, [*result.lots, *account.ledger["lot"].unique()], "--lot")
    runs = () if lots else account_runs(result.season)
    {"text": _write_text, "json": _write_json, "csv": _write_csv}[form](result, account, runs)
    if result.errors:
        return 2
    return int(bool((account.counts["difference_mg"] != 0).any()) or len(account.negative) > 0)


def _day(text: str | None, option: str) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        message = f"'{text}' is no day. Write it as year-month-day, for example 2026-10-31."
        raise typer.BadParameter(message, param_hint=option) from None


def _groups(account: Account) -> Iterator[tuple[str, dict[str, int]]]:
    """Each line of the balance: its name and its figures in milligrams."""
    columns = [str(name) for name in account.balance.columns]
    for index, values in zip(
        account.balance.index.tolist(), account.balance.to_numpy().tolist(), strict=True
    ):
        name = " · ".join(part for part in index if part) if isinstance(index, tuple) else str(index)
        yield name, dict(zip(columns, (int(value) for value in values), strict=True))


def _total(account: Account) -> dict[str, int]:
    if not len(account.total):
        return {}
    return {str(name): int(value) for name, value in account.total.iloc[0].items()}


def _write_text(result: Result, account: Account, runs: tuple[RunAccount, ...]) -> None:
    from certgen.cli.terminal import Terminal, clean
    from certgen.dossier.balance import HEADINGS
    from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT
    from certgen.records.quantities import format_mass
    from certgen.rules.wording import day

    out = Terminal()
    details = result.season.details
    out.line(out.paint(clean(f"{details.operation.name}, season {details.label}"), "bold"))
    out.line(f"Seed from {day(account.period.start)} to {day(account.period.end)}.")
    total = _total(account)
    if not total:
        out.line("No lot was packed and no movement is recorded.")
        return
    for heading, columns in (("What came in", COLUMNS_IN), ("What went out", COLUMNS_OUT)):
        out.heading(heading)
        named = [name for name in columns if total[name]]
        masses = _align([*(total[name] for name in named), sum(total[name] for name in columns)])
        _columns(out, list(zip([*(HEADINGS[name] for name in named), "In all"], masses, strict=True)))
    out.heading("What is left")
    _columns(out, [("Closing stock", format_mass(total["closing_mg"]))])
    out.heading("Line by line")
    header = ("", "opening", "in", "out", "closing")
    names, lines = [], []
    for name, figures in _groups(account):
        came = sum(figures[column] for column in COLUMNS_IN) - figures["opening_mg"]
        went = sum(figures[column] for column in COLUMNS_OUT)
        names.append(name)
        lines.append((figures["opening_mg"], came, went, figures["closing_mg"]))
    figures_of = [_align(list(column)) for column in zip(*lines, strict=True)]
    _columns(out, [header, *zip(names, *figures_of, strict=True)])
    _write_counts(out, account)
    _write_custody(out, result)
    if runs:
        out.heading("From fruit to packed seed")
        titles = ("batch", "fruit", "wet", "dry", "packed", "dry of wet", "dry a fruit")
        _columns(out, [titles, *_list_runs(runs)])
    out.line()


def _align(values: list[int | None]) -> list[str]:
    """Masses under one another with the same decimals, as many as the finest of them needs."""
    known = [value for value in values if value is not None]
    decimals = next((d for d in range(4) if all(value % 10 ** (3 - d) == 0 for value in known)), 3)
    return [
        "–" if value is None else f"{value / 1000:,.{decimals}f}".replace(",", "\u202f") + " g"
        for value in values
    ]


def _columns(out: Any, rows: list[tuple[str, ...]]) -> None:
    """Names left, figures right."""
    from certgen.cli.terminal import clean

    shown = [tuple(clean(cell) for cell in row) for row in rows]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    for name, *figures in shown:
        cells = [f"{cell:>{width}}" for cell, width in zip(figures, widths[1:], strict=True)]
        out.line(f"  {name:<{widths[0]}}  {'  '.join(cells)}".rstrip())


def _list_runs(runs: tuple[RunAccount, ...]) -> list[tuple[str, ...]]:
    yields = [one.yields for one in runs]
    each = [None if one.dry_per_fruit_mg is None else round(one.dry_per_fruit_mg, -1) for one in yields]
    return list(
        zip(
            [one.batch for one in runs],
            ["–" if one.run.fruits is None else str(one.run.fruits) for one in runs],
            _align([one.run.wet_mg for one in runs]),
            _align([one.run.dry_mg for one in runs]),
            _align([one.run.packed_mg for one in runs]),
            ["–" if one.dry_of_wet is None else f"{100 * one.dry_of_wet:.0f} %" for one in yields],
            _align([None if value is None else int(value) for value in each]),
            strict=True,
        )
    )


def _write_counts(out: Any, account: Account) -> None:
    from certgen.records.quantities import format_mass
    from certgen.rules.wording import day

    counts = account.counts
    names = ("date", "lot", "counted_mg", "book_mg", "difference_mg")
    listed = list(zip(*(counts[name].tolist() for name in names), strict=True))
    wrong = [line for line in listed if line[4]]
    if listed:
        out.heading("Counts of stock")
        out.line(f"  {len(listed) - len(wrong)} of {len(listed)} counts meet the book.")
    for when, lot, counted, book, difference in wrong:
        word = "more" if difference > 0 else "less"
        out.text(
            f"{day(when.date())}, lot {lot}: {format_mass(counted)} counted, {format_mass(book)} in the "
            f"book: {format_mass(abs(difference))} {word} than there should be.",
            2,
            "yellow",
        )
    negative = account.negative
    if len(negative):
        out.heading("Days with less than nothing in stock", "red")
        for when, lot, stock in zip(
            negative["date"].tolist(), negative["lot"].tolist(), negative["stock_mg"].tolist(), strict=True
        ):
            out.text(f"{day(when.date())}, lot {lot}: {format_mass(stock)}.", 2)


def _write_custody(out: Any, result: Result) -> None:
    """Where each lot's grams are, and what they are worth."""
    from certgen.dossier.custody import say_standing, tell_custody
    from certgen.records.quantities import format_mass
    from certgen.rules.wording import capital

    out.heading("Where each lot is")
    for name, lot in result.lots.items():
        worth = say_standing(lot) or lot.standing
        out.text(f"{name}, {format_mass(lot.weight_mg)}: {worth}.", 2)
        out.text(f"{capital(tell_custody(result, name).text())}.", 4)


def _list_custody(result: Result) -> list[dict[str, Any]]:
    from certgen.cli.findings import custody_as_json, grams

    return [
        {
            "lot": name,
            "standing": lot.standing,
            "traced_g": grams(lot.traced_mg),
            "unproven_g": grams(lot.unproven_mg),
            "rejected_g": grams(lot.rejected_mg),
            "unaccounted_g": grams(lot.unaccounted_mg),
            **custody_as_json(result, name),
        }
        for name, lot in result.lots.items()
    ]


def _write_json(result: Result, account: Account, runs: tuple[RunAccount, ...]) -> None:
    from certgen.cli.output import dump_json, name_season

    counts, negative = account.counts, account.negative
    dump_json(
        {
            "format": 1,
            "season": name_season(result),
            "period": {"from": str(account.period.start), "to": str(account.period.end)},
            "total": _in_grams(_total(account)),
            "lines": [{"line": name, **_in_grams(figures)} for name, figures in _groups(account)],
            "periods": [{"from": str(one.start), "to": str(one.end)} for one in account.periods],
            "counts": [
                {"date": str(when.date()), "lot": lot, "counted_g": counted / 1000, "book_g": book / 1000,
                 "difference_g": difference / 1000}
                for when, lot, counted, book, difference in zip(
                    *(counts[name].tolist()
                      for name in ("date", "lot", "counted_mg", "book_mg", "difference_mg")),
                    strict=True,
                )
            ],
            "below_nothing": [
                {"date": str(when.date()), "lot": lot, "stock_g": stock / 1000}
                for when, lot, stock in zip(
                    *(negative[name].tolist() for name in ("date", "lot", "stock_mg")), strict=True
                )
            ],
            "custody": _list_custody(result),
            "runs": [_run_json(one) for one in runs],
        }
    )  # fmt: skip


def _in_grams(figures: dict[str, int]) -> dict[str, float]:
    return {name.removesuffix("_mg") + "_g": value / 1000 for name, value in figures.items()}


def _run_json(account: RunAccount) -> dict[str, Any]:
    from dataclasses import asdict

    run = {
        (name.removesuffix("_mg") + "_g" if name.endswith("_mg") else name): (
            value / 1000 if name.endswith("_mg") and value is not None else value
        )
        for name, value in asdict(account.run).items()
    }
    yields = asdict(account.yields)
    history = None if account.history is None else asdict(account.history)
    return {
        "batch": account.batch,
        "varieties": list(account.varieties),
        **run,
        "yields": yields,
        "history": history,
    }


def _write_csv(result: Result, account: Account, runs: tuple[RunAccount, ...]) -> None:  # noqa: ARG001 (all writers are called alike)
    from certgen.cli.output import dump_csv
    from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT

    columns = [*COLUMNS_IN, *COLUMNS_OUT, "closing_mg"]
    lines = [(name, *(figures[column] / 1000 for column in columns)) for name, figures in _groups(account)]
    if total := _total(account):
        lines.append(("all", *(total[column] / 1000 for column in columns)))
    dump_csv(["line", *(column.removesuffix("_mg") + "_g" for column in columns)], lines)
