"""The head of a lot's dossier: how it was packed, its standing by gram, what it is made of, its gaps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.custody import tell_custody
from certgen.dossier.proof import say_proof
from certgen.report.chapters.season import lot_bars, say_standing
from certgen.report.context import href_of
from certgen.report.drawings.standing import StandingPicture, draw_standing
from certgen.report.wording import cell, figure, key, say, weigh, write
from certgen.rules.wording import capital, noun
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Cell, Grid, Head, Picture, Prose, Row

if TYPE_CHECKING:
    from certgen.report.context import Context
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


def show_head(context: Context, name: str, record: dict[str, Any], width: float) -> list[Part]:
    """All that stands above the drawing of the line."""
    lot = context.result.lots[name]
    picture = StandingPicture(f"Standing of lot {name} by gram", say_standing(lot), lot_bars([lot]), width)
    return [
        _packed(name, record, weigh(lot.weight_mg)),
        Picture(
            f"standing-of-{name}",
            draw_standing(picture),
            f"Standing of lot {name} by gram: {say_standing(lot)}.",
        ),
        Prose(tuple(filter(None, (_say_custody(context, name), say_proof(context.result, name))))),
        *_sources(context, name),
        *_gaps(context, name),
    ]


def _say_custody(context: Context, name: str) -> str:
    """Where the lot's grams are, in one sentence; nothing of a lot without a record."""
    if name not in context.result.books:
        return ""
    return f"{capital(tell_custody(context.result, name).text())}."


def _packed(name: str, record: dict[str, Any], weight: str) -> Grid:
    label = [f"{title} {write(record[field])}" for field, title in _LABEL if record.get(field) is not None]
    packing = [
        write(record[field]) for field in ("containers", "packaging", "container_use") if record.get(field)
    ]
    none = "not recorded"
    return Grid(
        "As packed",
        (
            Head("Lot", "key"),
            Head("Packed", "date"),
            Head("Weight", "number"),
            Head("Status"),
            Head("Containers"),
            Head("Storage"),
            Head("The label says"),
        ),
        (
            Row(
                (
                    key(name, f"row/lots/{name}"),
                    cell(write(record.get("packed")) or none, kind="date"),
                    figure(weight),
                    cell(write(record.get("status")) or none),
                    cell(", ".join(packing) or none),
                    cell(write(record.get("storage")) or none),
                    cell("; ".join(label) or "nothing recorded"),
                )
            ),
        ),
    )


def _sources(context: Context, name: str) -> list[Part]:
    lot = context.result.lots[name]
    if len(lot.parts) < 2:
        return []
    rows = []
    for part in lot.parts:
        source = part.source
        said = f"{noun(source.table)} {source.id}" if source else "no source named"
        earlier = context.lineage.season_of(source) if source else ""
        if earlier:
            said += f" (season {earlier})"
        rows.append(
            Row(
                (
                    cell(said, href_of(context, source) if source else ""),
                    figure(weigh(part.weight_mg)),
                    figure(weigh(part.traced_mg)),
                    figure(weigh(part.unproven_mg)),
                    figure(weigh(part.rejected_mg)),
                    figure(weigh(part.unaccounted_mg)),
                )
            )
        )
    return [
        Grid(
            "What the lot is made of",
            (
                Head("Source"),
                Head("Weight", "number"),
                Head("Traced", "number"),
                Head("Unproven", "number"),
                Head("Rejected", "number"),
                Head("Unaccounted", "number"),
            ),
            tuple(rows),
            width="column",
        )
    ]


def _gaps(context: Context, name: str) -> list[Part]:
    gaps = context.gaps_of_lot(name)
    if not gaps:
        return [Prose(("No gap reaches this lot.",))]
    rows = [
        Row(
            (
                key(str(number), f"gap/{number}"),
                cell(gap.weight, mark=WEIGHT_MARKS[gap.weight]),
                cell(f"{noun(gap.table)} {gap.id}"),
                Cell(say(gap.message)),
            ),
            tone="faulty" if gap.weight == "rejects" else "plain",
        )
        for number, gap in gaps
    ]
    heads = (Head("Gap", "key"), Head("Weight"), Head("Record"), Head("What is wrong"))
    return [Grid("Gaps that reach this lot", heads, tuple(rows))]
