"""Faults of what goes onto the land, of the map and of the plan."""

# ruff: noqa: D103 (a fault is named by its rule)
from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from planting import plants

if TYPE_CHECKING:
    from plot import Plot, Record

_YEAR = timedelta(days=365)


def _approve(plot: Plot, name: str, **changes: Any) -> Record:
    """An approval that holds through the season, and one of what other inputs are of."""
    told = {"approved_by": "the certifier", "from": plot.start - 3 * _YEAR, "until": plot.end + _YEAR}
    if not any(one["name"] == "compost" for one in plot.rows("materials")):
        plot.add("materials", name="compost", **told)
    return plot.add("materials", name=name, **{**told, **changes})


@plants
def approval_not_holding(plot: Plot) -> Any:
    change = plot.random.choice(
        (
            {"until": plot.start - timedelta(days=1)},
            {"from": plot.start + timedelta(days=1)},
            {"condition": "after a soil test"},
            {"blocks": [_field(plot)["block"]]},
            {"approved_by": None},
        )
    )
    name = f"shell {plot.fresh()}"
    entry = _approve(plot, name, **{key: value for key, value in change.items() if value is not None})
    if change.get("approved_by", "") is None:
        del entry["approved_by"]
    given = plot.add_input(material=name.upper(), approval=entry["material"])
    if plot.random.random() < 0.5:
        del given["approval"], given["allowed_by"]
        return "inputs", given, "material"
    return "inputs", given, "approval"


@plants
def material_not_listed(plot: Plot) -> Any:
    _approve(plot, f"shell {plot.fresh()}")
    return "inputs", plot.add_input(material=f"wood ash {plot.fresh()}"), "material"


def _heat(plot: Plot, days: int, celsius: int) -> list[Record]:
    begun = plot.start - timedelta(days=120)
    return [{"date": begun + timedelta(days=at), "temperature": f"{celsius} °C"} for at in range(days)]


def _heap(plot: Plot, **changes: Any) -> Record:
    begun = plot.start - timedelta(days=122)
    told = {"begun": begun, "ready": plot.start - timedelta(days=9), "method": "in vessel"}
    return plot.add(
        "compost", **{**told, "ingredients": ["straw"], "temperatures": _heat(plot, 3, 60), **changes}
    )


@plants
def compost_unshown(plot: Plot) -> Any:
    plot.need(plot.asks("compost_turnings"))
    windrow = {"method": "windrow", "temperatures": _heat(plot, 15, 60)}
    heap = _heap(plot, **plot.random.choice((
        {"temperatures": _heat(plot, 2, 60)}, {"temperatures": _heat(plot, 3, 54)}, windrow,
        {"temperatures": _heat(plot, 3, 78)},
    )))  # fmt: skip
    plot.add_input(heap=heap["heap"])
    return "compost", heap, "temperatures"


@plants
def compost_without_heap(plot: Plot) -> Any:
    _heap(plot)
    if plot.random.random() < 0.5:
        return "inputs", plot.add_input(supplier="own"), "heap"
    late = _heap(plot, ready=plot.start + timedelta(days=1))
    return "inputs", plot.add_input(heap=late["heap"]), "heap"


@plants
def manure_before_picking(plot: Plot) -> Any:
    plot.need(plot.asks("manure_days"))
    block = plot.choose(plot.picked_blocks())["block"]
    plantings = {one["planting"] for one in plot.rows("plantings") if one["block"] == block}
    trees = {one["tree"] for one in plot.rows("trees") if one["planting"] in plantings}
    bags = {one["bag"] for one in plot.rows("bagging") if one["tree"] in trees}
    days = [one["date"] for one in plot.rows("harvests") if bags & set(one.get("bags", ()))]
    when = max(days) - timedelta(days=plot.random.randint(0, 89))
    plot.need(when >= plot.start)
    material = plot.random.choice(("raw manure", "goat manure", "chicken litter, fresh"))
    return "inputs", plot.add_input(block=block, date=when, material=material), "date"


@plants
def material_before_scouting(plot: Plot) -> Any:
    walked = plot.start + timedelta(days=3)
    given = plot.add_input(purpose="aphids", date=walked + timedelta(days=2))
    if plot.random.random() < 0.5:
        walk = plot.add("scouting", date=walked, block=given["block"], pest="aphids")
        given["scouting"] = [walk["scouting"]]
        return "inputs", given, "scouting"
    given["purpose"] = "mildew"
    given["date"] = plot.start + timedelta(days=300)
    return "inputs", given, "scouting"


@plants
def label_time_short(plot: Plot) -> Any:
    bag = plot.choose([one for one in plot.picked() if "covered" in one])
    tree = plot.of("trees", bag["tree"])
    block = plot.of("plantings", tree["planting"])["block"]
    plot.need(plot.of("blocks", block)["status"] != "conventional")
    made = plot.add_input(block=block, date=bag["covered"], reentry_interval="12 h")
    return "inputs", made, "reentry_interval"


@plants
def water_unfit(plot: Plot) -> Any:
    test = plot.add("water_tests", date=plot.start, source=f"well {plot.fresh()}", fit=False)
    return "water_tests", test, "fit"


def _field(plot: Plot, **more: Any) -> Record:
    """New land with nothing on it."""
    return plot.add(
        "blocks", status="organic", organic_since=plot.start - 6 * _YEAR, boundary="hedge all round",
        last_prohibited_substance="none known", buffer="10 m", **more,
    )  # fmt: skip


def _corners(plot: Plot, order: tuple[int, ...] = (0, 1, 2, 3)) -> list[str]:
    plot.number += 1
    left = 1000 * plot.number
    corners = [f"{left} 0", f"{left + 100} 0", f"{left + 100} 50", f"{left} 50"]
    return [corners[at] for at in order]


@plants
def block_map_impossible(plot: Plot) -> Any:
    corners = plot.random.choice(
        (_corners(plot, (0, 1, 3, 2)), _corners(plot, (0, 1)), _corners(plot, (0, 1, 0, 1)))
    )
    return "blocks", _field(plot, corners=corners), "corners"


@plants
def block_area_differs(plot: Plot) -> Any:
    area = plot.random.choice(("0.53 ha", "4700 m2", "1.5 acre"))
    return "blocks", _field(plot, area=area, corners=_corners(plot)), "area"


def _plan(plot: Plot, **more: Any) -> None:
    plot.truth.season.setdefault("plan", []).append({"section": plot.fresh(), "date": plot.start, **more})


@plants
def plan_section_unfit(plot: Plot) -> Any:
    _plan(plot)
    return "inputs", plot.add_input(allowed_by=f"plan {plot.fresh()}"), "allowed_by"


@plants
def plan_outdated(plot: Plot) -> Any:
    plot.need(plot.asks("annual_update"))
    _plan(plot, date=plot.start - 2 * _YEAR)
    return "season", None, "plan"
