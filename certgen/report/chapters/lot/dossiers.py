"""A dossier a lot: the line from parents to buyers, everything on it, and what the negative does not say."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.custody import tell_custody
from certgen.dossier.odds_wording import tell_lot
from certgen.dossier.papers import say_proof
from certgen.dossier.suppliers import list_through, say_through
from certgen.report.chapters.gaps import say_clause
from certgen.report.chapters.lot.growing import show_bags, show_pickings
from certgen.report.chapters.lot.line import line_of, show_line, show_timeline
from certgen.report.chapters.lot.parents import show_parents, show_scope
from certgen.report.chapters.lot.seed import show_ledger, show_runs, show_tests
from certgen.report.chapters.season import lot_bars, say_standing
from certgen.report.context import href_of
from certgen.report.drawings.standing import StandingPicture, draw_standing
from certgen.report.tables import Column, grams, table
from certgen.report.wording import cell, key, say, say_fields, write
from certgen.rules.wording import capital, noun
from certgen.typeset.parts import Cell, Chapter, Picture, Prose, Section, Signature

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from certgen.lineage import LotStanding
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


_ODDS_NOTE: Final = (
    "Planning figures, no proof; what they rest on and how to read them stands under ‘What the figures say’."
)
_BARE_ODDS_NOTE: Final = "Planning figures, no proof."

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
    head = _open_dossier(context, name, show_head(context, name, record, width), level)
    pieces = _list_pieces(context, name, width)
    pieces.insert(-1, ("ledger", "Ledger", show_ledger(context, name, width)))
    pieces[-1][2].append(_signature(name))
    return [head, *_set_pieces(name, pieces, level)]


def build_disclosed(context: Context, name: str, width: float) -> list[Section]:
    """A lot's dossier for somebody who isn't shown its other movements: without what tells of its stock."""
    lot = context.result.lots[name]
    record = next((row for row in context.all_rows("lots") if row["lot"] == name), {})
    parts = [
        _show_packing(lot, record),
        _show_bar(lot, name, width),
        Prose((say_proof(context.result, name),)),
        *_show_sources(context, lot),
        *_tell_gaps(context, name),
    ]
    pieces = _list_pieces(context, name, width, _BARE_ODDS_NOTE)
    return [_open_dossier(context, name, parts, 1), *_set_pieces(name, pieces, 1)]


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


def _open_dossier(context: Context, name: str, parts: Iterable[Part], level: int) -> Section:
    lot = context.result.lots[name]
    return Section(
        f"lots/{name}",
        f"Lot {name}",
        level,
        tuple(parts),
        kicker=f"Dossier · {lot.variety or 'variety not recorded'}",
        mark=lot.standing,
        style="dossier",
    )


def _list_pieces(
    context: Context, name: str, width: float, note: str = _ODDS_NOTE
) -> list[tuple[str, str, list[Part]]]:
    """What stands below the head: anchor, heading, parts; `note` stands below the odds. The ledger is
    not among them."""
    line = line_of(context, name)
    return [
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
        (
            "scope",
            "What the tests can’t rule out",
            [*show_scope(context, name, line), _show_odds(context, name, note)],
        ),
    ]


def _set_pieces(name: str, pieces: Sequence[tuple[str, str, list[Part]]], level: int) -> Iterator[Section]:
    """The pieces under their headings; what says only that nothing is recorded stands together."""
    # A sentence that nothing is recorded needs no heading of its own.
    bare = [parts[0] for _, _, parts in pieces if len(parts) == 1 and isinstance(parts[0], Prose)]
    missing = tuple(paragraph for part in bare for paragraph in part.paragraphs)
    kept = [piece for piece in pieces if piece[2] and piece[2][0] not in bare]
    if missing:
        kept.insert(-1, ("missing", "Not recorded", [Prose((" ".join(missing),))]))
    for anchor, title, parts in kept:
        yield Section(f"lots/{name}#{anchor}", title, level + 1, tuple(parts), style="minor")


def _show_odds(context: Context, name: str, note: str) -> Grid:
    """What screening leaves open of the lot, in four lines."""
    return table(
        "What screening leaves open",
        (
            Column("Asked", "text", lambda line: line[0], "34%"),
            Column("Answer", "text", lambda line: line[1]),
        ),
        tell_lot(context.odds[name]),
        note=note,
    )


def _signature(name: str) -> Signature:
    return Signature(
        f"I have compared the dossier of lot {name} with the records it names.",
        ("Inspector: name, signature", "Operation: name, signature", "Place and date"),
    )


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
    return [
        _show_packing(lot, record),
        _show_bar(lot, name, width),
        Prose(tuple(filter(None, _say_proof(context, name)))),
        *_show_sources(context, lot),
        *_show_gaps(context, name),
    ]


def _show_bar(lot: LotStanding, name: str, width: float) -> Picture:
    picture = StandingPicture(f"Standing of lot {name} by gram", say_standing(lot), lot_bars([lot]), width)
    said = f"{picture.title}: {say_standing(lot)}."
    return Picture(f"standing-of-{name}", draw_standing(picture), said)


def _say_proof(context: Context, name: str) -> tuple[str, ...]:
    """Where the lot's grams are, what its claim rests on, and through which suppliers' packets."""
    result = context.result
    return _say_custody(context, name), say_proof(result, name), say_through(list_through(result, name))


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
