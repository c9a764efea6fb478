"""The map of the land with the lengths of its blocks' sides, and the sections of the organic plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.figures.land_map import area_m2, lengths_m
from certgen.report.drawings.land_map import MapBlock, MapPicture, draw_land_map
from certgen.report.tables import Column, table
from certgen.rules.growing.land_map import MOST_BLOCKS, lay_out_blocks, map_details, tell_area
from certgen.rules.record_keeping.plan import plan_sections
from certgen.rules.wording import join
from certgen.typeset.parts import Picture, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.report.context import Context
    from certgen.rules.growing.land_map import BlockShape
    from certgen.typeset.parts import Part

#: A point of reference further off than this, in metres, would make the map small.
_NEAR_M: Final = 150


def build_land_map(context: Context, width: float) -> Section | None:
    """The section, where corners were measured or a plan was drawn."""
    told = map_details(context.result.case)
    laid = [one for one in lay_out_blocks(context.result.case) if not one.fault][:MOST_BLOCKS]
    parts: list[Part] = []
    drawn = told.get("drawn")
    if drawn:
        files = [drawn] if isinstance(drawn, str) else list(drawn)  # type: ignore[call-overload]
        parts.append(Prose((f"A plan of the land is in evidence: {join(files)}.",)))
    if laid:
        parts.append(_draw(context, laid, told, width))
    return Section("map", "Map of the land", 2, tuple(parts), style="part") if parts else None


def _draw(context: Context, laid: Sequence[BlockShape], told: Mapping[str, Any], width: float) -> Part:
    rows = {row["block"]: row for row in reversed(context.all_rows("blocks"))}
    blocks = tuple(_block(one, rows[one.block]) for one in laid)
    measured = (("measured_by", "measured by {}"), ("date", "{}"))
    degrees = told.get("measured_in") == "degrees"
    picture = MapPicture(
        "Map of the land",
        f"To scale: {join([f'{one.name}, {one.status}, {one.words}' for one in blocks])}.",
        blocks,
        width,
        north=0.0 if degrees else told.get("north"),
        origin="" if degrees or not _is_near(laid) else str(told.get("from") or ""),
        notes=tuple(words.format(told[field]) for field, words in measured if told.get(field)),
    )
    return Picture(
        "land-map",
        draw_land_map(picture),
        f"Map of the land. {picture.description}",
        _say_lengths(laid),
    )


def _block(one: BlockShape, row: Mapping[str, Any]) -> MapBlock:
    buffer_m = (row["buffer_mm"] or 0) / 1000
    return MapBlock(one.block, tell_area(area_m2(one.corners)), str(row["status"]), one.corners, buffer_m)


def _is_near(laid: Sequence[BlockShape]) -> bool:
    """Whether the point that corners are counted from lies by the blocks."""
    return all(min(abs(x), abs(y)) < _NEAR_M for one in laid for x, y in one.corners)


def _say_lengths(laid: Sequence[BlockShape]) -> str:
    """How long the sides of each block are; what lies along them stands with the block."""
    lengths = [
        f"{one.block} {', '.join(f'{metres:.1f}' for metres in lengths_m(one.corners))}" for one in laid
    ]
    return f"Sides in metres, from each block’s corner 1 to 2 and on round: {'; '.join(lengths)}."


def build_plan_sections(context: Context) -> Section | None:
    """The sections of the plan that records can cite, each with the paper that it is."""
    sections = list(plan_sections(context.result.case).values())
    if not sections:
        return None
    part = table(
        "The organic plan, as cited by the records",
        (
            Column("Section", "key", lambda one: str(one["section"])),
            Column("About", "text", lambda one: one.get("title")),
            Column("Version of", "date", lambda one: str(one.get("date") or "") or None),
            Column("Agreed to by", "text", lambda one: one.get("approved_by")),
            Column("Until", "date", lambda one: str(one.get("until") or "") or None),
            Column("Paper", "text", lambda one: _say_files(one.get("paper"))),
        ),
        sections,
    )
    return Section("plan", "Sections of the plan", 2, (part,), style="part")


def _say_files(named: Any) -> str | None:
    return None if not named else named if isinstance(named, str) else join(named)
