from __future__ import annotations

import copy

import pytest
import yaml

from certgen.rules import RULES
from certgen.standards import RULEBOOKS, StandardError, clauses_of, coverage, load_rulebook, pages
from certgen.standards.coverage import parse_coverage
from certgen.standards.reading import DATA, Section

CLAUSES = [clause for key in RULEBOOKS for clause in load_rulebook(key).clauses]
TEXT = DATA.joinpath("coverage.yaml").read_text(encoding="utf-8")
CHOSEN = "us-nop:205.202(b)"


@pytest.fixture(scope="module")
def whole():
    """The coverage file's data."""
    return yaml.load(TEXT, Loader=yaml.SafeLoader)


@pytest.mark.parametrize("clause", CLAUSES)
def test_every_clause_is_met_somewhere(clause) -> None:
    """Each clause of each rulebook names a rule, a page of the report, or what is left to a person."""
    met = coverage()[clause]

    assert clause == met.clause
    assert met.rules or met.pages or met.person


def test_nothing_but_the_clauses_is_covered() -> None:
    """The list and the rulebooks name the same clauses."""
    assert set(CLAUSES) == set(coverage())


def test_every_page_answers_something_or_is_navigation() -> None:
    """A page that no clause needs is not listed."""
    assert set(pages()) == {page for met in coverage().values() for page in met.pages}


def test_clauses_are_found_by_rule() -> None:
    """A rule's page can list the clauses that it helps to meet."""
    assert ("eu:2018/848 annex II 1.8.2", "codex:annex 1 A seed") == clauses_of("mother-plant-too-young")
    assert () == clauses_of("no-such-rule")


@pytest.mark.parametrize(
    ("entry", "message"),
    [
        ({}, "name a rule, a page or what a person"),
        ({"rules": [], "pages": []}, "name a rule, a page or what a person"),
        ({"rule": ["land-too-recent"], "person": "Looks."}, "unknown entry rule"),
        ({"rules": ["Land too recent"]}, "is no rule's slug"),
        ({"pages": ["back cover"]}, "unknown page 'back cover'"),
        ({"person": ""}, "expected text"),
    ],
)
def test_an_entry_with_an_unknown_word_or_no_answer_is_refused(whole, entry, message) -> None:
    """Only rules, known pages and a person's part count as an answer."""
    broken = copy.deepcopy(whole)
    broken["clauses"][CHOSEN] = entry

    with pytest.raises(StandardError, match=message) as caught:
        parse_coverage(Section(broken, "coverage.yaml"))
    assert str(caught.value).startswith(f"coverage.yaml.clauses.{CHOSEN}")


def test_a_clause_left_out_is_named(whole) -> None:
    """A clause added to a rulebook must be answered before anything loads."""
    broken = copy.deepcopy(whole)
    del broken["clauses"][CHOSEN]

    with pytest.raises(StandardError, match=r"how these are met: us-nop:205\.202\(b\)$"):
        parse_coverage(Section(broken, "coverage.yaml"))


def test_a_clause_that_no_rulebook_has_is_named(whole) -> None:
    """An answer to nothing is a misspelt clause."""
    broken = copy.deepcopy(whole)
    broken["clauses"]["us-nop:205.999"] = {"person": "Nobody."}

    with pytest.raises(StandardError, match="no rulebook has this clause"):
        parse_coverage(Section(broken, "coverage.yaml"))


def test_every_rule_named_in_the_coverage_exists() -> None:
    """A clause that is said to be met by a rule is met by one that runs."""
    named = {slug for met in coverage().values() for slug in met.rules}

    assert set() == named - set(RULES)


def test_coverage_and_rules_name_the_same_clauses() -> None:
    """What a rule cites it covers, and what it is said to cover it cites; practice stands in no rulebook."""
    cited = {
        (clause, slug)
        for slug, rule in RULES.items()
        for clause in rule.clauses
        if not clause.startswith("practice:")
    }
    covered = {(clause, slug) for clause, met in coverage().items() for slug in met.rules}

    assert covered == cited
