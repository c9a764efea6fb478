"""Faults of what was seen on the trees."""

# ruff: noqa: D103 (a fault is named by its rule)
from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planting import plants

if TYPE_CHECKING:
    from plot import Plot, Record


def _see(plot: Plot, trees: list[str], kind: str, **more: Any) -> Record:
    """An observation in the season's first days."""
    told = {"date": plot.start, "trees": trees, "kind": kind, "seen": "as it is told"}
    return plot.add("observations", **told, **more)


def _barren(plot: Plot) -> Record:
    """A new tree that bears nothing."""
    one = plot.choose([tree for tree in plot.rows("trees") if "removed" not in tree])
    place = {"row": "99", "position": plot.fresh()}
    return plot.add("trees", planting=one["planting"], sex=one["sex"], **place)


@plants
def off_type_parent(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    decided = plot.random.choice(({"decision": "felled"}, {"decision": "kept", "because": "it fruits well"}))
    if decided["decision"] == "felled":
        plot.of("trees", bag["tree"])["removed"] = plot.end
    return "observations", _see(plot, [bag["tree"]], "off-type", **decided), "trees"


@plants
def diseased_parent(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    seen = _see(plot, [bag["tree"]], "symptom", decision="kept", because="mild")
    return "observations", seen, "trees"


@plants
def observation_undecided(plot: Plot) -> Any:
    return "observations", _see(plot, [_barren(plot)["tree"]], "symptom"), "decision"


@plants
def sex_seen_differs(plot: Plot) -> Any:
    tree = _barren(plot)
    # Not every crop has both.
    plot.need(tree["sex"] == "hermaphrodite")
    return "observations", _see(plot, [tree["tree"]], "sex", sex="female"), "sex"


@plants
def felled_tree_standing(plot: Plot) -> Any:
    seen = _see(plot, [_barren(plot)["tree"]], "vigour", decision="felled", because="stunted")
    return "observations", seen, "decision"
