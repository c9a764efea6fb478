"""`certgen plan`: what lies ahead, in three forms, from a whole season, a part of one and nothing."""

from __future__ import annotations

import csv
import io
import unicodedata
from pathlib import Path

import pytest
from printed import json_of

from certgen import cli

COVERS = (
    "certgen.cli.writers.plan",
    "certgen.cli.writers.plan_of_lots",
    "certgen.cli.writers.plan_of_pools",
    "certgen.exchange.interchange.plan",
)
ON = ["--on", "2026-11-20"]
GOLDEN = Path(__file__).parent / "golden"
PLANS = {
    "bags": ["--grams", "250", "--variety", "Amber Kestrel", "--ready", "2027-12-01"],
    "pools": ["--prevalence", "2 %", "--prevalence", "20 %", "--price", "gus=4.50"],
    "parents": ["--effective", "25"],
    "seed": ["--promised", "RC-26-1=20g", "--detect", "0.5 %"],
    "pollen": [],
}


def plan(season, kind, *arguments):
    """Runs the command as of the day; gives its exit code."""
    return cli.run(["plan", str(season), "--of", kind, *arguments, *ON])


def as_json(capsys, season, kind, *arguments):
    """What was printed as JSON, checked against its schema."""
    assert 0 == plan(season, kind, *arguments, "--format", "json")
    return json_of(capsys, "plan")


def as_rows(capsys, season, kind, *arguments):
    """What was printed as CSV."""
    assert 0 == plan(season, kind, *arguments, "--format", "csv")
    return list(csv.DictReader(io.StringIO(capsys.readouterr().out)))


@pytest.mark.parametrize("kind", PLANS)
def test_text_stays_as_it_was_read(kind, example_season, golden, capsys):
    """The example season's plans, word for word."""
    assert 0 == plan(example_season, kind, *PLANS[kind])

    golden(GOLDEN / f"plan-{kind}.txt", capsys.readouterr().out)


def test_seed_to_sell_is_told_unless_something_else_is_asked_for(example_season, capsys):
    """Without --of."""
    assert 0 == cli.run(["plan", str(example_season), *ON])
    bare = capsys.readouterr().out
    plan(example_season, "seed")

    assert bare == capsys.readouterr().out


@pytest.mark.parametrize("kind", PLANS)
def test_rows_hold_what_json_holds(kind, example_season, capsys):
    """The same figures, a row a lot or size of pool."""
    found = as_json(capsys, example_season, kind, *PLANS[kind])
    rows = as_rows(capsys, example_season, kind, *PLANS[kind])

    assert kind == found["kind"]
    match kind:
        case "bags":
            assert [str(found["bags_cautious"])] == [row["bags_cautious"] for row in rows]
            assert [str(found["leaf_tests"]["cleared"])] == [row["leaf_tests.cleared"] for row in rows]
        case "pools":
            assert [
                (method["method"], str(size["leaves"]), str(one["tests"]))
                for method in found["methods"]
                for size in method["sizes"]
                for one in size["expected"]
            ] == [(row["method"], row["leaves"], row["tests"]) for row in rows]
        case "parents":
            assert [str(lot["parents_needed"]) for lot in found["lots"]] == [
                row["parents_needed"] for row in rows
            ]
        case "seed":
            assert [str(lot["offered_g"]) for lot in found["lots"]] == [row["offered_g"] for row in rows]
        case _:
            assert [str(lot["carrying"]) for lot in found["lots"]] == [row["carrying"] for row in rows]


@pytest.mark.parametrize("form", ["text", "json", "csv"])
@pytest.mark.parametrize("kind", PLANS)
def test_nothing_on_record_is_told_and_no_fault(kind, form, empty, capsys):
    """What can't be computed is said, with what to record; the crop's figures stand in for bags."""
    arguments = {"bags": ["--grams", "250"], "parents": ["--effective", "25"]}.get(kind, [])

    assert 0 == plan(empty, kind, *arguments, "--format", form)
    shown = capsys.readouterr().out
    if form == "json":
        plan(empty, kind, *arguments, "--format", "json")
        assert kind == json_of(capsys, "plan")["kind"]
    if form == "text":
        says = {
            "bags": "the crop's 30 to 90 %, assumed",
            "pools": "No standing tree is left to screen",
            "parents": "record bags, pickings, runs",
            "seed": "record what is packed",
            "pollen": "record each check of a bag",
        }
        assert says[kind] in " ".join(shown.split())


def test_one_variety_is_planned_for_by_itself(example_season, capsys):
    """Its own bags, runs and lots; both together are all of them."""
    both = as_json(capsys, example_season, "parents", "--effective", "9")["lots"]
    one, other = (
        as_json(capsys, example_season, "parents", "--effective", "9", "--variety", name)["lots"]
        for name in ("Amber Kestrel", "Rosy Cistern")
    )

    assert {lot["lot"] for lot in both} == {lot["lot"] for lot in (*one, *other)}
    assert {"Amber Kestrel"} == {lot["variety"] for lot in one}


def test_masses_are_written_with_or_without_their_unit(example_season, capsys):
    """250, 250 g and 0.25 kg are one mass."""
    plans = [as_json(capsys, example_season, "bags", "--grams", mass) for mass in ("250", "250 g", "0.25 kg")]

    assert plans[0] == plans[1] == plans[2]


def test_a_price_is_only_ever_multiplied(example_season, capsys):
    """Tests times the price; where none was given there is no cost."""
    found = as_json(capsys, example_season, "pools", "--price", "gus=0.10")
    gus, pcr = (
        next(method for method in found["methods"] if method["method"] == key) for key in ("gus", "pcr")
    )

    for size in gus["sizes"]:
        for one in size["expected"]:
            assert one["cost"] == pytest.approx(one["tests"] * 0.1, abs=0.005)
    assert {None} == {one["cost"] for size in pcr["sizes"] for one in size["expected"]}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--of", "bags"], "--grams 250"),
        (["--of", "parents"], "--effective 25"),
        (["--grams", "250"], "--of bags"),
        (["--of", "bags", "--grams", "0"], "no seed at all"),
        (["--of", "bags", "--grams", "-5"], "minus"),
        (["--of", "bags", "--grams", "nan"], "unit"),
        (["--of", "bags", "--grams", "1e300"], "write it like 412 g"),
        (["--of", "bags", "--grams", "12 stone"], "unit"),
        (["--of", "bags", "--grams", "900000 kg"], "nobody bags so many"),
        (["--of", "bags", "--grams", "5", "--variety", "Amber Kestrl"], "Did you mean 'Amber Kestrel'?"),
        (["--of", "bags", "--grams", "5", "--ready", "soon"], "is no day"),
        (["--of", "pools", "--price", "gus"], "gus=4.50"),
        (["--of", "pools", "--price", "gus=cheap"], "is no price"),
        (["--of", "pools", "--price", "gus=nan"], "is no price"),
        (["--of", "pools", "--price", "gus=-1"], "is no price"),
        (["--of", "pools", "--price", "gus=1e99"], "is no price"),
        (["--of", "pools", "--price", "gus=1", "--price", "gus=2"], "twice"),
        (["--of", "pools", "--price", "elisa=3"], "There is no 'elisa'"),
        (["--of", "pools", "--prevalence", "120 %"], "Write it like '5 %'"),
        (["--of", "parents", "--effective", "0"], "below 1"),
        (["--of", "parents", "--effective", "1e9"], "whole number"),
        (["--of", "seed", "--lot", "AK-26-99"], "Did you mean 'AK-26-"),
        (["--of", "seed", "--promised", "AK-26-99=3g"], "Did you mean 'AK-26-"),
        (["--of", "seed", "--promised", "AK-26-1=much"], "--promised"),
        (["--of", "seed", "--promised", "=3g"], "AK-26-1=10g"),
        (["--of", "pollen", "--lot", "AK-26-1"], "--of seed"),
        (["--of", "fruit"], "Choose one of"),
    ],
)
def test_a_wrong_option_is_explained(arguments, said, example_season, capsys):
    """Exit code 2, one sentence, a way out."""
    assert 2 == cli.run(["plan", str(example_season), *arguments])
    shown = " ".join(capsys.readouterr().err.split())
    assert said in shown
    assert "Traceback" not in shown


@pytest.mark.parametrize("kind", PLANS)
def test_plans_hold_nothing_that_acts_on_a_terminal(kind, example_copy, capsys):
    """A lot, tree or variety whose name holds a control character is shown harmless."""
    for path in example_copy.rglob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        text = text.replace("T-306", '"T-3\\e[31m06"').replace("RC-26-3", '"RC-26-3\\e[2J"')
        path.write_text(text, encoding="utf-8")
    for form in ("text", "json", "csv"):
        plan(example_copy, kind, *PLANS[kind], "--format", form)
        shown = capsys.readouterr().out
        assert {"\n"} >= {sign for sign in shown if unicodedata.category(sign) == "Cc"}


def test_a_season_that_was_read_in_part_ends_with_2(example_copy, capsys):
    """As other commands do, with the plan of what was read."""
    lots = example_copy / "lots.yaml"
    lots.write_text(
        lots.read_text(encoding="utf-8").replace("weight: 109.9 g", "weight: heavy", 1), encoding="utf-8"
    )

    assert 2 == plan(example_copy, "seed")
    printed = capsys.readouterr()
    assert "RC-26-1" in printed.out
    assert printed.err


def test_a_folder_that_holds_no_season_is_told_in_json_too(tmp_path, capsys):
    """Only errors, as the schema has it."""
    assert 2 == plan(tmp_path, "seed", "--format", "json")
    assert ["errors"] == list(json_of(capsys, "plan"))
