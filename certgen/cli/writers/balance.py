"""The balance as a grower reads it: what came in, what went out, what is left, line by line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import Terminal
from certgen.dossier.balance import HEADINGS
from certgen.dossier.custody import say_standing, tell_custody
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, WITHIN
from certgen.records.quantities import format_mass
from certgen.rules.wording import capital, day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.balance import Account, RunAccount
    from certgen.examination import Result

_RUN_HEADINGS: Final = ("batch", "fruit", "wet g", "dry g", "packed g", "dry of wet", "dry g a fruit")
_UNIT: Final = "\u00a0g"


def write_text(result: Result, account: Account, runs: Sequence[RunAccount]) -> None:
    """Writes the balance to the terminal."""
    out = Terminal()
    out.season(result)
    out.line(f"Seed from {day(account.period.start)} to {day(account.period.end)}.")
    if not account.totals:
        out.line("No lot was packed and no movement is recorded.")
        return
    _write_columns(out, "What came in, in grams", COLUMNS_IN, account.totals)
    _write_columns(out, "What went out, in grams", COLUMNS_OUT, account.totals)
    out.heading("What is left, in grams")
    out.figures([("Closing stock", *_align([account.totals["closing_mg"]]))])
    if account.totals[WITHIN]:
        moved = format_mass(account.totals[WITHIN])
        out.text(f"Blended from lot to lot: {moved}. It neither came in nor went out, and is in no sum.", 2)
    _write_lines(out, account)
    _write_counts(out, account)
    _write_custody(out, result)
    if runs:
        out.heading("From fruit to packed seed")
        out.figures([_RUN_HEADINGS, *_list_runs(runs)])
    out.line()


def _write_columns(out: Terminal, heading: str, columns: Sequence[str], totals: dict[str, int]) -> None:
    out.heading(heading)
    filled = [name for name in columns if totals[name]]
    masses = _align([*(totals[name] for name in filled), sum(totals[name] for name in columns)])
    out.figures(zip([*(HEADINGS[name] for name in filled), "In all"], masses, strict=True))


def _write_lines(out: Terminal, account: Account) -> None:
    out.heading("Line by line, in grams")
    masses = [
        (
            line["opening_mg"],
            sum(line[column] for column in COLUMNS_IN) - line["opening_mg"],
            sum(line[column] for column in COLUMNS_OUT),
            line["closing_mg"],
        )
        for _, line in account.lines
    ]
    names = [name for name, _ in account.lines]
    columns = (_align(list(column)) for column in zip(*masses, strict=True))
    out.figures([("", "opening", "in", "out", "closing"), *zip(names, *columns, strict=True)])


def _align(masses: Sequence[int | None]) -> list[str]:
    """Masses under one another at the decimal point, each as it is in a sentence but without its unit."""
    written = ["–" if mass is None else format_mass(mass).removesuffix(_UNIT) for mass in masses]
    after = [len(text.partition(".")[2]) + ("." in text) for text in written]
    return [text + " " * (max(after) - own) for text, own in zip(written, after, strict=True)]


def _list_runs(accounts: Sequence[RunAccount]) -> list[tuple[str, ...]]:
    runs = [account.run for account in accounts]
    yields = [account.yields for account in accounts]
    return list(
        zip(
            [account.batch for account in accounts],
            [_or_dash(run.fruits, "{}") for run in runs],
            _align([run.wet_mg for run in runs]),
            _align([run.dry_mg for run in runs]),
            _align([run.packed_mg for run in runs]),
            [_or_dash(of.dry_of_wet, "{:.0%}").replace("%", " %") for of in yields],
            _align([_to_centigrams(of.dry_per_fruit_mg) for of in yields]),
            strict=True,
        )
    )


def _or_dash(figure: float | None, form: str) -> str:
    return "–" if figure is None else form.format(figure)


def _to_centigrams(mass: float | None) -> int | None:
    """Milligrams rounded to ten of them: what an average is worth."""
    return None if mass is None else int(round(mass, -1))


def _write_counts(out: Terminal, account: Account) -> None:
    wrong = [count for count in account.counted if count.difference_mg]
    if account.counted:
        out.heading("Counts of stock")
        all_counts = len(account.counted)
        out.line(f"  {all_counts - len(wrong)} of {all_counts} counts meet the book.")
    for count in wrong:
        word = "more" if count.difference_mg > 0 else "less"
        out.text(
            f"{day(count.day)}, lot {count.lot}: {format_mass(count.counted_mg)} counted, "
            f"{format_mass(count.book_mg)} in the book: {format_mass(abs(count.difference_mg))} {word} than "
            f"there should be. {account.say_tolerance(count)}".rstrip(),
            2,
            "yellow",
        )
    if account.counted:
        out.text(account.scale, 2)
    if account.overdrawn:
        out.heading("Days with less than nothing in stock", "red")
    for when, lot, stock in account.overdrawn:
        out.text(f"{day(when)}, lot {lot}: {format_mass(stock)}.", 2)


def _write_custody(out: Terminal, result: Result) -> None:
    """Where each lot's grams are, and what they are worth."""
    out.heading("Where each lot is")
    for name, lot in result.lots.items():
        worth = say_standing(lot) or lot.standing
        out.text(f"{name}, {format_mass(lot.weight_mg)}: {worth}.", 2)
        out.text(f"{capital(tell_custody(result, name).text())}.", 4)
