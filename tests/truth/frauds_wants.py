"""What must come of a fraud: gaps, words, and lots that are not traced any more, or still are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from certgen.examination import Result


@dataclass(frozen=True)
class Want:
    """What must come out: `tell` says what is wrong with a result, given the clean season's, or nothing."""

    name: str
    tell: Callable[[Result, Result], Iterator[str]]
    lots: tuple[str, ...] = ()


def not_all_traced(*lots: str) -> Want:
    """Each of the lots holds grams that aren't traced; without names, at least one lot does."""

    def tell(result: Result, _clean: Result) -> Iterator[str]:
        for lot in lots:
            if lot not in result.lots:
                yield f"{lot} is not told of"
            elif result.lots[lot].standing == "traced":
                yield f"{lot} is traced"
        if not lots and all(one.standing == "traced" for one in result.lots.values()):
            yield "every lot is traced"

    return Want(f"not all traced ({', '.join(lots) or 'some lot'})", tell, lots)


def traced_at_most(lot: str, grams: float) -> Want:
    """The lot isn't traced as a whole, and holds no more traced grams than that."""

    def tell(result: Result, clean: Result) -> Iterator[str]:
        yield from not_all_traced(lot).tell(result, clean)
        if lot in result.lots and result.lots[lot].traced_mg > round(grams * 1000):
            yield f"{result.lots[lot].traced_mg / 1000:g} g of {lot} are traced"

    return Want(f"{lot} traced at most {grams:g} g", tell, (lot,))


def traced_at_least(lot: str, grams: float) -> Want:
    """The lot holds at least so many traced grams."""

    def tell(result: Result, _clean: Result) -> Iterator[str]:
        held = result.lots[lot].traced_mg if lot in result.lots else 0
        if held < round(grams * 1000):
            yield f"only {held / 1000:g} g of {lot} are traced"

    return Want(f"{lot} traced at least {grams:g} g", tell)


def _tell_gap(result: Result, _clean: Result) -> Iterator[str]:
    open_ = any(gap.weight != "advice" for gap in result.gaps)
    if not open_ and all(one.standing == "traced" for one in result.lots.values()):
        yield "no gap but advice"


def gap_at(record: str) -> Want:
    """A gap that isn't advice stands at the record."""

    def tell(result: Result, _clean: Result) -> Iterator[str]:
        if not any(record in gap.ids for gap in result.gaps if gap.weight != "advice"):
            yield f"no gap stands at {record}"

    return Want(f"gap at {record}", tell)


def _tell_said(result: Result, clean: Result) -> Iterator[str]:
    known = {(gap.rule, gap.ids, gap.message) for gap in clean.gaps}
    if not result.errors and all((gap.rule, gap.ids, gap.message) in known for gap in result.gaps):
        yield "nothing is said of it"


def _tell_silent(result: Result, _clean: Result) -> Iterator[str]:
    yield from (f"{error.text()}" for error in result.errors)
    yield from (f"{gap.rule} at {', '.join(gap.ids)}" for gap in result.gaps if gap.weight != "advice")
    yield from (f"{lot} is {one.standing}" for lot, one in result.lots.items() if one.standing != "traced")


gap = Want("gap", _tell_gap)
said = Want("said", _tell_said)
silent = Want("silent", _tell_silent)
L1, L2, BOTH = not_all_traced("L1"), not_all_traced("L2"), not_all_traced("L1", "L2")
#: All of the lot stays traced: the fraud is in the other.
L1_KEPT, L2_KEPT = traced_at_least("L1", 21), traced_at_least("L2", 24)
