"""Leaf samples that prove what they say: of that tree, dated, tested properly, and in a letter.

A tree is soundly cleared when samples without any fault see every event that is to be ruled out. A fault of
one sample then hurts no seed, for another speaks in its place. Who answers for a test is a laboratory with a
letter of its own, or the operation's own bench.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.records.columns import is_in, is_shared
from certgen.records.joining.custody import NOT_IN_ORDER
from certgen.rules.record_keeping.attestation import find_nobodys

if TYPE_CHECKING:
    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case


#: What people write before a tree's number.
_BEFORE: Final = re.compile(
    r"^(?:(?:tree|number|num|no|nr)(?:\.\s*|\s+|(?=\d))|[#№]\s*)(?=\S)", re.IGNORECASE
)  # fmt: skip


def has_letter(tests: Columns) -> Array:
    """Which samples name a report's number or a file that shows their result."""
    return tests.known("report") | tests.known("evidence")


def names_tree(case: Case, marks: Array, trees: Array) -> Array:
    """Which marks on leaves name their trees, with or without what people write before a number."""
    plain = np.array([mark and mark.strip() for mark in marks.tolist()], dtype=object)
    bare = np.array([mark and _BEFORE.sub("", mark) for mark in plain.tolist()], dtype=object)
    return case.spelling.are_called(plain, trees) | case.spelling.are_called(bare, trees)


def answers_for_itself(case: Case) -> Array:
    """Samples, row for row, whose controls and protocol are vouched for: written down, or by a laboratory."""
    tests = case.columns("screening")
    asking = [key for key, method in case.profile.methods.items() if method.controls]
    stains = [key for key, method in case.profile.methods.items() if not method.needs_targets]
    told = tests.known("controls") | ~is_in(tests["method"], asking)
    timed = tests.known("incubation") | ~is_in(tests["method"], stains)
    own = is_own_bench(case, tests["laboratory"])
    return (~own & has_letter(tests)) | (told & timed)


def are_vouched(case: Case, tests: Columns) -> Array:
    """Tests of seed, row for row, whose controls somebody answers for: written down as passed, or by a
    laboratory with a letter of its own. None without a laboratory, or whose controls failed or weren't run.
    """
    lettered = ~is_own_bench(case, tests["laboratory"]) & (
        tests.known("report") | case.filed(tests["evidence"])
    )
    told = (tests["controls"] == "passed") | (lettered & ~is_in(tests["controls"], ("failed", "not run")))
    return told & tests.known("laboratory")


def find_sound(case: Case) -> Array:
    """Which rows of the joined samples prove their tree clean of what their method sees."""
    samples, tests = case.joined("samples"), case.columns("screening")
    row = samples["row"]
    fit = tests.known("laboratory") & has_letter(tests) & answers_for_itself(case)
    fit &= ~is_shared(tests["sample"]) & ~is_in(tests["condition"], NOT_IN_ORDER) & ~case.strange("screening")
    fit &= ~(tests.known("tree") & tests.known("trees"))
    fit[find_nobodys(case, "screening", "collected", "mark")] = False
    planted = case.joined("trees").look_up("tree", samples["tree"], "planted")
    return (
        (samples["outcome"] == "negative")
        & samples.known("collected")
        & samples.known("method")
        & ~(samples["collected"] < planted)
        & fit[row]
        & (samples["pooled"] | names_tree(case, tests["mark"][row], samples["tree"]))
    )


_OWN: Final = re.compile(
    r"\b(?:own|our|ours|we|us|self|myself|in-house|in house|home|home-made|farm bench|kitchen)\b",
    re.IGNORECASE,
)


def is_own_bench(case: Case, laboratories: Array) -> Array:
    """Which laboratories are the operation itself or its people, by name or in so many words."""
    operation = case.season.details.operation
    names = {name.casefold().strip() for name in (operation.name, operation.responsible) if name}
    called = laboratories.tolist()
    own = {
        name: name.casefold().strip() in names or _OWN.search(name) is not None
        for name in dict.fromkeys(called)
        if name is not None
    }
    return np.array([own.get(name, False) for name in called], dtype=bool)
