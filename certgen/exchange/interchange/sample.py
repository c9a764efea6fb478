"""A spot check, or the plan of a seed test, for other programs: one JSON object, or rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.cautions import cautions_of_draw, cautions_of_test
from certgen.exchange.interchange.layout import name_season, tell_cautions

if TYPE_CHECKING:
    from certgen.dossier.seed_tests import SeedPlan
    from certgen.dossier.spot_check import SpotCheck
    from certgen.examination import Result

#: The form of `sample --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1


def build_spot_check(result: Result, check: SpotCheck) -> dict[str, Any]:
    """The object that `schemas/output/sample.json` describes for a draw of bags or trees."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "kind": check.kind,
        "cautions": tell_cautions(cautions_of_draw(result, check.kind)),
        "seed": check.seed,
        "population": check.population,
        "size": check.size,
        "strata": dict(check.strata),
        "drawn": [
            {
                "id": item.identifier,
                "stratum": item.stratum,
                "tree": item.tree,
                "block": item.block,
                "row": item.row,
                "position": item.position,
                "variety": item.variety,
                "says": dict(item.says),
            }
            for item in check.drawn
        ],
        "misses": [{"faulty": faults, "chance": chance} for faults, chance in check.misses],
    }


def tabulate_spot_check(result: Result, check: SpotCheck) -> tuple[list[str], list[tuple[str, ...]]]:
    """A heading and a row an item, with what the records say of it, a blank for what is found, and the
    cautions of going there.
    """
    cautions = " ".join(one.line for one in cautions_of_draw(result, check.kind))
    names = [name for name, _ in check.drawn[0].says] if check.drawn else []
    heading = ["id", "group", "tree", "block", "row", "position", "variety", *names, "found", "cautions"]
    return heading, [
        (
            item.identifier,
            item.stratum,
            item.tree,
            item.block,
            item.row,
            item.position,
            item.variety,
            *(text for _, text in item.says),
            "",
            cautions,
        )
        for item in check.drawn
    ]


def build_seed_plan(result: Result, plan: SeedPlan) -> dict[str, Any]:
    """The object that `schemas/output/sample.json` describes under `seed test`."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "kind": "seed test",
        "cautions": tell_cautions(cautions_of_test(result, plan.lot)),
        **describe_seed_plan(plan),
    }


def describe_seed_plan(plan: SeedPlan) -> dict[str, Any]:
    """The plan's figures by name; in CSV they are one row."""
    return {
        "lot": plan.lot,
        "detect": plan.detect,
        "confidence": plan.confidence,
        "sensitivity": plan.sensitivity,
        "detection_limit": plan.limit,
        "detection_limit_source": plan.limit_source,
        "largest_pool": plan.largest_pool,
        "pools": plan.pools,
        "seeds_per_pool": plan.seeds_per_pool,
        "seeds": plan.seeds,
        "reached": plan.reached,
        "bound_after_none": plan.bound,
        "thousand_seeds_g": plan.thousand_g,
        "thousand_seeds_source": plan.weight_source,
        "uses_up_g": plan.cost_g,
        "stock_g": plan.stock_mg / 1000,
        "share_of_stock": plan.share_of_stock,
    }
