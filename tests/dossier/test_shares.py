"""What each parent gave to each lot."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from types import SimpleNamespace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.dossier.shares import share_parents
from certgen.examination import examine, examine_season
from certgen.lineage import build_lineage
from certgen.records.joining.farm import join_seasons
from certgen.rules import Case
from certgen.standards import load_profile

ON = date(2026, 10, 31)
SLOW = settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])


def shares_of(seasons, **changes):
    """The shares of a season built of the given tables."""
    return share_parents(examine_season(seasons.season_of(**changes), ON))


def orchard(seasons, *, bags, harvests, batches, lots, trees=("T1", "T2", "T3")):
    """A season of three trees, with what was done to them."""
    return {
        "blocks": [seasons.block()],
        "plantings": [seasons.planting()],
        "trees": [seasons.tree(name) for name in trees],
        "bagging": bags,
        "harvests": harvests,
        "batches": batches,
        "lots": lots,
    }


def test_fruit_decides_the_share(seasons):
    """Two bags of T1 and one of T2 in one picking: two thirds and one third."""
    of = ("T1", "T1", "T2")
    bags = [seasons.bag(f"B{at}", tree) for at, tree in enumerate(of)]
    tables = orchard(
        seasons,
        bags=bags,
        harvests=[seasons.harvest("H1", [one["bag"] for one in bags])],
        batches=[seasons.batch("X1", ["H1"], 3)],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "24 g"}], 24)],
    )
    lot = shares_of(seasons, **tables)["L1"]

    assert {"T1": Fraction(2, 3), "T2": Fraction(1, 3)} == lot.shares
    assert 1.8 == lot.effective
    assert 1 == lot.known


def test_a_blend_takes_its_parts_by_weight(seasons):
    """10 g of T1's lot and 30 g of T2's."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")]
    tables = orchard(
        seasons,
        bags=bags,
        harvests=[seasons.harvest("H1", ["B1"]), seasons.harvest("H2", ["B2"])],
        batches=[seasons.batch("X1", ["H1"], 5), seasons.batch("X2", ["H2"], 5, day=1)],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40),
            seasons.lot("L2", [{"batch": "X2", "weight": "40 g"}], 40),
            seasons.lot("L3", [{"lot": "L1", "weight": "10 g"}, {"lot": "L2", "weight": "30 g"}], 40),
        ],
    )

    assert {"T1": Fraction(1, 4), "T2": Fraction(3, 4)} == shares_of(seasons, **tables)["L3"].shares


def test_crossed_seed_counts_half_for_its_pollen_parent(seasons):
    """A bag on T1 with pollen of T2."""
    tables = orchard(
        seasons,
        bags=[seasons.bag("B1", "T1", pollen_parent="T2")],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
    )

    assert {"T1": Fraction(1, 2), "T2": Fraction(1, 2)} == shares_of(seasons, **tables)["L1"].shares


def test_seed_without_a_parent_on_record_is_said_to_be_unknown(seasons):
    """A quarter of the lot comes out of a batch that no record names: three quarters are known."""
    tables = orchard(
        seasons,
        bags=[seasons.bag("B1", "T1")],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"], 4)],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "30 g"}, {"batch": "X9", "weight": "10 g"}], 40)],
    )
    lot = shares_of(seasons, **tables)["L1"]

    assert {"T1": Fraction(1)} == lot.shares
    assert Fraction(3, 4) == lot.known


def test_lots_blended_in_a_circle_come_to_an_end(seasons):
    """What comes from nowhere but one another has no parent; the rest has. Nothing runs for ever."""
    tables = orchard(
        seasons,
        bags=[seasons.bag("B1", "T1")],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"], 4)],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "10 g"}, {"lot": "L2", "weight": "10 g"}], 20),
            seasons.lot("L2", [{"lot": "L1", "weight": "10 g"}], 10),
        ],
    )
    found = shares_of(seasons, **tables)

    assert {"T1": Fraction(1)} == found["L1"].shares
    assert Fraction(1, 2) == found["L1"].known
    assert "L2" not in found


def test_a_long_row_of_blends_is_followed_to_its_end(seasons):
    """More lots than a program may call itself deep, each blended from the one before."""
    number = 1200
    lots = [seasons.lot("L0", [{"batch": "X1", "weight": "8 g"}], 8)]
    lots += [seasons.lot(f"L{at}", [{"lot": f"L{at - 1}", "weight": "8 g"}], 8) for at in range(1, number)]
    tables = orchard(
        seasons,
        bags=[seasons.bag("B1", "T1")],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"])],
        lots=lots,
    )
    farm = join_seasons(seasons.season_of(**tables))
    case = Case(farm, build_lineage(farm), load_profile("papaya"), (), ON)
    result = SimpleNamespace(
        case=case, season=farm, lineage=case.lineage, lots=dict.fromkeys(farm.table("lots")["lot"])
    )

    assert {"T1": Fraction(1)} == share_parents(result)[f"L{number - 1}"].shares


@SLOW
@given(data=st.data())
def test_shares_add_up_to_one_exactly(seasons, data):
    """No seed is lost and none is made between bags and lots, whatever was mixed."""
    season = data.draw(seasons.clean_seasons())
    for lot in share_parents(examine_season(season, ON)).values():
        assert 1 == sum(lot.shares.values())
        assert 1 == lot.known
        assert 1 <= lot.effective <= len(lot.shares) + 1e-9


@SLOW
@given(data=st.data())
def test_a_parents_seed_is_the_same_by_lot_and_by_batch(seasons, data):
    """Over the lots that were packed from batches, each tree's grams are those of its fruit."""
    season = data.draw(seasons.clean_seasons())
    found = share_parents(examine_season(season, ON))
    by_lot: dict[str, Fraction] = {}
    fruit: dict[str, Fraction] = {}
    for lot, weight in zip(season.table("lots")["lot"], season.table("lots")["weight_mg"], strict=True):
        if lot != "L9":
            for tree, share in found[lot].shares.items():
                by_lot[tree] = by_lot.get(tree, Fraction(0)) + share * int(weight)
    for tree in season.table("bagging")["tree"]:
        fruit[tree] = fruit.get(tree, Fraction(0)) + 1000 * seasons.GRAMS_A_FRUIT

    assert fruit == by_lot


def test_every_lot_of_the_example_has_its_parents(example_season):
    """Shares of real mixtures add up to one; carried-over lots too."""
    result = examine(example_season, date(2026, 11, 20))
    found = share_parents(result)

    assert set(result.lots) >= set(found)
    assert {Fraction(1)} == {sum(lot.shares.values(), start=Fraction(0)) for lot in found.values()}


def test_a_lot_of_the_season_before_has_its_parents(seasons):
    """What stands in the earlier season's folder is on record, for the lot itself and for a blend of it."""
    earlier = orchard(
        seasons,
        bags=[seasons.bag("B8", "T1"), seasons.bag("B9", "T2")],
        harvests=[seasons.harvest("H9", ["B8", "B9"])],
        batches=[seasons.batch("X9", ["H9"], 2)],
        lots=[seasons.lot("K1", [{"batch": "X9", "weight": "16 g"}], 16)],
    )
    this = orchard(
        seasons,
        bags=[seasons.bag("B1", "T3")],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}, {"lot": "K1", "weight": "8 g"}], 16)],
    )
    opening = {**seasons.movement("M0", "K1", "opening stock", 16), "date": date(2025, 11, 1)}
    before = seasons.season_of(label="2025", **earlier)
    season = seasons.season_of(previous=before, movements=[opening], **this)
    found = share_parents(examine_season(season, ON))

    assert {"T1": Fraction(1, 2), "T2": Fraction(1, 2)} == found["K1"].shares
    assert {"T1": Fraction(1, 4), "T2": Fraction(1, 4), "T3": Fraction(1, 2)} == found["L1"].shares
    assert {1} == {found["K1"].known, found["L1"].known}
