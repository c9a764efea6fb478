from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from certgen.examination import examine_season
from certgen.lineage import Node, build_lineage
from certgen.records import Place
from certgen.records.joining.farm import join_seasons
from certgen.records.tables import load_tables
from certgen.rules import CRASHED, RULES, Case, Finding, Rule, run_rules
from certgen.standards import load_profile, load_rulebook

ON = date(2026, 10, 31)
# Each season is written and read: few of them, and none made smaller for minutes when one fails.
GENERATED = settings(
    max_examples=12,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def case_of(season):
    """The season as the rules see it."""
    joined = join_seasons(season)
    return Case(joined, build_lineage(joined), load_profile("papaya"), (load_rulebook("us-nop"),), ON)


def rule_of(check, weight="unproven", after=(), slug="made-up"):
    """A registry of one made-up rule."""
    return {slug: Rule(slug, weight, ("us-nop:205.103(b)(2)",), "Mend it.", after, "Why.", "made", check)}


def farm(seasons):
    """One tree, one bag, one batch, one lot."""
    return seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1"), seasons.sample("S2", "T2")],
        bagging=[seasons.bag("B1", "T1")],
        harvests=[seasons.harvest("H1", ["B1"])],
        batches=[seasons.batch("X1", ["H1"])],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
        explanations=[
            {"rule": "made-up", "about": ("T1",), "reason": "so", "by": "R. A.", "date": date(2026, 7, 1)}
        ],
    )


@pytest.mark.parametrize("slug", RULES)
def test_every_rule_survives_the_empty_season(slug, seasons):
    """A column that is misspelt or lost shows at once; nothing is found where nothing stands."""
    found = run_rules(case_of(seasons.season_of()), {slug: RULES[slug]})

    assert ((), (), {}) == (found.gaps, found.crashed, found.standings.judge())


@given(data=st.data())
@GENERATED
def test_clean_seasons_have_no_gap_that_touches_a_lot(data, seasons):
    """Seasons that are clean by construction are traced to the last milligram."""
    season = data.draw(seasons.clean_seasons())
    result = examine_season(season, ON)

    assert [] == [gap for gap in result.gaps if gap.weight != "advice"]
    assert () == result.crashed
    assert {lot.weight_mg for lot in result.lots.values()} == {lot.traced_mg for lot in result.lots.values()}


@given(data=st.data())
@GENERATED
def test_no_rule_fails_on_a_season_with_a_lost_record_or_field(data, seasons):
    """Whatever is missing, each check comes to an end, and mass is conserved."""
    tables = data.draw(seasons.clean_tables())
    filled = sorted(name for name, records in tables.items() if records)
    table = data.draw(st.sampled_from(filled))
    records = tables[table]
    at = data.draw(st.integers(0, len(records) - 1))
    # What a kind of record can't be without, the reader asks for; the rules never see it missing.
    parts = load_tables()[table].schema.get("allOf", ())
    needed = {name for part in parts for name in part.get("then", {}).get("required", ())}
    fields = load_tables()[table].fields
    forgettable = sorted(name for name in records[at] if not fields[name].required and name not in needed)
    # An empty name takes the whole record away.
    field = data.draw(st.sampled_from(["", *forgettable]))
    lost = {key: value for key, value in records[at].items() if key != field}
    changed = [*records[:at], *([lost] if field else []), *records[at + 1 :]]
    result = examine_season(seasons.season_of(**{**tables, table: changed}), ON)

    assert () == result.crashed
    assert all(
        lot.weight_mg == lot.traced_mg + lot.unproven_mg + lot.rejected_mg + lot.unaccounted_mg
        for lot in result.lots.values()
    )


def test_findings_with_one_cause_become_one_gap(seasons):
    """The first tells it, the others are places of it, and it reaches what any of them reaches."""

    def check(_):
        """Why."""
        yield Finding("trees", "T1", 0, ("sex",), "first", cause="one")
        yield Finding("trees", "T2", 1, (), "second", cause="one")

    season = farm(seasons)
    gaps, crashed, _ = run_rules(case_of(season), rule_of(check))

    assert () == crashed
    assert [("first", ("T1", "T2"), ("L1",))] == [(gap.message, gap.ids, gap.lots) for gap in gaps]
    assert season.place("trees", 0, "sex") == gaps[0].place
    assert (season.place("trees", 1),) == gaps[0].others
    assert "so" == gaps[0].explanation.reason


def test_a_gap_that_reaches_no_lot_is_advice_unless_the_finding_says_otherwise(seasons):
    """Tree T2 stands behind nothing: its gap is advice."""

    def check(_):
        """Why."""
        yield Finding("trees", "T1", 0)
        yield Finding("trees", "T2", 1, message="loose")
        yield Finding("trees", "T2", 1, message="told", weight="rejects")

    gaps, _, _ = run_rules(case_of(farm(seasons)), rule_of(check))

    assert {"": "unproven", "loose": "advice", "told": "rejects"} == {gap.message: gap.weight for gap in gaps}


def test_a_rule_passes_over_records_that_an_earlier_one_flagged(seasons):
    """`after` stops one fault from being told twice."""

    def first(_):
        """Why."""
        yield Finding("trees", "T1", 0)

    def second(_):
        """Why."""
        yield Finding("trees", "T1", 0)
        yield Finding("trees", "T2", 1)

    rules = {**rule_of(first), **rule_of(second, after=("made-up",), slug="made-later")}
    gaps, _, _ = run_rules(case_of(farm(seasons)), rules)

    assert [("made-up", "T1"), ("made-later", "T2")] == [(gap.rule, gap.id) for gap in gaps]


def test_a_rule_that_fails_becomes_a_gap_and_hides_no_other(seasons, monkeypatch):
    """It names the rule, leaves every lot unproven and is counted as a failure of the tool."""

    def broken(_):
        """Why."""
        yield Finding("trees", "T2", 1)
        raise ZeroDivisionError("by nothing")

    def sound(_):
        """Why."""
        yield Finding("trees", "T1", 0)

    rules = {**rule_of(broken), **rule_of(sound, slug="made-sound")}
    monkeypatch.setattr("certgen.examination.RULES", rules)
    result = examine_season(farm(seasons), ON)

    assert ["made-sound", CRASHED] == sorted((gap.rule for gap in result.gaps), reverse=False)
    assert ["made-up"] == [crash.rule for crash in result.crashed]
    assert "made-up" in next(gap for gap in result.gaps if gap.rule == CRASHED).message
    assert 3 == result.exit_code
    assert "unproven" == result.lots["L1"].standing


def test_want_of_memory_is_no_fault_of_a_rules(seasons):
    """It ends the examination, for whoever limited it to tell; no lot is judged without the rule."""

    def hungry(_):
        """Why."""
        yield Finding("trees", "T1", 0)
        raise MemoryError

    with pytest.raises(MemoryError):
        run_rules(case_of(farm(seasons)), rule_of(hungry))


def test_only_clauses_of_the_seasons_standards_and_of_practice_are_cited(seasons):
    """A season under one rulebook isn't told about another."""

    def check(_):
        """Why."""
        yield Finding("trees", "T1", 0)

    rules = rule_of(check)
    rules = {
        slug: replace(one, clauses=("us-nop:205.272(a)", "eu:2018/848 11", "practice:rinses"))
        for slug, one in rules.items()
    }
    gaps, _, _ = run_rules(case_of(farm(seasons)), rules)

    assert ("us-nop:205.272(a)", "practice:rinses") == gaps[0].clauses


def test_the_records_a_fault_stands_at_can_be_others_than_where_it_is_written(seasons):
    """`reaches` says where; nothing there means that no lot is touched."""

    def check(_):
        """Why."""
        yield Finding("blocks", "East", 0, reaches=(Node("harvests", "H1"),))
        yield Finding("blocks", "East", 0, reaches=(), message="touches nothing")

    gaps, _, _ = run_rules(case_of(farm(seasons)), rule_of(check))

    assert {("L1",): "unproven", (): "advice"} == {gap.lots: gap.weight for gap in gaps}


def test_findings_that_reach_the_same_records_share_what_rests_on_them(seasons):
    """Thousands of rounds may each cover the same thousands of bags; what is named besides stays apart."""
    reached = (Node("harvests", "H1"), Node("trees", "T2"), Node("harvests", "H1"))

    def check(_):
        """Why."""
        yield Finding("blocks", "East", 0, message="a", reaches=reached)
        yield Finding("blocks", "East", 0, message="b", reaches=reached)
        yield Finding("blocks", "East", 0, message="c", reaches=reached, names=("L9",))

    found = {gap.message: gap for gap in run_rules(case_of(farm(seasons)), rule_of(check)).gaps}

    assert found["a"].starts is found["b"].starts
    assert (Node("harvests", "H1"), Node("trees", "T2")) == found["b"].starts
    assert (("L1",), ("L1",), ("L1", "L9")) == tuple(found[name].lots for name in "abc")


def test_gaps_stand_in_the_order_of_the_files(seasons):
    """By record, then by field, then by rule and message; a record as a whole comes before its fields."""

    def first(_):
        """Why."""
        yield Finding("trees", "T1", 1, ("sex",), "by name")
        yield Finding("trees", "T1", 1, (), "whole")
        yield Finding("trees", "T1", 10, (), "tenth")
        yield Finding("trees", "T1", 2, ("sources", 10), "far down")
        yield Finding("trees", "T1", 2, ("sources", 9, "lot"), "within")
        yield Finding("trees", "T1", 2, ("sources", 9), "b")
        yield Finding("trees", "T1", 2, ("sources", 9), "a")
        yield Finding("blocks", "East", 0, (), "another table")
        yield Finding("season", "2026", None, ("previous",), "the season")

    def second(_):
        """Why."""
        yield Finding("trees", "T1", 2, ("sources", 9), "a second rule")

    trees = [seasons.tree(f"T{number}") for number in range(12)]
    season = seasons.season_of(blocks=[seasons.block()], plantings=[seasons.planting()], trees=trees)
    rules = {**rule_of(second, slug="z-rule"), **rule_of(first)}
    gaps, _, _ = run_rules(case_of(season), rules)

    assert [
        "another table", "the season", "whole", "by name", "a", "b", "a second rule", "within", "far down",
        "tenth",
    ] == [gap.message for gap in gaps]  # fmt: skip


def test_what_a_finding_says_of_itself_comes_before_the_rules_word(seasons):
    """Weight, clauses and remedy; of several findings of one cause the first one's."""

    def check(_):
        """Why."""
        yield Finding("trees", "T1", 0, message="plain")
        given = {"weight": "advice", "clauses": ("practice:rinses",), "remedy": "Rinse.", "supply": "water"}
        yield Finding("trees", "T1", 0, message="own", cause=1, take_out=(Node("lots", "L1"),), **given)
        yield Finding("trees", "T1", 1, message="later", cause=1, weight="rejects", touches="rest")

    gaps, _, _ = run_rules(case_of(farm(seasons)), rule_of(check))
    own, plain = sorted(gaps, key=lambda gap: gap.message)

    assert ("unproven", ("us-nop:205.103(b)(2)",), "Mend it.", None) == (
        plain.weight, plain.clauses, plain.remedy, plain.supply,
    )  # fmt: skip
    assert ("advice", ("practice:rinses",), "Rinse.", "water") == (
        own.weight, own.clauses, own.remedy, own.supply,
    )  # fmt: skip
    assert ((Node("lots", "L1"),), "own", 1) == (own.take_out, own.touches, len(own.others))


def test_a_finding_may_stand_in_no_record(seasons):
    """At a place of its own, or at the season's mapping."""

    def check(_):
        """Why."""
        yield Finding("evidence", "a.txt", None, message="file", place=Place("evidence/a.txt", ()))
        yield Finding("season", "2026", 0, ("crop",), message="crop")
        yield Finding("lots", "L1", None, ("label",), message="label")

    season = farm(seasons)
    gaps, _, _ = run_rules(case_of(season), rule_of(check))

    assert {
        "file": Place("evidence/a.txt", ()),
        "crop": season.season_place("crop"),
        "label": season.season_place("label"),
    } == {gap.message: gap.place for gap in gaps}


def test_an_explanation_stands_beside_the_gap_of_its_rule_and_record(seasons):
    """At any of the records that the gap was found at; the first of several is shown, and no other rule's."""

    def check(_):
        """Why."""
        yield Finding("trees", "T2", 1, message="one", cause=1)
        yield Finding("trees", "T1", 0, message="two", cause=1)
        yield Finding("trees", "T2", 1, message="alone")

    gaps, _, _ = run_rules(case_of(farm(seasons)), {**rule_of(check), **rule_of(check, slug="made-other")})

    assert {("made-up", "one"): "so", ("made-up", "alone"): None,
            ("made-other", "one"): None, ("made-other", "alone"): None} == {
        (gap.rule, gap.message): gap.explanation and gap.explanation.reason for gap in gaps
    }  # fmt: skip


def test_without_a_choice_every_rule_runs(seasons):
    """And the one that looks at the others' gaps runs last, on what they found."""
    case = case_of(farm(seasons))
    every, chosen = run_rules(case), run_rules(case, RULES)

    assert (chosen.gaps, chosen.crashed) == (every.gaps, every.crashed)
    assert chosen.standings.judge() == every.standings.judge()
    assert "explanation-idle" in {gap.rule for gap in run_rules(case)[0]}
    assert () == run_rules(case, {})[0]


def test_what_a_gap_reaches_is_what_rests_on_its_records(seasons):
    """Each once, and the same for a second gap there."""

    def check(_):
        """Why."""
        yield Finding("bagging", "B1", 0, message="a")
        yield Finding("bagging", "B1", 0, message="b")
        yield Finding("trees", "T1", 0, message="c", reaches=(Node("trees", "T1"), Node("bagging", "B1")))

    season = farm(seasons)
    gaps, _, _ = run_rules(case_of(season), rule_of(check))
    reached = {gap.message: gap.reaches for gap in gaps}

    assert reached["a"] == reached["b"]
    assert {Node("harvests", "H1"), Node("batches", "X1"), Node("lots", "L1")} <= set(reached["a"])
    assert set(reached["a"]) < set(reached["c"])
    assert len(set(reached["c"])) == len(reached["c"])


def test_rules_have_their_turn_and_see_what_those_before_them_found(seasons):
    """The claim sees the records' gaps; the sowing and the standings see what the lots are worth; the last
    see all gaps. In the season's files they stand side by side."""
    seen = {}

    def check_in(turn):
        def check(case):
            """Why."""
            standing = None if case.standings is None else case.standings.judge()["L1"].standing
            seen[turn] = ([gap.rule for gap in case.gaps], standing)
            yield Finding("trees", "T2", 1, message=turn)
            if turn == "claim":
                yield Finding("trees", "T1", 0, message="speaks against L1")

        return check

    rules = {
        turn: Rule(turn, "unproven", (), "Mend it.", (), "Why.", "made", check_in(turn), turn)
        for turn in ("gaps", "standings", "sowing", "claim", "records")
    }
    gaps, crashed, standings = run_rules(case_of(farm(seasons)), rules)
    base = ["records", "claim", "claim"]

    assert () == crashed
    assert {
        "records": ([], None),
        "claim": (["records"], None),
        "sowing": (base, "unproven"),
        "standings": ([*base, "sowing"], "unproven"),
        "gaps": ([*base, "sowing", "standings"], "unproven"),
    } == seen
    assert sorted([*base, "sowing", "standings", "gaps"]) == sorted(gap.rule for gap in gaps)
    assert "unproven" == standings.judge()["L1"].standing


def test_what_is_sown_from_doubtful_seed_is_looked_at_until_nothing_changes(seasons):
    """A finding for each lot that isn't proved makes the next one doubtful: the last turn finds nothing new,
    and each is told once."""
    parts = [[{"batch": "X1", "weight": "2 g"}] for _ in range(3)]
    lots = [seasons.lot(f"L{at}", part, 2) for at, part in enumerate(parts, start=1)]
    turns = []

    def first(_):
        """Why."""
        yield Finding("lots", "L1", 0, message="first")

    def next_one(case):
        """Why."""
        standing = {lot: one.standing for lot, one in case.standings.judge().items()}
        turns.append(standing)
        for at in (1, 2):
            if standing[f"L{at}"] != "traced":
                yield Finding("lots", f"L{at + 1}", at, message=f"of L{at}")

    rules = {
        **rule_of(first),
        "sown": Rule("sown", "unproven", (), "", (), "Why.", "made", next_one, "sowing"),
    }
    tables = {**seasons.one_line(), "lots": lots}
    gaps, _, standings = run_rules(case_of(seasons.season_of(**tables)), rules)

    assert ["first", "of L1", "of L2"] == [gap.message for gap in gaps]
    assert {"unproven"} == {one.standing for one in standings.judge().values()}
    assert 3 == len(turns)


def test_of_earlier_seasons_only_what_touches_this_ones_lots_is_told(carried):
    """K1 has stock, and so its faults are told; advice of last year was told last year. What stands in
    this season's own folder is always told."""

    def check(case):
        """Why."""
        trees, bags = case.season.table("trees"), case.season.table("bagging")
        for row, tree in enumerate(trees["tree"].tolist()):
            yield Finding("trees", tree, row, message=f"touches a lot: {tree}")
            yield Finding("trees", tree, row, message=f"advice: {tree}", weight="advice")
        for row, bag in enumerate(bags["bag"].tolist()):
            yield Finding("bagging", bag, row, message=f"no lot: {bag}", reaches=(), weight="unproven")

    gaps, _, _ = run_rules(case_of(carried()), rule_of(check))

    assert {"touches a lot: T1", "touches a lot: T9", "advice: T1", "no lot: B1"} == {
        gap.message for gap in gaps
    }
    assert {"T1": 0, "T9": 1} == {gap.id: gap.row for gap in gaps if gap.table == "trees"}


def test_a_finding_may_name_lots_that_no_gram_of_it_touches(seasons):
    """They stand with the gap, which by itself touches nothing."""

    def check(_):
        """Why."""
        yield Finding("trees", "T2", 1, reaches=(), weight="rejects", names=("L1",))

    gaps, _, standings = run_rules(case_of(farm(seasons)), rule_of(check))

    assert [("rejects", ("L1",), ())] == [(gap.weight, gap.lots, gap.starts) for gap in gaps]
    assert "traced" == standings.judge()["L1"].standing
