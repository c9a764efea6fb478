"""What a draw in two stages can miss: first members, by a weight of each, then some of each one's lots.

Members that are always visited aside, the others are drawn one after another without putting back, each time
in proportion to the weights of those left (successive sampling; the draw by the smallest -ln(u)/w gives the
same, Efraimidis and Spirakis 2006). Within a member drawn, lots are a plain sample.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.figures.arguments import check_count
from certgen.figures.sampling import miss_chance

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np

#: A member that weighs a million times another is always drawn before it.
MOST_WEIGHT: Final = 1_000_000
#: Panels and points in each for the integral over the threshold: far more than its smooth integrand needs.
_PANELS: Final = 40
_POINTS: Final = 10


@dataclass(frozen=True, slots=True)
class Stage:
    """A member as the draw sees it: its `weight` (None: always visited), its lots, and how many of them are
    looked at in a visit.
    """

    weight: int | None
    lots: int
    taken: int


def avoid_chance(weights: Sequence[int], chosen: Sequence[int], size: int) -> float:
    """The chance that a draw of `size` by weight takes none of the `chosen` (positions among the weights).

    Each member has an exponential waiting time of rate w, and the `size` shortest are drawn. With x for e to
    the minus threshold and W for the sum of the chosen weights:
    the integral from 0 to 1 of W·x^(W-1) · P(at least `size` of the others come before the threshold) dx,
    each of them coming before it with 1 - x^w. Derived; numeric, to about ten digits.
    Raises ValueError for a weight below 1, or a draw of more than there are.
    """
    weights = [check_count(weight, "A weight", least=1, most=MOST_WEIGHT) for weight in weights]
    size = check_count(size, "The size of the draw")
    if size > len(weights):
        raise ValueError(f"{size} cannot be drawn from {len(weights)}.")
    held = {_check_place(at, len(weights)) for at in chosen}
    rest = Counter(weight for at, weight in enumerate(weights) if at not in held)
    if not size or not held:
        return 1.0
    if size > rest.total():
        return 0.0
    total = sum(weights[at] for at in held)
    low, high = _bracket(rest, size)
    return low**total + _integrate(rest, size, total, low, high)


def _check_place(at: int, number: int) -> int:
    at = check_count(at, "The place of a member")
    if at >= number:
        raise ValueError(f"There is no member at place {at}: there are {number}.")
    return at


def _check_stages(stages: Sequence[Stage]) -> list[Stage]:
    """Members with weights, lots and looks that are counts, and no more lots looked at than there are."""
    found = []
    for stage in stages:
        weight = stage.weight
        if weight is not None:
            weight = check_count(weight, "A weight", least=1, most=MOST_WEIGHT)
        lots = check_count(stage.lots, "The number of lots")
        taken = check_count(stage.taken, "The number of lots looked at")
        if taken > lots:
            raise ValueError(f"{taken} lots cannot be looked at where there are {lots}.")
        found.append(Stage(weight, lots, taken))
    return found


def _bracket(rest: Counter[int], size: int) -> tuple[float, float]:
    """Between which x the number that come before the threshold passes `size`; outside it is as good as sure.

    Bernstein's bound on a sum of independent events: ten roots of the mean and forty leave less than 1e-15.
    """
    return (
        _find(rest, lambda mean: mean - 10 * math.sqrt(mean) >= size),
        _find(rest, lambda mean: mean + 10 * math.sqrt(mean) + 40 >= size),
    )


def _find(rest: Counter[int], enough: Callable[[float], bool]) -> float:
    """The largest x with enough expected before the threshold; 0 where there never are."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        mean = math.fsum(count * (1 - middle**weight) for weight, count in rest.items())
        low, high = (middle, high) if enough(mean) else (low, middle)
    return low if enough(math.fsum(rest.values())) else 0.0


def _integrate(rest: Counter[int], size: int, total: int, low: float, high: float) -> float:
    import numpy as np

    if high <= low:
        return 0.0
    nodes, parts = np.polynomial.legendre.leggauss(_POINTS)
    edges = np.linspace(low, high, _PANELS + 1)
    half = np.diff(edges)[:, None] / 2
    x = ((edges[:-1, None] + half) + half * nodes).ravel()
    before = 1 - _fewer(rest, size, x)
    return float(np.sum(total * x ** (total - 1) * before * (half * parts).ravel()))


def _fewer(rest: Counter[int], size: int, x: np.ndarray) -> np.ndarray:
    """P(fewer than `size` come before the threshold) at each x: binomials of each weight, put together."""
    import numpy as np

    ways = np.zeros((size, len(x)))
    ways[0] = 1.0
    for weight, count in rest.items():
        most = min(count, size - 1)
        coming, staying = np.log(-np.expm1(weight * np.log(x))), weight * np.log(x)
        added = [
            np.exp(math.log(math.comb(count, number)) + number * coming + (count - number) * staying)
            for number in range(most + 1)
        ]
        joined = np.zeros_like(ways)
        for number, chance in enumerate(added):
            joined[number:] += ways[: size - number] * chance
        ways = joined
    return np.asarray(np.clip(ways.sum(axis=0), 0.0, 1.0))


def visit_chance(stages: Sequence[Stage], at: int, size: int) -> float:
    """The chance that the member at a position is visited, with room for `size` members in all."""
    return 1 - _avoid(_check_stages(stages), [_check_place(at, len(stages))], size)


def _avoid(stages: Sequence[Stage], chosen: Sequence[int], size: int) -> float:
    """The chance that none of these members is visited: none if one of them always is."""
    size = check_count(size, "The number of members to visit")
    open_ = [at for at, stage in enumerate(stages) if stage.weight is not None]
    if any(stages[at].weight is None for at in chosen):
        return 0.0
    room = max(0, min(size - (len(stages) - len(open_)), len(open_)))
    weights = [stage.weight for stage in stages if stage.weight is not None]
    return avoid_chance(weights, [open_.index(at) for at in chosen], room)


def miss_members(stages: Sequence[Stage], faulty: int, size: int) -> float:
    """The chance, at worst, that none of so many members is visited: those of the smallest weights.

    Any visit is taken to show what is wrong with a member as a whole. That the smallest weights are the worst
    follows from swapping one member for a lighter one in each draw that takes only the one of the two.
    """
    faulty = check_count(faulty, "The number of members", least=1)
    stages = _check_stages(stages)
    open_ = sorted((stage.weight, at) for at, stage in enumerate(stages) if stage.weight is not None)
    if faulty > len(stages):
        raise ValueError(f"{faulty} out of {len(stages)} members: there are not so many.")
    return _avoid(stages, [at for _, at in open_[:faulty]], size) if faulty <= len(open_) else 0.0


def miss_lots(stages: Sequence[Stage], faulty: int, size: int) -> float | None:
    """The chance, at worst, that none of so many faulty lots of one member is looked at; None if no member
    has so many.

    The worst over members of 1 - π·(1 - C(M - D, m) / C(M, m)), π the member's chance to be visited, m of its
    M lots looked at.
    """
    faulty = check_count(faulty, "The number of lots", least=1)
    stages = _check_stages(stages)
    chances: dict[int | None, float] = {}
    worst = None
    for at, stage in enumerate(stages):
        if stage.lots < faulty:
            continue
        if stage.weight not in chances:
            chances[stage.weight] = visit_chance(stages, at, size)
        missed = float(miss_chance(stage.lots, faulty, stage.taken))
        chance = 1 - chances[stage.weight] * (1 - missed)
        worst = chance if worst is None else max(worst, chance)
    return worst
