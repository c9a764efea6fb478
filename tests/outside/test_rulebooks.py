"""Figures and items of the rulebooks, each beside the public text that it was read in.

The right-hand side is written out by hand from that text. What nobody read is not here.
"""

from __future__ import annotations

from datetime import date

import pytest

from certgen.coop.between.visits import list_figures, size_sample
from certgen.figures.tables.hermetic import AGRICULTURAL, VEGETABLE
from certgen.standards import RULEBOOKS, coverage, load_rulebook

COVERS = ("certgen.coop.between.visits", "certgen.standards.rulebook", "certgen.standards.loader")


@pytest.mark.parametrize(
    ("rulebook", "demand", "value", "clause"),
    [
        # United States Code title 7 §6510(a)(5), read.
        ("us-nop", "container_contains_nothing", ("synthetic fungicide", "preservative", "fumigant"),
         "7 USC 6510(a)(5)"),
        # 7 CFR 205.202(b) with 7 USC 6504(2): three years immediately before the harvest, read.
        ("us-nop", "land_years", 3, "205.202(b)"),
        # 7 CFR 205.103(b)(4), read as quoted in public files.
        ("us-nop", "record_years", 5, "205.103(b)(4)"),
        # 7 CFR 205.301, an older text.
        ("us-nop", "organic_share_pct", 95, "205.301"),
        # 7 CFR 205.303(b) and 205.307(a), partly read: packets for retail, and containers that aren't.
        ("us-nop", "retail_label_items", ("operation", "certifier"), "205.303(b)"),
        ("us-nop", "label_items", ("status", "lot"), "205.307(a)(2)"),
        # 7 CFR 205.400(g): the group inspects everyone yearly; 205.403(a)(2)(iii): the certifier a sample.
        ("us-nop", "group_internal_inspections", 1, "205.400(g)"),
        ("us-nop", "group_certifier_root", 1.4, "205.403(a)(2)(iii)"),
        ("us-nop", "group_certifier_pct", 2, "205.403(a)(2)(iii)"),
        ("us-nop", "group_certifier_high_risk", True, "205.403(a)(2)(iii)"),
        ("us-nop", "group_certifier_units", 1, "205.403(a)(2)(iii)"),
        # 7 CFR 205.671 and 205.670(d), partly read.
        # 7 CFR 205.671 and 205.670(d), partly read.
        ("us-nop", "residue_pct_of_tolerance", 5, "205.671"),
        ("us-nop", "certifier_sampling_pct", 5, "205.670(d)"),
        # Regulation (EU) 2018/848 article 9(8)(a): at least 48 hours in advance.
        ("eu", "harvest_notice_hours", 48, "2018/848 9(8)(a)"),
        # Article 9(10)(b),(c), as recital 2 of (EU) 2021/1691 tells it.
        ("eu", "split_records", True, "2018/848 9(10)(b),(c)"),
        # Article 36(1): 2 % of turnover, EUR 25,000, EUR 15,000, 5 ha, 0.5 ha, 15 ha.
        ("eu", "group_cost_pct", 2, "2018/848 36"),
        ("eu", "group_turnover_eur", 25_000, "2018/848 36"),
        ("eu", "group_output_eur", 15_000, "2018/848 36"),
        ("eu", "group_land_ha", 5, "2018/848 36"),
        ("eu", "group_greenhouse_ha", 0.5, "2018/848 36"),
        ("eu", "group_grassland_ha", 15, "2018/848 36"),
        # Article 48: "shall expire on 31 December 2026".
        ("eu", "equivalent_until", "2026-12-31", "2018/848 48"),
        # Article 35: period of validity; 32(1)(a): code of the control body.
        ("eu", "certificate_validity", True, "2018/848 35"),
        ("eu", "control_body_code", True, "2018/848 32(1)(a)"),
        # Annex II part I 1.11, 1.8.1 and 1.8.2.
        ("eu", "cleaning_agents", True, "2018/848 annex II 1.11"),
        ("eu", "material_for_food_only", True, "2018/848 annex II 1.8.1"),
        ("eu", "mother_plant_seasons", 2, "2018/848 annex II 1.8.2"),
        # (EU) 2021/771 article 2(e): all members at least annually.
        ("eu", "group_internal_inspections", 1, "2021/771 2(e)"),
        # (EU) 2021/279 articles 4 and 7.
        ("eu", "group_members_max", 2000, "2021/279 4"),
        ("eu", "group_one_per_product", True, "2021/279 4"),
        ("eu", "group_reinspected_pct", 5, "2021/279 7"),
        ("eu", "group_reinspected_min", 10, "2021/279 7"),
        ("eu", "group_members_sampled_pct", 2, "2021/279 7"),
        # 7 USC 1571(b): up to a pound at the standard four items, over it eight.
        ("seed-law", "small_container_lb", 1, "7 USC 1571(b)"),
        ("seed-law", "label_items_to_1_lb", ("kind", "variety", "hybrid", "shipper"), "7 USC 1571(b)"),
        ("seed-law", "label_items_over_1_lb",
         ("kind", "variety", "hybrid", "shipper", "lot", "germination", "hard seed", "tested"),
         "7 USC 1571(b)"),
        # 7 USC 1572: three years.
        ("seed-law", "seed_record_years", 3, "7 USC 1572"),
        # 7 CFR 201.30a: five calendar months, 24 hermetic.
        ("seed-law", "ship_by_months", 5, "201.30a"),
        ("seed-law", "ship_by_months_hermetic", 24, "201.30a"),
        # 7 CFR 201.31a(a) and 201.36c(d): letters of at least 8 point; 201.36c: 6.0 % for all others.
        ("seed-law", "treated_label_pt", 8, "201.31a(a)"),
        ("seed-law", "hermetic_label_pt", 8, "201.36c"),
        ("seed-law", "hermetic_moisture_pct", 6.0, "201.36c"),
        ("seed-law", "label_lot_matches_record", True, "201.30b"),
    ],
)  # fmt: skip
def test_a_demand_is_what_its_text_says(rulebook, demand, value, clause) -> None:
    """Value and clause."""
    found = load_rulebook(rulebook).demands[demand]

    assert (value, f"{rulebook}:{clause}") == (found.value, found.clause)


# 7 CFR 205.403(a)(2)(iii): the higher of 1.4 × √members and 2 %. 1.4 × √10 is 4.43, rounded up; the two meet
# at 4,900 members. Derived.
@pytest.mark.parametrize(
    ("members", "size"), [(10, 5), (25, 7), (100, 14), (4900, 98), (4901, 99), (10_000, 200)]
)
def test_the_certifiers_sample_of_a_group(members, size) -> None:
    """A part of a member is rounded up."""
    assert size == size_sample(("us-nop",), members)[0]


# (EU) 2021/279 article 7: 5 % of the members re-inspected; all, if there are ten or fewer.
@pytest.mark.parametrize(("members", "size"), [(1, 1), (9, 9), (10, 10), (11, 10), (200, 10), (201, 11)])
def test_re_inspected_members_of_a_group(members, size) -> None:
    """Ten at least, and never more than there are."""
    assert size == size_sample(("eu",), members)[0]


@pytest.mark.parametrize("standard", ["us-nop", "eu"])
def test_the_groups_own_inspections_reach_everyone(standard) -> None:
    """7 CFR 205.400(g) and (EU) 2021/771 article 2(e): every member, whatever the certifier's sample is."""
    (own,) = (one for one in list_figures((standard,), 73) if one.key == "group_internal_inspections")

    assert "all 73 members, by the group itself" == own.here


# How each clause was read.
@pytest.mark.parametrize(
    ("clause", "mark"),
    [
        ("us-nop:7 USC 6510(a)(5)", "read"),
        ("us-nop:7 USC 6510(a)(6)", "read"),
        ("us-nop:205.272(a)", "read"),
        ("us-nop:205.272(b)(1)", "partly read"),
        ("us-nop:205.272(b)(2)", "from memory"),
        ("us-nop:205.2 commingling", "from memory"),
        ("us-nop:205.303(b)", "partly read"),
        ("us-nop:205.310", "read"),
        ("us-nop:205.403(b)", "partly read"),
        ("us-nop:205.403(d)(4)", "read"),
        ("us-nop:205.403(d)(5)", "from memory"),
        ("us-nop:205.406(b)", "from memory"),
        ("us-nop:205.671", "partly read"),
        ("eu:2018/848 9(8)(a)", "partly read"),
        ("eu:2018/848 9(9)", "from memory"),
        ("eu:2018/848 9(10)(b),(c)", "read"),
        ("eu:2018/848 30(1)", "partly read"),
        ("eu:2018/848 34(5)", "from memory"),
        ("eu:2018/848 annex II 1.8.5", "read"),
        ("eu:2021/771 1(4)(a)-(e)", "read"),
        ("eu:2021/771 1(5)(a)-(i)", "read"),
        ("eu:2021/2325 3", "read"),
        ("seed-law:201.30a", "read"),
        ("seed-law:201.36c", "read"),
        ("seed-law:7 USC 1571(b)", "read"),
        ("canada:5.1.7", "partly read"),
    ],
)
def test_a_clause_says_how_it_was_read(clause, mark) -> None:
    """No clause is called read that wasn't."""
    assert mark == load_rulebook(clause.partition(":")[0]).clause(clause).mark


def test_editions_name_what_changed_them() -> None:
    """The Union's acts since 2020, and a Canadian edition that is to be confirmed."""
    acts = ("2020/1794", "2021/1691", "2022/474", "2021/771", "2021/279", "2021/2119", "2021/2325")

    assert [] == [act for act in acts if act not in load_rulebook("eu").edition]
    assert "to be confirmed" in load_rulebook("canada").edition
    assert set() == {one.mark for one in load_rulebook("canada").clauses.values()} & {"read"}


def test_equivalence_has_a_day_on_which_it_ends() -> None:
    """Regulation (EU) 2018/848 article 48, as a day that can be reckoned with."""
    demand = load_rulebook("eu").demands["equivalent_until"]

    assert date(2026, 12, 31) == date.fromisoformat(str(demand.value))


def test_no_clause_that_is_gone_is_met_anywhere() -> None:
    """Numbers that were wrong once stand in no rulebook."""
    gone = {"eu:2018/848 9(10)", "eu:2021/771 1(a)", "eu:2021/771 1(b)", "us-nop:205.272", "us-nop:205.504"}

    assert set() == gone & set(coverage())


def test_seed_law_says_that_no_table_read_has_papaya() -> None:
    """Not that the Act doesn't reach it; and nothing is below a standard that there isn't."""
    book = load_rulebook("seed-law")

    assert "in no table read" in book.scope
    assert "outside the Act" not in str(book)
    assert ("6.0", "6.0") == (AGRICULTURAL["all others"], VEGETABLE["all others"])
    assert [] == [key for key in RULEBOOKS if "germination_standard" in load_rulebook(key).demands]
