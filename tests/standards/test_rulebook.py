from __future__ import annotations

import pytest

from certgen.standards import RULEBOOKS, StandardError, demand_kinds, load_rulebook
from certgen.standards.reading import Section
from certgen.standards.rulebook import parse_rulebook

RECALLED = ("codex",)


def data(**changes):
    """A rulebook's data that is right until it is changed."""
    right = {
        "title": "A rulebook",
        "edition": "1",
        "scope": "Tests.",
        "clauses": {"1": {"title": "Land", "asks": "Three years.", "source": "§1", "mark": "read"}},
        "demands": {"land_years": {"value": 3, "clause": "1"}},
    }
    return Section(right | changes, "test.yaml")


def test_a_demand_takes_its_clauses_mark_and_its_kinds_unit() -> None:
    """What is said once in the data is not said again."""
    book = parse_rulebook("test", data())
    demand = book.demand("land_years")

    assert demand is not None
    assert (3, "years", "test:1", "read") == (demand.value, demand.unit, demand.clause, demand.mark)
    assert "Three years." == book.clause(demand.clause).asks


@pytest.mark.parametrize(
    ("demands", "message"),
    [
        ({"land_yeras": {"value": 3, "clause": "1"}}, "unknown demand; add it to demands.yaml"),
        ({"land_years": {"value": 3, "clause": "2"}}, "no clause 'test:2'"),
        ({"land_years": {"value": 3, "clause": "1", "mark": "heard"}}, "expected one of read"),
        ({"land_years": {"value": ["3"], "clause": "1"}}, "a list goes with"),
        ({"label_items": {"value": True, "clause": "1"}}, "a list goes with"),
        ({"search_log": {"value": False, "clause": "1"}}, "leave a demand out"),
        ({"land_years": {"value": 3, "clause": "1", "vaule": 4}}, "unknown entry vaule"),
    ],
)
def test_a_wrong_demand_is_refused_by_its_place(demands, message) -> None:
    """Each mistake in a rulebook's figures is named where it stands."""
    with pytest.raises(StandardError, match=message) as caught:
        parse_rulebook("test", data(demands=demands))

    assert str(caught.value).startswith(f"test.yaml.demands.{next(iter(demands))}")


def test_a_clause_needs_a_mark() -> None:
    """No line of a standard goes without saying how it was read."""
    with pytest.raises(StandardError, match="'mark' is missing"):
        parse_rulebook("test", data(clauses={"1": {"title": "t", "asks": "a", "source": "s"}}))


def test_asking_for_a_demand_that_nobody_knows_is_a_mistake() -> None:
    """A misspelt key is told apart from a standard that asks nothing."""
    assert None is load_rulebook("us-nop").demand("buffer_m")
    with pytest.raises(StandardError, match="unknown demand 'bufer_m'"):
        load_rulebook("us-nop").demand("bufer_m")
    with pytest.raises(StandardError, match="no clause"):
        load_rulebook("us-nop").clause("us-nop:205.999")


@pytest.mark.parametrize(
    ("rulebook", "demand", "value", "clause"),
    [
        # eCFR title 7 part 205, the numbering of 205.103(b) being that of the rule of 2023 (88 FR 3548).
        ("us-nop", "land_years", 3, "us-nop:205.202(b)"),
        ("us-nop", "record_years", 5, "us-nop:205.103(b)(4)"),
        ("us-nop", "documents_status", True, "us-nop:205.103(b)(3)"),
        ("us-nop", "planting_stock_months", 12, "us-nop:205.204(a)(4)"),
        ("us-nop", "label_items", ("status", "lot"), "us-nop:205.307(a)(2)"),
        ("us-nop", "last_certified_operation", True, "us-nop:205.307(b)"),
        # Regulation (EU) 2018/848 annex II part I; Implementing Regulation (EU) 2021/279.
        ("eu", "mother_plant_seasons", 2, "eu:2018/848 annex II 1.8.2"),
        ("eu", "land_years_before_sowing", 2, "eu:2018/848 annex II 1.7.1"),
        ("eu", "harvest_notice_hours", 48, "eu:2018/848 9(8)(a)"),
        ("eu", "group_members_max", 2000, "eu:2021/279 4"),
        ("eu", "group_reinspected_min", 10, "eu:2021/279 7"),
        # Codex GL 32-1999 and CAN/CGSB-32.310, from memory.
        ("codex", "mother_plant_seasons", 2, "codex:annex 1 A seed"),
        ("canada", "buffer_m", 8, "canada:5.2"),
        # United States Code title 7 §1572; eCFR title 7 §§201.30a and 201.36c.
        ("seed-law", "seed_record_years", 3, "seed-law:7 USC 1572"),
        ("seed-law", "ship_by_months", 5, "seed-law:201.30a"),
        ("seed-law", "ship_by_months_hermetic", 24, "seed-law:201.30a"),
        ("seed-law", "hermetic_vapour_g", 0.05, "seed-law:201.36c"),
    ],
)
def test_figures_are_the_published_ones(rulebook, demand, value, clause) -> None:
    """Each figure stands as published, on the clause that sets it."""
    found = load_rulebook(rulebook).demands[demand]

    assert (value, clause) == (found.value, found.clause)


@pytest.mark.parametrize("key", RULEBOOKS)
def test_no_rulebook_sets_a_germination_figure_for_papaya(key) -> None:
    """None was found, so none may be printed as a standard."""
    assert None is load_rulebook(key).demand("germination_standard")


def test_no_canadian_clause_was_read_in_full() -> None:
    """Some are cited elsewhere, none was at hand; the edition is to be confirmed."""
    book = load_rulebook("canada")

    assert "from memory" in book.title
    assert {"from memory", "partly read"} == {one.mark for one in book.clauses.values()}
    assert "to be confirmed" in book.edition


@pytest.mark.parametrize("key", RECALLED)
def test_recalled_rulebooks_say_so_everywhere(key) -> None:
    """What nobody read is not printed as read: title, scope, every clause and every figure say 'from
    memory'.
    """
    book = load_rulebook(key)

    assert "from memory" in book.title
    assert "from memory" in book.scope
    assert {"from memory"} == {one.mark for one in (*book.clauses.values(), *book.demands.values())}


def test_the_number_of_sources_is_practice_and_no_law() -> None:
    """Asking three sources is what certifiers expect; no clause says it."""
    demand = load_rulebook("us-nop").demands["search_min_sources"]

    assert (3, "common practice") == (demand.value, demand.mark)
    assert "no clause" in demand.note


def test_the_labelling_threshold_helps_no_papaya() -> None:
    """The Union's 0.9 % is printed with its bounds, and no other rulebook has a threshold for transgenes."""
    thresholds = {key: load_rulebook(key).demand("gm_label_threshold_pct") for key in RULEBOOKS}
    eu = thresholds.pop("eu")

    assert eu is not None
    assert (0.9, "from memory") == (eu.value, eu.mark)
    assert "helps no papaya lot" in eu.note
    assert {None} == set(thresholds.values())


def test_only_seed_law_is_a_benchmark_and_says_that_papaya_is_in_no_table_read() -> None:
    """A yardstick that a grower opts into is never shown as law for papaya."""
    assert ["seed-law"] == [key for key in RULEBOOKS if load_rulebook(key).benchmark]
    assert "Papaya is in no table read" in load_rulebook("seed-law").scope


def test_every_kind_of_demand_but_one_is_made_by_some_rulebook() -> None:
    """The list of demands holds nothing idle; a germination standard is known so that its absence can be
    said.
    """
    made = {demand for key in RULEBOOKS for demand in load_rulebook(key).demands}

    assert {"germination_standard"} == set(demand_kinds()) - made
