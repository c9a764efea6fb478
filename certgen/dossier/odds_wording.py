"""What screening leaves open, in words that all papers share: nothing below the floor, two digits at most."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Final

from certgen.rules.wording import count, join
from certgen.standards.practice import HANDLING, PRIOR, SELFED_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.lot_odds import EventOdds, LotOdds
    from certgen.dossier.odds import Assumption
    from certgen.figures.pooled_trees import Chance
    from certgen.figures.transmission import Span

NEVER_COVERED: Final = "other events, pollen past a sound cover, and mixing"
"""What no screening of parents covers, of any lot."""

_PERCENT: Final = "\u00a0%"


def say_chance(chance: float, floor: float) -> str:
    """A chance in per cent with two figures: `0.73 %`, `below 0.1 %` under the floor, never quite 100."""
    if chance < floor or chance == 0:
        return f"below {_plain(100 * floor)}{_PERCENT}" if floor else f"0{_PERCENT}"
    text = f"{Decimal(f'{100 * chance:#.2g}'.rstrip('.')):f}"
    if chance < 1 and text == "100":
        return f"above 99{_PERCENT}"
    return text + _PERCENT


def say_part(share: float, floor: float) -> str:
    """A part of the seed in per cent with one decimal, a small one as a chance; none is below the floor."""
    text = f"{100 * share:.1f}"
    # One decimal would make nothing of a small part, and all of a large one.
    return say_chance(share, floor) if share < max(0.01, floor) or text == "100.0" else text + _PERCENT


def say_span(span: Span | Chance, floor: float, *, part: bool = False) -> str:
    """`0.73 to 2.5 %`, or one figure where both ends read alike; as chances, or as parts of the seed."""
    say = say_part if part else say_chance
    low, high = say(span.low, floor), say(span.high, floor)
    if low == high:
        return low
    return f"{low if low.startswith('below') else low.removesuffix(_PERCENT)} to {high}"


def _plain(percent: float) -> str:
    return f"{percent:g}"


def tell_lot(odds: LotOdds, *, named: bool = True) -> tuple[tuple[str, str], ...]:
    """The four lines of a lot: what is asked, and the answer.

    Not `named` they hold no number of a tree or a test: for whoever may see this lot and nothing else.
    """
    return (
        ("A carrier parent would have passed this lot’s screening with a chance of", tell_passing(odds)),
        ("If one had, it would carry into", tell_carried(odds)),
        ("The lot’s own seed test rules out more than", tell_check(odds, named=named)),
        ("Not covered", "; ".join((*list_open(odds, named=named), NEVER_COVERED))),
    )


def tell_passing(odds: LotOdds) -> str:
    """The chance by event, where the events differ; of the cleared parents alone."""
    if not odds.parents:
        return "not known: no parent is on record"
    if not odds.events:
        return "not known: no event of concern is named"
    if not any(parent.cleared for parent in odds.parents):
        return f"100{_PERCENT}: no parent has a result that clears it"
    told = [
        (f"{join(one.events)}: " if len(odds.events) > 1 else "") + _say_passing(one, odds.floor)
        for one in odds.events
    ]
    return "; ".join(told) + (" (cleared parents alone)" if odds.open_parents else "")


def _say_passing(one: EventOdds, floor: float) -> str:
    if one.passing is None:
        return f"100{_PERCENT}, no method could see {'it' if len(one.events) == 1 else 'them'}"
    return say_span(one.passing, floor)


def tell_carried(odds: LotOdds) -> str:
    """How much of the seed would carry, from the lightest parent to the heaviest."""
    if odds.one is None or odds.two is None:
        return "not known: no parent is on record"
    one, two = (say_span(span, odds.floor, part=True) for span in (odds.one, odds.two))
    return f"{one} of the seed (one copy), {two} (two copies)"


def tell_check(odds: LotOdds, *, named: bool = True) -> str:
    """What the lot's own test of seed bounds; `named` is as in `tell_lot`."""
    if odds.positive_tests:
        return f"no bound: {f'test {join(odds.positive_tests)}' if named else 'it'} found some"
    check = odds.check
    if check is None:
        return "no test that counts is recorded"
    if check.bound is None:
        # The reasons name what they rest on.
        return f"no bound by test {check.test}: {join(check.reasons)}" if named else "no bound"
    targets = join(check.targets) or "no target named"
    missing = (
        ""
        if check.missing is None
        else (
            f"; it would have missed one such parent with a chance of {say_span(check.missing, odds.floor)}"
        )
    )
    test = f"test {check.test} " if named else ""
    return f"{say_chance(check.bound, odds.floor)} ({test}for {targets}, one-sided 95{_PERCENT}){missing}"


def _list_unseen(odds: LotOdds) -> Iterator[str]:
    for one in odds.events:
        if one.passing is None:
            yield f"{join(one.events)}, which no method could see on any parent"
        elif one.blind:
            blind = say_part(one.blind, odds.floor)
            yield f"{join(one.events)} on parents of {blind} of the seed, whose methods can’t see it"


def list_open(odds: LotOdds, *, named: bool = True) -> Iterator[str]:
    """What of this lot no figure covers, each in a few words; `NEVER_COVERED` stands beside it always.

    `named` is as in `tell_lot`.
    """
    # Where nothing clears any parent, no event can be said to be seen or not.
    if any(parent.cleared for parent in odds.parents):
        yield from _list_unseen(odds)
    if odds.unknown:
        yield f"parents not on record, {say_part(odds.unknown, odds.floor)} of the seed"
    for found, said in ((True, "which tested positive"), (False, "which no result clears")):
        names = [parent.tree for parent in odds.open_parents if parent.found is found]
        if names and not named:
            yield f"{count(len(names), 'parent')}, {said}"
        elif names:
            told = join(names) if len(names) <= 3 else f"{len(names)} parents, {names[0]} before all"
            yield f"{told}, {said}"
    if odds.open_pollen:
        yield f"the pollen of {say_part(odds.open_pollen, odds.floor)} of the seed, which nothing shows"


def explain_assumption(assumption: Assumption) -> str:
    """An assumed figure in words that need no statistics."""
    percent = assumption.percent
    if assumption.key == PRIOR:
        return f"Before any test {_plain(percent)} of 100 trees carry an event (the appendix alone asks this)"
    if assumption.key == HANDLING:
        return f"Of 1,000 leaves or labels {_plain(round(10 * percent, 9))} are another tree’s"
    if assumption.key == SELFED_SHARE:
        return f"Of 100 seeds of a selfed carrier with one copy {_plain(percent)} carry"
    method = assumption.title.partition(":")[0]
    if assumption.key.endswith("_sensitivity_pct"):
        return f"{method}: of 100 leaves of carriers it finds {_plain(percent)}"
    return f"{method}: of 100 clean leaves it calls {_plain(round(100 - percent, 9))} positive"
