"""Seed that each lot can still offer: what left it, what is there, what a test would take, what is traced.

The records hold no orders: what is promised has to be named.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from certgen.dossier.seed_tests import SeedPlan, plan_seed_test
from certgen.figures.availability import Availability, find_available
from certgen.rules.seed.holds import list_holds
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.examination import Result
    from certgen.lineage.custody import LotBook


@dataclass(frozen=True, slots=True)
class LotOffer:
    """A lot's seed, in milligrams: packed, gone by kind, missing, there, and what can be offered of it.

    `gone` is by kind of movement, `came` what came in after packing, `missing_mg` what a count didn't find,
    `ahead_mg` what the records let leave after the day. `why` says, where nothing is offered, why not; `test`
    is the planned test and `test_fault` why none could be planned.
    """

    lot: str
    variety: str
    standing: str
    packed_mg: int
    gone: Mapping[str, int]
    came_mg: int
    missing_mg: int
    ahead_mg: int
    traced_mg: int
    seed: Availability
    why: str
    test: SeedPlan | None
    test_fault: str


def offer_seed(
    result: Result,
    *,
    lots: Sequence[str] = (),
    promised: Mapping[str, int] | None = None,
    detect: float | None = None,
    confidence: float = 0.95,
) -> tuple[LotOffer, ...]:
    """What each of the season's lots can still offer on the day; `promised` is in milligrams, by lot.

    Only a lot that is traced as a whole offers seed: in any other the traced grams can't be told from the
    rest. `detect` plans a test of each lot that would find that share. Raises KeyError for a lot that isn't
    the season's.
    """
    for name in [*lots, *(promised or {})]:
        if name not in result.lots:
            raise KeyError(name)
    chosen = [lot for lot in result.lots if not lots or lot in lots]
    held = _list_held(result)
    return tuple(
        _offer_lot(result, lot, (promised or {}).get(lot, 0), held.get(lot, ()), detect, confidence)
        for lot in chosen
    )


def _offer_lot(
    result: Result,
    lot: str,
    promised_mg: int,
    held: Sequence[str],
    detect: float | None,
    confidence: float,
) -> LotOffer:
    book, standing = result.books[lot], result.lots[lot]
    gone: Counter[str] = Counter()
    for departure in book.departures:
        gone[departure.entry.kind] += departure.entry.mass_mg
    there = _weigh_there(result, book)
    traced = min(there, standing.traced_mg) if standing.standing == "traced" and not held else 0
    test, fault = _plan_test(result, lot, detect, confidence)
    test_mg = 0 if test is None else math.ceil(1000 * test.cost_g - 1e-6)
    seed = find_available(there, traced, promised_mg, test_mg)
    variety = result.case.keyed("lots")["variety"].get(lot)
    return LotOffer(
        lot=lot,
        variety=variety if isinstance(variety, str) else "",
        standing=standing.standing,
        packed_mg=book.packed_mg,
        gone=dict(gone),
        came_mg=sum(entry.mass_mg for entry in book.came),
        missing_mg=sum(event.mass_mg for event in book.missing),
        ahead_mg=sum(one.entry.mass_mg for one in book.departures if one.entry.day > result.on),
        traced_mg=traced,
        seed=seed,
        why="" if seed.offered_mg else _say_why(seed, standing.standing, standing.traced_mg, held),
        test=test,
        test_fault=fault,
    )


def _list_held(result: Result) -> dict[str, list[str]]:
    """The lots that are held back on the day, and the incidents and recalls that hold them."""
    return {
        lot: holding
        for lot, holds in list_holds(result.case).items()
        if (holding := [hold.by for hold in holds if hold.holds_on(result.on)])
    }


def _weigh_there(result: Result, book: LotBook) -> int:
    """What is there: the less of what the book ends with and what it had at the end of the day."""
    return max(0, min(book.on_hand_mg, book.stock_before(result.on + timedelta(1))))


def _plan_test(
    result: Result, lot: str, detect: float | None, confidence: float
) -> tuple[SeedPlan | None, str]:
    if detect is None:
        return None, ""
    try:
        return plan_seed_test(result, lot, detect, confidence=confidence), ""
    except ValueError as error:
        return None, str(error)


def _say_why(seed: Availability, standing: str, traced_mg: int, held: Sequence[str]) -> str:
    if held:
        return f"{join(held)} {'hold' if len(held) > 1 else 'holds'} the lot"
    if standing != "traced" and not traced_mg:
        return f"the lot is {standing}, and none of it is traced"
    if standing != "traced":
        return f"the lot is {standing}, and its traced grams can't be told from the others"
    if seed.there_mg == 0:
        return "none of it is there"
    if seed.promised_mg + seed.test_mg > seed.there_mg:
        return "more is promised or taken by the test than is there"
    return "all of it is promised or taken by the test"
