"""The short packet: every finding in a row, every lot in a few lines, the balance, and where to sign."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.papers import say_proof
from certgen.dossier.seed_tests import Germination
from certgen.lineage import Node
from certgen.report.chapters.gaps import say_clause
from certgen.report.chapters.method import build_declaration
from certgen.report.chapters.season import say_standing
from certgen.report.chapters.stock import build_stock
from certgen.report.tables import Column, table
from certgen.report.wording import count_of, key, linked, linked_gaps, say, say_most, weigh, write
from certgen.rules.wording import count, day, join, noun
from certgen.typeset.parts import Cell, Chapter, Fact, Facts, Note, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.typeset.first_page import Cover
    from certgen.typeset.parts import Grid, Part

LEAD: Final = (
    "This is the short packet: without dossiers, registers and drawings, but with all records and papers"
    " inside, as certgen verify needs them."
)
NONE_FOUND: Final = "No gap was found: every check that certgen knows passed on these records."
#: The tables that a lot's line is counted by.
_COUNTED: Final = ("trees", "bagging", "harvests", "batches")
#: What the first page leads to and the short packet doesn't hold.
_ELSEWHERE: Final = frozenset({"notices", "inspections"})
#: Movements by which seed goes to somebody else.
_LEAVES: Final = frozenset({"sold", "transferred"})
#: More buyers of one lot than this are counted.
_TOLD: Final = 12


def tell_short(cover: Cover) -> Cover:
    """The cover of a short packet; for what only the whole packet holds it names that and no page."""
    bands = tuple(replace(band, parts=tuple(map(_lead_short, band.parts))) for band in cover.bands)
    return replace(cover, title=f"{cover.title}, short", is_text=f"{cover.is_text} {LEAD}", bands=bands)


def _lead_short(part: Part) -> Part:
    if isinstance(part, Note):
        return replace(part, runs=_lead_runs(part.runs))
    if isinstance(part, Facts):
        items = tuple(replace(item, runs=_lead_runs(item.runs)) for item in part.items)
        return replace(part, items=items)
    return part


def _lead_runs(runs: tuple[Run, ...]) -> tuple[Run, ...]:
    return tuple(
        Run(f"{run.text.removesuffix('page ')}in the whole packet")
        if run.page and run.href in _ELSEWHERE
        else run
        for run in runs
    )


def build_short(context: Context, width: float) -> Chapter:
    """All that the short packet holds behind its cover."""
    lots = [lot for lot in context.result.lots if lot]
    (balance,) = build_stock(context, width).sections
    return Chapter(
        "short",
        (
            Section("gaps", "The gaps", 1, tuple(_show_gaps(context)), style="chapter"),
            Section("lots", "The lots", 1, (), style="follow"),
            *(_tell_lot(context, lot) for lot in lots),
            replace(balance, style="follow"),
            build_declaration(context),
        ),
    )


def _show_gaps(context: Context) -> Iterator[Grid | Prose]:
    """Every gap in a row, heaviest first, with room for what the inspector finds."""
    gaps = sorted(
        enumerate(context.result.gaps, start=1),
        key=lambda row: (("rejects", "unproven", "advice").index(row[1].weight), row[0]),
    )
    if not gaps:
        yield Prose((NONE_FOUND,))
        return
    grid = table(
        "All gaps, heaviest first",
        (
            Column("Gap", "key", lambda row: key(str(row[0])), "5%"),
            Column("Weight", "weight", lambda row: row[1].weight, "11%"),
            Column("What was found, and where it is written", "text", lambda row: _say_gap(context, row[1])),
            Column("Rule", "text", lambda row: _say_rule(context, row[1]), "18%"),
            Column("Lots", "text", lambda row: Cell(linked("lots", row[1].lots, 4)), "9%"),
            Column("Accepted, open, by when", "text", lambda _row: "", "14%"),
        ),
        gaps,
        tone=lambda row: "faulty" if row[1].weight == "rejects" else "plain",
    )
    rows = zip(grid.rows, gaps, strict=True)
    yield replace(grid, rows=tuple(replace(row, anchor=f"gap/{number}") for row, (number, _) in rows))


def _say_gap(context: Context, gap: Gap) -> Cell:
    more = f" and {count_of('place', len(gap.others))} more" if gap.others else ""
    mends = f" What mends it: {gap.remedy}" if gap.weight != "advice" else ""
    return Cell(
        (*say(f"{gap.message}{mends}"), Run(f" {context.say_place(gap.place)}{more}.")),
    )


def _say_rule(context: Context, gap: Gap) -> str:
    clauses = join([say_clause(context, one) for one in gap.clauses])
    return f"{gap.rule}: {clauses}" if clauses else gap.rule


def _tell_lot(context: Context, name: str) -> Section:
    """A lot in a few lines."""
    lot = context.result.lots[name]
    facts = [
        Fact("Standing", (Run(f"{lot.standing}: {say_standing(lot)}"),), lot.standing),
        *_list_facts(context, name),
    ]
    title = " · ".join(filter(None, (name, lot.variety)))
    return Section(f"lots/{name}", title, 2, (Facts(tuple(facts)),), style="minor")


def _list_facts(context: Context, name: str) -> Iterator[Fact]:
    result = context.result
    line = {*context.lineage.line_of_lot(name), Node("lots", name)}
    counts = {table: sum(node.table == table for node in line) for table in _COUNTED}
    yield _fact("Made of", join([count_of(table, count) for table, count in counts.items() if count]))
    yield _fact("Parents screened", _say_parents(context, name))
    yield _fact("Claim", say_proof(result, name))
    yield _fact("Not ruled out", result.scopes.of_lot(name).sentence)
    yield _fact("Germination", _say_germination(context, name))
    yield _fact("Went to", _say_departures(context, name))
    ledger = result.ledger
    stock = ledger[ledger["lot"] == name]["stock_mg"].tolist()
    if stock:
        yield _fact("On hand", weigh(stock[-1]))
    numbers = result.numbers_by_lot.get(name, ())
    if numbers:
        yield Fact(noun("gap", len(numbers)).capitalize(), linked_gaps(numbers))


def _say_germination(context: Context, name: str) -> str:
    """The latest germination test of a lot."""
    tests = [test for test in context.tests if test.lot == name and test.day <= context.result.on]
    sprouted = [(test.day, test.figure) for test in tests if isinstance(test.figure, Germination)]
    if not sprouted:
        return "no test of the season"
    counted, figure = max(sprouted, key=lambda one: one[0])
    return f"{figure.verdict.rounded_mean} % of {count(figure.seeds, 'seed')}, counted on {day(counted)}"


def _fact(label: str, text: str) -> Fact:
    return Fact(label, (Run(text),))


def _say_parents(context: Context, name: str) -> str:
    """How many of the parents are negative, and by name those that aren't."""
    parents = [node.id for node in context.lineage.seed_parents(name)]
    if not parents:
        return "no parent is recorded"
    others = [tree for tree in parents if context.verdicts.get(tree) != "negative"]
    told = f"{len(parents) - len(others)} of {len(parents)} negative"
    return f"{told}; not: {say_most(others, 6)}" if others else told


def _say_departures(context: Context, name: str) -> str:
    """Who had seed of the lot, when, how much, and on which paper."""
    moves: Sequence[dict[str, Any]] = [
        row for row in context.rows_by("movements", "lot").get(name, []) if row["kind"] in _LEAVES
    ]
    told = [
        f"{write(row['weight'])} to {row['party'] or 'nobody named'}, {row['document'] or 'without paper'},"
        f" {write(row['date'])}"
        for row in moves
    ]
    return "; ".join(told[:_TOLD]) + (f"; {len(told) - _TOLD} more" if len(told) > _TOLD else "") or "nobody"
