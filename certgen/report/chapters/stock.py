"""Mass balance and stock of the season, in the headings that inspectors ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.dossier.balance import COUNTS, HEADINGS, account_runs, recorded_step, season_period, take_account
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, WITHIN, balance_period
from certgen.figures.ledger import COUNT_KIND
from certgen.report.drawings.ledger import LedgerPicture, LedgerStep, draw_ledger
from certgen.report.tables import Amount, Column, grams, mass, table
from certgen.report.wording import key, weigh, whole
from certgen.typeset.parts import Chapter, Picture, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pandas import DataFrame

    from certgen.dossier.balance import RunAccount
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.typeset.parts import Grid, Part


def describe_ledger(title: str, balance: Any, counted: int | None, width: float) -> LedgerPicture:
    """Where the grams of a balance went, ready to be drawn; `counted` is what a count found last."""
    steps = tuple(_list_postings(balance))
    # What counts found is no entry of the book: it stands beside it.
    off = int(balance["count_gain_mg"] - balance["count_loss_mg"])
    book = int(balance["closing_mg"]) - off
    left = LedgerStep("On hand by the book", book, weigh(book))
    last = None if counted is None else LedgerStep("Counted last", counted, weigh(counted))
    difference = None
    if off:
        name = "Counted more than booked" if off > 0 else "Counted less than booked"
        difference = LedgerStep(name, off, f"{'+' if off > 0 else '−'} {weigh(abs(off))}")
    listed = [*steps, *(one for one in (left, last, difference) if one)]
    said = "; ".join(f"{step.label[0].lower()}{step.label[1:]} {step.words}" for step in listed)
    met = " The count met the book." if last and not difference else ""
    return LedgerPicture(title, f"{title}: {said}.{met}", steps, left, last, width, difference)


def _list_postings(balance: Any) -> Iterator[LedgerStep]:
    """What came in and what went out, under the headings of the balance; not what counts found."""
    for columns, sign, mark in ((COLUMNS_IN, 1, "+"), (COLUMNS_OUT, -1, "−")):
        for column in columns:
            if int(balance[column]) and column not in COUNTS:
                words = f"{mark} {weigh(balance[column])}"
                yield LedgerStep(HEADINGS[column], sign * int(balance[column]), words)


def picture_ledger(name: str, title: str, balance: Any, counted: int | None, width: float) -> Picture:
    """The picture of where the grams of a balance went; `counted` is what a count found last."""
    picture = describe_ledger(title, balance, counted, width)
    return Picture(
        name,
        draw_ledger(picture),
        picture.description,
        "Solid came in, hatched went out, each step beginning where the one above ended; outlined is what is"
        " left.",
    )


def build_stock(context: Context, width: float) -> Chapter:
    """The chapter of mass balance and stock."""
    ledger = context.result.ledger
    if not len(ledger):
        words = "No lot was packed and no movement of seed is recorded, so there is nothing to balance."
        return Chapter(
            "balance", (Section("balance", "Mass balance and stock", 1, (Prose((words,)),), style="chapter"),)
        )
    period = season_period(context.season, ledger, context.result.on)
    season = balance_period(ledger, period, "all")
    words = (
        f"What came in, what went out and what is left of clean seed from {period.start.isoformat()} to"
        f" {period.end.isoformat()}. Both sides are added up apart, in whole milligrams, and agree exactly;"
        " where a physical count differs from the book, the difference stands under its own heading."
    )
    parts: list[Part] = [Prose((words, _say_counts(context), *_say_scale(context)))]
    if len(season):
        title = "Where every gram of the season went"
        parts.append(picture_ledger("ledger", title, season.iloc[0], None, width))
    parts.append(_show_balance(balance_period(ledger, period, "variety"), season))
    stock = _show_stock(context, balance_period(ledger, period, "lot"), ledger)
    return Chapter(
        "balance",
        (
            Section("balance", "Mass balance and stock", 1, tuple(parts), style="chapter"),
            Section("stock", "Stock by lot", 2, (stock,), style="part"),
            Section("conversion", "From fruit to packed seed", 2, (_show_runs(context),), style="part"),
        ),
    )


def _say_counts(context: Context) -> str:
    """How many of the lots that were counted met the book, the differences by lot."""
    moves = context.result.case.keyed("movements")
    counted = set(moves["lot"][moves["kind"] == COUNT_KIND])
    books = {lot: context.result.books[lot] for lot in context.result.lots if lot in context.result.books}
    missing = {
        lot: sum(event.mass_mg for event in book.missing)
        for lot, book in books.items()
        if lot in counted and book.missing
    }
    held = sum(1 for lot in books if lot in counted)
    if not held:
        return "No lot was counted."
    met = f"{whole(held - len(missing))} of {whole(held)} lots that were counted meet the book"
    short = ", ".join(f"{lot} is {weigh(milligrams)} short" for lot, milligrams in missing.items())
    return f"{met}{f'; {short}' if short else ''}."


def _say_scale(context: Context) -> tuple[str, ...]:
    """What the scale's steps can explain of the differences that counts found; nothing without a count."""
    result = context.result
    account = take_account(result.season, on=result.on, step_mg=recorded_step(result))
    if not account.counted:
        return ()
    off = [count for count in account.counted if count.difference_mg]
    said = " ".join(
        f"Lot {count.lot} held {weigh(abs(count.difference_mg))}"
        f" {'more' if count.difference_mg > 0 else 'less'} than the book on {count.day.isoformat()}."
        f" {account.say_tolerance(count)}"
        for count in off
        if account.step_mg is not None
    )
    return (f"{account.scale} {said}".rstrip(),)


class _Posting(NamedTuple):
    """A line of the balance: its grams by variety, those of all last."""

    label: str
    milligrams: list[int]
    tone: str = "plain"


def _show_balance(balance: DataFrame, season: DataFrame) -> Grid:
    """The balance with varieties as columns and postings as rows, which reads like a page of a stock book.

    The column of all is the balance of `season`: what one variety's lot took from another's isn't in it.
    """
    both = [balance, season]

    def side(columns: Sequence[str], label: str) -> list[_Posting]:
        total = [one for part in both for one in part[list(columns)].sum(axis="columns").tolist()]
        used = [name for name in columns if balance[name].any()]
        return [*(_posting(name, both) for name in used), _Posting(label, total, "total")]

    varieties = [str(name) for name in balance.index]
    columns: list[Column[_Posting]] = [Column("Variety", "text", lambda row: row.label)]
    for at, name in enumerate(varieties):
        columns.append(Column(name, "number", lambda row, at=at: mass(row.milligrams[at])))  # type: ignore[misc]
    columns.append(Column("All", "number", lambda row: mass(row.milligrams[-1])))
    rows = [
        *side(COLUMNS_IN, "All that came in"),
        *side(COLUMNS_OUT, "All that went out"),
        _Posting("Left at the end", _posting("closing_mg", both).milligrams, "total"),
    ]
    within = _posting(WITHIN, both).milligrams[-1]
    note = (
        f"Blended from lot to lot: {weigh(within)}. It neither came in nor went out, and is in no sum."
        if within
        else ""
    )
    return table("By variety", columns, rows, note=note, tone=lambda row: row.tone)


def _posting(name: str, parts: Sequence[DataFrame]) -> _Posting:
    return _Posting(HEADINGS[name], [one for part in parts for one in part[name].tolist()])


class _Stock(NamedTuple):
    """A lot's grams over the period; `counted` is what the last count found (None: not counted)."""

    lot: str
    variety: str
    came_mg: int
    sold_mg: int
    other_mg: int
    book_mg: int
    counted_mg: int | None
    difference_mg: int


def _list_stock(balance: DataFrame, ledger: DataFrame) -> list[_Stock]:
    counts = ledger[ledger["kind"] == COUNT_KIND].drop_duplicates("lot", keep="last")
    counted = dict(zip(counts["lot"].tolist(), counts["mass_mg"].tolist(), strict=True))
    sold = balance["sold_mg"]
    came = balance[[name for name in COLUMNS_IN if name not in COUNTS]].sum(axis="columns")
    went = balance[[name for name in COLUMNS_OUT if name not in COUNTS]].sum(axis="columns")
    difference = balance["count_gain_mg"] - balance["count_loss_mg"]
    book = balance["closing_mg"] - difference
    columns = (came, sold, went - sold, book, difference)
    rows = zip(balance.index, *(column.tolist() for column in columns), strict=True)
    return [
        _Stock(str(lot), str(variety), inside, sale, other, left, counted.get(str(lot)), off)
        for (lot, variety), inside, sale, other, left, off in rows
    ]


def _show_stock(context: Context, balance: DataFrame, ledger: DataFrame) -> Grid:
    lots = context.result.lots
    return table(
        "Stock at the end of the period",
        (
            Column(
                "Lot",
                "key",
                lambda row: key(row.lot, f"lots/{row.lot}" if row.lot in lots else ""),
                total=lambda _rows: "All",
            ),
            Column("Variety", "text", lambda row: row.variety),
            grams("In", lambda row: row.came_mg, summed=True),
            grams("Sold", lambda row: row.sold_mg, summed=True),
            grams("Other out", lambda row: row.other_mg, summed=True),
            grams("By the book", lambda row: row.book_mg, summed=True),
            grams("Counted last", lambda row: row.counted_mg),
            Column(
                "Difference",
                "number",
                lambda row: None if row.counted_mg is None else _signed(row.difference_mg),
                total=lambda rows: _signed(sum(row.difference_mg for row in rows)),
            ),
        ),
        _list_stock(balance, ledger),
        note="Seed blended from one lot into another is out of the first and in to the second.",
    )


def _signed(milligrams: int) -> Shown:
    """A difference with its sign: `− 2.5 g`."""
    amount = mass(abs(milligrams))
    if amount is None or not milligrams:
        return amount
    return Amount(f"{'+' if milligrams > 0 else '−'} {amount.figure}", amount.unit, amount.gap)


def _show_runs(context: Context) -> Part:
    runs = account_runs(context.season)
    if not runs:
        return Prose(("No extraction is recorded.",))
    note = (
        "Computed from recorded weights. Seed counts and sizes differ between varieties: a hint, no standard."
    )
    for name in ("wet_to_dry_pct", "seed_of_fruit_pct"):
        usual = context.result.case.practice(name)
        if usual is not None:
            note += f" {usual.title}: {usual.text()} ({usual.mark})."
    return table(
        "Batches",
        (
            Column("Batch", "key", lambda account: key(account.batch, f"batches/{account.batch}")),
            Column("Fruit", "number", lambda account: account.run.fruits),
            grams("Fruit weight", lambda account: account.run.fruit_mg),
            grams("Wet seed", lambda account: account.run.wet_mg),
            grams("Dry seed", lambda account: account.run.dry_mg),
            grams("Packed", lambda account: account.run.packed_mg),
            Column("Dry of wet", "number", lambda account: _percent(account.yields.dry_of_wet)),
            Column("Dry a fruit", "number", lambda account: _each(account.yields.dry_per_fruit_mg)),
        ),
        runs,
        note=note + _say_history(runs),
    )


def _percent(share: float | None) -> Amount | None:
    return None if share is None else Amount(f"{100 * share:.0f}", "%", " ")


def _each(milligrams: float | None) -> Amount | None:
    return None if milligrams is None else Amount(f"{milligrams / 1000:.2f}", "g", " ")


def _say_history(runs: Sequence[RunAccount]) -> str:
    """The runs' dry seed a fruit beside the farm's own earlier seasons; empty without any."""
    held = [run.history for run in runs if run.history is not None]
    if not held:
        return ""
    low, high = (f"{milligrams / 1000:.2f} g" for milligrams in (held[0].low, held[0].high))
    span = low if held[0].low == held[0].high else f"{low} to {high}"
    seasons = "season" if held[0].seasons == 1 else f"{held[0].seasons} seasons"
    ratios = [history.ratio for history in held if history.ratio is not None]
    said = f" Dry seed a fruit in the operation’s earlier {seasons}: {span}"
    if ratios:
        said += f"; these runs gave {min(ratios):.2f} to {max(ratios):.2f} times as much"
    return said + "."
