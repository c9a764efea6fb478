"""Each piece of work that is due, and each sample, has its cautions; treated seed where seed was treated."""

from __future__ import annotations

import datetime as dt

import pytest

from certgen.dossier.cautions import cautions_of_draw, cautions_of_due, cautions_of_test
from certgen.dossier.due import Due
from certgen.examination import examine


@pytest.fixture
def result(seasons, tmp_path):
    """A season with one lot that was treated and one of which nothing is said."""
    sources = [{"supplier": "Sallow Reach Seed Exchange", "weight": "4 g"}]
    seasons.write_season(
        tmp_path,
        lots=[
            seasons.lot("L1", sources, 4, treatment={"treated": True, "with": "hot water"}),
            seasons.lot("L2", sources, 4),
        ],
    )
    return examine(tmp_path, dt.date(2026, 12, 1))


def due(subject, table, identifier):
    """An entry of the list."""
    return Due(subject, table, identifier, "", None, None, "due", "")


def test_cautions_follow_the_subject(result):
    """Bags and fruit have theirs, a result that is awaited has none."""
    found = cautions_of_due(
        result,
        [due("bag to pick", "bagging", "B1"), due("cleared for bagging", "trees", "T1"),
         due("result outstanding", "screening", "S1")],
    )  # fmt: skip

    assert ["bag to pick", "cleared for bagging"] == list(found)
    assert {"Latex", "Ladders", "After a spray", "Blades in the field"} == {
        one.title for one in found["bag to pick"]
    }


@pytest.mark.parametrize(
    ("subject", "lot", "titles"),
    [
        ("germination test", "L1", ["Treated seed"]),
        ("germination test", "L2", []),
        ("storage", "L1", ["Treated seed"]),
        ("keep", "L1", []),
    ],
)
def test_treated_seed_is_named_where_it_is_taken_in_hand(result, subject, lot, titles):
    """To test or move it; not while papers on it are kept."""
    found = cautions_of_due(result, [due(subject, "lots", lot)])

    assert titles == [one.title for one in found.get(subject, ())]


def test_a_sample_has_those_of_going_there_and_of_the_laboratory(result):
    """Trees and bags in the orchard; seed in the laboratory, treated or not."""
    assert "Blades in the field" in {one.title for one in cautions_of_draw(result, "trees")}
    assert "Ladders" in {one.title for one in cautions_of_draw(result, "bags")}
    assert ["Reagents", "Positive plants and tissue", "Treated seed"] == [
        one.title for one in cautions_of_test(result, "L1")
    ]
    assert "Treated seed" not in {one.title for one in cautions_of_test(result, "L2")}
