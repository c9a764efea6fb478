from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from seasons import pool

ON = date(2026, 10, 31)


LATER = date(2026, 2, 16)


def farm(seasons, samples, **tables):
    """Two trees with a bag each behind one lot, and a third without."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block()],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1"), seasons.tree("T2"), seasons.tree("T3")],
            "screening": samples,
            "bagging": [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
            "harvests": [seasons.harvest("H1", ["B1", "B2"])],
            "batches": [seasons.batch("X1", ["H1"], 2)],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "16 g"}], 16)],
            **tables,
        }
    )


def stained(seasons, name, of, **more):
    """A sample by a stain, which sees one marker."""
    record = seasons.sample(name, of, method="gus", **more)
    del record["targets"]
    return record


def later(days=0):
    """The days of a second round."""
    when = LATER + timedelta(days)
    return {"collected": when, "submitted": when, "reported": when + timedelta(7)}


def test_trees_with_one_blind_spot_are_one_gap(seasons, find):
    """The stain sees no event without its marker; one gap names both trees and the event."""
    (gap,) = find(
        farm(seasons, [stained(seasons, f"S{n}", f"T{n}") for n in (1, 2)]), "method-does-not-cover"
    )

    assert "No test on trees T1 and T2 could have found event X17-2." == gap.message
    assert ("unproven", ("L1",), 1) == (gap.weight, gap.lots, len(gap.others))


def test_two_methods_together_see_what_neither_sees_alone(seasons, find):
    """What counts is what some test on the tree could have found."""
    by_element = seasons.sample("S3", "T1", targets=("nptII",))
    samples = [stained(seasons, "S1", "T1"), by_element, seasons.sample("S2", "T2")]

    assert () == find(farm(seasons, samples), "method-does-not-cover")


def test_a_pool_counts_for_each_of_its_trees(seasons, find):
    """A negative pool clears its trees for what it looks for."""
    assert () == find(farm(seasons, [pool("S1", "T1", "T2")]), "method-does-not-cover")


def test_a_test_without_targets_sees_nothing(seasons, find):
    """Where the method has a choice and none is written, the negative is silent."""
    sample = seasons.sample("S1", "T1")
    del sample["targets"]
    (gap,) = find(farm(seasons, [sample, seasons.sample("S2", "T2")]), "method-does-not-cover")

    assert "events 55-1, 63-1 and X17-2" in gap.message


def test_a_tree_without_seed_is_left_alone(seasons, find):
    """Nobody needs to know of a tree that bears no seed for a lot."""
    samples = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2"), stained(seasons, "S3", "T3")]

    assert () == find(farm(seasons, samples), "method-does-not-cover")


def test_a_positive_pool_casts_doubt_on_older_results(seasons, find):
    """T1's own clean sample is older than the pool; T2 was sampled again and T3 was the one."""
    samples = [
        seasons.sample("S1", "T1"),
        seasons.sample("S2", "T2"),
        pool("S4", "T1", "T2", "T3", result="positive", **later()),
        seasons.sample("S5", "T2", **later(1)),
        seasons.sample("S6", "T3", result="positive", **later(1)),
    ]
    (gap,) = find(farm(seasons, samples), "pool-unresolved")

    assert "tree T1 in it was not tested singly since" in gap.message
    assert ("S4", "unproven", ("L1",)) == (gap.id, gap.weight, gap.lots)


def test_a_parent_that_has_only_the_pool_is_told_elsewhere(seasons, find):
    """`parent-inconclusive` names it already."""
    samples = [pool("S4", "T1", "T2", result="positive", **later())]

    assert () == find(farm(seasons, samples), "pool-unresolved")


@pytest.mark.parametrize(
    "followed",
    [
        {"trees": True},
        {"incidents": ("T3", "cut down")},
        {"incidents": ("S3", "cut down")},
    ],
)
def test_a_positive_tree_that_was_dealt_with_is_no_gap(seasons, followed, find):
    """Its removal, or an incident about it or its sample, with what was done."""
    tables = {}
    if "trees" in followed:
        tables["trees"] = [
            seasons.tree("T1"),
            seasons.tree("T2"),
            seasons.tree("T3", removed=date(2026, 1, 2)),
        ]
    else:
        about, action = followed["incidents"]
        tables["incidents"] = [
            {
                "incident": "E1",
                "date": date(2026, 1, 2),
                "kind": "positive screening",
                "about": (about,),
                "action": action,
            }
        ]
    samples = [seasons.sample("S3", "T3", result="positive")]

    assert () == find(farm(seasons, samples, **tables), "positive-left-standing")


def test_a_positive_tree_left_standing_is_a_loose_end(seasons, find):
    """No fruit was picked without a bag, so no lot is touched. An incident without action doesn't help."""
    incident = {"incident": "E1", "date": date(2026, 1, 2), "kind": "positive screening", "about": ("T3",)}
    (gap,) = find(
        farm(seasons, [seasons.sample("S3", "T3", result="positive")], incidents=[incident]),
        "positive-left-standing",
    )

    assert ("advice", ()) == (gap.weight, gap.lots)


@pytest.mark.parametrize(("block", "weight"), [("East", "rejects"), ("West", "advice")])
def test_its_neighbours_open_fruit_is_rejected(seasons, block, weight, find):
    """Fruit without a bag may have been set by the positive tree beside it, not by one on other land."""
    loose = {**seasons.harvest("H1", []), "trees": ("T1",), "fruits": 1}
    season = farm(
        seasons,
        [seasons.sample("S3", "T3", result="positive")],
        blocks=[seasons.block(), seasons.block("West")],
        plantings=[seasons.planting(), seasons.planting("P2", block=block)],
        trees=[seasons.tree("T1"), seasons.tree("T2"), seasons.tree("T3", planting="P2")],
        harvests=[loose],
    )
    (gap,) = find(season, "positive-left-standing")

    assert weight == gap.weight
    assert (("L1",) if weight == "rejects" else ()) == gap.lots


def test_a_positive_parent_is_told_once(seasons, find):
    """`parent-positive` speaks of it, with the same remedy."""
    assert () == find(
        farm(seasons, [seasons.sample("S1", "T1", result="positive")]), "positive-left-standing"
    )


def test_events_are_ruled_out_under_whatever_name_they_are_given(seasons, find):
    """An OECD identifier is the event's own key, named once; one that nobody knows keeps its name."""
    sample = seasons.sample("S1", "T1")
    del sample["targets"]
    season = farm(seasons, [sample, seasons.sample("S2", "T2")])
    details = replace(season.details, events_of_concern=("CUH-CP551-8", "event 55-1", "Q-7"))
    told = [gap.message for gap in find(replace(season, details=details), "method-does-not-cover")]

    assert any("55-1 and Q-7" in message for message in told)
    assert not any("CUH-CP551-8" in message for message in told)


def pooled_round(seasons, *samples, **more):
    """T1 and T2 were clear, then a pool of both was tested and what followed."""
    first = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2")]
    return farm(seasons, [*first, pool("S4", "T1", "T2", **{**later(), **more}), *samples])


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"result": "positive"}, 1),
        ({"result": "positive", "controls": "failed"}, 0),
        ({"result": "positive", "controls": "not run"}, 0),
        ({"result": "negative"}, 0),
        ({"result": "inconclusive"}, 0),
    ],
)
def test_only_a_sound_positive_pool_is_to_be_resolved(seasons, more, expected, find):
    """A void one says nothing, and a negative one clears its trees."""
    assert expected == len(find(pooled_round(seasons, **more), "pool-unresolved"))


def test_a_positive_single_sample_is_no_pool(seasons, find):
    """It names its tree."""
    samples = [seasons.sample("S1", "T1"), seasons.sample("S2", "T1", result="positive", **later())]

    assert () == find(farm(seasons, samples), "pool-unresolved")


@pytest.mark.parametrize(
    ("days", "more", "open_"),
    [
        (0, {}, []),
        (1, {}, []),
        (-1, {}, ["T1"]),
        (1, {"result": "positive", "method": "gus"}, []),
        (1, {"result": "inconclusive"}, ["T1"]),
        (1, {"controls": "failed"}, ["T1"]),
    ],
)
def test_a_tree_is_resolved_by_a_single_sample_of_that_day_or_later(seasons, days, more, open_, find):
    """One that counts; T2 was sampled again in any case."""
    more = {**later(days), **more}
    again = stained(seasons, "S5", "T1", **{key: more[key] for key in more if key != "method"})
    again = again if "method" in more else seasons.sample("S5", "T1", **more)
    season = pooled_round(seasons, again, seasons.sample("S6", "T2", **later(1)), result="positive")
    found = find(season, "pool-unresolved")

    assert open_ == [node.id for gap in found for node in gap.starts]


def test_a_second_pool_resolves_no_tree(seasons, find):
    """Not even a negative one."""
    again = pool("S5", "T1", "T2", **later(2))
    (gap,) = find(pooled_round(seasons, again, result="positive"), "pool-unresolved")

    assert "trees T1 and T2 in it were not tested singly since" in gap.message


@pytest.mark.parametrize(("days", "weight"), [(-1, "advice"), (0, "rejects"), (1, "rejects")])
def test_open_fruit_counts_from_the_day_of_the_positive_sample(seasons, days, weight, find):
    """Earlier fruit was set before anything was known; the tree's own fruit is told elsewhere."""
    when = seasons.PICKED
    dated = {"collected": when, "submitted": when, "reported": when + timedelta(7)}
    loose = {**seasons.harvest("H1", []), "trees": ("T1",), "fruits": 1, "date": when + timedelta(days)}
    samples = [seasons.sample("S3", "T3", result="positive", **dated)]
    (gap,) = find(farm(seasons, samples, harvests=[loose]), "positive-left-standing")

    assert weight == gap.weight
    assert (weight == "rejects") == ("picked near it since: picking H1." in gap.message)


def test_open_fruit_that_reached_no_lot_is_not_rejected(seasons, find):
    """It can still be kept back."""
    loose = {**seasons.harvest("H2", []), "trees": ("T1",), "fruits": 1}
    harvests = [seasons.harvest("H1", ["B1", "B2"]), loose]
    season = farm(seasons, [seasons.sample("S3", "T3", result="positive")], harvests=harvests)

    assert ["advice"] == [gap.weight for gap in find(season, "positive-left-standing")]


def test_the_oldest_positive_sample_is_told(seasons, find):
    """Another tree's samples are not, nor an incident without an action."""
    samples = [
        seasons.sample("S4", "T3", result="positive", **later()),
        seasons.sample("S3", "T3", result="positive"),
        seasons.sample("S2", "T2", collected=date(2025, 12, 1)),
    ]
    incident = {"incident": "E1", "date": date(2026, 1, 2), "kind": "positive screening", "about": ("T3",)}
    (gap,) = find(farm(seasons, samples, incidents=[incident]), "positive-left-standing")

    assert gap.message.startswith("Tree T3 tested positive on a sample of 8 December 2025,")


@pytest.mark.parametrize(
    ("sample", "said"),
    [
        ({}, "Tree T3 is called positive on 2 January 2026, and"),
        ({"sample": "S3", "tree": "T3", "result": "positive"}, "Tree T3 tested positive, and"),
    ],
)
def test_a_positive_of_which_no_day_is_told_is_told_all_the_same(seasons, sample, said, find):
    """By an incident alone, or by a sample that nobody dated."""
    incident = {"incident": "E1", "date": date(2026, 1, 2), "kind": "positive screening", "about": ("T3",)}
    told = {"incidents": [incident]} if not sample else {}
    (gap,) = find(farm(seasons, [sample] if sample else [], **told), "positive-left-standing")

    assert gap.message.startswith(said)
