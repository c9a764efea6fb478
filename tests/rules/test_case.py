from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from seasons import without

from certgen.lineage import Node
from certgen.records.frames import objects
from certgen.rules.record_keeping.attestation import find_nobodys

COVERS = ("certgen.rules.orchard_tables", "certgen.rules.record_keeping.attestation")


def test_a_season_changes_the_crops_practice(stocked, case_of) -> None:
    """Its own figure stands in place of the crop's; a figure that the crop hasn't is none."""
    season = stocked()
    practice = {"rinses": {"high": 6.0, "reason": "our water is soft"}}
    changed = replace(season, details=replace(season.details, practice=practice))

    assert ((3, 10), (3, 6)) == tuple(case_of(one).practice("rinses").range for one in (season, changed))
    assert case_of(season).practice("no such figure") is None


def test_only_rulebooks_that_ask_are_named(stocked, case_of) -> None:
    """Of two standards one asks for growing seasons of the mother plant."""
    asked = case_of(stocked(), "us-nop", "eu").demand("mother_plant_seasons")

    assert ["eu"] == [rulebook.key for rulebook, _ in asked]


def test_under_other_rulebooks_the_tables_are_kept(stocked, case_of) -> None:
    """No table depends on a rulebook, so none is joined a second time."""
    case = case_of(stocked(), "us-nop", "eu")
    bags = case.bags
    other = case.under(case.rulebooks[1:])

    assert ["eu"] == [book.key for book in other.rulebooks]
    assert bags is other.bags


def test_a_repeated_number_means_its_first_record(seasons, stocked, case_of) -> None:
    """Whatever names the number is looked up there, and the number stays a column."""
    plantings = [seasons.planting(), seasons.planting("P1", variety="Moth Lantern")]
    trees = [seasons.tree("T1"), seasons.tree("T1", sex="female"), seasons.tree("T2")]
    case = case_of(stocked(plantings=plantings, trees=trees))

    assert [("T1", 0), ("T2", 2)] == list(case.keyed("trees")[["tree", "row_of"]].itertuples(index=False))
    assert [("T1", "hermaphrodite"), ("T2", "hermaphrodite")] == list(
        case.tree_of[["tree", "sex"]].itertuples(index=False)
    )
    assert ["Amber Kestrel"] * 3 == case.trees["variety"].tolist()


def test_a_record_stands_behind_what_rests_on_it(seasons, stocked, case_of) -> None:
    """T1 bears the bag of the lot; T2 bears one that nobody picked; T3 bears none."""
    trees = [seasons.tree(f"T{number}") for number in (1, 2, 3)]
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")]
    case = case_of(stocked(trees=trees, bagging=bags))
    one, two, three = (Node("trees", f"T{number}") for number in (1, 2, 3))

    assert [True, False, False] == case.behind("trees").tolist()
    assert "It stands behind 1 bag and 1 lot." == case.stands_behind(one)
    assert "It stands behind 1 bag." == case.stands_behind(two)
    assert "They stand behind 2 bags and 1 lot." == case.stands_behind(one, two)
    assert "" == case.stands_behind(three)


@pytest.mark.parametrize(
    ("table", "own", "earlier"),
    [("trees", ["T1"], ["T9"]), ("lots", ["L1"], ["K1"]), ("blocks", ["East"], []), ("inputs", [], [])],
)
def test_a_seasons_own_records_stand_first(carried, case_of, table, own, earlier) -> None:
    """What stands in both seasons, as the block does, is this season's."""
    case = case_of(carried())
    key = {"trees": "tree", "lots": "lot", "blocks": "block", "inputs": "input"}[table]

    assert [*own, *earlier] == case.season.table(table)[key].tolist()
    assert [True] * len(own) + [False] * len(earlier) == case.own(table).tolist()


@pytest.mark.parametrize(
    ("opened", "moves", "sources", "told"),
    [
        (True, [], {"batch": "X1"}, ["L1", "K1"]),
        (False, [], {"batch": "X1"}, ["L1", "K1"]),
        (False, [("K1", "sown", 8)], {"batch": "X1"}, ["L1", "K1"]),
        (False, [], {"lot": "K1"}, ["L1", "K1"]),
    ],
)
def test_a_season_is_about_its_own_lots_and_earlier_ones_with_stock(
    seasons, carried, case_of, opened, moves, sources, told
) -> None:
    """Opened with, moved, blended, or still there."""
    entries = [seasons.movement(f"M{at}", *move) for at, move in enumerate(moves, start=1)]
    season = carried(movements=entries, lots=[seasons.lot("L1", [{**sources, "weight": "8 g"}], 8)])
    rows = season.table("movements")
    kept = rows if opened else rows[rows["kind"] != "opening stock"]

    assert told == list(case_of(season.with_tables({"movements": kept})).lots_told)


def test_an_earlier_lot_that_is_gone_is_told_no_more(seasons, carried, case_of) -> None:
    """All of it was sold last year, but for what no scale shows."""
    gone = [{**seasons.sale("M8", "K1", 7.9), "date": date(2025, 10, 1)}]
    season = carried(before={"movements": gone})
    rows = season.table("movements")
    season = season.with_tables({"movements": rows[rows["kind"] != "opening stock"]})

    assert ("L1",) == case_of(season).lots_told


@pytest.mark.parametrize(
    ("step", "expected"),
    [(None, 100), ("0.5 g", 500), ("1 g", 1000), ("2 g", 1000), ("0.01 g", 10), ("0 g", 0)],
)
def test_a_scale_shows_what_the_season_says_within_what_a_scale_may(stocked, case_of, step, expected) -> None:
    """By the book it is the crop's figure, whatever the season says."""
    season = stocked()
    raw = {**season.details.raw, **({} if step is None else {"scale_step": step})}
    case = case_of(replace(season, details=replace(season.details, raw=raw)))

    assert expected == case.scale_step_mg
    assert 100 == case.by_the_book().scale_step_mg


def test_a_crop_without_the_figure_has_no_step(stocked, case_of, crop) -> None:
    """Then every milligram is a difference, whatever the season says of its scale."""
    season = stocked()
    raw = {**season.details.raw, "scale_step": "0.5 g"}
    own = replace(season, details=replace(season.details, raw=raw))
    profile = crop(scale_step_g=None)

    assert [0, 0] == [case_of(one, profile=profile).scale_step_mg for one in (season, own)]


def test_by_the_book_the_crops_own_figures_stand(stocked, case_of) -> None:
    """And its own events are to be ruled out."""
    season = stocked()
    practice = {"rinses": {"high": 6.0, "reason": "our water is soft"}}
    details = replace(season.details, practice=practice, events_of_concern=("63-1",))
    case = case_of(replace(season, details=details))
    book = case.by_the_book()

    assert ((3, 6), ("63-1",)) == (case.practice("rinses").range, case.events_of_concern)
    assert ((3, 10), ("55-1", "63-1", "X17-2")) == (book.practice("rinses").range, book.events_of_concern)


def test_a_file_counts_where_it_lies_and_holds_something(stocked, case_of) -> None:
    """A name alone, or an empty file, shows nothing."""
    season = replace(stocked(), evidence_files=("a.txt", "b.txt"), empty_evidence=("b.txt",))
    case = case_of(season)
    named = objects([("a.txt",), ("b.txt",), ("c.txt",), (), ("c.txt", "a.txt")])

    assert [True, False, False, False, True] == case.filed(named).tolist()


def test_the_joined_tables_are_made_once(seasons, stocked, case_of) -> None:
    """Also for the case with what was found so far; how long bags held stands beside them, row for row."""
    case = case_of(stocked(bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T1")]))
    bags, protection = case.bags, case.protection
    later = case.changed(gaps=(), standings=None)

    assert [True, False] == bags["picked"].tolist()
    assert ["held", "held"] == protection["state"].tolist()
    assert later.bags is bags
    assert later.protection is protection


def test_varieties_come_through_tree_and_planting_once(seasons, stocked, case_of) -> None:
    """Two bags of one variety and one of another went into one batch."""
    case = case_of(
        stocked(
            plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
            trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
            bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T1"), seasons.bag("B3", "T2")],
            harvests=[seasons.harvest("H1", ["B1", "B2"]), seasons.harvest("H2", ["B1", "B3"])],
            batches=[seasons.batch("X1", ["H1", "H2"])],
        )
    )

    assert [("H1", "Amber Kestrel"), ("H2", "Amber Kestrel"), ("H2", "Moth Lantern")] == list(
        case.joined("harvest_varieties").frame().itertuples(index=False)
    )
    assert [("X1", "Amber Kestrel"), ("X1", "Moth Lantern")] == list(
        case.batch_varieties.itertuples(index=False)
    )


def test_a_round_that_nobody_answers_for_tells_of_what_it_speaks_of(seasons, stocked, case_of) -> None:
    """Of its bags what it alone tells is nobody's word; what the bag's own record says is not."""
    bags = [without(seasons.bag(f"B{at}", "T1"), *(["secured"] if at == 1 else [])) for at in (1, 2)]
    walk = {"round": "R1", "kind": "bagging", "date": seasons.COVERED, "by": "?", "bags": ["B1", "B2"],
            "secured": True}  # fmt: skip
    case = case_of(
        stocked(bagging=bags, rounds=[walk, {**walk, "round": "R2", "by": "R. Alder", "bags": ["B2"]}])
    )

    assert [(0, "bagging", [0, 1])] == [(row, of, covers.tolist()) for row, of, covers in case.unattested]
    assert [0] == find_nobodys(case, "bagging", "secured", "stage")
    assert [] == find_nobodys(case, "bagging", "stage")
    assert [] == find_nobodys(case, "screening", "mark")


def test_rounds_over_the_same_records_share_them(seasons, stocked, case_of) -> None:
    """Thousands of rounds over thousands of bags name the same records."""
    walk = {"kind": "check", "date": seasons.COVERED, "by": "?", "bags": ["B1"], "condition": "intact"}
    case = case_of(stocked(rounds=[{"round": "R1", **walk}, {"round": "R2", **walk}]))
    (_, table, first), (_, _, second) = case.unattested

    assert (Node("bagging", "B1"),) == case.nodes(table, first)
    assert case.nodes(table, first) is case.nodes(table, second)
