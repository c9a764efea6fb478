"""Numbers before nouns."""

from __future__ import annotations

import re

import pytest

from certgen.records.nouns import agree, count, noun


@pytest.mark.parametrize(
    ("number", "what", "said"),
    [
        (1, "month", "1 month"), (0, "month", "0 months"), (2, "pool", "2 pools"), (1, "seed", "1 seed"),
        (1.0, "point", "1 point"), (1.5, "point", "1.5 points"), (0.5, "month", "0.5 months"),
        (1, "harvests", "1 picking"), (3, "harvests", "3 pickings"), (3, "leaf", "3 leaves"),
        (1, "leaf", "1 leaf"), (2, "entry", "2 entries"), (4, "fruit", "4 fruit"),
        (1, "evidence", "1 evidence file"),
    ],
)  # fmt: skip
def test_a_number_and_its_noun_agree(number, what, said):
    """One is singular, and nothing else is."""
    assert said == count(number, what)
    assert said.endswith(noun(what, number))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("at most 1 months", "at most 1 month"), ("for 1 days at 11 days", "for 1 day at 11 days"),
        ("0.1 days and 21 days", "0.1 days and 21 days"), ("about 1 leaves", "about 1 leaf"),
        ("1 seasons", "1 seasons"), ("1 members", "1 member"),
        ("0 to 1 days", "0 to 1 days"), ("10,1 days", "10,1 days"),
    ],
)  # fmt: skip
def test_units_after_a_one_are_singular(text, said):
    """And no other figure that ends in a one."""
    assert said == agree(text)


PLURALS = re.compile(
    r"(?:if|else) ['\"]s['\"]|['\"]1 [a-z]+['\"] if|removesuffix\(['\"]s['\"]\)"
    # A figure in a sentence that a thing follows, in the plural whatever the figure is.
    r"|\{[^{}]*\} (?:months|pools|seeds|replicates)\b"
)
#: Where a plan is told of several alone.
SEVERAL = {"certgen/dossier/bag_plan.py", "certgen/cli/writers/plan_of_lots.py"}


def test_numbers_take_their_nouns_from_one_place(root):
    """No module makes a plural of its own."""
    found = [
        f"{file.relative_to(root)}: {line.strip()}"
        for file in sorted((root / "certgen").rglob("*.py"))
        if file.relative_to(root).as_posix() not in SEVERAL
        for line in file.read_text(encoding="utf-8").splitlines()
        if PLURALS.search(line)
    ]

    assert [] == found
