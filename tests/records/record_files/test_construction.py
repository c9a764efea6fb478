from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pandas as pd
import pytest

BAG = "- {bag: B1, tree: T1, covered: 2026-02-01"
PICKED = "date: 2026-06-01, status: organic, bags: [B1]"
PACKED = "variety: v, packed: 2026-06-01, status: organic, weight: 1 g"


@pytest.mark.parametrize(
    "typed",
    ["010", "NO", "12:30", "1e3", "0x1f", "0o17", "1_000", ".5", "null", "Null", "true", "2026-02-01", "=",
     "1.0", "+1"],
)  # fmt: skip
def test_text_stays_as_typed(typed: str, read: Callable) -> None:
    """What YAML would take for a number, a truth, a time or nothing is text where the schema means text."""
    season, errors = read(
        f"bagging:\n- bag: B1\n  tree: T1\n  covered: 2026-02-01\n  tag:\n    variety: {typed}\n"
        f"  note: {typed}\n  evidence: [{typed}, {typed}]\n"
    )
    assert () == errors
    frame = season.table("bagging")
    assert typed == frame["tag.variety"].iat[0]
    assert typed == frame["note"].iat[0]
    assert (typed, typed) == frame["evidence"].iat[0]


def test_identifiers_with_leading_zeros_are_different(read: Callable) -> None:
    """Trees 010, 10 and 1e1 are three trees."""
    season, errors = read(
        "trees:\n" + "".join(f"- {{tree: {t}, planting: P1, sex: male}}\n" for t in ("010", "10", "1e1"))
    )
    assert () == errors
    assert ["010", "10", "1e1"] == season.table("trees")["tree"].tolist()
    assert [0, 1, 2] == [season.row("trees", tree) for tree in ("010", "10", "1e1")]


@pytest.mark.parametrize("nothing", ["", " ", " ~", " # not yet"])
@pytest.mark.parametrize(
    "field",
    ["note", "tag", "checks", "uncovered", "secured", "evidence", "outcome", "flower"],
)
def test_an_empty_value_is_an_entry_not_made_yet(nothing: str, field: str, read: Callable) -> None:
    """An empty value or a tilde is as if the field were not there, whatever its kind."""
    season, errors = read(f"bagging:\n- bag: B1\n  {field}:{nothing}\n  tree: T1\n  covered: 2026-02-01\n")
    assert () == errors
    assert {"bag": "B1", "tree": "T1", "covered": dt.date(2026, 2, 1)} == season.record("bagging", "B1")


def test_a_quoted_tilde_is_text(read: Callable) -> None:
    """In quotes, a tilde is what someone wrote."""
    season, _ = read(f"bagging:\n{BAG}, note: '~'}}\n")
    assert "~" == season.record("bagging", "B1")["note"]


def test_a_required_field_left_empty_is_missing(read: Callable) -> None:
    """A required field without a value leaves the record out, and says which field at the record."""
    season, errors = read("bagging:\n- bag: B1\n  tree:\n  covered: 2026-02-01\n")
    assert ["records.yaml:2:3: `tree` is missing; every such record needs it [bagging B1 is left out]"] == [
        error.text() for error in errors
    ]
    assert 0 == len(season.table("bagging"))


def test_what_is_missing_inside_a_field_is_named_with_it(read: Callable) -> None:
    """A part of a field goes by both names, as it does in a sheet's heading and a new season's comments."""
    _, errors = read(
        "batches:\n- {batch: E1, date: 2026-07-10, harvests: [H1], status: organic, drying: {method: fan}}\n"
    )
    assert ["`drying.from` is missing"] == [error.message.split(";")[0] for error in errors]


@pytest.mark.parametrize(("typed", "means"), [("yes", True), ("No", False), ("true", True), ("FALSE", False)])
def test_yes_and_no(typed: str, means: bool, read: Callable) -> None:
    """Yes and no in either form, where the schema asks for them."""
    season, _ = read(f"bagging:\n{BAG}, secured: {typed}}}\n")
    frame = season.table("bagging")
    assert "boolean" == str(frame["secured"].dtype)
    assert means == frame["secured"].iat[0]


@pytest.mark.parametrize(
    ("field", "line", "column", "says"),
    [
        ("bag: B2", 3, 2, "`bag` stands twice in this record (first on line 2); keep one"),
        ("covred: 2026-01-01", 3, 2, "there is no field `covred`; did you mean `covered`?"),
        ("qqqq: 1", 3, 2, "there is no field `qqqq`; the fields here are: bag, tree, covered, tag,"),
        ("<<: x", 3, 2, "'<<' would copy another record in; write the fields out"),
        ("<<: {tree: T2}", 3, 2, "'<<' would copy another record in"),
        ("[a]: 1", 3, 2, "a field's name must be plain text"),
        ("? {a: b}\n : 1", 3, 4, "a field's name must be plain text"),
        ("secured: maybe", 3, 11, "`secured` takes yes or no, and here stands 'maybe'"),
        ("secured: [yes]", 3, 11, "`secured` takes one value, and here stands a list"),
        ("note: {a: b}", 3, 8, "`note` takes one value, and here stands several fields"),
        ("outcome: sett", 3, 11, "`outcome` says 'sett'; did you mean 'set'? Allowed: set, dropped, lost"),
        ("outcome: x", 3, 11, "`outcome` says 'x'; write one of: set, dropped, lost"),
        ("tag: T1", 3, 7, "`tag` takes fields of its own (date, variety, tree, bag), each on a line"),
        ("tag: [T1]", 3, 7, "`tag` takes fields of its own"),
        ("tag: {dat: 2026-02-01}", 3, 8, "there is no field `dat`; did you mean `date`?"),
        ("tag: {date: 2026-02-30}", 3, 14, "`date` says '2026-02-30'; the calendar has no such day"),
        ("uncovered: 2026-02-29", 3, 13, "the calendar has no such day"),
        ("uncovered: 0000-01-01", 3, 13, "the calendar has no such day"),
        ("uncovered: 3 March", 3, 13, "`uncovered` says '3 March'; write a day of the calendar"),
        ("checks: today", 3, 10, "`checks` takes a list; write [today], or a dash and a line for each"),
        ("checks: {date: 2026-02-01}", 3, 10, "`checks` takes a list: begin each entry with a dash"),
        ("checks: [{date: 2026-02-01}]", 3, 11, "`condition` is missing"),
        ("evidence: {a: b}", 3, 12, "`evidence` takes a file's path or a list of paths"),
        ("evidence: [a, ~]", 3, 16, "an entry of `evidence` is empty"),
        ("evidence: []", 3, 12, "`evidence` needs at least 1 entry"),
        ("note: '  '", 3, 8, "`note` says '  '"),
        (r'note: "a\x1b[31m"', 3, 8, "`note` holds a control character"),
    ],
)  # fmt: skip
def test_a_faulty_record_is_left_out_and_named(
    field: str, line: int, column: int, says: str | None, read: Callable
) -> None:
    """Each fault is told at its line and column; the record is left out, its neighbours are read."""
    season, errors = read(
        f"bagging:\n- {{bag: B1, tree: T1, covered: 2026-02-01,\n {field}}}\n"
        "- {bag: B3, tree: T1, covered: 2026-02-02}\n"
    )
    assert [(line, column)] == [(error.line, error.column) for error in errors]
    assert says in errors[0].message
    assert errors[0].message.endswith("[bagging B1 is left out]")
    assert ["bagging B1"] == [error.left_out for error in season.left_out]
    assert ["B3"] == season.table("bagging")["bag"].tolist()
    assert [1] == season.table("bagging")["at"].tolist()


@pytest.mark.parametrize(
    ("table", "record", "says"),
    [
        ("harvests", f"{{harvest: H1, {PICKED}, fruits: 1.5}}", "whole number, and here stands '1.5'"),
        ("harvests", f"{{harvest: H1, {PICKED}, fruits: -1}}", "`fruits` says -1; it can't be below 0"),
        ("harvests", f"{{harvest: H1, {PICKED}, fruits: 3, weight: 4}}", "`weight`: '4' has no unit"),
        ("harvests", f"{{harvest: H 1, {PICKED}, fruits: 3}}", "`harvest` says 'H 1'; use letters, digits"),
        (
            "harvests",
            f"{{harvest: \u201cH1\u201d, {PICKED}, fruits: 3}}",
            "; curly quotes count as part of it; leave them out",
        ),
        (
            "harvests",
            f"{{harvest: CB\u201326\u201401, {PICKED}, fruits: 3}}",
            "; the long dash in it is no hyphen; write it with the short one: CB-26-01",
        ),
        (
            "harvests",
            "{harvest: H1, date: 2026\u201306\u201308, status: organic, fruits: 3}",
            "; the long dash in it is no hyphen; write it with the short one: 2026-06-08",
        ),
        ("lots", f"{{lot: L1, {PACKED}, sources: [{{batch: E1, weight: 3 ft}}]}}", "'3 ft' has no unit"),
    ],
)  # fmt: skip
def test_numbers_and_quantities_are_held_to_their_form(
    table: str, record: str, says: str, read: Callable
) -> None:
    """Whole numbers, quantities and identifiers say what they take."""
    season, errors = read(f"{table}:\n- {record}\n")
    assert 1 == len(errors)
    assert says in errors[0].message
    assert 0 == len(season.table(table))


def test_words_come_from_the_profile(read: Callable) -> None:
    """What a crop allows is asked once, by the crop's name; other words are refused with the list."""
    asked: list[str] = []

    def words_of(crop: str) -> dict[str, tuple[str, ...]]:
        asked.append(crop)
        return {"sexes": ("hermaphrodite", "female")}

    season, errors = read(
        "trees:\n- {tree: T1, planting: P1, sex: female}\n- {tree: T2, planting: P1, sex: hermafrodite}\n"
        "- {tree: T3, planting: P1, sex: x}\n",
        words_of=words_of,
    )
    assert ["papaya"] == asked
    assert ["T1"] == season.table("trees")["tree"].tolist()
    assert [
        (
            "records.yaml:3:33: `sex` says 'hermafrodite'; did you mean 'hermaphrodite'? "
            "Allowed: hermaphrodite, female [trees T2 is left out]"
        ),
        "records.yaml:4:33: `sex` says 'x'; write one of: hermaphrodite, female [trees T3 is left out]",
    ] == [error.text() for error in errors]


def test_all_faults_of_a_record_in_one_run(read: Callable) -> None:
    """Wrong values, unknown fields and missing ones of one record are told together."""
    _, errors = read("bagging:\n- bag: B1\n  covred: 2026-01-01\n  secured: perhaps\n  outcome: x\n")
    told = [(error.line, error.message.partition("`")[2].partition("`")[0]) for error in errors]
    assert [(2, "tree"), (3, "covred"), (4, "secured"), (5, "outcome")] == told


def test_a_flood_of_faults_is_cut_short(read: Callable) -> None:
    """A record of ten thousand unknown fields gives a bounded number of errors."""
    fields = "".join(f"  f{n}: 1\n" for n in range(10_000))
    season, errors = read(f"bagging:\n- bag: B1\n  tree: T1\n  covered: 2026-02-01\n{fields}")
    assert 40 == len(errors)
    assert 1 == len(season.left_out)


def test_own_names_in_the_season_mapping(write: Callable) -> None:
    """Review triggers are named by the grower; each value is a percentage, and no name stands twice."""
    from certgen.records import read_season

    season_text = (
        "season:\n  label: 2026\n  from: 2026-01-01\n  to: 2026-12-31\n  crop: papaya\n"
        "  standards: [us-nop]\n"
        "  operation: {name: Two Streams}\n  review_triggers:\n    mass_balance: 2 %\n"
    )
    season, errors = read_season(write({}, season_text))
    assert () == errors
    assert {"mass_balance": "2 %"} == season.details.review_triggers
    for fault, says in (
        ("    mass_balance: 3 %\n", "a name in `review_triggers` stands twice"),
        ("    [a]: 3 %\n", "a name in `review_triggers` stands twice or isn't plain text"),
        ("    seed: 3 kg\n", "'3 kg' has no unit of percent"),
    ):
        season, errors = read_season(write({}, season_text + fault))
        assert season is None
        assert [10] == [error.line for error in errors]
        assert says in errors[0].message


def test_columns_keep_their_types_when_values_lack(read: Callable) -> None:
    """One record with a field and one without: the column is typed, the gap is a missing value."""
    season, _ = read(
        f"bagging:\n{BAG}, secured: yes, uncovered: 2026-03-01, note: x}}\n"
        "- {bag: B2, tree: T1, covered: 2026-02-01}\n"
    )
    frame = season.table("bagging")
    assert [True, pd.NA] == frame["secured"].tolist()
    assert [False, True] == frame["uncovered"].isna().tolist()
    assert [False, True] == frame["note"].isna().tolist()
