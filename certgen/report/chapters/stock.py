"""Mass balance and stock: the ledger of each lot and of the season, in the headings that inspectors ask
for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.dossier.balance import COUNTS, HEADINGS, account_runs, season_period
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, balance_period
from certgen.figures.ledger import COUNT_KIND
from certgen.report.drawings.ledger import LedgerPicture, LedgerStep, draw_ledger
from certgen.report.wording import cell, figure, key, weigh, whole
from certgen.typeset.parts import Cell, Chapter, Grid, Head, Picture, Prose, Row, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pandas import DataFrame

    from certgen.dossier.balance import RunAccount
    from certgen.report.context import Context
    from certgen.typeset.parts import Part


def lot_ledger(context: Context, lot: str, width: float) -> list[Part]:
    """A lot's ledger with its running stock, and the picture of where its grams went."""
    ledger = context.result.ledger
    ledger = ledger[ledger["lot"] == lot]
    if not len(ledger):
        return [Prose(("No weight of this lot is in the ledger.",))]
    rows = []
    for day, kind, mass, change, stock, party, document, record in zip(
        *(
            ledger[name].tolist()
            for name in ("date", "kind", "mass_mg", "change_mg", "stock_mg", "party", "document", "record")
        ),
        strict=True,
    ):
        counted = kind == COUNT_KIND
        anchor = f"movements/{record}" if record in context.order["movements"] else ""
        rows.append(
            Row(
                (
                    cell(day.date().isoformat(), kind="date"),
                    cell("packed" if kind == "produced" else kind),
                    figure(weigh(change) if change > 0 and not counted else ""),
                    figure(weigh(-change) if change < 0 and not counted else ""),
                    figure(weigh(mass) if counted else ""),
                    figure(weigh(stock)),
                    cell(party or ""),
                    Cell((*cell(document or "").runs,)),
                    key(record or "", anchor),
                )
            )
        )
    balance = balance_period(ledger, None, "all").iloc[0]
    counts = ledger[ledger["kind"] == COUNT_KIND]
    counted = int(counts["mass_mg"].iloc[-1]) if len(counts) else None
    return [
        _picture(context, f"ledger-of-{lot}", f"Where every gram of lot {lot} went", balance, counted, width),
        Grid(
            "Ledger",
            (
                Head("Date", "date"),
                Head("Entry"),
                Head("In", "number"),
                Head("Out", "number"),
                Head("Counted", "number"),
                Head("Stock", "number"),
                Head("Party"),
                Head("Document"),
                Head("Record", "key"),
            ),
            tuple(rows),
        ),
    ]


def _picture(
    context: Context,  # noqa: ARG001 -- kept alike with the other builders of parts
    name: str,
    title: str,
    balance: Any,
    counted: int | None,
    width: float,
) -> Picture:
    steps = [
        LedgerStep(
            HEADINGS[column],
            sign * int(balance[column]),
            f"{'+' if sign > 0 else '−'} {weigh(balance[column])}",
        )
        for columns, sign in ((COLUMNS_IN, 1), (COLUMNS_OUT, -1))
        for column in columns
        if int(balance[column]) and column not in COUNTS
    ]
    # What counts found is no entry of the book: it stands beside it.
    book = int(balance["closing_mg"] - balance["count_gain_mg"] + balance["count_loss_mg"])
    left = LedgerStep("On hand by the book", book, weigh(book))
    last = LedgerStep("Counted last", counted, weigh(counted)) if counted is not None else None
    said = "; ".join(f"{step.label} {step.words}" for step in steps) + f"; on hand by the book {weigh(book)}"
    said += f"; counted last {weigh(counted)}" if counted is not None else ""
    picture = LedgerPicture(title, said, tuple(steps), left, last, width)
    return Picture(
        name,
        draw_ledger(picture),
        f"{title}. {said}.",
        "Solid came in, hatched went out, each step beginning where the one above ended.",
    )


def build_stock(context: Context, width: float) -> Chapter:
    """The chapter of mass balance and stock."""
    ledger = context.result.ledger
    if not len(ledger):
        section = Section(
            "balance",
            "Mass balance and stock",
            1,
            (
                Prose(
                    (
                        (
                            "No lot was packed and no movement of seed is recorded, so there is nothing to"
                            " balance."
                        ),
                    )
                ),
            ),
            style="chapter",
        )
        return Chapter("balance", (section,))
    period = season_period(context.season, ledger, context.result.on)
    whole_season = balance_period(ledger, period, "all")
    by_variety = balance_period(ledger, period, "variety")
    by_lot = balance_period(ledger, period, "lot")
    counts = ledger[ledger["kind"] == COUNT_KIND].drop_duplicates("lot", keep="last")
    parts: list[Part] = [
        Prose(
            (
                (
                    f"What came in, what went out and what is left of clean seed from"
                    f" {period.start.isoformat()} to"
                    f" {period.end.isoformat()}. Both sides are added up apart, in whole milligrams, and"
                    f" agree exactly;"
                    " where a physical count differs from the book, the difference stands under its own"
                    " heading."
                ),
                _say_counts(context),
            )
        ),
    ]
    if len(whole_season):
        parts.append(
            _picture(
                context, "ledger", "Where every gram of the season went", whole_season.iloc[0], None, width
            )
        )
    parts.append(_balance_grid("By variety", "Variety", by_variety, [str(name) for name in by_variety.index]))
    sections = [Section("balance", "Mass balance and stock", 1, tuple(parts), style="chapter")]
    names = [str(lot) for lot, _ in by_lot.index]
    sections.append(
        Section(
            "stock",
            "Stock by lot",
            2,
            (
                _stock_grid(
                    context,
                    by_lot,
                    names,
                    dict(zip(counts["lot"].tolist(), counts["mass_mg"].tolist(), strict=True)),
                ),
            ),
            style="part",
        )
    )
    sections.append(
        Section("conversion", "From fruit to packed seed", 2, (_conversion(context),), style="part")
    )
    return Chapter("balance", tuple(sections))


def _say_counts(context: Context) -> str:
    """How many of the lots that were counted met the book, the differences by lot."""
    books = {lot: context.result.books[lot] for lot in context.result.lots if lot in context.result.books}
    moves = context.result.case.keyed("movements")
    counted = set(moves["lot"][moves["kind"] == COUNT_KIND])
    off = {
        lot: sum(event.mass_mg for event in book.missing)
        for lot, book in books.items()
        if lot in counted and book.missing
    }
    held = [lot for lot in books if lot in counted]
    if not held:
        return "No lot was counted."
    met = f"{whole(len(held) - len(off))} of {whole(len(held))} lots that were counted meet the book"
    short = ", ".join(f"{lot} is {weigh(mass)} short" for lot, mass in off.items())
    return f"{met}{f'; {short}' if short else ''}."


def _balance_grid(caption: str, head: str, balance: DataFrame, names: list[str]) -> Grid:
    """A balance with varieties as columns and postings as rows, which reads like a page of a stock book."""
    used_in = [column for column in COLUMNS_IN if balance[column].any()]
    used_out = [column for column in COLUMNS_OUT if balance[column].any()]
    totals = balance.sum()
    rows: list[Row] = []

    def line(label: str, column: str, tone: str = "plain") -> Row:
        return Row(
            (
                cell(label),
                *(figure(weigh(value)) for value in balance[column].tolist()),
                figure(weigh(totals[column])),
            ),
            tone=tone,
        )

    rows += [line(HEADINGS[column], column) for column in used_in]
    came, went = balance[list(COLUMNS_IN)].sum(axis="columns"), balance[list(COLUMNS_OUT)].sum(axis="columns")
    rows.append(
        Row(
            (
                cell("All that came in"),
                *(figure(weigh(value)) for value in came.tolist()),
                figure(weigh(came.sum())),
            ),
            tone="total",
        )
    )
    rows += [line(HEADINGS[column], column) for column in used_out]
    rows.append(
        Row(
            (
                cell("All that went out"),
                *(figure(weigh(value)) for value in went.tolist()),
                figure(weigh(went.sum())),
            ),
            tone="total",
        )
    )
    rows.append(line("Left at the end", "closing_mg", "total"))
    return Grid(
        caption,
        (Head(head), *(Head(name, "number") for name in names), Head("All", "number")),
        tuple(rows),
    )


def _stock_grid(context: Context, balance: DataFrame, names: list[str], counted: dict[str, int]) -> Grid:
    sold = balance["sold_mg"].tolist()
    found = (balance["count_gain_mg"] - balance["count_loss_mg"]).tolist()
    came = balance[[name for name in COLUMNS_IN if name not in COUNTS]].sum(axis="columns").tolist()
    went = balance[[name for name in COLUMNS_OUT if name not in COUNTS]].sum(axis="columns").tolist()
    book = [left - one for left, one in zip(balance["closing_mg"].tolist(), found, strict=True)]
    rows = [
        Row(
            (
                key(name, f"lots/{name}" if name in context.result.lots else ""),
                cell(str(variety)),
                figure(weigh(inside)),
                figure(weigh(sale)),
                figure(weigh(outside - sale)),
                figure(weigh(left)),
                figure(weigh(counted[name]) if name in counted else "–"),
                figure(_signed(one) if name in counted else "–"),
            )
        )
        for name, (_, variety), inside, sale, outside, left, one in zip(
            names, balance.index, came, sold, went, book, found, strict=True
        )
    ]
    rows.append(
        Row(
            (
                cell("All"),
                cell(""),
                figure(weigh(sum(came))),
                figure(weigh(sum(sold))),
                figure(weigh(sum(went) - sum(sold))),
                figure(weigh(sum(book))),
                cell(""),
                figure(_signed(sum(found))),
            ),
            tone="total",
        )
    )
    return Grid(
        "Stock at the end of the period",
        (
            Head("Lot", "key"),
            Head("Variety"),
            Head("In", "number"),
            Head("Sold", "number"),
            Head("Other out", "number"),
            Head("By the book", "number"),
            Head("Counted last", "number"),
            Head("Difference", "number"),
        ),
        tuple(rows),
        note="Seed blended from one lot into another is out of the first and in to the second.",
    )


def _signed(milligrams: int) -> str:
    """A difference with its sign: `− 2.5 g`."""
    return weigh(0) if not milligrams else f"{'+' if milligrams > 0 else '−'} {weigh(abs(milligrams))}"


def _conversion(context: Context) -> Part:
    runs = account_runs(context.season)
    rows = [
        Row(
            (
                key(one.batch, f"batches/{one.batch}"),
                figure("–" if one.run.fruits is None else whole(one.run.fruits)),
                figure(weigh(one.run.fruit_mg)),
                figure(weigh(one.run.wet_mg)),
                figure(weigh(one.run.dry_mg)),
                figure(weigh(one.run.packed_mg)),
                figure(_percent(one.yields.dry_of_wet)),
                figure(_each(one.yields.dry_per_fruit_mg)),
            )
        )
        for one in runs
    ]
    if not rows:
        return Prose(("No extraction is recorded.",))
    note = (
        "Computed from recorded weights. Seed counts and sizes differ between varieties: a hint, no standard."
    )
    for name in ("wet_to_dry_pct", "seed_of_fruit_pct"):
        usual = context.result.case.practice(name)
        if usual is not None:
            note += f" {usual.title}: {usual.text()} ({usual.mark})."
    note += _say_history(runs)
    return Grid(
        "Batches",
        (
            Head("Batch", "key"),
            Head("Fruit", "number"),
            Head("Fruit weight", "number"),
            Head("Wet seed", "number"),
            Head("Dry seed", "number"),
            Head("Packed", "number"),
            Head("Dry of wet", "number"),
            Head("Dry a fruit", "number"),
        ),
        tuple(rows),
        note=note,
    )


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.0f} %"


def _each(milligrams: float | None) -> str:
    return "–" if milligrams is None else f"{milligrams / 1000:.2f} g"


def _say_history(runs: Sequence[RunAccount]) -> str:
    """The runs' dry seed a fruit beside the farm's own earlier seasons; empty without any."""
    held = [(one.batch, one.history) for one in runs if one.history is not None]
    if not held:
        return ""
    seen = held[0][1]
    span = f"{_each(seen.low)}" if seen.low == seen.high else f"{_each(seen.low)} to {_each(seen.high)}"
    seasons = "season" if seen.seasons == 1 else f"{seen.seasons} seasons"
    ratios = [history.ratio for _, history in held if history.ratio is not None]
    said = f" Dry seed a fruit in the operation’s earlier {seasons}: {span}"
    if ratios:
        said += f"; these runs gave {min(ratios):.2f} to {max(ratios):.2f} times as much"
    return said + "."
