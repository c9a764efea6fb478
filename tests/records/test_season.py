from __future__ import annotations

import datetime as dt
import pickle
from collections.abc import Callable

import pandas as pd
import pytest

from certgen.records import Place, ReadingError

RECORDS = """\
bagging:
- bag: B1
  tree: T1
  covered: 2026-02-01
  tag: {date: 2026-02-02, tree: T1}
  secured: yes
  evidence: tags/B1.png
  checks:
  - date: 2026-02-08
    condition: intact
  - {date: 2026-02-15,
     condition: torn}
- {bag: B2, tree: T2, covered: 2026-02-03}
batches:
- batch: E1
  date: 2026-05-01
  harvests: [H1, H2]
  status: organic
  runs: [3 min, 2.5 min]
  rinses: 4
  dry_weight: 412 g
  moisture: 8.5 %
  drying: {method: fan, temperature: 86 F, from: 2026-05-01, to: 2026-05-04}
lots:
- lot: L1
  variety: Callow Bell
  packed: 2026-06-01
  status: organic
  weight: 14.5 oz
  sources:
  - {batch: E1, weight: 300 g}
  - {lot: L0, weight: 3.9 oz}
"""


def test_details(read: Callable) -> None:
    """The season's own mapping, typed, and as it was written."""
    season, _ = read({})
    details = season.details
    assert ("2026", "papaya", ("us-nop",)) == (details.label, details.crop, details.standards)
    assert (dt.date(2026, 1, 1), dt.date(2026, 12, 31)) == (details.start, details.end)
    assert "Two Streams Seed Garden" == details.operation.name
    assert "" == details.operation.certificate
    assert "2026-01-01" == details.raw["from"]
    assert "season.yaml" == details.file


def test_a_record_as_typed(read: Callable) -> None:
    """A record comes back nested and in field order: quantities as typed, dates as dates, gaps left out."""
    season, errors = read(RECORDS)
    assert () == errors
    assert {
        "bag": "B1",
        "tree": "T1",
        "covered": dt.date(2026, 2, 1),
        "tag": {"date": dt.date(2026, 2, 2), "tree": "T1"},
        "secured": True,
        "checks": (
            {"date": dt.date(2026, 2, 8), "condition": "intact"},
            {"date": dt.date(2026, 2, 15), "condition": "torn"},
        ),
        "evidence": ("tags/B1.png",),
    } == season.record("bagging", "B1")
    assert {
        "batch": "E1",
        "date": dt.date(2026, 5, 1),
        "harvests": ("H1", "H2"),
        "status": "organic",
        "runs": ("3 min", "2.5 min"),
        "rinses": 4,
        "drying": {
            "method": "fan",
            "temperature": "86 F",
            "from": dt.date(2026, 5, 1),
            "to": dt.date(2026, 5, 4),
        },
        "dry_weight": "412 g",
        "moisture": "8.5 %",
    } == season.record("batches", "E1")
    lot = season.record("lots", "L1")
    assert ({"batch": "E1", "weight": "300 g"}, {"lot": "L0", "weight": "3.9 oz"}) == lot["sources"]
    assert season.record("lots", "L9") is None
    assert season.record("nothing", "L9") is None


def test_quantities_stand_beside_what_was_typed(read: Callable) -> None:
    """Each quantity has a converted column, in lists and in mappings of lists too."""
    season, _ = read(RECORDS)
    batch, lot = season.table("batches").iloc[0], season.table("lots").iloc[0]
    assert ("412 g", 412_000) == (batch["dry_weight"], batch["dry_weight_mg"])
    assert ("86 F", 30.0) == (batch["drying.temperature"], batch["drying.temperature_c"])
    assert ("8.5 %", 8.5) == (batch["moisture"], batch["moisture_pct"])
    assert (("3 min", "2.5 min"), (180.0, 150.0)) == (batch["runs"], batch["runs_s"])
    assert 411_068 == lot["weight_mg"]
    assert (
        {"batch": "E1", "weight": "300 g", "weight_mg": 300_000},
        {"lot": "L0", "weight": "3.9 oz", "weight_mg": 110_563},
    ) == lot["sources"]


def test_rows_by_identifier(read: Callable) -> None:
    """An identifier finds its record's row, the first where two bear it."""
    season, _ = read(RECORDS + "trees:\n" + "- {tree: T1, planting: P1, sex: male}\n" * 2)
    assert 1 == season.row("bagging", "B2")
    assert 0 == season.row("trees", "T1")
    assert season.row("trees", "T9") is None
    assert season.row("explanations", "T9") is None
    assert 2 == season.counts["bagging"]


def test_lists_exploded(read: Callable) -> None:
    """A list column with one row an element, each with its record's row and key."""
    season, _ = read(RECORDS)
    harvests = season.exploded("batches", "harvests")
    assert [(0, 0, "E1", "H1"), (0, 1, "E1", "H2")] == list(harvests.itertuples(index=False, name=None))
    checks = season.exploded("bagging", "checks")
    assert ["torn"] == [check["condition"] for check in checks["value"] if check["condition"] != "intact"]
    assert [0, 0] == checks["row"].tolist()
    assert 0 == len(season.exploded("incidents", "about"))
    assert list(harvests.columns) == list(season.exploded("incidents", "about").columns)
    assert season.exploded("batches", "harvests") is harvests


@pytest.mark.parametrize(
    ("table", "row", "steps", "place", "shown"),
    [
        ("bagging", 0, (), "records.yaml:bagging[0]", (2, 3)),
        ("bagging", 0, ("covered",), "records.yaml:bagging[0].covered", (4, 3)),
        ("bagging", 0, ("tag.tree",), "records.yaml:bagging[0].tag.tree", (5, 27)),
        ("bagging", 0, ("tag", "variety"), "records.yaml:bagging[0].tag.variety", (5, 3)),
        ("bagging", 0, ("checks",), "records.yaml:bagging[0].checks", (8, 3)),
        ("bagging", 0, ("checks", 0), "records.yaml:bagging[0].checks[0]", (9, 5)),
        ("bagging", 0, ("checks", 1, "condition"), "records.yaml:bagging[0].checks[1].condition", (12, 6)),
        ("bagging", 0, ("checks", 7), "records.yaml:bagging[0].checks[7]", (8, 3)),
        ("bagging", 0, ("uncovered",), "records.yaml:bagging[0].uncovered", (2, 3)),
        ("bagging", 1, ("covered",), "records.yaml:bagging[1].covered", (13, 23)),
        ("bagging", 1, ("note",), "records.yaml:bagging[1].note", (13, 3)),
        ("batches", 0, ("harvests", 1), "records.yaml:batches[0].harvests[1]", (17, 18)),
        ("lots", 0, ("sources", 1, "weight"), "records.yaml:lots[0].sources[1].weight", (32, 15)),
    ],
)
def test_places(
    table: str, row: int, steps: tuple[str | int, ...], place: str, shown: tuple[int, int], read: Callable
) -> None:
    """A place is a path; shown, it is the line and column of the field's name, or of what lacks it."""
    season, _ = read(RECORDS)
    found = season.place(table, row, *steps)
    assert place == str(found)
    assert {found: shown} == season.locate([found])


def test_places_of_the_season_mapping(read: Callable) -> None:
    """The season's own fields have places too."""
    season, _ = read({})
    label, name = season.season_place("label"), season.season_place("operation", "name")
    assert {label: (2, 3), name: (7, 15)} == season.locate([label, name])


def test_a_place_that_is_not_there(read: Callable) -> None:
    """A place that no file has is shown at the file's beginning."""
    season, _ = read(RECORDS)
    place = Place("records.yaml", ("trees", 3))
    assert {place: (1, 1)} == season.locate([place])


def test_places_of_records_after_one_left_out(read: Callable) -> None:
    """Rows count sound records, places count what stands in the file."""
    season, _ = read("trees:\n- {tree: T1}\n- {tree: T2, planting: P1, sex: male}\n")
    place = season.place("trees", 0, "sex")
    assert ("trees", 1, "sex") == place.path
    assert {place: (3, 28)} == season.locate([place])


def test_with_tables_replaced(read: Callable) -> None:
    """A 'what if' season has other tables and leaves the first as it was."""
    season, _ = read("trees:\n- {tree: T1, planting: P1, sex: male}\n")
    assert 0 == season.row("trees", "T1")
    trees = season.table("trees").assign(tree=pd.Series(["T9"], dtype="str"))
    other = season.with_tables({"trees": trees})
    assert (None, 0) == (other.row("trees", "T1"), other.row("trees", "T9"))
    assert 0 == season.row("trees", "T1")
    assert season.table("lots") is other.table("lots")


def test_a_season_can_be_sent_to_another_process(read: Callable) -> None:
    """A co-op's seasons are read by several processes at once."""
    season, _ = read(RECORDS)
    copy = pickle.loads(pickle.dumps(season))
    assert season.record("lots", "L1") == copy.record("lots", "L1")


def test_an_error_on_one_line() -> None:
    """Place first, as editors parse it; without line and column where the whole file is meant."""
    assert "a.yaml:3:7: says what" == ReadingError("a.yaml", 3, 7, "says what").text()
    assert "a.yaml: says what" == ReadingError("a.yaml", None, None, "says what").text()


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("\x1b[31m", "\\x1b[31m"),
        ("a\nb", "a\\nb"),
        ("\u202eabc", "\\u202eabc"),
        ("é 名 '", "é 名 '"),
        ("\ud800", "\\ud800"),
    ],
)
def test_an_error_cannot_steer_a_terminal(typed: str, told: str) -> None:
    """What was typed is quoted; signs that a terminal would obey stand there as escapes, on one line."""
    error = ReadingError("a.yaml", 1, 1, f"says '{typed}'", f"trees {typed}")
    assert f"a.yaml:1:1: says '{told}'" == error.text()
    assert f"trees {told}" == error.left_out
