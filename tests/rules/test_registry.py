from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import certgen.rules
from certgen.rules import RULES, STAGES, registry
from certgen.rules.registry import load_rules, rule, unknown_clauses


@pytest.fixture
def opened(monkeypatch):
    """An empty registry that takes rules."""
    monkeypatch.setattr(registry, "_registered", {})
    monkeypatch.setattr(registry, "_closed", [])


def check_of(name="something_wrong", why="Why it matters."):
    """A generator with a name and a docstring."""

    def check(_):
        yield from ()

    check.__name__, check.__doc__ = name, why
    return check


GIVEN = {"weight": "unproven", "clauses": ("us-nop:205.272(a)",), "remedy": "Mend it."}


@pytest.mark.usefixtures("opened")
def test_the_slug_is_the_functions_name():
    """With hyphens; the first sentence of the docstring is its title."""
    rule(**GIVEN)(check_of())

    assert {"something-wrong": "Why it matters."} == {
        slug: one.title for slug, one in registry._registered.items()
    }


@pytest.mark.usefixtures("opened")
@pytest.mark.parametrize(
    ("changed", "check"),
    [
        ({}, check_of(why="")),
        ({}, check_of(name="rule_crashed")),
        ({"weight": "grave"}, check_of()),
        ({"remedy": ""}, check_of()),
        ({"clauses": ()}, check_of()),
        ({"clauses": ("205.272",)}, check_of()),
    ],
)
def test_a_rule_that_is_not_whole_is_refused_at_import(changed, check):
    """No docstring, a reserved name, an unknown weight, nothing to mend or rest on."""
    with pytest.raises(ValueError, match="rule "):
        rule(**{**GIVEN, **changed})(check)


@pytest.mark.usefixtures("opened")
def test_a_slug_is_given_once():
    """A second function of the same name is refused."""
    rule(**GIVEN)(check_of())
    with pytest.raises(ValueError, match="twice"):
        rule(**GIVEN)(check_of())


@pytest.mark.usefixtures("opened")
@pytest.mark.parametrize("after", ["not-there", "later-on"])
def test_a_rule_comes_after_those_that_run_before_it(after):
    """A predecessor that is lost, or stands below, is refused when the rules are loaded."""
    rule(**GIVEN, after=(after,))(check_of())
    rule(**GIVEN)(check_of(name="later_on"))

    with pytest.raises(ValueError, match=f"rule something-wrong comes after {after}"):
        load_rules()


#: Prints the rules' slugs as they come where the modules were imported in the order given.
BACKWARDS = """
import sys
for module in sys.argv[1:]:
    __import__(f"certgen.rules.{module}")
from certgen.rules import RULES
print(*RULES)
"""


@pytest.mark.parametrize("first", ["claim", "harvest.drying", "seed.stock"])
def test_the_rules_run_in_one_order_whichever_is_imported_first(root, first):
    """A page that needs one thing of a stage may import it by itself: nothing else decides the order."""
    modules = (first, *reversed(registry.STAGE_MODULES))
    printed = subprocess.run(
        [sys.executable, "-c", BACKWARDS, *modules], cwd=root, capture_output=True, text=True, check=True
    )

    assert list(RULES) == printed.stdout.split()


def test_the_registry_is_closed():
    """Nothing can be added or changed once the rules are imported."""
    with pytest.raises(TypeError):
        RULES["another"] = None
    with pytest.raises(ValueError, match="closed"):
        rule(**GIVEN)(check_of())


def test_every_module_with_rules_is_a_stage():
    """A rule in a module that nobody imports would never run."""
    folder = Path(certgen.rules.__file__).parent
    marked = {path.stem for path in folder.rglob("*.py") if "\n@rule(" in path.read_text(encoding="utf-8")}

    assert set(STAGES) == marked
    assert {one.stage for one in RULES.values()} == marked


def test_every_clause_that_a_rule_names_is_known():
    """In a rulebook or, for practice, in some crop's profile."""
    assert {} == unknown_clauses(RULES)


@pytest.mark.usefixtures("opened")
def test_a_clause_that_nobody_knows_is_told_by_its_rule():
    """In no rulebook, and no figure of any crop."""
    rule(**GIVEN)(check_of())
    lost = ("us-nop:999.9", "practice:made_up", "nowhere:1")
    rule(**{**GIVEN, "clauses": (*GIVEN["clauses"], *lost)})(check_of("lost_clause"))

    assert {"lost-clause": lost} == unknown_clauses(registry._registered)


@pytest.mark.usefixtures("opened")
def test_a_rule_keeps_each_clause_once_and_knows_its_stage():
    """In the order in which they were named."""
    check = check_of(why="It\nspans lines.\n\nAnd more.")
    check.__module__ = "certgen.rules.made"
    rule(**{**GIVEN, "clauses": ("us-nop:205.272(a)", "eu:2018/848 11", "us-nop:205.272(a)")})(check)
    (one,) = registry._registered.values()

    assert (("us-nop:205.272(a)", "eu:2018/848 11"), "made", "It spans lines.") == (
        one.clauses,
        one.stage,
        one.title,
    )
