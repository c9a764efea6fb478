"""The page of mass balance: whether counts meet the book, in the headings that inspectors ask for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.dossier.balance import COUNTS, HEADINGS, account_runs
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, WITHIN
from certgen.figures.ledger import COUNT_KIND
from certgen.report.drawings.ledger import LedgerPicture, LedgerStep, draw_ledger
from certgen.report.tables import Amount, Column, grams, mass, table
from certgen.report.wording import key, weigh, whole
from certgen.rules.wording import day, join
from certgen.typeset.parts import Chapter, Picture, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from pandas import DataFrame

    from certgen.dossier.balance import RunAccount
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.typeset.parts import Cell, Grid, Part

#: Lots that a sentence names; of more it says how many.
_TOLD: Final = 4


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
    """The page of mass balance: whether the counts meet the book, lot by lot, and where the grams went."""
    account = context.account
    if not len(account.ledger):
        words = "No lot was packed and no movement of seed is recorded, so there is nothing to balance."
        section = Section("balance", "Mass balance", 1, (Prose((words,)),), style="chapter")
        return Chapter("balance", (section,))
    season = account.total
    parts: list[Part] = [
        _show_stock(context),
        Prose((_reconcile(context, season), *_say_scale(context)), width="measure"),
    ]
    if len(season):
        title = "Where every gram of the season went"
        parts.append(picture_ledger("ledger", title, season.iloc[0], None, width))
    lead = _say_counts(context)
    return Chapter(
        "balance", (Section("balance", "Mass balance", 1, tuple(parts), lead=lead, style="chapter"),)
    )


def build_conversion(context: Context) -> Chapter:
    """The chapter of what became of the fruit, batch by batch."""
    section = Section("conversion", "From fruit to packed seed", 1, (_show_runs(context),), style="chapter")
    return Chapter("conversion", (section,))


def _say_counts(context: Context) -> str:
    """How many of the lots that were counted met the book, the differences by lot."""
    off: dict[str, int] = {}
    held: set[str] = set()
    for count in context.account.counted:
        held.add(count.lot)
        if count.difference_mg:
            off[count.lot] = off.get(count.lot, 0) + count.difference_mg
    if not held:
        return "No lot was counted: what stands on hand is by the book alone."
    met = len(held) - len(off)
    said = f"{whole(met)} of {whole(len(held))} counted lots {'meets' if met == 1 else 'meet'} the book"
    told = [
        f"{lot} is {weigh(abs(difference))} {'over' if difference > 0 else 'short'}" if difference
        else f"{lot} was over and short by as much"
        for lot, difference in list(off.items())[:_TOLD]
    ]  # fmt: skip
    more = f" and {whole(len(off) - _TOLD)} more are off" if len(off) > _TOLD else ""
    return f"{said}{f'; {join(told)}{more}' if told else ''}."


def _reconcile(context: Context, season: DataFrame) -> str:
    """How the figures of the first page, of the table and of the season as a whole hang together."""
    row = season.iloc[0]
    came, went = (
        sum(int(row[name]) for name in columns if name not in COUNTS) for columns in (COLUMNS_IN, COLUMNS_OUT)
    )
    off = int(row["count_gain_mg"] - row["count_loss_mg"])
    found = f", and with what counts found {weigh(row['closing_mg'])}" if off else ""
    return (
        f"The {weigh(context.result.summary.weight_mg)} of the first page are the lots as packed:"
        f" {_say_packed(context, int(row['produced_mg']), int(row[WITHIN]))}. Into this season’s book came"
        f" {weigh(came)} and {weigh(went)} went out, without what was blended: {weigh(came - went)} are on"
        f" hand by the book{found}."
    )


def _say_packed(context: Context, packed_mg: int, within_mg: int) -> str:
    """What the lots of the first page are made of: this season's batches, blends, and earlier seed."""
    own = context.order.get("lots", {})
    earlier = [lot for lot in context.result.lots.values() if lot.lot not in own]
    carried = sum(lot.weight_mg for lot in earlier)
    other = context.result.summary.weight_mg - packed_mg - within_mg - carried
    which = join(lot.lot for lot in earlier) if len(earlier) <= _TOLD else f"{whole(len(earlier))} lots"
    told = (
        (packed_mg, "packed from this season’s batches"),
        (within_mg, "blended from lot to lot (both held it)"),
        (carried, f"packed in an earlier season ({which})"),
        (max(other, 0), "of other sources"),
    )
    parts = join(f"{weigh(milligrams)} {words}" for milligrams, words in told if milligrams)
    return f"{parts}, less {weigh(-other)} that lots weigh less than their sources" if other < 0 else parts


def _say_scale(context: Context) -> tuple[str, ...]:
    """What the scale's steps can explain of the differences that counts found; nothing without one."""
    account = context.account
    off = [count for count in account.counted if count.difference_mg]
    if not off:
        return ()
    said = " ".join(
        f"Lot {count.lot} held {weigh(abs(count.difference_mg))}"
        f" {'more' if count.difference_mg > 0 else 'less'} than the book on {day(count.day)}."
        f" {account.say_tolerance(count)}"
        for count in off[:_TOLD]
        if account.step_mg is not None
    )
    return (f"{said} {account.scale}".lstrip(),)


class _Stock(NamedTuple):
    """A lot's grams over the period, by column of the table; `counted` is what the last count found."""

    lot: str
    variety: str
    masses: Mapping[str, int]
    book_mg: int
    counted_mg: int | None
    difference_mg: int
    is_total: bool = False


#: The columns of the table by lot, and the columns of the balance that each adds up.
_GATHERED: Final = (
    ("Brought forward", ("brought_forward_mg", "opening_stock_mg")),
    ("Packed", ("produced_mg",)),
    ("Came in", ("blended_from_mg", "received_mg", "returned_mg")),
    ("Sold", ("sold_mg",)),
    ("Tested, kept", ("sampled_mg", "retained_mg")),
    ("Passed on", ("transferred_mg", "sown_mg", "blended_into_mg")),
    ("Lost, discarded", ("downgraded_mg", "discarded_mg", "lost_in_packing_mg")),
)
_NOTE: Final = (
    "Came in: received, returned, blended in. Passed on: given away, sown, blended into another lot."
)


def _list_stock(balance: DataFrame, ledger: DataFrame) -> list[_Stock]:
    counts = ledger[ledger["kind"] == COUNT_KIND].drop_duplicates("lot", keep="last")
    counted = dict(zip(counts["lot"].tolist(), counts["mass_mg"].tolist(), strict=True))
    columns = [balance[list(names)].sum(axis="columns").tolist() for _, names in _GATHERED]
    off = (balance["count_gain_mg"] - balance["count_loss_mg"]).tolist()
    titles = [title for title, _ in _GATHERED]
    lines = zip(balance.index, balance["closing_mg"].tolist(), off, *columns, strict=True)
    return [
        _Stock(
            str(lot),
            str(variety),
            dict(zip(titles, masses, strict=True)),
            closing - difference,
            counted.get(str(lot)),
            difference,
        )
        for (lot, variety), closing, difference, *masses in lines
    ]


def _sum_up(rows: Sequence[_Stock]) -> list[_Stock]:
    """The lots by variety, below each variety of several its sum, and below all the sum of all."""
    varieties = list(dict.fromkeys(row.variety for row in rows))
    listed: list[_Stock] = []
    for variety in varieties:
        own = [row for row in rows if row.variety == variety]
        listed += own
        if len(varieties) > 1 and len(own) > 1:
            listed.append(_total(variety or "Variety not recorded", own))
    return [*listed, _total("All lots", rows)] if len(rows) > 1 else listed


def _total(name: str, rows: Sequence[_Stock]) -> _Stock:
    weighed = [row.counted_mg for row in rows]
    return _Stock(
        name,
        "",
        {title: sum(row.masses[title] for row in rows) for title, _ in _GATHERED},
        sum(row.book_mg for row in rows),
        None if None in weighed else sum(one for one in weighed if one is not None),
        sum(row.difference_mg for row in rows),
        is_total=True,
    )


def _show_stock(context: Context) -> Grid:
    """The table by lot; columns in which nothing stands are left out."""
    account = context.account
    period = account.period
    rows = _sum_up(_list_stock(account.balance, account.ledger))
    used = [title for title, _ in _GATHERED if any(row.masses[title] for row in rows)]
    columns: list[Column[_Stock]] = [
        Column("Lot", "key", lambda row: _name_lot(context, row)),
        *(grams(title, _mass_under(title)) for title in used),
        grams("By the book", lambda row: row.book_mg),
        grams("Counted", lambda row: row.counted_mg),
        Column("Difference", "number", _say_difference),
    ]
    return table(
        f"Clean seed by lot, {day(period.start)} to {day(period.end)}: the book before the count",
        columns,
        rows,
        note=_NOTE,
        tone=lambda row: "total" if row.is_total else "faulty" if row.difference_mg else "plain",
    )


def _mass_under(title: str) -> Callable[[_Stock], int]:
    return lambda row: row.masses[title]


def _say_difference(row: _Stock) -> Shown:
    """What a count found besides the book; nothing of a lot that wasn't counted."""
    if row.counted_mg is None and not row.difference_mg:
        return None
    return _signed(row.difference_mg)


def _name_lot(context: Context, row: _Stock) -> Cell:
    standing = None if row.is_total else context.result.lots.get(row.lot)
    name = key(row.lot, f"lots/{row.lot}" if standing else "")
    return replace(name, mark=standing.standing) if standing else name


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
    note = "Computed from recorded weights: a hint, no standard, for varieties differ in seed count and size."
    for name in ("wet_to_dry_pct", "seed_of_fruit_pct"):
        usual = context.result.case.practice(name)
        if usual is not None:
            note += f" {usual.title}: {usual.text()} ({usual.mark})."
    return table(
        "",
        (
            Column("Batch", "key", lambda account: key(account.batch, f"batches/{account.batch}")),
            Column("Fruit", "number", lambda account: account.run.fruits),
            Column("Fruit weight", "number", lambda account: _kilograms(account.run.fruit_mg)),
            grams("Wet seed", lambda account: account.run.wet_mg),
            grams("Dry seed", lambda account: account.run.dry_mg),
            grams("Packed", lambda account: account.run.packed_mg),
            Column("Dry of wet", "number", lambda account: _percent(account.yields.dry_of_wet)),
            Column("Dry a fruit", "number", lambda account: _each(account.yields.dry_per_fruit_mg)),
        ),
        runs,
        note=note + _say_history(runs),
    )


def _kilograms(milligrams: float | None) -> Amount | None:
    return None if milligrams is None else Amount(f"{milligrams / 1_000_000:.2f}", "kg", " ")


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
