"""A map is read as it was written, and every slip in one is answered in words."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.exchange.importing.column_evidence import fold
from certgen.exchange.importing.column_maps import OPEN, MapError, SheetMap, Target
from certgen.exchange.importing.map_files import map_text, parse_map, read_map

COVERS = ("certgen.exchange.importing.column_maps", "certgen.exchange.importing.map_bounds")

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12)
WORDS = st.dictionaries(
    TEXTS, st.one_of(TEXTS, st.sampled_from(["yes", "no", "ignore", "2026-01-02", "1e3", "?"])), max_size=3
).filter(lambda words: len({fold(typed) for typed in words}) == len(words))


def targets(field: str) -> st.SearchStrategy[Target | None]:
    """What a column may be mapped to."""
    said = st.builds(
        Target,
        st.just(field),
        unit=st.sampled_from(["", "g", "°C"]),
        words=WORDS,
        drop_prefix=st.one_of(st.just(""), TEXTS),
        add_prefix=st.one_of(st.just(""), TEXTS),
        digits=st.integers(0, 12),
        ranges=st.booleans(),
        down=st.booleans(),
    )
    cut = st.builds(Target, st.just("tag.date"), cut=TEXTS, fields=st.just(("tag.date", "tag.tree")))
    return st.one_of(st.none(), said, cut if field == "tag.date" else said)


@st.composite
def sheet_maps(draw: st.DrawFn) -> SheetMap:
    """A map of one sheet."""
    names = draw(st.lists(TEXTS, min_size=4, max_size=4, unique=True))
    fields = ["bag", "tree", "covered", "tag.date"]
    columns = {name: draw(targets(field)) for name, field in zip(names, fields, strict=True)}
    return SheetMap(
        draw(TEXTS),
        "bagging",
        columns,
        dates=draw(st.sampled_from(["", "dmy", "mdy", OPEN])),
        constants={"note": draw(TEXTS)} if draw(st.booleans()) else {},
        where=draw(st.sampled_from(["", names[0]])),
        repeats=draw(st.booleans()),
        also=draw(st.sampled_from([(), (SheetMap("", "trees", {names[0]: Target("tree")}),)])),
    )


@given(sheet_maps(), TEXTS)
@settings(max_examples=60, deadline=None)
def test_a_map_is_read_as_it_was_written(sheet_map: SheetMap, remark: str) -> None:
    """Whatever its words, prefixes and constants are, and whatever stands behind its lines."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "map.yaml"
        remarks = {(sheet_map.sheet, heading): remark for heading in sheet_map.columns}
        path.write_text(map_text([sheet_map], remarks), encoding="utf-8", newline="")

        (found,) = read_map(path).values()

    assert (sheet_map.sheet, sheet_map.columns) == (found.sheet, found.columns)
    assert (sheet_map.constants, sheet_map.where, sheet_map.repeats) == (
        found.constants,
        found.where,
        found.repeats,
    )
    assert [one.columns for one in sheet_map.also] == [one.columns for one in found.also]


def test_a_map_of_before_means_what_it_meant(tmp_path: Path) -> None:
    """Fields, units, `ignore`, lists and dates are read as they always were."""
    text = """sheets:
  Lots:
    table: lots
    dates: dmy
    columns: {Lot: lot, "Weight (kg)": {field: weight, unit: kg}, Remarks: ignore}
  Checks: {table: bagging, list: checks, columns: {Bag: in bag, Day: date}}
"""
    (tmp_path / "map.yaml").write_text(text)
    columns = {"Lot": Target("lot"), "Weight (kg)": Target("weight", "kg"), "Remarks": None}

    assert {
        "Lots": SheetMap("Lots", "lots", columns, dates="dmy"),
        "Checks": SheetMap("Checks", "bagging", {"Bag": Target("in bag"), "Day": Target("date")}, "checks"),
    } == read_map(tmp_path / "map.yaml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "no column map"),
        ("a: 1", "no `sheets:`"),
        ("sheets: {x: {table: bags, columns: {}}}", "no table 'bags'"),
        ("sheets: {x: {table: bagging}}", "needs `table:` and `columns:`"),
        ("sheets: {x: {table: bagging, columns: {A: bagg}}}", "did you mean `bag`"),
        ("sheets: {x: {table: bagging, columns: {A: bag, B: bag}}}", "two columns"),
        ("sheets: {x: {table: bagging, columns: {A: [1]}}}", "no field"),
        ("sheets: {x: {table: bagging, list: tag, columns: {A: bag}}}", "no list of records"),
        ("sheets: {x: {table: bagging, dates: ymd, columns: {A: bag}}}", "dmy or mdy"),
        ("sheets: {x: {table: bagging, constant: {a: b}, columns: {}}}", "did you mean `constants`"),
        ("sheets: {x: {table: trees, columns: {No: tree}}}", "put it in quotes"),
        ("sheets: {x: {table: bagging, constants: [a], columns: {}}}", "a colon"),
        ("sheets: {x: {table: bagging, constants: {bagg: 1}, columns: {}}}", "did you mean `bag`"),
        ("sheets: {x: {table: bagging, where: B, columns: {A: bag}}}", "none of its columns"),
        ("sheets: {x: {table: bagging, also: 3, columns: {A: bag}}}", "further tables"),
        (
            "sheets: {x: {table: bagging, also: [{table: ignore, columns: {}}], columns: {}}}",
            "table of its own",
        ),
        ("sheets: {x: {table: bagging, columns: {A: {field: bag, cut: '/'}}}}", "go together"),
        ("sheets: {x: {table: bagging, columns: {A: {field: bag, digits: 99}}}}", "whole number up to"),
        ("sheets: {x: {table: bagging, columns: {A: {field: bag, words: [a]}}}}", "a colon"),
        ("sheets: {x: {table: bagging, columns: {A: {field: bag, words: {a: [b]}}}}}", "no list"),
        ("sheets: {x: {table: lots, columns: {A: sources.x.batch}}}", "no field"),
    ],
)
def test_a_wrong_map_says_what_to_mend(tmp_path: Path, text: str, said: str) -> None:
    """Every slip in a map is answered in words."""
    (tmp_path / "map.yaml").write_text(text)

    with pytest.raises(MapError, match=said):
        read_map(tmp_path / "map.yaml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: &a [x, x]\nsheets: {bagging: {table: *a, columns: {}}}\n", "write out what is meant"),
        ("sheets: " + "[" * 200_000, "no column map that can be read"),
        ("sheets:\n" + "- " * 5_000 + "x\n", "deeper in one another"),
        ("sheets: {bagging: {table: bagging, columns: {a: 2026-02-30}}}\n", "no column map that can be read"),
    ],
)
def test_a_map_made_to_fill_a_machine_is_refused(tmp_path: Path, text: str, said: str) -> None:
    """References to references, lists without end and days of no calendar are refused in a sentence."""
    (tmp_path / "map.yaml").write_text(text)

    with pytest.raises(MapError, match=said):
        read_map(tmp_path / "map.yaml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{Tree: tree, Tree: row}", "line 4: 'Tree' is said twice"),
        ("{Sex: {field: sex, words: {H: female, 'h.': male}}}", "'h.' means 'female' and 'male'"),
        ("{Sex: {field: sex, words: {H: " + "x" * 2000 + "}}}", "over 1000 signs"),
        ("{Tree: {field: tree, digits: yes}}", "`digits` is a whole number"),
    ],
)
def test_contradictory_answers_are_refused(text: str, said: str) -> None:
    """Of two answers one would be passed over in silence."""
    with pytest.raises(MapError, match=re.escape(said)):
        parse_map("map", f"sheets:\n  S:\n    table: trees\n    columns: {text}\n")


def test_what_commas_are_stands_in_the_map() -> None:
    """And is read again; another word for it is refused."""
    told = SheetMap("S", "lots", {"g": Target("weight", "g")}, decimal="comma")

    assert {"S": told} == parse_map("map", map_text([told]))
    with pytest.raises(MapError, match="write comma"):
        parse_map("map", map_text([told]).replace("decimal: comma", "decimal: point"))
