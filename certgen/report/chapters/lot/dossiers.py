"""A dossier a lot: the line from parents to buyers, everything on it, and what the negative does not say."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.odds_wording import tell_lot
from certgen.report.chapters.lot.head import show_disclosed_head, show_head
from certgen.report.chapters.lot.line import line_of
from certgen.report.chapters.lot.matrix import show_matrix
from certgen.report.chapters.lot.parents import build_parents, gather_parents
from certgen.report.chapters.lot.scope import build_methods, show_scope
from certgen.report.chapters.lot.seed import show_ledger, show_runs, show_tests
from certgen.report.chapters.lot.twin import build_twin
from certgen.report.tables import Column, grams, table
from certgen.report.wording import key, linked_gaps, plain
from certgen.typeset.parts import Cell, Chapter, Findings, Prose, Run, Section
from certgen.typeset.typst_chapters import count_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from certgen.report.chapters.lot.parents import ParentBook
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

#: Rows of dossiers that are set together: of more, what sets them holds too much.
_ROWS_TOGETHER: Final = 1_000
#: More dossiers than this stand in the contents by groups of at least `_GROUP`, in at most `_GROUPS` lines.
_LISTED: Final = 40
_GROUP: Final = 20
_GROUPS: Final = 40


def build_dossiers(context: Context, width: float, lots: Sequence[str] | None = None) -> Iterator[Chapter]:
    """The overview of lots with what their dossiers share, and then a dossier for each.

    `lots` names those wanted (None: all).
    """
    wanted = [lot for lot in context.result.lots if lots is None or lot in lots]
    if not wanted:
        return
    book = gather_parents(context, wanted)
    # Beside some lots alone the season's figures would tell of the others.
    sections = [*_open_lots(context, wanted, book), *(build_twin(context, width, 2) if lots is None else ())]
    first = 0
    for number, added in enumerate(_list_dossiers(context, wanted, book, width), start=1):
        sections += added
        if number == len(wanted) or count_rows(sections) > _ROWS_TOGETHER:
            # The first dossiers follow on where what all share ends.
            yield Chapter(f"dossiers {first + 1}" if first else "lots", tuple(sections))
            first, sections = number, []


def _list_dossiers(
    context: Context, wanted: Sequence[str], book: ParentBook, width: float
) -> Iterator[list[Section]]:
    """Each lot's dossier, the first of a group with the heading of the group."""
    grouped = len(wanted) > _LISTED
    group = max(_GROUP, -(-len(wanted) // _GROUPS))
    for number, name in enumerate(wanted):
        begins = grouped and number % group == 0
        above = [_group(wanted[number : number + group])] if begins else []
        yield above + _dossier(context, name, book, width, level=3 if grouped else 2)


def _open_lots(context: Context, names: Sequence[str], book: ParentBook) -> list[Section]:
    """The overview, and what the dossiers share."""
    overview = Section(
        "lots", "The lots", 1, (Prose((HOW_TO_READ,)), _show_lots(context, names)), style="chapter"
    )
    return [overview, *build_parents(context, book, 2), *build_methods(context, book, 2)]


def _show_lots(context: Context, names: Sequence[str]) -> Grid:
    """Each lot with its standing and its grams, and the grams of all."""
    gaps = context.result.numbers_by_lot
    return table(
        "Lots and their standing",
        (
            Column("Lot", "key", lambda lot: key(lot.lot, f"lots/{lot.lot}"), total=lambda _lots: "All"),
            Column("Variety", "text", lambda lot: lot.variety or None),
            Column("Standing", "standing", lambda lot: lot.standing),
            grams("Weight", lambda lot: lot.weight_mg, summed=True),
            grams("Traced", lambda lot: lot.traced_mg, summed=True),
            grams("Unproven", lambda lot: lot.unproven_mg, summed=True),
            grams("Rejected", lambda lot: lot.rejected_mg, summed=True),
            grams("Unaccounted", lambda lot: lot.unaccounted_mg, summed=True),
            Column("Gaps", "text", lambda lot: Cell(linked_gaps(gaps.get(lot.lot, ())) or plain("none"))),
        ),
        [context.result.lots[name] for name in names],
        close=True,
    )


_ODDS_NOTE: Final = (
    "Planning figures, no proof; what they rest on and how to read them stands under ‘What the figures say’."
)
_BARE_ODDS_NOTE: Final = "Planning figures, no proof."

HOW_TO_READ: Final = (
    "Each lot has a dossier. It opens with what speaks against the lot, if anything does, and with seed that"
    " has left; then come its trees, bags and pickings in one table, the runs, the tests, the ledger, what a"
    " negative result cannot rule out, and room for an inspector’s finding. What several dossiers would"
    " repeat stands here once: the parents with their results, and what each method sees. On a time line a"
    " stroke is a day of work, a diamond a day that comes before what it should follow; idle months are cut"
    " out. In the bars of a ledger solid came in, hatched went out, each step beginning where the one above"
    " ended, and outlined is what is left."
)


def _group(names: Sequence[str]) -> Section:
    """The heading over a group of dossiers; it stands above the first of them."""
    said = f"Lots {names[0]} to {names[-1]}" if len(names) > 1 else f"Lot {names[0]} alone"
    return Section(f"group/{names[0]}", said, 2, (), style="group")


def _dossier(context: Context, name: str, book: ParentBook, width: float, *, level: int) -> list[Section]:
    record = _find_record(context, name)
    head = _open_dossier(context, name, show_head(context, name, record, width), level)
    pieces = _list_pieces(context, name, book)
    pieces.insert(-1, ("ledger", "Ledger", show_ledger(context, name)))
    pieces[-1][2].append(_signing(name))
    return [head, *_set_pieces(name, pieces, level)]


def _find_record(context: Context, name: str) -> dict[str, Any]:
    """A lot's own record; empty where it has none."""
    return next(iter(context.rows_by("lots", "lot").get(name, ())), {})


def build_disclosed(context: Context, name: str, width: float) -> list[Section]:
    """A lot's dossier for somebody who isn't shown its other movements: without what tells of its stock."""
    record = _find_record(context, name)
    book = gather_parents(context, [name])
    pieces = _list_pieces(context, name, book, _BARE_ODDS_NOTE)
    return [
        _open_dossier(context, name, show_disclosed_head(context, name, record, width), 1),
        *_set_pieces(name, pieces, 1),
        *build_parents(context, book, 2),
        *build_methods(context, book, 2),
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
    context: Context, name: str, book: ParentBook, note: str = _ODDS_NOTE
) -> list[tuple[str, str, list[Part]]]:
    """What stands below the head: anchor, heading, parts; `note` stands below the odds. The ledger is
    not among them."""
    line = line_of(context, name)
    return [
        (
            "trees",
            "Trees, bags and pickings",
            show_matrix(context, context.matrices.of_lot(name), book),
        ),
        ("runs", "From fruit to dry seed", show_runs(context, line)),
        ("tests", "Tests", show_tests(context, name)),
        (
            "scope",
            "What the tests can’t rule out",
            show_scope(context, name, _say_odds(context, name, note)),
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


def _say_odds(context: Context, name: str, note: str) -> Iterator[tuple[Run, ...]]:
    """What screening leaves open of the lot, a line a question."""
    for number, (asked, answer) in enumerate(tell_lot(context.odds[name])):
        yield (Run(f"{asked}: {answer}.{'' if number else f' {note}'}"),)


def _signing(name: str) -> Findings:
    """The operation's own declaration, and apart from it room for what an inspector finds."""
    return Findings(
        f"The operation declares: this dossier of lot {name} says what our records say.",
        ("Name, signature", "Place and date"),
        f"Inspector’s finding on lot {name}, compared with the records it names",
        ("seen", "accepted", "open, by when:"),
        ("Note", "Name, signature, date"),
    )
