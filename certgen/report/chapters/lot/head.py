"""What opens a lot's dossier: what speaks against it, the seed that has left, what was packed and where it
is."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.custody import split_standing, tell_custody
from certgen.dossier.notices import SUSPECT
from certgen.dossier.papers import say_proof
from certgen.dossier.suppliers import list_through, say_through
from certgen.report.chapters.gaps import say_clause
from certgen.report.chapters.lot.line import line_of, show_glance, show_timeline
from certgen.report.chapters.notices import show_suspect
from certgen.report.chapters.season import lot_bars, say_standing
from certgen.report.context import href_of
from certgen.report.drawings.standing import StandingPicture, draw_standing
from certgen.report.tables import Column, grams, table
from certgen.report.wording import cell, key, say, say_fields, say_thing, weigh, whole, write
from certgen.rules.findings import WEIGHTS
from certgen.rules.wording import capital, day, join, noun
from certgen.typeset.parts import Cell, Listing, Picture, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.lineage import LotStanding
    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.typeset.parts import Part

#: What a label says, in the order of the record.
_LABEL: Final = (
    ("label.lot", "lot"),
    ("label.variety", "variety"),
    ("label.status", "status"),
    ("label.last_certified_operation", "last certified operation"),
    ("label.germination", "germination"),
    ("label.tested", "tested"),
)


#: More gaps than this are counted; the heaviest are named.
_GAPS: Final = 40


def show_head(context: Context, name: str, record: dict[str, Any], width: float) -> list[Part]:
    """All that stands above the trees: first what speaks against the lot and the seed that has left."""
    lot = context.result.lots[name]
    bars = [_show_bar(lot, name, width)] if len(split_standing(lot)) > 1 else []
    return [
        *_show_gaps(context, name),
        *show_suspect(context, name),
        Listing(tuple(_tell_lot(context, name, record))),
        *bars,
        *_show_sources(context, lot),
        *show_glance(context, name, line_of(context, name), width),
    ]


def show_disclosed_head(context: Context, name: str, record: dict[str, Any], width: float) -> Iterator[Part]:
    """The same for somebody who isn't shown the lot's other movements."""
    lot = context.result.lots[name]
    packed, *_ = _tell_lot(context, name, record)
    yield Listing((packed, (Run(say_proof(context.result, name)),)))
    yield _show_bar(lot, name, width)
    yield from _show_sources(context, lot)
    yield from _tell_gaps(context, name)
    yield from show_timeline(context, name, line_of(context, name), width)


def _show_bar(lot: LotStanding, name: str, width: float) -> Picture:
    picture = StandingPicture(f"Standing of lot {name} by gram", say_standing(lot), lot_bars([lot]), width)
    said = f"{picture.title}: {say_standing(lot)}."
    return Picture(f"standing-of-{name}", draw_standing(picture), said)


def _tell_lot(context: Context, name: str, record: Mapping[str, Any]) -> Iterator[tuple[Run, ...]]:
    """What was packed and what its label says, where the grams are, what the claim rests on, and through
    which suppliers' packets."""
    result = context.result
    lot = result.lots[name]
    packed = say_packed(record)
    yield (
        Run(name, f"row/lots/{name}"),
        Run(
            f": {weigh(lot.weight_mg)}, packed {f'on {packed}' if packed else 'on a day not recorded'}"
            f"{_say_made(lot)}; status {record.get('status') or 'not recorded'};"
            f" {_say_containers(record)};"
            f" storage {say_fields(record, 'storage') or 'not recorded'}."
            f" The label says: {_say_label(record)}."
        ),
    )
    clean = "" if context.gaps_of_lot(name) else "No gap reaches this lot."
    custody = " ".join(filter(None, (clean, _say_custody(context, name))))
    for words in (custody, say_proof(result, name), say_through(list_through(result, name))):
        if words:
            yield (Run(words),)


def _say_containers(record: Mapping[str, Any]) -> str:
    """`8 foil bags, new`."""
    held = say_fields(record, "containers", "packaging", between=" ")
    used = say_fields(record, "container_use")
    return ", ".join(filter(None, (held, used))) or "containers not recorded"


def _say_made(lot: LotStanding) -> str:
    """`, 58.6 g from batch X26-02 and 57.7 g from batch X26-04`; nothing where no source is named."""
    made = [
        f"{weigh(part.weight_mg)} from {noun(part.source.table)} {part.source.id}"
        for part in lot.parts
        if part.source
    ]
    return f", {join(made)}" if made else ""


def _say_custody(context: Context, name: str) -> str:
    """Where the lot's grams are, in one sentence; nothing of a lot without a record."""
    if name not in context.result.books:
        return ""
    return f"{capital(tell_custody(context.result, name).text())}."


def _say_label(record: Mapping[str, Any]) -> str:
    """What the label says: what agrees with the record by name alone, the rest in full."""
    agreeing = [
        title
        for field, title in _LABEL
        if record.get(field) is not None and record[field] == record.get(field.removeprefix("label."))
    ]
    others = [
        f"{title} {_write(record[field])}"
        for field, title in _LABEL
        if record.get(field) is not None and title not in agreeing
    ]
    same = [f"{join(agreeing)} as here"] if agreeing else []
    return "; ".join([*same, *others]) or "nothing recorded"


def say_packed(record: Mapping[str, Any]) -> str | None:
    """The day on which a lot was packed."""
    return day(record["packed"]) if record.get("packed") else None


def _write(value: Any) -> str:
    return day(value) if isinstance(value, date) else write(value)


def _show_sources(context: Context, lot: LotStanding) -> list[Part]:
    """What a lot of several sources is made of, where some of it is another lot’s or isn’t traced."""
    plain_runs = lot.standing == "traced" and all(
        part.source and part.source.table == "batches" for part in lot.parts
    )
    if len(lot.parts) < 2 or plain_runs:
        return []

    def say_source(part: Any) -> Cell:
        source = part.source
        if source is None:
            return cell("no source named")
        season = context.lineage.season_of(source)
        return cell(
            f"{noun(source.table)} {source.id}" + (f" (season {season})" if season else ""),
            href_of(context, source) if source in context.lineage else "",
        )

    return [
        table(
            "What the lot is made of",
            (
                Column("Source", "text", say_source),
                grams("Weight", lambda part: part.weight_mg),
                grams("Traced", lambda part: part.traced_mg),
                grams("Unproven", lambda part: part.unproven_mg),
                grams("Rejected", lambda part: part.rejected_mg),
                grams("Unaccounted", lambda part: part.unaccounted_mg),
            ),
            lot.parts,
            width="column",
        )
    ]


def _show_gaps(context: Context, name: str) -> list[Part]:
    """What speaks against the lot, each finding leading to its card; advice only where there is any."""
    # A delivery of suspect seed stands in the table of those, with its number.
    gaps = [(number, gap) for number, gap in context.gaps_of_lot(name) if gap.rule != SUSPECT]
    if not gaps:
        return []
    if len(gaps) > _GAPS:
        gaps.sort(key=lambda row: (WEIGHTS.index(row[1].weight), row[0]))
    left = len(gaps) - _GAPS
    note = f"And {whole(left)} more, each with a card among the findings." if left > 0 else ""
    return [
        table(
            "What speaks against this lot" if any(gap.weight != "advice" for _, gap in gaps) else "Advice",
            (
                Column("Gap", "key", lambda row: key(str(row[0]), f"gap/{row[0]}")),
                Column("Weight", "weight", lambda row: row[1].weight),
                Column("Record", "text", lambda row: _say_record(context, row[1])),
                Column("What was found", "text", lambda row: row[1].headline),
            ),
            gaps[:_GAPS],
            note=note,
            tone=lambda row: "faulty" if row[1].weight == "rejects" else "plain",
        )
    ]


def _say_record(context: Context, gap: Gap) -> Cell:
    href = f"{gap.table}/{gap.id}" if gap.id in context.order.get(gap.table, {}) else ""
    return cell(say_thing(gap), href)


def _tell_gaps(context: Context, name: str) -> list[Part]:
    """What was found, in full: there are no cards to turn to."""
    gaps = context.gaps_of_lot(name)
    if not gaps:
        return [Prose(("No gap reaches this lot.",))]
    return [
        table(
            "Gaps that reach this lot",
            (
                Column("Gap", "key", lambda row: key(str(row[0])), "5%"),
                Column("Weight", "weight", lambda row: row[1].weight, "11%"),
                Column("What is wrong", "text", lambda row: Cell(say(row[1].message)), "48%"),
                Column(
                    "Rule, clauses",
                    "text",
                    lambda row: "; ".join(
                        (row[1].rule, *(say_clause(context, one) for one in row[1].clauses))
                    ),
                ),
            ),
            gaps,
            tone=lambda row: "faulty" if row[1].weight == "rejects" else "plain",
        )
    ]
