"""Parents to bag for an effective number of them."""

from __future__ import annotations

from datetime import date
from math import ceil

import pytest
import seasons as built

from certgen.dossier.parent_plan import plan_parents
from certgen.dossier.shares import share_parents
from certgen.examination import examine, examine_season

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def test_the_lots_have_the_effective_numbers_of_their_shares(example):
    """1/Σp², and what it takes for 25 at each lot's spread."""
    shares = share_parents(example)
    found = plan_parents(example, 25)

    assert list(shares) == [lot.lot for lot in found.lots]
    for lot in found.lots:
        exact = 1 / sum(share**2 for share in shares[lot.lot].shares.values())
        assert lot.effective == pytest.approx(float(exact))
        assert lot.parents / (1 + lot.spread) == pytest.approx(lot.effective)
        assert lot.needed == ceil(25 * lot.parents / exact)
        assert lot.by_families < lot.effective
        assert lot.pure_lines == pytest.approx(lot.effective / 2)


def test_what_it_takes_lies_between_equal_parents_and_the_widest_lot(example):
    """Equal, median, widest; and trees to bag, since some bear nothing."""
    found = plan_parents(example, 25)

    assert 25 == found.equal <= found.median <= found.widest == max(lot.needed for lot in found.lots)
    assert found.to_bag >= found.median
    assert 5 == found.bags_each


def test_two_parents_that_give_unequally():
    """Three fruit of one and one of the other: 1.6 effective; for two it takes three parents."""
    of = examine_season(
        built.season_of(
            **{
                **built.one_line(),
                "trees": [built.tree("T1"), built.tree("T2")],
                "screening": [built.sample("S1", "T1"), built.sample("S2", "T2")],
                "bagging": [
                    *(built.bag(f"B{at}", "T1") for at in range(3)),
                    built.bag("B3", "T2"),
                ],
                "harvests": [built.harvest("H1", [f"B{at}" for at in range(4)])],
                "batches": [built.batch("X1", ["H1"], 4)],
                "lots": [built.lot("L1", [{"batch": "X1", "weight": "32 g"}], 32)],
            }
        ),
        ON,
    )
    found = plan_parents(of, 2)
    (lot,) = found.lots

    assert (2, 1.6, 0.25) == (lot.parents, lot.effective, lot.spread)
    assert ("T1", 0.75) == lot.heaviest
    assert (2, 3, 3) == (found.equal, found.median, found.widest)
    assert (2, 3, 2) == (found.bags_each, found.to_bag, found.cleared)


def test_without_a_lot_only_equal_parents_are_known():
    """No spread is made up, nor trees to bag."""
    found = plan_parents(examine_season(built.season_of(), ON), 25)

    assert (25, None, None, None, None) == (
        found.equal,
        found.median,
        found.widest,
        found.bags_each,
        found.to_bag,
    )


def test_a_variety_has_its_own_lots(example):
    """Those of its name."""
    found = plan_parents(example, 10, variety="Rosy Cistern")

    assert {"Rosy Cistern"} == {lot.variety for lot in found.lots}
