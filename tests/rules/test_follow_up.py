from __future__ import annotations

from datetime import date

import pytest

from certgen.lineage import build_lineage
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook

ON = date(2026, 10, 31)


def gaps(season, slug, *standards, on=ON):
    """What one rule finds."""
    rulebooks = tuple(load_rulebook(key) for key in standards or season.details.standards)
    case = Case(season, build_lineage(season), load_profile(season.details.crop), rulebooks, on)
    found, crashed = run_rules(case, {slug: RULES[slug]})
    assert () == crashed
    return found


def farm(seasons, **tables):
    """A tree with a lot of its seed."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block(), seasons.block("West", status="conventional")],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1")],
            "bagging": [seasons.bag("B1", "T1")],
            "harvests": [seasons.harvest("H1", ["B1"])],
            "batches": [seasons.batch("X1", ["H1"])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            **tables,
        }
    )


@pytest.mark.parametrize(("block", "expected"), [("East", [("unproven", ("L1",))]), ("West", [])])
def test_a_material_on_organic_land_needs_its_permission(seasons, block, expected):
    """Seed of that land rests on it; other land is free."""
    entry = {"input": "I1", "date": date(2026, 3, 1), "block": block, "material": "fish meal"}
    season = farm(seasons, inputs=[entry])

    assert expected == [(gap.weight, gap.lots) for gap in gaps(season, "input-unlisted")]


def incident(**more):
    """A storm."""
    return {"incident": "E1", "date": date(2026, 2, 3), "kind": "torn bags", "about": ("B1",), **more}


@pytest.mark.parametrize(
    ("record", "weight", "said"),
    [
        (incident(), "advice", "has neither action nor day on which it was closed"),
        (incident(action="looked at each bag"), "advice", "has no day on which it was closed"),
        (incident(closed=date(2026, 2, 4)), "advice", "has no action"),
        (incident(about=("B1", "L1")), "unproven", "has neither"),
        (incident(action="looked at each bag", closed=date(2026, 2, 4)), None, ""),
    ],
)
def test_an_open_incident_weighs_by_what_it_names(seasons, record, weight, said):
    """A lot that it names is in question until it is settled."""
    found = gaps(farm(seasons, incidents=[record]), "incident-open")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(("kind", "expected"), [("drift", 1), ("mixing", 1), ("torn bags", 0)])
def test_the_certifier_hears_of_what_touches_the_claim(seasons, kind, expected):
    """Not of every storm."""
    season = farm(seasons, incidents=[incident(kind=kind)])
    told = farm(seasons, incidents=[incident(kind=kind, certifier_notified=date(2026, 2, 3))])

    assert expected == len(gaps(season, "certifier-not-told"))
    assert () == gaps(told, "certifier-not-told")


@pytest.mark.parametrize(
    ("change", "found"),
    [({}, 1), ({"allowed_by": "205.601"}, 0), ({"block": "South"}, 1), ({"block": "Nowhere"}, 1)],
)
def test_only_what_nothing_allows_is_told(seasons, change, found):
    """Land in transition counts its years as well, and unknown land is taken for the claim's."""
    entry = {"input": "I1", "date": date(2026, 3, 1), "block": "East", "material": "fish meal", **change}
    blocks = [seasons.block(), seasons.block("South", status="transitional")]
    gap = gaps(farm(seasons, blocks=blocks, inputs=[entry]), "input-unlisted")

    assert found == len(gap)
    assert all(one.message.startswith("Fish meal was put on block") for one in gap)


@pytest.mark.parametrize(
    ("more", "field"),
    [({}, ("action",)), ({"action": "looked"}, ("closed",)), ({"closed": date(2026, 2, 4)}, ("action",))],
)
def test_an_open_incident_is_told_where_something_is_missing(seasons, more, field):
    """Its action first; it touches the lots it names and no other."""
    (gap,) = gaps(farm(seasons, incidents=[incident(about=("B1", "L1"), **more)]), "incident-open")

    assert (field, ("L1",)) == (gap.field, gap.lots)
    (loose,) = gaps(farm(seasons, incidents=[incident(about=("B1",), **more)]), "incident-open")
    assert () == loose.lots


@pytest.mark.parametrize(("standard", "found"), [("us-nop", 1), ("codex", 0)])
def test_the_certifier_is_told_where_a_standard_asks(seasons, standard, found):
    """It cites that standard's clause, and touches no lot."""
    season = farm(seasons, incidents=[incident(kind="drift", about=("L1",))])
    told = gaps(season, "certifier-not-told", standard)

    assert [("advice", (), True)] * found == [(gap.weight, gap.lots, bool(gap.clauses)) for gap in told]
