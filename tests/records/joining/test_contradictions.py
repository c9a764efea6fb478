"""What two years tell differently of one record."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from seasons import record_of

from certgen.records.joining.contradictions import differ, shown
from certgen.records.joining.farm import join_seasons

DAY = date(2025, 8, 1)


def years(seasons, *, before, **tables):
    """The farm of a season and of the one before, each given as its tables."""
    return join_seasons(seasons.season_of(previous=seasons.season_of(label="2025", **before), **tables))


@pytest.mark.parametrize(
    ("table", "now", "then", "expected"),
    [
        ("trees", {"sex": "female"}, {"sex": "hermaphrodite"}, ("sex", "female", "hermaphrodite")),
        ("trees", {"sex": "female"}, {"sex": "unknown"}, None),
        ("trees", {"sex": "unknown"}, {"sex": "female"}, ("sex", "unknown", "female")),
        ("trees", {"row": "2"}, {"row": "1"}, None),
        ("trees", {"removed": DAY}, {}, None),
        ("trees", {"removed": DAY}, {"removed": DAY + timedelta(1)}, ("removed", "2025-08-01", "2025-08-02")),
        ("plantings", {"variety": "amber  KESTREL"}, {}, None),
        ("plantings", {"variety": "Copper Finch"}, {}, ("variety", "Copper Finch", "Amber Kestrel")),
        ("plantings", {"block": "West"}, {}, ("block", "West", "East")),
        ("plantings", {"planted": DAY}, {}, ("planted", "2025-08-01", "2025-02-10")),
        ("plantings", {"origin": {"lot": "K1"}}, {}, ("origin.lot", "K1", "Brackwen Seed Exchange")),
        ("blocks", {"area": "2 ha"}, {"area": "1 ha"}, None),
        ("blocks", {"organic_since": DAY}, {}, ("organic_since", "2025-08-01", "2020-05-01")),
        ("blocks", {"status": "conventional"}, {}, None),
        ("blocks", {}, {"status": "conventional"}, ("status", "organic", "conventional")),
        ("blocks", {"organic_since": date(2026, 2, 1)}, {"status": "transitional"}, "organic_since"),
        ("blocks", {}, {"last_prohibited_substance": "2019-05-01"},
         ("last_prohibited_substance", "none known", "2019-05-01")),
        ("blocks", {"last_prohibited_substance": "2026-11-05"}, {}, None),
        ("blocks", {"last_prohibited_substance": "2012-05-01"}, {"last_prohibited_substance": "2014-05-01"},
         ("last_prohibited_substance", "2012-05-01", "2014-05-01")),
    ],
)  # fmt: skip
def test_what_two_years_tell_differently_of_what_lives_on(seasons, table, now, then, expected):
    """Both are named; what may change from year to year is none, nor is what an earlier year didn't know."""
    made = {"blocks": seasons.block, "plantings": seasons.planting, "trees": seasons.tree}[table]
    farm = years(seasons, **{table: [made("N", **now)]}, before={table: [made("N", **then)]})
    found = [(one.field, one.here, one.says) for one in farm.contradicted]

    if isinstance(expected, str):
        # Land that became organic in between tells its own day; its status is no contradiction.
        assert [expected] == [field for field, _, _ in found]
    else:
        assert ([] if expected is None else [expected]) == found
    assert {"season 2025"} >= {one.there for one in farm.contradicted}


@pytest.mark.parametrize(
    ("table", "changed", "field"),
    [
        ("screening", {"result": "positive"}, "result"), ("screening", {"tree": "T2", "mark": "T2"}, "tree"),
        ("bagging", {"secured": False}, "secured"), ("bagging", {"uncovered": DAY}, "uncovered"),
        ("bagging", {"tag": {"date": DAY}}, "tag.date"), ("harvests", {"bags": ["B1", "B2"]}, "bags"),
        ("batches", {"dry_weight": "9 g"}, "dry_weight"), ("batches", {"harvests": ["H2"]}, "harvests"),
        ("lots", {"sources": [{"batch": "X1", "weight": "3 g"}]}, "sources"),
        ("lots", {"weight": "4 g"}, "weight"), ("lots", {"status": "conventional"}, "status"),
        ("harvests", {"status": "conventional"}, "status"), ("tests", {"lot": "L2"}, "lot"),
        ("movements", {"weight": "3 g"}, "weight"), ("movements", {"kind": "sown"}, "kind"),
    ],
)  # fmt: skip
def test_what_two_years_tell_differently_of_one_record(seasons, table, changed, field):
    """The day is the same, so it is one record, and one of the two is wrong."""
    one = record_of(table, "N1")
    if table == "lots":
        one["sources"] = [{"batch": "X1", "weight": "2 g"}]
    farm = years(seasons, **{table: [one]}, before={table: [{**one, **changed}]})

    assert [(table, "season 2025")] == list({(one.table, one.there) for one in farm.contradicted})
    assert field in {one.field for one in farm.contradicted}
    assert {0} == {one.row for one in farm.contradicted}


def test_notes_and_evidence_may_differ(seasons):
    """They say nothing of the record itself."""
    one = seasons.bag("B1", "T1", note="windy", recorded_by="R. A.", evidence=["tags/1.jpg"])
    farm = years(
        seasons, bagging=[one],
        before={"bagging": [{**one, "note": "calm", "recorded_by": "I. M.", "evidence": ["tags/2.jpg"]}]},
    )  # fmt: skip

    assert () == farm.contradicted


@pytest.mark.parametrize(
    ("here", "there", "other"),
    [
        ("Amber Kestrel", " amber  KESTREL ", False), ("Amber", "Ambre", True), ("1", 1, True),
        (1, 1.0, False),        (("B1",), ("B1", "B2"), True), (("B1",), ("B1",), False), (True, False, True),
        (DAY, DAY, False),
    ],
)  # fmt: skip
def test_whether_two_values_differ(here, there, other):
    """Letter case and needless spaces make no other text; everything else is as it is."""
    assert other == differ(here, there)


def test_how_values_are_quoted():
    """Days as they are typed, lists in a row, inner mappings without what was converted."""
    assert "2025-08-01" == shown(DAY)
    assert ("yes", "no") == (shown(True), shown(False))
    assert "B1, B2" == shown(("B1", "B2"))
    assert "X1 3 g" == shown(({"batch": "X1", "weight": "3 g", "weight_mg": 3000},))
