"""How to read the odds, at length, with the chances that screening leaves for three chances before it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.dossier.lot_odds import list_chances
from certgen.dossier.odds import find_chances, list_priors, weigh_trees
from certgen.dossier.odds_wording import say_chance, say_part, say_span
from certgen.dossier.screening_power import count_found
from certgen.figures.pooled_trees import UNKNOWN
from certgen.report.tables import Column, table
from certgen.report.wording import key
from certgen.rules.wording import join
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from certgen.dossier.lot_odds import LotChance
    from certgen.dossier.screening_power import Found
    from certgen.figures.pooled_trees import Chance
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

AT_LENGTH: Final = (
    (
        "Passing. A method that finds 98 of 100 carriers misses 2 %. Two different methods"
        " miss together the product of what each misses, taken to fail independently; the same method done"
        " twice counts once, for what made it blind the first time does so again. A positive is never taken"
        " back by a negative of the same method."
    ),
    (
        "Handling. A leaf may be the neighbour’s, and two labels may be swapped. No laboratory can make up"
        " for that, so this error stands over all: 1 − (1 − missed)(1 − error), once for each tree, however"
        " many tests were made. It is why a third and a fourth test of one leaf help little, and a new leaf"
        " taken on another day by another person helps more than these figures credit. No odds are printed"
        " below the least that it is taken to be."
    ),
    (
        "Pools. Twelve leaves ground together are one test. One carrier among them is diluted, so the pool"
        " finds it less surely than its own leaf; the tables say “in a pool of 12” wherever that is so. A"
        " positive pool says that at least one of its trees carries. Which one follows from what else is"
        " known of each, and all its trees are judged together: exactly, over every number of carriers."
        " Where pools overlap so much that this would take too long, a least and a greatest figure stand"
        " instead."
    ),
    (
        "Share of seed. A tree with one copy of the gene hands it to half of its eggs and half of its"
        " pollen: to 3 in 4 of its selfed seed and 1 in 2 of its crossed seed, whether it was mother or"
        " father. One with two copies hands it to all. Where nothing shows whose pollen set a fruit, the"
        " mother’s part lies between these two; the pollen’s own part has no bound but all of that seed, and"
        " stands under ‘not covered’."
    ),
    (
        "The lot’s own seed. Seed tested in pools speaks for whatever way the gene came in, pollen and"
        " mixing included, as far as its targets go and its sample was drawn from the whole lot. No"
        " positive pool bounds the share and never makes it nothing. For a parent it says most: one that"
        " gave a tenth of the seed would have shown in nearly every pool."
    ),
    (
        "Chances before and after. Whoever wants “how likely is it that this tree carries” must say how"
        " likely it was before any test: a question of the neighbourhood and the seed bought, which no test"
        " of these leaves answers. What was found so far bounds it; the last two tables take three answers in"
        " turn. The chance before is that of"
        " each event by itself, so that a longer list of events changes no answer; and a positive counts"
        " wholly for each event that its method sees."
    ),
    (
        "Siblings. Trees grown from one packet of seed are not independent: if one carries, its sisters may"
        " well. So the chance that any parent carries is given as a range, from all standing or falling"
        " together to each standing for itself. The average share below is over many such lots; any one of"
        " them has all of a carrier’s part or nothing."
    ),
    (
        "What helps most. First screen a parent that nothing clears; then look for an event that nobody"
        " has looked for; then a second method; then seed of the lot itself. Ten more leaves by the method"
        " already used help least."
    ),
)
#: Lots and kinds of trees listed; more are counted.
_MOST: Final = 120


#: A lot and its events, with what is left by each chance before.
_LotLine = tuple[tuple[str, tuple[str, ...]], dict[float, "LotChance"]]


class _Kind(NamedTuple):
    """Trees with like results and like chances; the chances go with the chances before.

    `found` says whether a leaf of its own was positive.
    """

    results: tuple[str, ...]
    events: tuple[str, ...]
    passing: float
    found: bool
    chances: tuple[Chance, ...]


def build_odds_appendix(context: Context) -> Section:
    """The long page, and two tables of chances after all results."""
    parts: list[Part] = [Prose(AT_LENGTH)]
    parts += _show_found(context)
    if len(context.season.columns("trees")) and context.evidence.events:
        parts += [_show_trees(context), *_show_lots(context)]
    return Section("odds-at-length", "How to read the odds, at length", 2, tuple(parts), style="part")


def _show_trees(context: Context) -> Grid:
    """Trees gathered by their results: those with the same results have the same odds, but for a pool."""
    known, floor, priors = context.evidence, context.floor, list_priors(context.result)
    by_prior = [find_chances(known, prior) for prior in priors]
    kinds: Counter[_Kind] = Counter()
    for name, tree in weigh_trees(context.result, known).items():
        alike: dict[tuple[float, bool, tuple[Chance, ...]], list[str]] = {}
        found = any(one.result.positive for one in known.singles.get(name, ()))
        for event in known.events:
            after = tuple(chances[event][name] for chances in by_prior)
            alike.setdefault((tree.passing[event], found, after), []).append(event)
        kinds.update(_Kind(tree.results, tuple(events), *same) for same, events in alike.items())
    ranked = sorted(kinds.items(), key=lambda item: (item[0].passing, item[0].results, item[0].events))
    more = len(ranked) - _MOST
    return table(
        "Trees by their results, and the chance of each event after them",
        (
            Column("Results", "long", lambda row: ", ".join(row[0].results) or "none that counts"),
            Column("Trees", "number", lambda row: row[1], "7%"),
            Column("Event", "text", lambda row: join(row[0].events)),
            Column("A carrier passes with", "text", lambda row: _say_passing(row[0], floor)),
            *(_prior_column(number, prior, floor) for number, prior in enumerate(priors)),
        ),
        ranked[:_MOST],
        note="The chance before any test stands in the heading. Trees of a positive pool are judged together."
        " A range is a bound, not an error of measurement."
        + (f" {more} more kinds are left out." if more > 0 else ""),
    )


def _show_found(context: Context) -> list[Part]:
    """How common carriers are among trees like those tested, by what was found."""
    rows = count_found(context.evidence)
    if not rows:
        return []
    floor = context.floor

    def say_limits(row: Found) -> str:
        found = row.prevalence
        if found is None:
            return "nothing: as assumed the method is no better than a coin"
        return f"{say_chance(found.low, floor)} to {say_chance(found.high, floor)}"

    return [
        table(
            "How common carriers are, by what was found",
            (
                Column("Method", "text", lambda row: context.profile.methods[row.method].title),
                Column("Trees tested by a leaf of their own", "number", lambda row: row.tested),
                Column("Positive", "number", lambda row: row.positive),
                Column("As counted", "text", lambda row: say_part(row.positive / row.tested, floor)),
                Column("With the method’s errors taken out", "text", say_limits),
            ),
            rows,
            note="Of trees like those tested; exact limits, two-sided at 95 %, then corrected for the"
            " assumed sensitivity and specificity. Trees that were tested because they were doubted"
            " are no fair draw.",
        )
    ]


def _prior_column(number: int, prior: float, floor: float) -> Column[tuple[_Kind, int]]:
    return Column(
        f"After {100 * prior:g}\u00a0%", "text", lambda row: _say_after(row[0].chances[number], floor)
    )


def _say_passing(kind: _Kind, floor: float) -> str | None:
    """Nothing of a tree with a positive of its own: it didn't pass."""
    return None if kind.found else say_chance(kind.passing, floor)


def _say_after(chance: Chance, floor: float) -> str:
    if chance == UNKNOWN:
        return "results contradict one another"
    return say_span(chance, floor)


def _show_lots(context: Context) -> list[Part]:
    """A line a lot and set of events, with a column for each chance before."""
    chances = list_chances(context.result, context.odds, context.evidence)
    if not chances:
        return []
    floor = context.floor
    priors = dict.fromkeys(row.prior for row in chances)
    lines: dict[tuple[str, tuple[str, ...]], dict[float, LotChance]] = {}
    for row in chances:
        lines.setdefault((row.lot, tuple(row.events)), {})[row.prior] = row
    more = len(lines) - _MOST
    return [
        table(
            "Lots: the chance that at least one parent carries an event, after all results",
            (
                Column("Lot", "key", lambda line: key(line[0][0], f"lots/{line[0][0]}")),
                Column("Event", "text", lambda line: join(line[0][1])),
                *(_lot_column(prior, floor) for prior in priors),
            ),
            list(lines.items())[:_MOST],
            note="The chance before stands with each; then any parent of those on record, the same with the"
            " lot’s own seed test, and the average share of seed. The first figure of a range is for parents"
            " that stand or fall together, as siblings of one seed lot may; the second for parents that stand"
            " each for itself. The average is over many such lots, with one copy: one lot has all of a"
            " carrier’s part or nothing; pollen that nothing shows lies between none and all of its seed."
            + (f" {more} more lines are left out." if more > 0 else ""),
        )
    ]


def _lot_column(prior: float, floor: float) -> Column[_LotLine]:
    """What is left of a lot where so large a share of trees carried before any test."""

    def say(line: _LotLine) -> str | None:
        row = line[1].get(prior)
        if row is None:
            return None
        seed = "" if row.with_seed is None else f", with the seed test {say_span(row.with_seed, floor)}"
        return f"{say_span(row.any_parent, floor)}{seed}, share {say_span(row.average, floor)}"

    return Column(f"At {100 * prior:g}\u00a0%", "text", say)
