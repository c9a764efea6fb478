"""What lies ahead, for other programs: bags, leaf pools, parents, seed on offer, foreign pollen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.bag_plan import BagPlan
from certgen.dossier.contamination import SeasonContamination
from certgen.dossier.parent_plan import ParentPlan
from certgen.dossier.pool_plan import PoolPlan, price_tests
from certgen.exchange.interchange.layout import grams, name_season

if TYPE_CHECKING:
    from collections.abc import Sequence
    from decimal import Decimal

    from certgen.dossier.pool_plan import MethodPools
    from certgen.dossier.season_rates import Rate
    from certgen.dossier.seed_for_sale import LotOffer
    from certgen.examination import Result
    from certgen.figures.leaf_pools import PoolDesign

#: The form of `plan --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1

Plan = BagPlan | PoolPlan | ParentPlan | SeasonContamination | tuple["LotOffer", ...]


def build_plan(result: Result, plan: Plan) -> dict[str, Any]:
    """The object that `schemas/output/plan.json` describes."""
    kind, content = _describe(plan)
    return {"format": FORMAT, "season": name_season(result), "on": result.on, "kind": kind, **content}


def tabulate_plan(plan: Plan) -> tuple[list[str], list[list[Any]]]:
    """Heading and rows: one row of a plan for bags, else one a pool's size, lot or trees wanted."""
    rows = _list_rows(plan)
    heading = list(dict.fromkeys(name for row in rows for name in row)) or ["nothing"]
    return heading, [[row.get(name) for name in heading] for row in rows]


def _describe(plan: Plan) -> tuple[str, dict[str, Any]]:
    match plan:
        case BagPlan():
            return "bags", _describe_bags(plan)
        case PoolPlan():
            return "pools", _describe_pools(plan)
        case ParentPlan():
            return "parents", _describe_parents(plan)
        case SeasonContamination():
            return "pollen", _describe_pollen(plan)
        case _:
            return "seed", {"lots": [_describe_offer(one) for one in plan]}


def _list_rows(plan: Plan) -> list[dict[str, Any]]:
    match plan:
        case BagPlan():
            return [_flatten(_describe_bags(plan))]
        case PoolPlan():
            return [row for method in plan.methods for row in _list_sizes(method)]
        case ParentPlan():
            content = _describe_parents(plan)
            return [{"effective": plan.effective, **lot} for lot in content["lots"]] or [_flatten(content)]
        case SeasonContamination():
            return list(_describe_pollen(plan)["lots"])
        case _:
            return [_flatten(_describe_offer(one)) for one in plan]


def _flatten(content: dict[str, Any], before: str = "") -> dict[str, Any]:
    """A nested object as one row: names joined by dots, lists left out."""
    row: dict[str, Any] = {}
    for name, value in content.items():
        if isinstance(value, dict):
            row |= _flatten(value, f"{before}{name}.")
        elif not isinstance(value, list):
            row[f"{before}{name}"] = value
    return row


def _describe_rate(rate: Rate) -> dict[str, Any]:
    return {"usual": rate.usual, "cautious": rate.cautious, "basis": rate.basis, "own": rate.own}


def _describe_bags(plan: BagPlan) -> dict[str, Any]:
    dates, leaves = plan.dates, plan.leaves
    return {
        "grams": plan.grams,
        "variety": plan.variety,
        "confidence": plan.confidence,
        "bags": plan.bags,
        "fruit": plan.fruit,
        "bags_cautious": plan.bags_cautious,
        "fruit_cautious": plan.fruit_cautious,
        "bearing": _describe_rate(plan.bearing),
        "grams_a_fruit": _describe_rate(plan.grams_a_fruit),
        "left_to_sell": _describe_rate(plan.left),
        "kept_g": plan.kept_g,
        "traced_of_packed": plan.traced,
        "steps": [
            {"step": step.step, "days_low": step.low, "days_high": step.high, "basis": step.basis}
            for step in dates.steps
        ],
        "steps_missing": list(dates.missing),
        "own_limits": plan.own_limits,
        "dates": {
            "bagged_on": dates.bag_on,
            "ready_from": dates.ready_from,
            "ready_to": dates.ready_to,
            "ready_by": dates.ready_by,
            "bag_by": dates.bag_by,
            "bag_latest": dates.bag_latest,
        },
        "leaf_tests": {
            "bags_a_tree": leaves.bags_a_tree,
            "trees": leaves.trees,
            "cleared": leaves.cleared,
            "unscreened": leaves.unscreened,
            "tests": leaves.tests,
            "short": leaves.short,
        },
    }


def _describe_pools(plan: PoolPlan) -> dict[str, Any]:
    return {
        "variety": plan.variety,
        "trees": list(plan.trees),
        "waiting": list(plan.waiting),
        "singly": list(plan.singly),
        "prevalences": list(plan.prevalences),
        "methods": [
            {
                "method": one.method,
                "title": one.title,
                "sensitivity": one.sensitivity,
                "specificity": one.specificity,
                "largest_pool": one.largest,
                "largest_pool_basis": one.largest_basis,
                "sees": list(one.sees),
                "needs_targets": one.needs_targets,
                "price": _as_float(one.price),
                "cheapest": list(one.cheapest),
                "sizes": [_describe_size(one, designs) for designs in one.sizes],
            }
            for one in plan.methods
        ],
        "events": list(plan.events),
        "standing": plan.standing,
        "passing": plan.passing,
        "further": [
            {
                "method": one.method,
                "targets": list(one.targets),
                "tests": one.tests,
                "passing": one.passing,
                "cost": _as_float(one.cost),
            }
            for one in plan.further
        ],
    }


def _describe_size(method: MethodPools, designs: Sequence[PoolDesign]) -> dict[str, Any]:
    first = designs[0]
    return {
        "leaves": first.leaves,
        "pools": first.pools,
        "missed": first.missed,
        "expected": [
            {
                "prevalence": one.prevalence,
                "tests": one.tests,
                "cost": None if method.price is None else price_tests(one.tests, method.price),
            }
            for one in designs
        ],
    }


def _as_float(amount: Decimal | None) -> float | None:
    return None if amount is None else float(amount)


def _list_sizes(method: MethodPools) -> list[dict[str, Any]]:
    """A row a size of pool and prevalence."""
    rows = []
    for designs in method.sizes:
        size = _describe_size(method, designs)
        rows += [
            {
                "method": method.method,
                "leaves": size["leaves"],
                "pools": size["pools"],
                "missed": size["missed"],
                **expected,
                "largest_pool": method.largest,
            }
            for expected in size["expected"]
        ]
    return rows


def _describe_parents(plan: ParentPlan) -> dict[str, Any]:
    return {
        "effective": plan.effective,
        "variety": plan.variety,
        "parents_if_equal": plan.equal,
        "parents_at_median_spread": plan.median,
        "parents_at_widest_spread": plan.widest,
        "bags_a_tree": plan.bags_each,
        "bearing": None if plan.bearing is None else _describe_rate(plan.bearing),
        "trees_to_bag": plan.to_bag,
        "cleared": plan.cleared,
        "lots": [
            {
                "lot": lot.lot,
                "variety": lot.variety,
                "parents": lot.parents,
                "effective_number": lot.effective,
                "spread": lot.spread,
                "effective_by_families": lot.by_families,
                "effective_if_pure_lines": lot.pure_lines,
                "heaviest_parent": lot.heaviest[0],
                "heaviest_share": lot.heaviest[1],
                "known": lot.known,
                "parents_needed": lot.needed,
            }
            for lot in plan.lots
        ],
    }


def _describe_offer(one: LotOffer) -> dict[str, Any]:
    return {
        "lot": one.lot,
        "variety": one.variety,
        "standing": one.standing,
        "packed_g": grams(one.packed_mg),
        "gone_g": {kind: grams(mass) for kind, mass in one.gone.items()},
        "came_g": grams(one.came_mg),
        "missing_g": grams(one.missing_mg),
        "leaving_after_g": grams(one.ahead_mg),
        "there_g": grams(one.seed.there_mg),
        "traced_there_g": grams(one.traced_mg),
        "promised_g": grams(one.seed.promised_mg),
        "test_g": grams(one.seed.test_mg),
        "free_g": grams(one.seed.free_mg),
        "offered_g": grams(one.seed.offered_mg),
        "why_none": one.why,
        "test_fault": one.test_fault,
    }


def _describe_pollen(plan: SeasonContamination) -> dict[str, Any]:
    failures = plan.bags.failures
    return {
        "bags": {
            "checked": 0 if failures is None else failures.checked,
            "failed": 0 if failures is None else failures.failed,
            "kinds": dict(plan.bags.kinds),
            "unlooked": plan.bags.unlooked,
            "share": None if failures is None else failures.share,
            "low": None if failures is None else failures.low,
            "high": None if failures is None else failures.high,
            "at_most": None if failures is None else failures.at_most,
            "confidence": None if failures is None else failures.confidence,
            "needed_for_half": plan.bags.needed,
        },
        "assumed": [
            {
                "key": one.key,
                "usual_pct": one.usual,
                "low_pct": one.low,
                "high_pct": one.high,
                "source": one.source,
                "mark": one.mark,
            }
            for one in (plan.fathers, plan.carries)
            if one is not None
        ],
        "lots": [
            {
                "lot": one.lot,
                "uncovered": one.uncovered,
                "open_to_pollen": one.usual.open_to_pollen,
                "fathered": one.usual.fathered,
                "carrying": one.usual.carrying,
                "carrying_low": one.low,
                "carrying_high": one.high,
            }
            for one in plan.lots
        ],
        "unknown": list(plan.unknown),
    }
