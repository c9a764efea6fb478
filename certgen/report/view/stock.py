"""Mass balance and stock: the ledger of each lot and of the season, in the headings that inspectors ask
for."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, Period, balance_period
from certgen.figures.ledger import COUNT_KIND, Entry, pack_lot, run_stock, tabulate_entries
from certgen.report.drawings.ledger import LedgerPicture, LedgerStep, draw_ledger
from certgen.report.packet import Cell, Chapter, Grid, Head, Picture, Prose, Row, Section
from certgen.report.view.wording import cell, figure, key, records, weigh, write

if TYPE_CHECKING:
    from pandas import DataFrame

    from certgen.report.packet import Part
    from certgen.report.view.story import Story

#: The balance's columns in words.
_WORDS = {
    "brought_forward_mg": "Brought forward",
    "opening_stock_mg": "Opening stock",
    "produced_mg": "Packed from this season’s batches",
    "blended_from_mg": "Blended in from other lots",
    "received_mg": "Received",
    "returned_mg": "Returned",
    "count_gain_mg": "Gain at a count",
    "sold_mg": "Sold",
    "transferred_mg": "Transferred",
    "sown_mg": "Sown",
    "sampled_mg": "Sampled and tested",
    "retained_mg": "Retained sample",
    "downgraded_mg": "Downgraded",
    "discarded_mg": "Discarded",
    "blended_into_mg": "Blended into other lots",
    "lost_in_packing_mg": "Lost in packing",
    "count_loss_mg": "Loss at a count",
}


@lru_cache(maxsize=4)
def _entries(story: Story) -> tuple[Entry, ...]:
    """The season's ledger: packing of lots, then the stock book."""
    season = story.season
    # A lot of an earlier season that is still in stock has no record here; its variety stands there.
    varieties: dict[str, str] = dict(records(story.result.case.earlier_lots, "lot", "variety"))
    varieties |= {lot: variety or "" for lot, variety in records(season.table("lots"), "lot", "variety")}
    varieties = {lot: variety or "" for lot, variety in varieties.items()}
    entries: list[Entry] = []
    for lot, packed, weight, sources in records(
        season.table("lots"), "lot", "packed", "weight_mg", "sources"
    ):
        if lot is None or packed is None or weight is None:
            continue
        blended: dict[tuple[str, str], int] = {}
        for part in sources or ():
            if part.get("lot"):
                at = (part["lot"], varieties.get(part["lot"], ""))
                blended[at] = blended.get(at, 0) + int(part.get("weight_mg") or 0)
        entries += pack_lot(packed.date(), lot, varieties[lot], int(weight), blended, record=lot)
    for movement, day, lot, kind, weight, party, document in records(
        season.table("movements"), "movement", "date", "lot", "kind", "weight_mg", "party", "document"
    ):
        if lot is None or day is None or weight is None or kind is None:
            continue
        entries.append(
            Entry(
                day.date(),
                lot,
                varieties.get(lot, ""),
                kind,
                int(weight),
                document or "",
                party or "",
                movement or "",
            )
        )
    return tuple(entries)


@lru_cache(maxsize=4)
def running_ledger(story: Story) -> DataFrame:
    """The season's ledger in running order."""
    return run_stock(tabulate_entries(_entries(story)))


def lot_ledger(story: Story, lot: str, width: float) -> list[Part]:
    """A lot's ledger with its running stock, and the picture of where its grams went."""
    ledger = running_ledger(story)
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
        anchor = f"movements/{record}" if record in story.order["movements"] else ""
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
        _picture(story, f"ledger-of-{lot}", f"Where every gram of lot {lot} went", balance, counted, width),
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
    story: Story,  # noqa: ARG001 -- kept alike with the other builders of parts
    name: str,
    title: str,
    balance: Any,
    counted: int | None,
    width: float,
) -> Picture:
    steps = [
        LedgerStep(
            _WORDS[column],
            sign * int(balance[column]),
            f"{'+' if sign > 0 else '−'} {weigh(balance[column])}",
        )
        for columns, sign in ((COLUMNS_IN, 1), (COLUMNS_OUT, -1))
        for column in columns
        if int(balance[column])
    ]
    closing = int(balance["closing_mg"])
    left = LedgerStep("On hand by the book", closing, weigh(closing))
    last = LedgerStep("Counted last", counted, weigh(counted)) if counted is not None else None
    said = (
        "; ".join(f"{step.label} {step.words}" for step in steps) + f"; on hand by the book {weigh(closing)}"
    )
    picture = LedgerPicture(title, said, tuple(steps), left, last, width)
    return Picture(
        name,
        draw_ledger(picture),
        f"{title}. {said}.",
        "Solid came in, hatched went out, each step beginning where the one above ended.",
    )


def build_stock(story: Story, width: float) -> Chapter:
    """The chapter of mass balance and stock."""
    details = story.season.details
    if not _entries(story):
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
    ledger = running_ledger(story)
    period = Period(details.start, min(details.end, max(story.result.on, details.start)))
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
            )
        ),
    ]
    if len(whole_season):
        parts.append(
            _picture(
                story, "ledger", "Where every gram of the season went", whole_season.iloc[0], None, width
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
                    story,
                    by_lot,
                    names,
                    dict(zip(counts["lot"].tolist(), counts["mass_mg"].tolist(), strict=True)),
                ),
            ),
            style="part",
        )
    )
    sections.append(
        Section("conversion", "From fruit to packed seed", 2, (_conversion(story),), style="part")
    )
    return Chapter("balance", tuple(sections))


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

    rows += [line(_WORDS[column], column) for column in used_in]
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
    rows += [line(_WORDS[column], column) for column in used_out]
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


def _stock_grid(story: Story, balance: DataFrame, names: list[str], counted: dict[str, int]) -> Grid:
    sold = balance["sold_mg"].tolist()
    came = balance[list(COLUMNS_IN)].sum(axis="columns").tolist()
    went = balance[list(COLUMNS_OUT)].sum(axis="columns").tolist()
    closing = balance["closing_mg"].tolist()
    rows = [
        Row(
            (
                key(name, f"lots/{name}" if name in story.result.lots else ""),
                cell(str(variety)),
                figure(weigh(inside)),
                figure(weigh(sale)),
                figure(weigh(outside - sale)),
                figure(weigh(left)),
                figure(weigh(counted[name]) if name in counted else "–"),
            )
        )
        for name, (_, variety), inside, sale, outside, left in zip(
            names, balance.index, came, sold, went, closing, strict=True
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
                figure(weigh(sum(closing))),
                cell(""),
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
            Head("On hand", "number"),
            Head("Counted last", "number"),
        ),
        tuple(rows),
        note="Seed blended from one lot into another is out of the first and in to the second.",
    )


def _conversion(story: Story) -> Part:
    fruit = {
        name: (fruits, weight)
        for name, fruits, weight in records(story.season.table("harvests"), "harvest", "fruits", "weight_mg")
    }
    packed: dict[str, int] = {}
    for (sources,) in records(story.season.table("lots"), "sources"):
        for part in sources or ():
            if part.get("batch"):
                packed[part["batch"]] = packed.get(part["batch"], 0) + int(part.get("weight_mg") or 0)
    rows = []
    for row in story.all_rows("batches"):
        pickings = [fruit.get(name, (None, None)) for name in row["harvests"] or ()]
        count = sum(int(one or 0) for one, _ in pickings) if pickings else None
        weights = [int(one) for _, one in pickings if one is not None]
        dry, wet = row["dry_weight_mg"], row["wet_weight_mg"]
        rows.append(
            Row(
                (
                    key(row["batch"], f"batches/{row['batch']}"),
                    figure(write(count)),
                    figure(weigh(sum(weights)) if weights and len(weights) == len(pickings) else "–"),
                    figure(weigh(wet)),
                    figure(weigh(dry)),
                    figure(weigh(packed.get(row["batch"]))),
                    figure(f"{100 * int(dry) / int(wet):.0f} %" if dry and wet else "–"),
                    figure(f"{int(dry) / count / 1000:.2f} g" if dry and count else "–"),
                )
            )
        )
    if not rows:
        return Prose(("No extraction is recorded.",))
    usual = story.profile.practice.get("dry_seed_per_fruit_g")
    note = (
        "Computed from recorded weights. Seed counts and sizes differ between varieties: a hint, no standard."
    )
    if usual is not None:
        note += f" {usual.title}: {usual.low} to {usual.high} {usual.unit} ({usual.mark})."
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
