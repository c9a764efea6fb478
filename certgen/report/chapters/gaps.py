"""The gaps, heaviest first, each with its paper, its place, what mends it, what it reaches and its rule.

What speaks against the claim and what isn't shown stands on cards, with room for an inspector's pen. Advice
stands in rows. Sales of one doubtful lot are one matter and share a card; each keeps its number.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from certgen.report.chapters.papers_beside import Papers
from certgen.report.tables import Column, table
from certgen.report.wording import count_of, key, linked, say, say_thing, whole
from certgen.rules.wording import capital, day, join, noun
from certgen.standards import StandardError, clause_of
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Cell, Chapter, GapCard, GapEntry, Listing, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.lineage import Node
    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.typeset.parts import Grid, Part

    #: Gaps with their numbers that are one matter.
    Matter = tuple[tuple[int, Gap], ...]

_HEADINGS = {
    "rejects": (
        "What speaks against the claim",
        "Part of a lot is not what its label claims, or such seed has left. Each card says what mends it.",
    ),
    "unproven": (
        "What evidence is missing",
        "The claim may well be true; the records do not show it yet. Each card says what would.",
    ),
    "advice": (
        "Advice",
        "Outside usual practice, or something that no lot’s claim rests on. It changes no standing.",
    ),
}
#: Gaps set together: few enough for two cores to share a long list, many enough to fill pages.
_A_CHAPTER = 60
#: Advice set together in one table.
_A_TABLE = 200


def build_gaps(context: Context) -> tuple[Chapter, ...]:
    """The chapters of the gaps."""
    sections = [Section("gaps", "The gaps", 1, tuple(_opening(context)), style="chapter")]
    chapters: list[Chapter] = []
    waiting = 0
    for section in _by_weight(context):
        if waiting and waiting + len(section.parts) > _A_CHAPTER:
            chapters.append(Chapter("gaps", tuple(sections)))
            sections, waiting = [], 0
        sections.append(section)
        waiting += len(section.parts)
    return (*chapters, Chapter("gaps", tuple(sections)))


def _opening(context: Context) -> Iterator[Part]:
    """How many gaps there are, and how to read them."""
    result = context.result
    counts = result.summary.gaps
    if result.gaps:
        words = (
            f"{count_of('gap', len(result.gaps))} {'was' if len(result.gaps) == 1 else 'were'} found:"
            f" {counts['rejects']} against the claim,"
            f" {counts['unproven']} of missing evidence, and {counts['advice']} of advice. A gap is named"
            " once, however many records share its cause. Numbers follow the record files and are the same in"
            " every output of certgen; the cards stand heaviest first, so their numbers do not run on. A"
            " paper clip stands where a click opens the paper or the record file itself."
        )
        yield Prose((words,))
    else:
        yield Prose(("No gap was found: every check that certgen knows passed on these records.",))
    if result.errors:
        yield Prose(("These places could not be read. What they hold was left out and is not counted:",))
        yield Listing(tuple(say(error.text()) for error in result.errors))


def _by_weight(context: Context) -> Iterator[Section]:
    """The gaps, heaviest first, in sections that a chapter can hold."""
    gaps = list(enumerate(context.result.gaps, start=1))
    papers = Papers(context)
    for weight, (title, lead) in _HEADINGS.items():
        listed = [(number, gap) for number, gap in gaps if gap.weight == weight]
        parts: Sequence[Part]
        if weight == "advice":
            parts = [
                _show_advice(context, listed[start : start + _A_TABLE], papers)
                for start in range(0, len(listed), _A_TABLE)
            ]
        else:
            parts = [_card(context, matter, papers) for matter in gather_matters(listed)]
        for start in range(0, len(parts), _A_CHAPTER):
            yield Section(
                f"gaps/{weight}-{start}",
                f"{title}, continued" if start else title,
                2,
                tuple(parts[start : start + _A_CHAPTER]),
                lead="" if start else f"{lead} {_say_numbers(listed)}",
                style="part",
            )


def gather_matters(gaps: Sequence[tuple[int, Gap]]) -> list[Matter]:
    """Gaps that are one matter together: what one rule says of several movements of the same lots."""
    matters: dict[object, list[tuple[int, Gap]]] = {}
    for number, gap in gaps:
        is_shared = gap.table == "movements" and gap.lots and gap.explanation is None
        one = (gap.rule, gap.weight, gap.lots, gap.remedy, gap.clauses) if is_shared else number
        matters.setdefault(one, []).append((number, gap))
    return [tuple(matter) for matter in matters.values()]


def _say_numbers(gaps: Sequence[tuple[int, Gap]]) -> str:
    """`Gap 1.`, `Gaps 2, 4 and 5.`; a long list is counted."""
    numbers = [str(number) for number, _ in gaps]
    if len(numbers) == 1:
        return f"Gap {numbers[0]}."
    return f"Gaps {join(numbers)}." if len(numbers) <= 24 else f"{whole(len(numbers))} gaps."


def _show_advice(context: Context, gaps: Sequence[tuple[int, Gap]], papers: Papers) -> Grid:
    """Advice in rows: what is advised, where its record and its papers are, and what mends it."""
    grid = table(
        "Advice by number",
        (
            Column("No.", "key", lambda row: key(f"Gap {row[0]}")),
            Column("What", "text", lambda row: _tell(row[1])),
            Column("Record and paper", "text", lambda row: _lead_to(context, row[1], papers)),
            Column("What mends it", "text", lambda row: Cell(say(row[1].remedy))),
            Column("Rule", "text", lambda row: "; ".join(say_clause(context, one) for one in row[1].clauses)),
        ),
        gaps,
    )
    rows = zip(grid.rows, gaps, strict=True)
    return replace(grid, rows=tuple(replace(row, anchor=f"gap/{number}") for row, (number, _) in rows))


def _tell(gap: Gap) -> Cell:
    """The gap's message, its rule and the grower's words."""
    return Cell((*say(gap.message), Run(f" ({gap.rule})"), Run(_say_explanation(gap, before=" "))))


def _lead_to(context: Context, gap: Gap, papers: Papers) -> Cell:
    entry = _entry(context, 0, gap)
    runs = [entry.record, Run(", "), entry.file]
    for paper in papers.list_named(gap):
        runs += [Run(", "), paper]
    return Cell(tuple(runs))


def build_cards(context: Context) -> tuple[GapCard, ...]:
    """A card for every gap, in the order of the result, without papers."""
    return tuple(_card(context, ((number, gap),)) for number, gap in enumerate(context.result.gaps, start=1))


def _card(context: Context, matter: Matter, papers: Papers | None = None) -> GapCard:
    (number, gap), *others = matter
    several = bool(others)
    gaps = [each for _, each in matter]
    return GapCard(
        number=f"{'Gaps' if several else 'Gap'} {join([str(one) for one, _ in matter])}",
        anchor=f"gap/{number}",
        weight=gap.weight,
        mark=WEIGHT_MARKS[gap.weight],
        title=gap.headline + (f", and {len(others)} more" if several else ""),
        rule=gap.rule,
        message=say(gap.message),
        record=_entry(context, number, gap).record,
        place=context.say_place(gap.place),
        entries=tuple(_entry(context, one, each, several=several) for one, each in matter),
        remedy=say(gap.remedy),
        clauses=tuple(say_clause(context, one) for one in gap.clauses),
        lots=_say_lots(gap),
        reaches=say_reach(_beside_lots(gap)),
        explanation=_say_explanation(gap),
        exhibits=papers.show(number, gaps) if papers else (),
        without=papers.say_without(gaps) if papers else "",
    )


def _beside_lots(gap: Gap) -> tuple[Node, ...]:
    """What a gap reaches; lots only where none is named."""
    return tuple(node for node in gap.reaches if not gap.lots or node.table != "lots")


def _entry(context: Context, number: int, gap: Gap, *, several: bool = False) -> GapEntry:
    known = gap.id in context.order.get(gap.table, {})
    others = [context.say_place(place) for place in gap.others]
    more = f" and {whole(len(others) - 4)} more places" if len(others) > 4 else ""
    return GapEntry(
        anchor=f"gap/{number}",
        number=f"Gap {number}" if several else "",
        message=say(gap.message),
        record=Run(capital(say_thing(gap)), f"{gap.table}/{gap.id}" if known else ""),
        file=Run(context.say_place(gap.place), context.record_file(gap.place.file)),
        also=("also " + ", ".join(others[:4]) + more) if others else "",
    )


def _say_lots(gap: Gap) -> tuple[Run, ...]:
    """`lot RC-26-2`, and what parts it from what else is reached."""
    if not gap.lots:
        return ()
    between = Run("; " if _beside_lots(gap) else "")
    return (Run(f"{noun('lots', len(gap.lots))} "), *linked("lots", gap.lots, 12), between)


def _say_explanation(gap: Gap, before: str = "") -> str:
    one = gap.explanation
    if one is None:
        return ""
    return f"{before}“{one.reason}” ({one.by}, {day(one.date)}). It changes no standing."


def say_clause(context: Context, key: str) -> str:
    """A clause by its number and title, with how it was read where that was not in full."""
    try:
        clause = clause_of(key, context.profile)
    except StandardError:
        clause = None
    book, _, number = key.partition(":")
    if clause is None:
        return key
    if book == "practice":
        return f"practice: {clause.title} ({clause.mark})"
    mark = "" if clause.mark == "read" else f", {clause.mark}"
    return f"{book} {number} ({clause.title}{mark})"


def say_reach(nodes: tuple[Node, ...]) -> str:
    """`12 bags, 3 pickings and 2 lots`."""
    counts = Counter(node.table for node in nodes)
    return join([count_of(table, count) for table, count in counts.items()])
