"""Labels say what the records bear, and nothing more."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Any

import pytest

from certgen.dossier.due import list_due
from certgen.examination import examine
from certgen.exchange.field_paper.labels import (
    LabelError,
    bag_tags,
    cleared_trees,
    lot_labels,
    ready_trees,
    untold_lots,
)

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

    from certgen.examination import Result
    from certgen.records import Season

#: What no label of ours says: how a clause was read, and words that are not ours to grant.
RESERVED = re.compile(
    r"partly read|from memory|CFR|205\.|asked for|certified seed|below standard|\b(?:bio|eco)", re.IGNORECASE
)


def told(result: Result, table: str, name: str) -> dict[str, Any]:
    """A record of the season, or of the newest before it that tells of it."""
    season: Season | None = result.season
    while season is not None and season.row(table, name) is None:
        season = season.previous
    assert season is not None
    return season.record(table, name) or {}


def test_only_clear_seed_parents_get_tags(result: Result) -> None:
    """Every tree with a tag has a negative result, of this season or an earlier one, stands, and is of a sex
    that is selfed; in walking order.
    """
    cleared = cleared_trees(result)

    for one in cleared:
        tree = told(result, "trees", one.tree)
        screening = result.case.season.table("screening").set_index("sample")
        sexes = (*result.profile.role("seed_parents"), *result.profile.role("needs_pollen_parent"))
        assert (True, "negative") == (tree["sex"] in sexes, screening["result"][one.sample])
        assert "removed" not in tree
    rows = [(one.block, int(one.row), int(one.position)) for one in cleared]
    assert sorted(rows) == rows
    ready = {one.identifier for one in list_due(result) if one.subject == "cleared for bagging"}
    assert {one.tree for one in cleared} < ready
    assert {"hermaphrodite"} == {one.sex for one in cleared}


def test_an_uncleared_tree_gets_no_tag(result: Result) -> None:
    """Asked for by name, it is refused by name."""
    other = next(
        tree
        for tree in result.season.tables["trees"]["tree"].tolist()
        if tree not in {one.tree for one in ready_trees(result)}
    )

    with pytest.raises(LabelError, match=other):
        bag_tags(result, trees=[other])


def test_tags_for_bags_on_record(result: Result) -> None:
    """Printed anew, a tag says what the log says: tree, variety and date."""
    bag = result.season.tables["bagging"]["bag"].iat[0]
    record = result.season.record("bagging", bag)
    assert record is not None

    (tag,) = bag_tags(result, bags=[bag])

    assert (f"Bag {bag}", bag, record["tree"], str(record["covered"])) == (
        tag.title, tag.code, dict(tag.lines)["Tree"], dict(tag.lines)["Date"]
    )  # fmt: skip
    with pytest.raises(LabelError, match="no-such"):
        bag_tags(result, bags=["no-such"])


def test_lot_labels_claim_no_more_than_the_standing(result: Result) -> None:
    """A traced lot says its status; any other says its standing, so that the label can't be used to sell
    it.
    """
    found = {label.title.removeprefix("Lot "): dict(label.lines)["Status"] for label in lot_labels(result)}

    assert set(result.season.tables["lots"]["lot"]) == set(found)
    for lot, said in found.items():
        record, standing = told(result, "lots", lot), result.lots[lot]
        assert (said == record["status"]) == (standing.standing == "traced")
        assert standing.standing == "traced" or standing.standing in said


def test_lot_labels_bear_what_the_standard_asks(result: Result) -> None:
    """Under us-nop: status, lot, and the last certified operation."""
    label = lot_labels(result)[0]

    assert {"Status", "Last certified operation", "Variety"} <= set(dict(label.lines))


def test_buyers_read_no_clause_and_no_reserved_word(result: Result) -> None:
    """Neither what a clause is called and how it was read, nor a word that an authority alone may grant."""
    for label in lot_labels(result):
        said = " ".join((label.title, *(part for line in label.lines for part in line), label.foot))
        assert None is RESERVED.search(said)
        assert "Carica papaya L." == label.foot


def test_no_caution_stands_on_a_label_of_untreated_seed(treated: Result) -> None:
    """Nor a line to write a treatment on: seed that was not treated, and seed of which no record speaks."""
    for label in lot_labels(treated, ["L4", "L5"]):
        assert ((), ()) == (label.treated, label.cautions)
        assert "treated" not in str(label).replace("treated=()", "").casefold()
    assert ("L5",) == untold_lots(treated)


def test_treated_seed_says_with_what(treated: Result) -> None:
    """As the batch names it, and a line to write on where a treatment isn't named; what harms says so."""
    harmful, harmless, blend = lot_labels(treated, ["L1", "L2", "L3"])

    assert (("Treated with", "thiram"),) == harmful.treated
    assert "Do not use for food or feed or oil purposes." == harmful.cautions[0]
    assert harmful.cautions[1].startswith("Treated seed is never food or feed")
    assert harmful.cautions[1].endswith("This defers to the label of the seed and of its treatment.")
    assert ((("Treated with", "hot water"),), ()) == (harmless.treated, harmless.cautions)
    assert (("Treated with", "hot water and thiram"), ("and with", "")) == blend.treated
    assert harmful.cautions == blend.cautions


def test_a_treatment_whose_harm_is_not_told_is_handled_with_care(treated: Result) -> None:
    """The words for what harms are not put where no record bears them; the caution is."""
    (label,) = lot_labels(treated, ["L6"])

    assert (("Treated with", ""),) == label.treated
    assert ["Treated seed is never food or feed"] == [one.partition(":")[0] for one in label.cautions]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"containers": 1}, "8 g"),
        ({"containers": 4}, ""),
        ({"containers": 4, "net_weight": "2 g"}, "2 g"),
        ({"containers": 4, "net_weight": "2.0 g"}, "2.0 g"),
        ({"net_weight": "0.1 oz"}, "0.1 oz"),
        # Four of three grams are more than the lot weighs: neither figure is printed.
        ({"containers": 4, "net_weight": "3 g"}, ""),
    ],
)
def test_net_weight_is_filled_in_where_the_record_knows_it(
    seasons: ModuleType, tmp_path: Path, more: dict[str, Any], said: str
) -> None:
    """Of the one container, or of each where all hold the same; else there is a line to write it on."""
    seasons.write_season(
        tmp_path,
        lots=[seasons.lot("L1", [{"supplier": "Sallow Reach Seed Exchange", "weight": "8 g"}], 8, **more)],
    )

    assert said == dict(lot_labels(examine(tmp_path, dt.date(2026, 12, 1)))[0].lines)["Net weight"]


def test_a_label_that_needs_a_sign_is_not_printed_without_it(seasons: ModuleType, tmp_path: Path) -> None:
    """Mercurials have one of their own; the other lots' labels can still be had."""
    mercury = {"treated": True, "with": "ethylmercury phosphate", "harmful": True}
    bought = [{"supplier": "Sallow Reach Seed Exchange", "weight": "8 g"}]
    seasons.write_season(
        tmp_path, lots=[seasons.lot("L1", bought, 8, treatment=mercury), seasons.lot("L2", bought, 8)]
    )
    result = examine(tmp_path, dt.date(2026, 12, 1))

    with pytest.raises(LabelError, match=r"^the seed of lot L1 was treated with a mercurial: .* skull"):
        lot_labels(result)
    assert ["Lot L2"] == [label.title for label in lot_labels(result, ["L2"])]


def test_a_tag_says_its_place_below_its_own_name(result: Result) -> None:
    """Not at its foot, which is the head of the next one."""
    for tag in bag_tags(result):
        assert tag.place.startswith("block ")
        assert "" == tag.foot


def test_no_tag_and_no_round_names_a_tree_that_bears_nothing(seasons: ModuleType, tmp_path: Path) -> None:
    """A male is screened and clear like the others; what is covered on it sets no fruit. Nor does a female
    under a bag, unless somebody pollinates it by hand: by its number its tag can be had.
    """
    sexes = {"T1": "hermaphrodite", "T2": "male", "T3": "female", "T4": "unknown"}
    seasons.write_season(
        tmp_path,
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree(name, sex=sex) for name, sex in sexes.items()],
        screening=[seasons.sample(f"S{name}", name) for name in sexes],
    )
    result = examine(tmp_path, dt.date(2026, 12, 1))

    assert [("T1", "hermaphrodite")] == [(one.tree, one.sex) for one in cleared_trees(result)]
    assert ["Tree T1"] == [tag.title for tag in bag_tags(result)]
    assert ["Tree T3"] == [tag.title for tag in bag_tags(result, trees=["T3"])]
    assert next(tag.place for tag in bag_tags(result)).endswith("hermaphrodite")
