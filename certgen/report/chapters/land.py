"""Land, plantings, inputs, cleaning, incidents, what changed since last season, and the cautions of the
work."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from certgen.dossier.due import list_retention
from certgen.report.chapters.inspections import build_inspections, fields_told
from certgen.report.chapters.land_map import build_land_map, build_plan_sections
from certgen.report.chapters.register_entries import build_entries
from certgen.report.dense_sections import set_small
from certgen.report.tables import Column, table
from certgen.report.wording import count_of, key, linked, say_most, whole
from certgen.rules.wording import join
from certgen.typeset.entries import Entries
from certgen.typeset.parts import Caution, Cautions, Cell, Chapter, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.due import Keep
    from certgen.lineage.changes import Alteration, Change
    from certgen.report.context import Context
    from certgen.typeset.entries import CompactRegister
    from certgen.typeset.parts import Part


@dataclass(frozen=True, slots=True)
class _Kind:
    """Records that this chapter tells: their table, what leads to them, and what is said where there are
    none."""

    table: str
    anchor: str
    none: str = ""


_KINDS: Final = (
    _Kind("blocks", "blocks", "No block is recorded."),
    _Kind("plantings", "plantings-page", "No planting is recorded."),
    _Kind("observations", "selection", "No observation of trees is recorded."),
    _Kind("materials", "materials", "No list of approved materials is kept."),
    _Kind("compost", "compost", "No heap of compost is recorded."),
    _Kind("inputs", "inputs", "No input is recorded for this season."),
    _Kind("scouting", "scouting", "No walk for pests is recorded."),
    _Kind("water_tests", "water-tests", "No test of water is recorded."),
    _Kind("cleaning", "cleaning", "No cleaning is recorded."),
    _Kind("visits", "visits-page"),
    _Kind("incidents", "incidents", "No incident is recorded for this season."),
)
#: Where no list of approved materials is kept.
_WORDS_ALONE: Final = (
    "What allows an input is told in the operation’s own words; no list of approved materials is kept."
)
#: Longer tables of the records stand in the registers, others are cut; here their number is given.
_MOST: Final = 60
_LEAD: Final = (
    "Where the parents stand, where they came from, what was brought onto the land, how equipment was"
    " cleaned, what inspectors found, what went wrong and what was done about it, what changed since last"
    " season, and how long to keep what."
)


def tables_told(context: Context) -> frozenset[str]:
    """The tables whose records this chapter tells whole, so that the registers needn't."""
    return frozenset(kind.table for kind in _KINDS if len(context.own_rows(kind.table)) <= _MOST)


def build_land(context: Context, width: float) -> Chapter:
    """The chapter of land and follow-up; `width` is the text's, in points."""
    sections = [
        Section("land", "Land and follow-up", 1, (Prose((_LEAD,)),), style="chapter"),
        build_inspections(context),
        build_land_map(context, width),
        _build_records(context),
    ]
    return Chapter("land", tuple(section for section in sections if section is not None))


def _build_records(context: Context) -> Section:
    """Every record of the land and its follow-up, which kinds there are none of, and what follows from"
    " them."""
    told = tables_told(context)
    kinds = [kind for kind in _KINDS if context.own_rows(kind.table)]
    after = (build_plan_sections(context), build_changes(context), build_retention(context))
    registers = (
        *(_tell(context, kind) for kind in kinds if kind.table in told),
        *(set_small(section) for section in after if section is not None),
    )
    parts: list[Part] = [Entries(registers)]
    said = _say_rest(context, [kind.table for kind in kinds if kind.table not in told])
    if said:
        parts.insert(0, Prose((said,)))
    return Section("land/records", "Records of the land and the work", 2, tuple(parts), style="part")


def _say_rest(context: Context, long: Sequence[str]) -> str:
    """Which tables are too `long` for this chapter, and which kinds of records there are none of."""
    counts = [count_of(name, len(context.own_rows(name))) for name in long]
    absent = [kind.none for kind in _KINDS if kind.none and not context.own_rows(kind.table)]
    words = [f"The registers have {join(counts)}." if counts else "", *absent]
    if context.own_rows("inputs") and not context.own_rows("materials"):
        words.append(_WORDS_ALONE)
    return " ".join(filter(None, words))


def _tell(context: Context, kind: _Kind) -> CompactRegister:
    """The records of a kind; of visits without what the section on inspections tells whole."""
    without = fields_told(context) if kind.table == "visits" else frozenset()
    return replace(build_entries(context, kind.table, without=without), anchor=kind.anchor)


def build_cautions(context: Context) -> Section | None:
    """The cautions of the crop's work, in the order of the job and in full."""
    cautions = [
        Caution(
            f"{caution.title} ({join(caution.work)})", f"{caution.long} This defers to {caution.defers_to}."
        )
        for caution in context.profile.cautions.all
    ]
    if not cautions:
        return None
    rows = tuple(tuple(cautions[at : at + _ABREAST]) for at in range(0, len(cautions), _ABREAST))
    return Section("cautions", "Cautions where work can hurt someone", 2, (Cautions(rows),), style="part")


#: Cautions that stand side by side.
_ABREAST: Final = 2
#: Names and alterations past these are counted; the registers of both seasons have each.
_NAMES: Final = 12
_ALTERED: Final = 40


def build_changes(context: Context) -> Section:
    """The section, from the comparison that the result holds."""
    return Section("changes", "Changes since last season", 2, tuple(_parts(context)), style="part")


def _parts(context: Context) -> list[Part]:
    changes = context.result.changes
    if changes is None:
        return [Prose(("No earlier season is named in these records, so there is nothing to compare with.",))]
    moved = [change for change in changes.changed if change.added or change.removed]
    altered = [change for change in changes.changed if change.altered]
    if not moved and not altered:
        return [Prose((f"Nothing differs from season {changes.before}.",))]
    note = _say_same([change.title for change in changes.subjects if not change.any])
    caption = f"Season {changes.before} and season {changes.after}"
    return [
        *_show_moved(context, moved, caption, note),
        *_show_altered(context, altered, "" if moved else note),
    ]


def _say_same(titles: Sequence[str]) -> str:
    return f"Unchanged: {join([title[0].lower() + title[1:] for title in titles])}." if titles else ""


def _show_moved(context: Context, changes: Sequence[Change], caption: str, note: str) -> list[Part]:
    columns: tuple[Column[Change], ...] = (
        Column("Subject", "text", lambda change: change.title),
        Column("New", "text", lambda change: _names(context, change)),
        Column("No longer there", "text", lambda change: say_most(change.removed, _NAMES) or None),
    )
    return [table(caption, columns, changes, note=note)] if changes else []


def _names(context: Context, change: Change) -> Cell | str | None:
    known = context.order.get(change.key, {})
    if change.added and all(name in known for name in change.added):
        return Cell(linked(change.key, change.added, _NAMES))
    return say_most(change.added, _NAMES) or None


def _show_altered(context: Context, changes: Sequence[Change], note: str) -> list[Part]:
    if not changes:
        return []
    rows = [(change.key, altered) for change in changes for altered in change.altered]
    left = len(rows) - _ALTERED
    if left > 0:
        note = f"And {whole(left)} more, which the registers of both seasons show. {note}".strip()
    return [
        table(
            "Reads differently now",
            (
                Column("Record", "long", lambda row: _record(context, *row)),
                Column("Field", "text", lambda row: _field_title(context, row[0], row[1].field)),
                Column("Before", "text", lambda row: row[1].before or "nothing"),
                Column("Now", "text", lambda row: row[1].after or "nothing"),
            ),
            rows[:_ALTERED],
            note=note,
        )
    ]


def _record(context: Context, name: str, altered: Alteration) -> Cell:
    href = f"{name}/{altered.id}" if altered.id in context.order.get(name, {}) else ""
    return Cell((Run(altered.id, href),), "long")


def _field_title(context: Context, name: str, field: str) -> str:
    if name in context.tables:
        return (context.tables[name].column(field).field.title or field).lower()
    return field.replace("_", " ")


def build_retention(context: Context) -> Section:
    """The section: a row a season or lot and standard that sets a time."""
    kept = list_retention(context.result)
    part: Part = Prose(("None of the season’s standards sets a time for keeping records.",))
    if kept:
        lots = context.result.lots
        left = len(kept) - _MOST
        part = table(
            "Keep until",
            (
                Column("What", "text", lambda keep: keep.what),
                Column(
                    "Season or lot",
                    "key",
                    lambda keep: key(
                        keep.identifier, f"lots/{keep.identifier}" if keep.identifier in lots else ""
                    ),
                ),
                Column("Until", "date", lambda keep: keep.until or "not known yet"),
                Column("Years", "number", lambda keep: keep.years),
                Column("Counted from", "text", _say_start),
                Column("Clause", "text", _say_clause),
            ),
            kept[:_MOST],
            note=f"And {count_of('lots', left)} more." if left > 0 else "",
        )
    return Section("keep", "How long to keep what", 2, (part,), style="part")


def _say_start(keep: Keep) -> str:
    return f"{keep.counted_from.isoformat()}, {keep.why}" if keep.counted_from else f"not yet: {keep.why}"


def _say_clause(keep: Keep) -> str:
    return keep.clause if keep.mark == "read" else f"{keep.clause} ({keep.mark})"
