"""Labels say what the records bear, and nothing more."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from certgen.dossier.due import list_due
from certgen.exchange.field_paper.labels import (
    LabelError,
    bag_tags,
    cleared_trees,
    lot_labels,
)

if TYPE_CHECKING:
    from certgen.examination import Result
    from certgen.records import Season


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
        sample = told(result, "screening", one.sample)
        sexes = (*result.profile.role("seed_parents"), *result.profile.role("needs_pollen_parent"))
        assert (True, "negative") == (tree["sex"] in sexes, sample["result"])
        assert "removed" not in tree
    rows = [(one.block, int(one.row), int(one.position)) for one in cleared]
    assert sorted(rows) == rows
    ready = {one.identifier for one in list_due(result) if one.subject == "cleared for bagging"}
    assert ready == {one.tree for one in cleared}
    assert cleared


def test_an_uncleared_tree_gets_no_tag(result: Result) -> None:
    """Asked for by name, it is refused by name."""
    other = next(
        tree
        for tree in result.season.tables["trees"]["tree"].tolist()
        if tree not in {one.tree for one in cleared_trees(result)}
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
    found = {label.code: dict(label.lines)["Status"] for label in lot_labels(result)}

    assert set(result.season.tables["lots"]["lot"]) == set(found)
    for lot, said in found.items():
        record, standing = told(result, "lots", lot), result.lots[lot]
        assert (said == record["status"]) == (standing.standing == "traced")
        assert standing.standing == "traced" or standing.standing in said


def test_lot_labels_bear_what_the_standard_asks(result: Result) -> None:
    """Under us-nop: status, lot, and the last certified operation, with the clauses named."""
    label = lot_labels(result)[0]

    assert {"Status", "Last certified operation", "Variety"} <= set(dict(label.lines))
    assert "Asked for by us-nop 205.307(a)(1), (a)(2) and (b) (partly read)." in label.foot


def test_lot_labels_warn_of_treated_seed(result: Result) -> None:
    """No record says whether seed was treated: there is room to write it, and the profile's own caution."""
    (caution,) = result.profile.cautions_at("sowing")
    assert "never food or feed" in caution.text

    for label in lot_labels(result):
        assert "" == dict(label.lines)["Treated with (or: not treated)"]
        assert label.caution.startswith(caution.text)
        assert caution.defers_to in label.caution
