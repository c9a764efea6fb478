"""The gaps, heaviest first, each with its place, what mends it, what it reaches and what it rests on."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.report.wording import cell, count_of, key, say, whole
from certgen.rules.registry import load_rules
from certgen.rules.wording import day, join, noun
from certgen.standards import StandardError, clause_of
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Chapter, GapCard, Grid, Head, Listing, Prose, Row, Run, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.typeset.parts import Part

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
        "Outside usual practice, or a loose end that no lot’s claim rests on. It changes no standing.",
    ),
}
#: Gaps set together: few enough for two cores to share a long list, many enough to fill pages.
_A_CHAPTER = 60
#: Up to this many gaps are listed by number before the cards.
_LISTED = 40


def build_gaps(context: Context) -> tuple[Chapter, ...]:
    """The chapters of the gaps."""
    result = context.result
    opening: list[Part] = []
    if result.gaps:
        opening.append(
            Prose(
                (
                    (
                        f"{whole(len(result.gaps))} gaps were found: {result.summary.gaps['rejects']} against"
                        f" the claim, {result.summary.gaps['unproven']} of missing evidence, and"
                        f" {result.summary.gaps['advice']} of advice. A gap is named once, however many"
                        f" records"
                        " share its cause. Numbers follow the record files and are the same in every"
                        " output of certgen; the cards below stand heaviest first, so their numbers do not"
                        " run on from card to card."
                    ),
                )
            )
        )
        if len(result.gaps) <= _LISTED:
            opening.append(_by_number(context))
    else:
        opening.append(Prose(("No gap was found: every check that certgen knows passed on these records.",)))
    if result.errors:
        opening.append(
            Prose(("These places could not be read. What they hold was left out and is not counted:",))
        )
        opening.append(Listing(tuple(say(error.text()) for error in result.errors)))
    sections = [Section("gaps", "The gaps", 1, tuple(opening), style="chapter")]
    chapters: list[Chapter] = []
    waiting = 0
    for weight, (title, lead) in _HEADINGS.items():
        cards = [
            _card(context, number, gap)
            for number, gap in enumerate(result.gaps, start=1)
            if gap.weight == weight
        ]
        for start in range(0, len(cards), _A_CHAPTER):
            piece = tuple(cards[start : start + _A_CHAPTER])
            if waiting and waiting + len(piece) > _A_CHAPTER:
                chapters.append(Chapter("gaps", tuple(sections)))
                sections, waiting = [], 0
            words = title if start == 0 else f"{title}, continued"
            said = f"{lead} {_say_numbers(cards)}" if start == 0 else ""
            sections.append(Section(f"gaps/{weight}-{start}", words, 2, piece, lead=said, style="part"))
            waiting += len(piece)
    return (*chapters, Chapter("gaps", tuple(sections)))


def _say_numbers(cards: Sequence[GapCard]) -> str:
    """`Gap 1.`, `Gaps 2, 4 and 5.`; a long list is counted."""
    numbers = [card.number.removeprefix("Gap ") for card in cards]
    if len(numbers) == 1:
        return f"Gap {numbers[0]}."
    return f"Gaps {join(numbers)}." if len(numbers) <= 24 else f"{whole(len(numbers))} gaps."


def _by_number(context: Context) -> Grid:
    """Every gap in the order of its number, so that none seems to be missing."""
    rows = tuple(
        Row(
            (
                key(str(number), f"gap/{number}"),
                cell(gap.weight, mark=WEIGHT_MARKS[gap.weight]),
                cell(_title(gap)),
                cell(f"{noun(gap.table)} {gap.id}"),
                cell(
                    ", ".join(gap.lots[:4]) + (f" and {len(gap.lots) - 4} more" if len(gap.lots) > 4 else "")
                ),
            )
        )
        for number, gap in enumerate(context.result.gaps, start=1)
    )
    heads = (Head("Gap", "key"), Head("Weight"), Head("What"), Head("Record"), Head("Lots"))
    return Grid("All gaps by number", heads, rows)


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
