"""A spot check, or the plan of a seed test, for other programs: one JSON object, or rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.cautions import cautions_of_draw, cautions_of_test
from certgen.dossier.spot_check import list_strata, say_order, say_population
from certgen.exchange.interchange.layout import name_season, tell_cautions
from certgen.figures.draws import plain_text

if TYPE_CHECKING:
    from datetime import date

    from certgen.dossier.seed_tests import SeedPlan
    from certgen.dossier.spot_check import Asked, SpotCheck
    from certgen.examination import Result

#: The form of `sample --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 2


def build_frozen(result: Result, asked: Asked, fingerprint: str, size: int | None) -> dict[str, Any]:
    """The object that `schemas/output/sample.json` describes for the first step: nothing is drawn yet."""
    strata = {name: len(items) for name, items in list_strata(result, asked).items()}
    return {
        "format": FORMAT,
        "season": name_season(result),
        "step": "frozen",
        "kind": asked.kind,
        **_describe_asked(asked, result.on),
        "fingerprint": fingerprint,
        "population": sum(strata.values()),
        "strata": strata,
        "size": size,
    }


def tabulate_frozen(
    result: Result, asked: Asked, fingerprint: str, size: int | None
) -> tuple[list[str], list[tuple[str | int | None, ...]]]:
    """The first step as a heading and one row."""
    frozen = build_frozen(result, asked, fingerprint, size)
    names = ["kind", "basis", "on", "by", "fingerprint", "population", "size"]
    return names, [tuple(str(frozen[name]) if name == "on" else frozen[name] for name in names)]


def _describe_asked(asked: Asked, on: date) -> dict[str, Any]:
    return {
        "basis": "on record" if asked.on_record else "there",
        "drawn_from": say_population(asked, on),
        "by": asked.by,
        "on": on,
    }


def build_spot_check(result: Result, check: SpotCheck) -> dict[str, Any]:
    """The object that `schemas/output/sample.json` describes for a draw of bags, trees or lots."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "step": "drawn",
        "kind": check.kind,
        **_describe_asked(check.asked, check.on),
        "cautions": tell_cautions(cautions_of_draw(result, check.kind)),
        "fingerprint": check.key.fingerprint,
        "frozen_first": check.key.noted,
        "seed": check.key.text,
        "seed_as_hashed": plain_text(check.key.text),
        "order": say_order(check),
        "population": check.population,
        "size": check.size,
        "strata": dict(check.strata),
        "taken": dict(check.taken),
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
        "doubled": list(check.doubled),
        "misses": [{"faulty": faults, "chance_at_worst": chance} for faults, chance in check.misses],
    }


def tabulate_spot_check(result: Result, check: SpotCheck) -> tuple[list[str], list[tuple[str, ...]]]:
    """A heading and a row an item, with what the records say of it, a blank for what is found, the cautions
    of going there, and what the draw rests on.
    """
    cautions = " ".join(one.line for one in cautions_of_draw(result, check.kind))
    names = [name for name, _ in check.drawn[0].says] if check.drawn else []
    placed = ["id", "group", "tree", "block", "row", "position", "variety"]
    drawn_by = (check.key.fingerprint, plain_text(check.key.text), "yes" if check.key.noted else "no")
    heading = [*placed, *names, "found", "cautions", "fingerprint", "seed as hashed", "frozen first"]
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
            *drawn_by,
        )
        for item in check.drawn
    ]


def build_seed_plan(result: Result, plan: SeedPlan) -> dict[str, Any]:
    """The object that `schemas/output/sample.json` describes under `seed test`."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "step": "planned",
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
