"""Lots: each with its standing, its line back to the trees, and the balance of its seed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.desk.answering import RefusedError
from certgen.desk.form_reading import say_unknown
from certgen.dossier.line import Line
from certgen.dossier.line_stages import list_back
from certgen.figures.ledger import keep_book, stock_on
from certgen.lineage import Node
from certgen.records.nouns import noun
from certgen.report.binder.style import follow_colours
from certgen.report.chapters.lot.line import gather_lot_picture
from certgen.report.chapters.season import say_standing
from certgen.report.context import Context
from certgen.report.drawings.line import draw_line
from certgen.report.wording import weigh
from certgen.rules.wording import day
from certgen.typeset.design import SHEETS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot
    from certgen.lineage.standing import LotStanding

#: Seed that stays where it is: what a count says is shown beside the book, not as a change.
_COUNTED: Final = "counted"
#: Records of one stage that are named one by one.
_NAMED: Final = 40


def show_lots(desk: Desk, ask: Ask) -> Response:
    """Each lot with its standing, what is on hand, and what is found about it."""
    snapshot = desk.held.look()
    stock = stock_on(keep_book(snapshot.result.season), snapshot.result.on).to_dict()
    lots = [_tell(snapshot, lot, stock) for lot in snapshot.result.lots.values()]
    return desk.show("lots", snapshot, page="lots", lots=lots, said=ask.query)


def _tell(snapshot: Snapshot, lot: LotStanding, stock: dict[Any, int]) -> dict[str, object]:
    return {
        "name": lot.lot,
        "variety": lot.variety or "variety not recorded",
        "standing": lot.standing,
        "words": say_standing(lot),
        "on_hand": weigh(stock[lot.lot]) if lot.lot in stock else "",
        "findings": snapshot.result.numbers_by_lot.get(lot.lot, ()),
        "own": snapshot.season.row("lots", lot.lot) is not None,
    }


def show_lot(desk: Desk, ask: Ask) -> Response:
    """One lot: its standing, its findings, its line as a drawing and in words, and every gram of it."""
    snapshot, name = desk.held.look(), ask.path.get("name", "")
    result = snapshot.result
    lot = result.lots.get(name)
    if lot is None:
        told = say_unknown(name, ("lots",), snapshot.season)
        raise RefusedError(told[:1].upper() + told[1:])
    book = keep_book(result.season)
    numbers = result.numbers_by_lot.get(name, ())
    context = Context(result)
    drawn = draw_line(gather_lot_picture(context, name, SHEETS["A4"].measure, "/record/"))
    return desk.show(
        "lot",
        snapshot,
        page="lots",
        lot=_tell(snapshot, lot, stock_on(book, result.on).to_dict()),
        gaps=[(number, result.gap(number)) for number in numbers],
        drawing=follow_colours(drawn),
        stages=list(_list_stages(snapshot, name)),
        entries=list(_list_entries(snapshot, book[book["lot"] == name].to_dict("records"))),
        said=ask.query,
    )


def _list_stages(snapshot: Snapshot, name: str) -> Iterator[tuple[str, list[tuple[str, str, bool]], str]]:
    """What a lot came from, nearest first: what such records are called, each one's table, number and whether
    it is this season's own, and what is to be said of them all.
    """
    line = Line(snapshot.result, Node("lots", name))
    for generation in list_back(line):
        for group in generation.groups:
            table = group.nodes[0].table
            nodes = [
                (node.table, node.id, snapshot.season.row(node.table, node.id) is not None)
                for node in group.nodes[:_NAMED]
            ]
            more = len(group.nodes) - len(nodes)
            words = ", ".join(part for part in (group.words, group.shared) if part)
            yield (
                noun(table, len(group.nodes)).capitalize(),
                nodes,
                f"and {more} more: {words}" if more else words,
            )


def _list_entries(snapshot: Snapshot, rows: Iterable[Mapping[Any, Any]]) -> Iterator[dict[str, object]]:
    """The lines of a lot's book, each with what it changed and what there was after it."""
    for row in rows:
        counted, change = row["kind"] == _COUNTED, int(row["change_mg"])
        record = str(row["record"])
        yield {
            "day": day(row["date"].date()),
            "kind": str(row["kind"]),
            "came": weigh(change) if change > 0 else "",
            "went": weigh(-change) if change < 0 else "",
            "stock": weigh(int(row["stock_mg"])),
            "differs": counted and change != 0,
            "is_short": int(row["stock_mg"]) < 0,
            "party": str(row["party"]),
            "document": str(row["document"]),
            "record": record,
            "own": snapshot.season.row("movements", record) is not None,
        }
