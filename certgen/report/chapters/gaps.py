"""The gaps, heaviest first, each with its place, what mends it, what it reaches and what it rests on."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.report.tables import Column, table
from certgen.report.wording import count_of, key, say, say_most, whole
from certgen.rules.registry import load_rules
from certgen.rules.wording import day, join, noun
from certgen.standards import StandardError, clause_of
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Chapter, GapCard, Listing, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.typeset.parts import Grid, Part

_HEADINGS = {
    "rejects": (
        "What speaks against the claim",
        "A record says that part of a lot is not what the label claims. Taking that part out mends the lot.",
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
#: Up to this many gaps are listed by number before the cards.
_LISTED = 40


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
    """How many gaps there are, and all of them by number while they are few."""
    result = context.result
    counts = result.summary.gaps
    if result.gaps:
        words = (
            f"{count_of('gap', len(result.gaps))} {'was' if len(result.gaps) == 1 else 'were'} found:"
            f" {counts['rejects']} against the claim,"
            f" {counts['unproven']} of missing evidence, and {counts['advice']} of advice. A gap is named"
            " once, however many records share its cause. Numbers follow the record files and are the same in"
            " every output of certgen; the cards below stand heaviest first, so their numbers do not run on"
            " from card to card."
        )
        yield Prose((words,))
        if len(result.gaps) <= _LISTED:
            yield _show_all(context)
    else:
        yield Prose(("No gap was found: every check that certgen knows passed on these records.",))
    if result.errors:
        yield Prose(("These places could not be read. What they hold was left out and is not counted:",))
        yield Listing(tuple(say(error.text()) for error in result.errors))


def _by_weight(context: Context) -> Iterator[Section]:
    """The cards, heaviest first, in sections that a chapter can hold."""
    gaps = list(enumerate(context.result.gaps, start=1))
    for weight, (title, lead) in _HEADINGS.items():
        cards = [_card(context, number, gap) for number, gap in gaps if gap.weight == weight]
        for start in range(0, len(cards), _A_CHAPTER):
            yield Section(
                f"gaps/{weight}-{start}",
                f"{title}, continued" if start else title,
                2,
                tuple(cards[start : start + _A_CHAPTER]),
                lead="" if start else f"{lead} {_say_numbers(cards)}",
                style="part",
            )


def _say_numbers(cards: Sequence[GapCard]) -> str:
    """`Gap 1.`, `Gaps 2, 4 and 5.`; a long list is counted."""
    numbers = [card.number.removeprefix("Gap ") for card in cards]
    if len(numbers) == 1:
        return f"Gap {numbers[0]}."
    return f"Gaps {join(numbers)}." if len(numbers) <= 24 else f"{whole(len(numbers))} gaps."


def _show_all(context: Context) -> Grid:
    """Every gap in the order of its number, so that none seems to be missing."""
    return table(
        "All gaps by number",
        (
            Column("Gap", "key", lambda row: key(str(row[0]), f"gap/{row[0]}")),
            Column("Weight", "weight", lambda row: row[1].weight),
            Column("What", "text", lambda row: _title(row[1])),
            Column("Record", "text", lambda row: f"{noun(row[1].table)} {row[1].id}"),
            Column("Lots", "text", lambda row: say_most(row[1].lots, 4)),
        ),
        list(enumerate(context.result.gaps, start=1)),
    )


def _title(gap: Gap) -> str:
    rule = load_rules().get(gap.rule)
    return rule.title.rstrip(".") if rule else gap.rule.replace("-", " ")


def build_cards(context: Context) -> tuple[GapCard, ...]:
    """A card for every gap, in the order of the result."""
    return tuple(_card(context, number, gap) for number, gap in enumerate(context.result.gaps, start=1))


def _card(context: Context, number: int, gap: Gap) -> GapCard:
    node = Node(gap.table, gap.id)
    known = gap.id in context.order.get(gap.table, {})
    others = [context.say_place(place) for place in gap.others]
    more = f" and {whole(len(others) - 4)} more places" if len(others) > 4 else ""
    explanation = gap.explanation
    return GapCard(
        number=f"Gap {number}",
        anchor=f"gap/{number}",
        weight=gap.weight,
        mark=WEIGHT_MARKS[gap.weight],
        title=_title(gap),
        rule=gap.rule,
        message=say(gap.message),
        record=Run(f"{noun(gap.table)} {gap.id}", f"{node.table}/{node.id}" if known else ""),
        place=context.say_place(gap.place),
        also=("also " + ", ".join(others[:4]) + more) if others else "",
        remedy=say(gap.remedy),
        clauses=tuple(say_clause(context, key) for key in gap.clauses),
        lots=tuple(Run(lot, f"lots/{lot}") for lot in gap.lots),
        reaches=say_reach(gap.reaches),
        explanation=(
            f"“{explanation.reason}” ({explanation.by}, {day(explanation.date)}). It changes no standing."
            if explanation
            else ""
        ),
    )


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
