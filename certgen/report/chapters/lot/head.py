"""The head of a lot's dossier: how it was packed, its standing by gram, what it is made of, its gaps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.custody import tell_custody
from certgen.dossier.proof import say_proof
from certgen.report.chapters.season import lot_bars, say_standing
from certgen.report.context import href_of
from certgen.report.drawings.standing import StandingPicture, draw_standing
from certgen.report.tables import Column, grams, table
from certgen.report.wording import cell, key, say, say_fields, write
from certgen.rules.wording import capital, noun
from certgen.typeset.parts import Cell, Picture, Prose

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.lineage import LotStanding
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

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
        _show_packing(lot, record),
        Picture(
            f"standing-of-{name}",
            draw_standing(picture),
            f"Standing of lot {name} by gram: {say_standing(lot)}.",
        ),
        Prose(tuple(filter(None, (_say_custody(context, name), say_proof(context.result, name))))),
        *_show_sources(context, lot),
        *_show_gaps(context, name),
    ]


def _say_custody(context: Context, name: str) -> str:
    """Where the lot's grams are, in one sentence; nothing of a lot without a record."""
    if name not in context.result.books:
        return ""
    return f"{capital(tell_custody(context.result, name).text())}."


def _show_packing(lot: LotStanding, record: dict[str, Any]) -> Grid:
    def recorded(*fields: str) -> Callable[[dict[str, Any]], str]:
        return lambda row: say_fields(row, *fields) or "not recorded"

    label = [f"{title} {write(record[field])}" for field, title in _LABEL if record.get(field) is not None]
    return table(
        "As packed",
        (
            Column("Lot", "key", lambda _row: key(lot.lot, f"row/lots/{lot.lot}")),
            Column("Packed", "date", recorded("packed")),
            grams("Weight", lambda _row: lot.weight_mg),
            Column("Status", "text", recorded("status")),
            Column("Containers", "text", recorded("containers", "packaging", "container_use")),
            Column("Storage", "text", recorded("storage")),
            Column("The label says", "text", lambda _row: "; ".join(label) or "nothing recorded"),
        ),
        [record],
    )


def _show_sources(context: Context, lot: LotStanding) -> list[Part]:
    """What a lot of several sources is made of."""
    if len(lot.parts) < 2:
        return []

    def say_source(part: Any) -> Cell:
        source = part.source
        if source is None:
            return cell("no source named")
        season = context.lineage.season_of(source)
        return cell(
            f"{noun(source.table)} {source.id}" + (f" (season {season})" if season else ""),
            href_of(context, source),
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
    gaps = context.gaps_of_lot(name)
    if not gaps:
        return [Prose(("No gap reaches this lot.",))]
    return [
        table(
            "Gaps that reach this lot",
            (
                Column("Gap", "key", lambda row: key(str(row[0]), f"gap/{row[0]}")),
                Column("Weight", "weight", lambda row: row[1].weight),
                Column("Record", "text", lambda row: f"{noun(row[1].table)} {row[1].id}"),
                Column("What is wrong", "text", lambda row: Cell(say(row[1].message))),
            ),
            gaps,
            tone=lambda row: "faulty" if row[1].weight == "rejects" else "plain",
        )
    ]
