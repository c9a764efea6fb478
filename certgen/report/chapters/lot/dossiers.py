"""A dossier a lot: the line from parents to buyers, everything on it, and what the negative does not say."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.report.chapters.lot.growing import show_bags, show_pickings
from certgen.report.chapters.lot.head import show_head
from certgen.report.chapters.lot.line import line_of, show_line, show_timeline
from certgen.report.chapters.lot.parents import show_parents
from certgen.report.chapters.lot.scope import show_scope
from certgen.report.chapters.lot.seed import show_ledger, show_runs, show_tests
from certgen.report.tables import Column, grams, table
from certgen.report.wording import key, say_fields
from certgen.typeset.parts import Chapter, Prose, Section, Signature

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

#: Dossiers set together, so that the cores share them out and faces are loaded a few times only.
_A_CHAPTER: Final = 4
#: More dossiers than this stand in the contents by groups of at least `_GROUP`, in at most `_GROUPS` lines.
_LISTED: Final = 40
_GROUP: Final = 20
_GROUPS: Final = 40


def build_dossiers(context: Context, width: float, lots: Sequence[str] | None = None) -> Iterator[Chapter]:
    """The overview of lots and then a dossier for each; `lots` names those wanted (None: all)."""
    wanted = [lot for lot in context.result.lots if lots is None or lot in lots]
    if not wanted:
        return
    records = {row["lot"]: row for row in context.all_rows("lots")}
    overview = (Prose((HOW_TO_READ,)), _show_lots(context, wanted, records))
    yield Chapter("lots", (Section("lots", "The lots", 1, overview, style="chapter"),))
    grouped = len(wanted) > _LISTED
    group = max(_GROUP, -(-len(wanted) // _GROUPS))
    for start in range(0, len(wanted), _A_CHAPTER):
        sections: list[Section] = []
        for number, name in enumerate(wanted[start : start + _A_CHAPTER], start=start):
            if grouped and number % group == 0:
                sections.append(_group(wanted[number : number + group]))
            sections += _dossier(context, name, records.get(name, {}), width, level=3 if grouped else 2)
        yield Chapter(f"dossiers {start + 1}", tuple(sections))


def _show_lots(context: Context, names: Sequence[str], records: Mapping[str, dict[str, Any]]) -> Grid:
    """Each lot with its standing and its grams, and the grams of all."""
    gaps = context.result.numbers_by_lot
    return table(
        "Lots and their standing",
        (
            Column("Lot", "key", lambda lot: key(lot.lot, f"lots/{lot.lot}"), total=lambda _lots: "All"),
            Column("Variety", "text", lambda lot: lot.variety or None),
            Column("Packed", "date", lambda lot: say_fields(records.get(lot.lot, {}), "packed")),
            Column("Standing", "standing", lambda lot: lot.standing),
            grams("Weight", lambda lot: lot.weight_mg, summed=True),
            grams("Traced", lambda lot: lot.traced_mg, summed=True),
            grams("Unproven", lambda lot: lot.unproven_mg, summed=True),
            grams("Rejected", lambda lot: lot.rejected_mg, summed=True),
            grams("Unaccounted", lambda lot: lot.unaccounted_mg, summed=True),
            Column("Gaps", "number", lambda lot: len(gaps.get(lot.lot, ()))),
        ),
        [context.result.lots[name] for name in names],
    )


HOW_TO_READ: Final = (
    "Each lot has a dossier of its own, which can be taken out and handed over alone. It draws the lot’s"
    " line from parents to buyers, gives the parents’ results, the bags, the pickings, the runs, the tests"
    " and the ledger, says what a negative result cannot rule out, and ends with a place to sign."
)


def _group(names: Sequence[str]) -> Section:
    """The heading over a group of dossiers; it stands above the first of them."""
    said = f"Lots {names[0]} to {names[-1]}" if len(names) > 1 else f"Lot {names[0]} alone"
    return Section(f"group/{names[0]}", said, 2, (), style="group")


def _dossier(
    context: Context, name: str, record: dict[str, Any], width: float, *, level: int
) -> list[Section]:
    lot = context.result.lots[name]
    line = line_of(context, name)
    slug = f"lots/{name}"
    head = Section(
        slug,
        f"Lot {name}",
        level,
        tuple(show_head(context, name, record, width)),
        kicker=f"Dossier · {lot.variety or 'variety not recorded'}",
        mark=lot.standing,
        style="dossier",
    )
    pieces: list[tuple[str, str, list[Part]]] = [
        (
            "line",
            "The line",
            [show_line(context, name, width), *show_timeline(context, name, line, width)],
        ),
        ("parents", "Parents and their results", show_parents(context, name, line)),
        ("bags", "Bags", show_bags(context, line)),
        ("pickings", "Pickings", show_pickings(context, line)),
        ("runs", "Extraction and drying", show_runs(context, line)),
        ("tests", "Tests", show_tests(context, name)),
        ("ledger", "Ledger", show_ledger(context, name, width)),
        ("scope", "Scope of the negative", [*show_scope(context, name, line), _signature(name)]),
    ]
    # A sentence that nothing is recorded needs no heading of its own.
    bare = [parts[0] for _, _, parts in pieces if len(parts) == 1 and isinstance(parts[0], Prose)]
    missing = tuple(paragraph for part in bare for paragraph in part.paragraphs)
    found = [piece for piece in pieces if piece[2] and piece[2][0] not in bare]
    if missing:
        found.insert(-1, ("missing", "Not recorded", [Prose((" ".join(missing),))]))
    return [
        head,
        *(
            Section(f"{slug}#{anchor}", title, level + 1, tuple(parts), style="minor")
            for anchor, title, parts in found
        ),
    ]


def _signature(name: str) -> Signature:
    return Signature(
        f"I have compared the dossier of lot {name} with the records it names.",
        ("Inspector: name, signature", "Operation: name, signature", "Place and date"),
    )
