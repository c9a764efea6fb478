"""Odds of screening: worked examples and ratios that others published, and scipy as a second engine.

None of the books and papers was at hand: inputs and answers of published examples are from memory, and each
answer was worked out again by hand from its inputs. What scipy computes is said so.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from scipy import stats

from certgen.figures.inheritance import compare_counts, cross
from certgen.figures.odds import (
    MethodResult,
    estimate_prevalence,
    find_weights,
    negative_value,
    pass_chance,
    positive_value,
    seed_negative_chance,
    update_tree,
)
from certgen.figures.pooled_trees import PoolResult, Weights, all_pass_chances, weigh_pooled
from certgen.figures.transmission import Pair, any_carrier, carried_by, expected_share

COVERS = ("certgen.figures.odds", "certgen.figures.pooled_trees", "certgen.figures.transmission")

# Prior, chance of the sign if so, chance of it if not, published answer, its places.
BAYES = [
    (0.15, 0.80, 0.20, 0.41, 2),  # the cab of Kahneman and Tversky 1982: 12 of 29
    (0.01, 0.80, 0.096, 0.078, 3),  # mammography, after Eddy 1982
    (0.01, 0.90, 0.09, 0.09, 2),  # mammography, Gigerenzer 2002: one in eleven
    (0.003, 0.50, 0.03, 0.048, 3),  # occult blood, Hoffrage and Gigerenzer 1998
    (0.0001, 0.999, 0.0001, 0.50, 2),  # HIV of low risk, Gigerenzer 2002: one in two
    (0.005, 0.99, 0.01, 0.332, 3),  # a drug test of an encyclopedia
    (0.05, 0.90, 0.20, 0.19, 2),  # cannabis, the same: 0.045 of 0.235
    (0.05, 0.90, 0.05, 0.486, 3),  # the same, with a specificity of 95 %
    (0.0148, 0.667, 0.09, 0.10, 2),  # occult blood, 2,030 people, a table of an encyclopedia
    (0.5, 0.75, 0.5, 0.6, 1),  # two bowls of cookies, Downey 2012
    (0.5, 0.04, 0.014, 0.741, 3),  # two bags of sweets, Downey 2012: 20 of 27
    (0.80, 0.70, 0.05, 0.98, 2),  # a swab at a high chance before, Watson and others 2020
]


@pytest.mark.parametrize(("prior", "finds", "false", "answer", "places"), BAYES)
def test_published_examples_of_a_positive(prior, finds, false, answer, places):
    """The chance after a positive sign, as each of them has it; by both ways that certgen has."""
    result = MethodResult("sign", True, finds, 1 - false)

    assert answer == round(positive_value(prior, finds, 1 - false), places)
    assert positive_value(prior, finds, 1 - false) == pytest.approx(update_tree(prior, [result]))


# Prior, sensitivity, specificity, published chance after a negative.
NEGATIVES = [
    (0.80, 0.70, 0.95, 0.56, 2),  # Watson and others 2020: 56 % after a negative swab
    (0.0148, 0.667, 0.91, 0.005, 3),  # occult blood: a negative is right in 99.5 %
]


@pytest.mark.parametrize(("prior", "finds", "spares", "answer", "places"), NEGATIVES)
def test_published_examples_of_a_negative(prior, finds, spares, answer, places):
    """The chance that is left, one less the negative's value."""
    left = update_tree(prior, [MethodResult("sign", False, finds, spares)])

    assert answer == round(left, places) == round(1 - negative_value(prior, finds, spares), places)


# Gordis, Epidemiology: sensitivity and specificity of 80 and 60, 90 and 90 %; then of 70 and 80, 90 and 90 %.
AT_ONCE = (MethodResult("a", False, 0.80, 0.60), MethodResult("b", False, 0.90, 0.90))
IN_A_ROW = (MethodResult("a", True, 0.70, 0.80), MethodResult("b", True, 0.90, 0.90))


def test_two_tests_at_once_and_in_a_row():
    """At once they miss 2 % and spare 54 % of the clean; in a row both find 63 %, and 2 % of the clean."""
    assert 0.98 == pytest.approx(1 - pass_chance([1 - 0.80, 1 - 0.90]))
    assert 0.54 == pytest.approx(find_weights(0.0, AT_ONCE).clean)
    assert (0.63, 0.02) == pytest.approx(
        (find_weights(1.0, IN_A_ROW).seen, find_weights(0.0, IN_A_ROW).clean)
    )


# Mendel 1866, the seven characters in the second generation, and their chi-squares against 3 : 1 as
# Edwards 1986 lists them, to two or three places.
MENDEL = [
    ("round seed", 5474, 1850, 0.263, 3), ("yellow seed", 6022, 2001, 0.015, 3),
    ("grey coat", 705, 224, 0.391, 3), ("inflated pod", 882, 299, 0.064, 3),
    ("green pod", 428, 152, 0.451, 3), ("flowers along the stem", 651, 207, 0.350, 3),
    ("tall", 787, 277, 0.607, 3),
]  # fmt: skip


@pytest.mark.parametrize(("character", "shown", "hidden", "chi", "places"), MENDEL)
def test_mendels_selfed_hybrids(character, shown, hidden, chi, places):
    """Three in four carry at least one: what is taken of a selfed tree with one copy."""
    share = carried_by([Pair("F1", "F1", 1.0)], "F1", 1).low
    fit = compare_counts({"carrying": shown, "none": hidden}, {"carrying": share, "none": 1 - share})

    assert chi == round(fit.statistic, places)
    assert abs(shown / (shown + hidden) - share) < 0.02, character


# The nine crosses of one gene, Punnett's square: copies of mother and father, shares with two, one, none.
PUNNETT = [
    (0, 0, (0, 0, 1)), (0, 1, (0, 0.5, 0.5)), (0, 2, (0, 1, 0)),
    (1, 0, (0, 0.5, 0.5)), (1, 1, (0.25, 0.5, 0.25)), (1, 2, (0.5, 0.5, 0)),
    (2, 0, (0, 1, 0)), (2, 1, (0.5, 0.5, 0)), (2, 2, (1, 0, 0)),
]  # fmt: skip


@pytest.mark.parametrize(("mother", "father", "shares"), PUNNETT)
def test_the_nine_crosses(mother, father, shares):
    """And the share that carries, where both are sure to be what they are."""
    progeny = cross(mother, father)

    assert shares == (progeny.two, progeny.one, progeny.none)
    if {mother, father} <= {0, 1} or {mother, father} <= {0, 2}:
        chances = {"M": float(mother > 0), "F": float(father > 0)}
        copies = max(mother, father, 1)
        assert 1 - shares[2] == expected_share([Pair("M", "F", 1.0)], chances, copies).low


# One in (n), of so many trials: de Méré's two wagers and Pepys's, as every textbook has them.
WAGERS = [(6, 4, 0.5177), (36, 24, 0.4914), (36, 25, 0.5055), (6, 6, 0.6651)]


@pytest.mark.parametrize(("sides", "throws", "chance"), WAGERS)
def test_at_least_one_among_independent_ones(sides, throws, chance):
    """Dice stand each for themselves; if they fell together it would be the chance of one."""
    span = any_carrier([1 / sides] * throws)

    assert (chance, 1 / sides) == (round(span.high, 4), span.low)


# Of families of n children with at least one girl, the share of girls: Gardner 1959 for two. The n-th has
# p / (1 - (1 - p)^n).
FAMILIES = [(2, 0.5, Fraction(2, 3)), (3, 0.5, Fraction(4, 7)), (4, 0.5, Fraction(8, 15)),
            (2, 0.1, Fraction(10, 19)), (3, 0.1, Fraction(100, 271))]  # fmt: skip


@pytest.mark.parametrize(("size", "prior", "answer"), FAMILIES)
def test_at_least_one_of_a_pool(size, prior, answer):
    """A perfect test of a pool says that there is one; nothing more."""
    names = [str(at) for at in range(size)]
    found = weigh_pooled(
        {name: Weights(prior, 0.0, 1 - prior) for name in names},
        [PoolResult(True, frozenset(names), size, 1.0, 1.0)],
    )

    assert [pytest.approx(float(answer))] * size == [one.low for one in found.values()]


@pytest.mark.parametrize(("trees", "prior"), [(5, 0.02), (12, 0.1), (20, 0.3), (20, 0.7)])
def test_scipy_agrees_on_a_positive_pool(trees, prior):
    """Of scipy's binomial: carriers to expect in a positive pool, a tree's share of them."""
    names = [str(at) for at in range(trees)]
    found = weigh_pooled(
        {name: Weights(prior, 0.0, 1 - prior) for name in names},
        [PoolResult(True, frozenset(names), trees, 0.98, 0.97)],
    )
    of = stats.binom(trees, prior).pmf
    positive = [of(k) * (0.98 ** (trees / k) if k else 0.03) for k in range(trees + 1)]
    expected = math.fsum(k * chance for k, chance in enumerate(positive)) / math.fsum(positive) / trees

    assert expected == pytest.approx(found["0"].low, rel=1e-12)


# Cards and lots: all of d drawn are of the r, among n. A textbook's odds.
DRAWS = [
    (49, 6, 6, 1 / 13_983_816),  # a lottery's jackpot
    (52, 4, 2, 1 / 221),  # two aces
    (52, 4, 4, 1 / 270_725),  # four aces in four cards
    (52, 13, 5, 0.000495198),  # five hearts
    (52, 26, 2, 25 / 102),  # two red cards
    (10, 3, 1, 0.3),
]


@pytest.mark.parametrize(("trees", "blind", "carriers", "chance"), DRAWS)
def test_carriers_pass_where_nothing_could_see_them(trees, blind, carriers, chance):
    """Perfect tests of all but some trees: all pass if all are of those. Hypergeometric, by scipy too."""
    misses = {str(at): float(at < blind) for at in range(trees)}
    found = all_pass_chances(misses, [], carriers)[carriers]

    assert chance == pytest.approx(found, rel=1e-6)
    assert stats.hypergeom(trees, blind, carriers).pmf(carriers) == pytest.approx(found, rel=1e-9)


# Seeds of which none may carry for 95 and 99 %, as tables of testing for adventitious presence have them
# (Remund and others 2001), in pools that a perfect assay reads.
SEEDS = [(0.01, 0.95, 299), (0.005, 0.95, 598), (0.001, 0.95, 2995), (0.01, 0.99, 459), (0.05, 0.95, 59),
         (0.02, 0.95, 149)]  # fmt: skip


@pytest.mark.parametrize(("share", "confidence", "seeds"), SEEDS)
def test_seeds_that_rule_a_share_out(share, confidence, seeds):
    """So many are enough and one less isn't, in one pool or singly."""
    assert seed_negative_chance(share, 1, seeds, 1.0) <= 1 - confidence
    assert seed_negative_chance(share, 1, seeds - 1, 1.0) > 1 - confidence
    assert seed_negative_chance(share, seeds, 1, 1.0) == pytest.approx(
        seed_negative_chance(share, 1, seeds, 1.0)
    )


@pytest.mark.parametrize(("share", "pools", "seeds"), [(0.001, 10, 100), (0.01, 3, 50), (0.0005, 12, 250)])
def test_scipy_agrees_on_negative_pools(share, pools, seeds):
    """Binomial pools of binomial seeds."""
    one = stats.binom(seeds, share).pmf(0)
    expected = stats.binom(pools, one * 0.01 + (1 - one) * 0.97).pmf(0)

    assert expected == pytest.approx(seed_negative_chance(share, pools, seeds, 0.97, 0.99), rel=1e-9)


# Positive, tested, sensitivity, specificity, true share: manuals of veterinary epidemiology.
PREVALENCES = [
    (4, 80, 0.90, 0.98, 0.034, 3),  # a herd of a package's manual: apparent 5.0, true 3.4 %
    (30, 100, 0.80, 0.90, 0.286, 3),  # (0.3 + 0.9 - 1) / 0.7
    (5, 100, 0.80, 0.90, 0.0, 3),  # fewer than false positives alone
    (100, 100, 0.80, 0.90, 1.0, 3),
]


@pytest.mark.parametrize(("positive", "tested", "finds", "spares", "true", "places"), PREVALENCES)
def test_true_shares_from_apparent_ones(positive, tested, finds, spares, true, places):
    """Rogan and Gladen's correction, held within nothing and all."""
    share = estimate_prevalence(positive, tested, finds, spares)

    assert true == round(share.estimate, places)
    assert 0 <= share.low <= share.estimate <= share.high <= 1
