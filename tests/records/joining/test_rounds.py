"""Which records a round or a letter covers, and what it names."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest

from certgen.records.joining.rounds import RoundMembers, list_named

FARM = """\
plantings:
- {planting: P1, block: East, variety: Amber, planted: 2025-02-10, material: seed,
   material_status: organic}
- {planting: P2, block: West, variety: Amber, planted: 2025-02-10, material: seed,
   material_status: organic}
trees:
- {tree: T1, planting: P1, sex: female}
- {tree: T2, planting: P1, sex: female}
- {tree: T9, planting: P2, sex: female}
bagging:
- {bag: B1, tree: T1, covered: 2026-02-01, uncovered: 2026-02-20}
- {bag: B2, tree: T2, covered: 2026-02-05}
- {bag: B3, tree: T9, covered: 2026-02-05}
- {bag: B4, tree: T2}
screening:
- {sample: S1, tree: T1, collected: 2026-01-06}
- {sample: S2, tree: T2, collected: 2026-01-07}
- {sample: S3, trees: [T1, T2], collected: 2026-01-06}
harvests:
- {harvest: H1, date: 2026-06-10, bags: [B1], fruits: 1, status: organic}
"""
FIELDS = ("blocks", "trees", "bags", "samples", "harvests")


def entry(kind, day="2026-02-05", **more):
    """A round as the table holds it."""
    return {
        "kind": kind, "date": date.fromisoformat(day), "exceptions": (), **dict.fromkeys(FIELDS, ()), **more
    }  # fmt: skip


def bags(season, kind, day="2026-02-05", **more):
    """The bags that a round covers."""
    _, rows = RoundMembers(season).covered("rounds", entry(kind, day, **more))
    return season.table("bagging")["bag"].iloc[list(rows)].tolist()


@pytest.fixture
def farm(read: Callable):
    """Two blocks, three trees, four bags, three samples."""
    season, errors = read(FARM)

    assert () == errors
    return season


@pytest.mark.parametrize(
    ("kind", "day", "named", "covered"),
    [
        # A walk finds what hangs there on that day.
        ("check", "2026-02-10", {"blocks": ("East",)}, ["B1", "B2"]),
        ("check", "2026-02-20", {"blocks": ("East",)}, ["B1", "B2"]),
        ("check", "2026-02-21", {"blocks": ("East",)}, ["B2"]),
        ("check", "2026-02-01", {"blocks": ("East",)}, ["B1"]),
        ("check", "2026-01-31", {"blocks": ("East",)}, []),
        ("check", "2026-02-10", {"trees": ("T1 to T9",)}, ["B1", "B2", "B3"]),
        ("check", "2026-02-10", {"trees": ("T9",), "blocks": ("East",)}, ["B1", "B2", "B3"]),
        ("storm", "2026-02-10", {"blocks": ("West",)}, ["B3"]),
        # A bag that is named is covered, whatever its days.
        ("check", "2026-01-01", {"bags": ("B2 to B4",)}, ["B2", "B3", "B4"]),
        ("check", "2026-02-10", {"bags": ("B3",), "blocks": ("East",)}, ["B3", "B1", "B2"]),
        # A bagging round of trees is of the bags that went on that day.
        ("bagging", "2026-02-05", {"blocks": ("East", "West")}, ["B2", "B3"]),
        ("bagging", "2026-02-05", {"bags": ("B4",)}, ["B4"]),
        ("check", "2026-02-10", {"blocks": ("North",), "trees": ("T7",), "bags": ("B9",)}, []),
    ],
)  # fmt: skip
def test_the_bags_of_a_round(farm, kind, day, named, covered):
    """By number or range, by tree and by block."""
    assert covered == bags(farm, kind, day, **named)


@pytest.mark.parametrize(
    ("day", "named", "covered"),
    [
        ("2026-01-06", {"blocks": ("East",)}, ["S1"]),
        ("2026-01-07", {"trees": ("T1", "T2")}, ["S2"]),
        ("2026-01-01", {"samples": ("S1 to S3",)}, ["S1", "S2", "S3"]),
        ("2026-01-06", {"samples": ("S2",), "trees": ("T1",)}, ["S2", "S1"]),
    ],
)
def test_the_samples_of_a_round(farm, day, named, covered):
    """Those that it names, and the single ones cut of its trees that day."""
    _, rows = RoundMembers(farm).covered("rounds", entry("sampling", day, **named))

    assert covered == farm.table("screening")["sample"].iloc[list(rows)].tolist()


@pytest.mark.parametrize(
    ("table", "written", "covers"),
    [
        ("rounds", entry("sampling", samples=("S1 to S2",)), ("screening", (0, 1))),
        ("rounds", entry("picking", harvests=("H1",)), ("harvests", (0,))),
        ("rounds", entry("uncovering", bags=("B2",)), ("bagging", (1,))),
        ("letters", {"samples": ("S3", "S9")}, ("screening", (2,))),
    ],
)
def test_what_a_round_or_letter_speaks_of(farm, table, written, covers):
    """By its kind."""
    target, rows = RoundMembers(farm).covered(table, written)

    assert covers == (target, tuple(rows.tolist()))


def test_an_exception_names_a_record_or_its_tree(farm):
    """A bag that the walk doesn't cover may be named; a tree stands for its bags of the walk alone."""
    members = RoundMembers(farm)
    told = entry("check", exceptions=(
        {"about": ("T2",), "condition": "torn"}, {"about": ("B3 to B4",), "left_out": True},
        {"about": ("B2",), "petals_fallen": False},
    ))  # fmt: skip
    found = members.exceptions(told, "bagging", np.array([0, 1]))

    assert [([1], {"torn", False}), ([2, 3], {True})] == [
        (rows.tolist(), {value for key, value in says.items() if key != "about"}) for rows, says in found
    ]


def test_rounds_that_name_the_same_share_their_rows(farm):
    """Of thousands that each walk all bags a list a round would be a square."""
    members = RoundMembers(farm)
    walks = [entry("check", day, bags=("B1 to B3",)) for day in ("2026-02-10", "2026-02-11")]
    of_blocks = [entry("check", blocks=("East",)) for _ in range(2)]

    assert members.covered("rounds", walks[0])[1] is members.covered("rounds", walks[1])[1]
    assert members.covered("rounds", of_blocks[0])[1] is members.covered("rounds", of_blocks[1])[1]


def test_every_name_that_is_written_is_told_with_what_it_means(read: Callable):
    """Also of exceptions, with what the whole round covers; a name of nothing means nothing."""
    season, errors = read(
        FARM
        + "rounds:\n- {round: R1, kind: check, date: 2026-02-10, by: Ann, blocks: [East], bags: [B3, B7],\n"
        "   condition: intact, exceptions: [{about: [T2, B9], condition: torn}]}\n"
        "letters:\n- {letter: L1, laboratory: Bracken Ford, samples: [S1 to S2, S8], result: negative,\n"
        "   exceptions: [{samples: [S2], result: positive}]}\n"
    )
    told = [(one.table, one.identifier, one.steps, one.text, one.meant) for one in list_named(season)]

    assert () == errors
    assert [
        ("rounds", "R1", ("blocks", 0), "East", 0),
        ("rounds", "R1", ("bags", 0), "B3", 1),
        ("rounds", "R1", ("bags", 1), "B7", 0),
        ("rounds", "R1", ("exceptions", 0, "about", 0), "T2", 1),
        ("rounds", "R1", ("exceptions", 0, "about", 1), "B9", 0),
        ("letters", "L1", ("samples", 0), "S1 to S2", 2),
        ("letters", "L1", ("samples", 1), "S8", 0),
        ("letters", "L1", ("exceptions", 0, "samples", 0), "S2", 1),
    ] == told
    covers = {
        one.steps: (one.target, tuple(one.covers.tolist()))
        for one in list_named(season)
        if one.covers is not None
    }
    assert {
        ("exceptions", 0, "about", 0): ("bagging", (2, 0, 1)),
        ("exceptions", 0, "about", 1): ("bagging", (2, 0, 1)),
        ("exceptions", 0, "samples", 0): ("screening", (0, 1)),
    } == covers
