"""Draws in strata and in two stages, and sums of weights: other programs, published seats, the guide.

Digests are coreutils', chances scipy's (hypergeometric, Wallenius, Irwin-Hall) and numpy's weighted draw,
seats those of two examples that textbooks of apportionment print (from memory).
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from scipy import stats

from certgen.figures.draws import allot, count_in_strata, draw_in_strata, freeze, mix_key, worst_miss
from certgen.figures.two_stage import Stage, avoid_chance, miss_lots
from certgen.figures.weighings import tolerate

COVERS = ("certgen.figures.draws", "certgen.figures.two_stage", "certgen.figures.weighings")
RECORDS = "a" * 64

# Each computed with `printf '%s' '{"basis":"there",…}' | sha256sum` (GNU coreutils).
FROZEN = [
    (
        {"basis": "there", "by": "block", "kind": "bags", "on": "2026-06-20"},
        "ceaf9b3989e4f45958d8345aa157f04e599b8a2938c2faa01f5cefd71d4c0b16",
    ),
    (
        {"basis": "on record", "by": "all", "kind": "lots", "on": "2026-11-20"},
        "4f06bdccf7257035838a28f095137422ea0889510c0649f45b9100844b39a95d",
    ),
    (
        {"kind": "members", "lots": "3", "on": "2026-11-25"},
        "b7afa147d0c31a5eed892ee7caca418760a3a864f98818ee0dcc62e9b3ac97cb",
    ),
]
# As `printf '%s' 'aaa…|dice4416253|B17' | sha256sum`.
DIGESTS = {
    "B17": "fd39e596f0467eabcee721271b6ed9a1f430d894eecba9119f533ffab37f81a6",
    "B18": "a8cf741e3b5635453954171be3b3d7d38928be3157bc8a3459eb513cdb3b1bbf",
    "T-004": "59689e9f2ef10ff6e69a8e6a7e6a8e1e5f0940dcf9e766e87c807ee5f8b7d897",
    "lot-é": "b4e8dfda657db72c7ad25f1330f3d27f3a5e1c2b2e2657567ab1cb4af0cac174",
}


@pytest.mark.parametrize(("asked", "digest"), FROZEN)
def test_fingerprints(asked, digest):
    """What is noted is coreutils' SHA-256 of what stands in the docstring."""
    assert digest == freeze(RECORDS, **asked)


@pytest.mark.parametrize("size", [1, 2, 3, 4])
def test_the_order_of_a_draw(size):
    """Sorted by coreutils' digests of fingerprint, text and identifier."""
    by_hand = tuple(sorted(DIGESTS, key=DIGESTS.__getitem__)[:size])

    assert {"all": by_hand} == draw_in_strata(mix_key(RECORDS, "Dice: 4 4 1 6 2 5 3"), {"all": DIGESTS}, size)


@pytest.mark.parametrize(
    ("votes", "seats", "expected"),
    [
        # Two examples that textbooks of the method of Sainte-Laguë print (from memory).
        ([53_000, 24_000, 23_000], 7, [3, 2, 2]),
        ([100_000, 80_000, 30_000, 20_000], 8, [3, 3, 1, 1]),
        # By hand: one to each of six; then 47/3, 47/5, 47/7 and, before 47/9 and 15.9/3, 16/3.
        ([47_000, 16_000, 15_900, 12_000, 6_000, 3_100], 10, [4, 2, 1, 1, 1, 1]),
    ],
)
def test_samples_are_shared_out_as_seats_are(votes, seats, expected):
    """Where the method gives everyone one anyway, nothing else happens; else one is given to each first."""
    assert expected == list(allot({str(at): one for at, one in enumerate(votes)}, seats).values())


# Sizes of the strata, how many are taken of each, how many are faulty.
PLACED = [
    ([92, 60], [15, 10], 3), ([92, 60], [24, 1], 5), ([30, 20, 10], [3, 2, 1], 2),
    ([30, 20, 10], [10, 2, 1], 6), ([5, 5, 5, 5], [1, 1, 1, 1], 8), ([100, 1], [9, 1], 10),
    ([40, 8, 3], [4, 4, 3], 7), ([69, 37], [16, 9], 11),
]  # fmt: skip


@pytest.mark.parametrize(("sizes", "taken", "faults"), PLACED)
def test_the_worst_place_of_the_faults(sizes, taken, faults):
    """Every placement, its chance a product of scipy's hypergeometric ones: none is larger."""
    chances = [
        math.prod(
            stats.hypergeom.pmf(0, size, put, drawn)
            for size, put, drawn in zip(sizes, places, taken, strict=True)
        )
        for places in product(*(range(min(size, faults) + 1) for size in sizes))
        if sum(places) == faults
    ]
    found = worst_miss(dict(enumerate(sizes)), dict(enumerate(taken)), faults)

    assert max(chances) == pytest.approx(float(found), rel=1e-9)


# One stratum: finite populations at 95 %, exact hypergeometric. For whole numbers of faulty ones they are
# those of the tables in veterinary survey handbooks after Cannon and Roe 1982 (from memory).
@pytest.mark.parametrize(
    ("items", "share", "needed"),
    [(20, 0.05, 19), (20, 0.1, 16), (20, 0.2, 10), (20, 0.5, 4), (100, 0.02, 78), (100, 0.05, 45),
     (100, 0.1, 25), (100, 0.2, 13), (100, 0.5, 5), (200, 0.05, 51), (200, 0.1, 27)],
)  # fmt: skip
def test_one_stratum_needs_what_tables_of_finite_populations_print(items, share, needed):
    """And scipy agrees: that many find it, one fewer doesn't."""
    faults = round(share * items)

    assert needed == count_in_strata({"all": items}, share, 0.95)
    assert (
        stats.hypergeom.pmf(0, items, faults, needed)
        <= 0.05
        < stats.hypergeom.pmf(0, items, faults, needed - 1)
    )


# Heavy members, their weight, light ones, theirs, how many are visited.
URNS = [
    (2, 4, 10, 1, 3), (1, 1, 25, 3, 7), (5, 2, 5, 3, 4), (3, 5, 97, 1, 14), (10, 1, 90, 5, 14),
    (1, 2, 59, 1, 11), (20, 1, 380, 2, 28), (4, 3, 4, 1, 4),
]  # fmt: skip


@pytest.mark.parametrize(("held", "weight", "others", "other", "size"), URNS)
def test_members_are_avoided_as_in_wallenius_urn(held, weight, others, other, size):
    """Two weights, drawn one after another without putting back: scipy's Wallenius distribution at nought."""
    expected = stats.nchypergeom_wallenius.pmf(0, held + others, held, size, weight / other)
    found = avoid_chance([weight] * held + [other] * others, list(range(held)), size)

    assert expected == pytest.approx(found, rel=1e-6, abs=1e-10)


def test_members_are_avoided_as_in_numpys_weighted_draw():
    """`Generator.choice` with weights and without putting back, 20,000 times from a stated seed."""
    weights, size, times = np.array([1, 1, 2, 3, 5, 1, 4, 2, 1, 3]), 4, 20_000
    draw = np.random.default_rng(1605)
    drawn = (draw.choice(len(weights), size, replace=False, p=weights / weights.sum()) for _ in range(times))
    avoided = sum(not {0, 3} & set(one.tolist()) for one in drawn) / times
    chance = avoid_chance(weights.tolist(), [0, 3], size)

    assert abs(avoided - chance) < 4 * math.sqrt(chance * (1 - chance) / times)


# Two faulty lots of one of so many members with the same points, each with so many lots, so many looked at.
@pytest.mark.parametrize(
    ("members", "size", "lots", "each"), [(60, 11, 7, 3), (25, 7, 4, 2), (10, 10, 12, 3)]
)
def test_two_stages_with_scipy(members, size, lots, each):
    """A member is visited with n/N; of its lots two are missed with the hypergeometric chance."""
    visited = size / members
    missed = stats.hypergeom.pmf(0, lots, 2, each)

    assert 1 - visited * (1 - missed) == pytest.approx(miss_lots([Stage(1, lots, each)] * members, 2, size))


@pytest.mark.parametrize(
    ("half", "standard", "digits"),
    [
        # The guide's example of a rectangle (4.3.7): 0.40e-6 to either side have u = 0.23e-6, from memory.
        (0.40, 0.23, 2),
        # F.2.2.1: the step of a display alone has u = 0.29 of it, from memory. A tenth of a gram: 29 mg.
        (0.5, 0.29, 2),
        (50, 29, 0),
    ],
)
def test_one_reading_is_a_rectangle(half, standard, digits):
    """Half a step to either side, any error as likely as another."""
    step = round(2 * half * 1000)

    assert standard == round(tolerate(1, step).standard_mg / 1000, digits)
    assert half == tolerate(1, step).worst_mg / 1000


@pytest.mark.parametrize("readings", [1, 2, 3, 4, 5, 8, 12, 20])
def test_sums_of_readings_follow_irwin_and_hall(readings):
    """scipy's distribution of a sum of uniform errors: the same spread; what is called likely holds 95 %."""
    step = 100
    tolerance = tolerate(readings, step)
    errors = stats.irwinhall(readings, loc=-step * readings / 2, scale=step)

    assert errors.std() == pytest.approx(tolerance.standard_mg)
    assert errors.support() == pytest.approx((-tolerance.worst_mg, tolerance.worst_mg))
    assert errors.cdf(tolerance.likely_mg) - errors.cdf(-tolerance.likely_mg) >= 0.95
