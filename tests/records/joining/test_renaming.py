"""What an earlier season's records name, once a later season gave a number away again."""

from __future__ import annotations

import numpy as np
import pytest

from certgen.records.joining.renaming import rename_references
from certgen.records.stacked_columns import TakenColumns


def test_nothing_is_renamed_where_each_number_is_one_record(seasons):
    """Each of its own records keeps its name."""
    season = seasons.season_of(bagging=[seasons.bag("B1", "T1")], trees=[seasons.tree("T1")])
    names = [{"bagging": {"B1": "B1"}, "trees": {"T1": "T1"}}]

    assert {} == rename_references(season, names, "bagging", season.columns("bagging"))


def test_a_record_and_what_it_names_are_called_by_their_year(seasons):
    """The bag, and the tree that it hung on; what the season's own records don't tell of, an earlier one
    does."""
    season = seasons.season_of(bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")])
    names = [{"bagging": {"B1": "B1 (2025)"}, "trees": {"T1": "T1 (2025)"}}, {"trees": {"T2": "T2 (2024)"}}]
    bags = season.columns("bagging")
    changes = rename_references(season, names, "bagging", TakenColumns(bags, np.array([0])))

    assert ["B1 (2025)"] == changes["bag"].tolist()
    assert ["T1 (2025)"] == changes["tree"].tolist()
    other = bags.adding(bag=np.array(["B1", "B1"], dtype=object))
    assert ["T2 (2024)"] == rename_references(season, names, "bagging", TakenColumns(other, np.array([1])))[
        "tree"
    ].tolist()


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        ({"batch": "X1", "weight": "8 g"}, {"batch": "X1 (2025)", "weight": "8 g"}),
        ({"lot": "L1", "weight": "8 g"}, {"lot": "L1", "weight": "8 g"}),
        ({"supplier": "X1", "weight": "8 g"}, {"supplier": "X1", "weight": "8 g"}),
    ],
)
def test_a_source_is_renamed_by_its_kind(seasons, part, expected):
    """A batch's number says nothing of a lot that bears the same, nor of a supplier."""
    season = seasons.season_of(lots=[seasons.lot("L9", [part], 8)])
    names = [{"batches": {"X1": "X1 (2025)"}, "lots": {"L9": "L9"}}]
    ((found,),) = rename_references(season, names, "lots", season.columns("lots"))["sources"].tolist()

    assert expected == {name: found[name] for name in expected}
