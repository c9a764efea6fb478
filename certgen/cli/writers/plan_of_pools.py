"""The plan of leaf pools: what each size of pool costs and misses, and which further test is worth most."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.pool_plan import price_tests
from certgen.rules.wording import join, name

if TYPE_CHECKING:
    from certgen.cli.terminal import Terminal
    from certgen.dossier.pool_plan import FurtherTest, MethodPools, PoolPlan

#: Trees named singly; more are counted.
_MOST = 24
#: Targets that do equally well, named singly.
_MOST_TARGETS = 5


def write_pools(out: Terminal, plan: PoolPlan) -> None:
    """The trees, each method's pools, and the further tests."""
    of = f" of {plan.variety}" if plan.variety else ""
    if plan.trees:
        out.text(f"To screen{of}: {name('trees', plan.trees, most=_MOST)}.")
    else:
        out.text(f"No standing tree{of} is left to screen.")
    if plan.waiting:
        out.text(f"Waiting for a result: {name('trees', plan.waiting, most=_MOST)}.")
    if plan.singly:
        out.text(
            "A leaf of their own, for a pool of theirs is positive or results contradict one another: "
            f"{name('trees', plan.singly, most=_MOST)}.",
        )
    if plan.trees:
        for method in plan.methods:
            _write_method(out, plan, method)
        out.line()
        out.text(
            "Tests: pools, and each tree of a positive pool once more (Dorfman); a pool that misses a "
            "carrier saves those, so the fewest tests aren't the surest. Missed: the chance that a pool with "
            "one carrier comes out negative, so that all its trees pass; a carrier among n leaves is found "
            "with a single leaf's chance to the power of n (assumed; no source was read).",
            0,
            "dim",
        )
    _write_further(out, plan)


def _write_method(out: Terminal, plan: PoolPlan, method: MethodPools) -> None:
    out.heading(f"{method.method}: {method.title}")
    targets = " with the right targets" if method.needs_targets else ""
    seen = join(method.sees)
    sees = f"It can see {seen}{targets}" if method.sees else "It sees no event of concern"
    unseen = [event for event in plan.events if event not in method.sees]
    blind = f", not {join(unseen, 'or')}" if unseen and method.sees else ""
    out.text(f"{sees}{blind}. At most {method.largest} leaves a pool. {method.largest_basis}.", 2)
    shares = [f"at {_percent(share)}" for share in plan.prevalences]
    rows = [("leaves", "pools", "missed", *(f"tests {share}" for share in shares))]
    rows += [
        (
            str(designs[0].leaves),
            str(designs[0].pools),
            _say_chance(designs[0].missed),
            *(_say_tests(method, design.tests) for design in designs),
        )
        for designs in method.sizes
    ]
    out.table(rows)
    sizes = [f"{size} {share}" for size, share in zip(method.cheapest, shares, strict=True)]
    out.text(f"Fewest tests to expect, in leaves a pool: {join(sizes)}.", 2)


def _say_tests(method: MethodPools, tests: float) -> str:
    cost = "" if method.price is None else f" ({price_tests(tests, method.price):.2f})"
    return f"{tests:.1f}{cost}"


def _write_further(out: Terminal, plan: PoolPlan) -> None:
    out.heading("Which further test lowers most what is missed")
    if plan.passing is None:
        out.text("No tree stands, or no event is of concern, so there is nothing to lower.", 2)
        return
    out.text(
        f"A carrier among the {plan.standing} trees that stand and aren't positive would have passed so far "
        f"with a chance of {_say_chance(plan.passing)}: the average over the trees, for the event of concern "
        f"({join(plan.events)}) that passes most easily.",
        2,
    )
    helping = [one for one in plan.further if one.passing < plan.passing - 1e-9]
    if not helping:
        out.text("No further test lowers that by itself: where several events pass alike, one for each.", 2)
        return
    rows = [("then", "tests", "a leaf of each tree by")]
    for one in helping:
        cost = "" if one.cost is None else f" ({one.cost:.2f})"
        rows.append((_say_chance(one.passing), f"{one.tests}{cost}", _say_test(one)))
    out.table(rows)
    out.text(
        "Methods are taken to fail independently of one another, repeats of one count once, and a leaf may "
        "be another tree's, below which no test gets (handling_error_pct; assumed).",
        2,
        "dim",
    )


def _say_test(test: FurtherTest) -> str:
    if not test.targets:
        return test.title
    shown = list(test.targets[:_MOST_TARGETS])
    if len(test.targets) > _MOST_TARGETS:
        shown.append(f"{len(test.targets) - _MOST_TARGETS} more")
    return f"{test.title} for {join(shown, 'or')}"


def _say_chance(chance: float) -> str:
    """A chance with at most two figures; one below a thousandth is said to be below it."""
    return "below 0.1 %" if 0 < chance < 0.001 else f"{100 * chance:.2g} %"


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"
