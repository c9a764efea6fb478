"""Leaf samples that prove what they say: of that tree, dated, tested properly, and in a letter.

A tree is soundly cleared when samples without any fault see every event that is to be ruled out. A fault of
one sample then hurts no seed, for another speaks in its place. Who answers for a test is a laboratory with a
letter of its own, or the operation's own bench.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from certgen.records.joining.custody import NOT_IN_ORDER
from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.rules.case import Case


#: What people write before a tree's number.
_BEFORE: Final = re.compile(
    r"^(?:(?:tree|number|num|no|nr)(?:\.\s*|\s+|(?=\d))|[#№]\s*)(?=\S)", re.IGNORECASE
)  # fmt: skip


def has_letter(frame: DataFrame) -> Series[bool]:
    """Which samples name a report's number or a file that shows their result."""
    return frame["report"].notna() | (frame["evidence"].str.len() > 0)


def names_tree(case: Case, marks: Series[Any], trees: Series[Any]) -> Series[bool]:
    """Which marks on leaves name their trees, with or without what people write before a number."""
    plain = marks.str.strip()
    bare = plain.str.replace(_BEFORE, "", regex=True)
    return case.spelling.are_called(plain, trees) | case.spelling.are_called(bare, trees)


def answers_for_itself(case: Case) -> Series[bool]:
    """Samples, row for row, whose controls and protocol are vouched for: written down, or by a laboratory."""
    frame = case.season.table("screening")
    asking = [key for key, method in case.profile.methods.items() if method.controls]
    stains = [key for key, method in case.profile.methods.items() if not method.needs_targets]
    told = frame["controls"].notna() | ~frame["method"].isin(asking)
    timed = frame["incubation"].notna() | ~frame["method"].isin(stains)
    own = is_own_bench(case, frame["laboratory"])
    return (~own & has_letter(frame)) | (told & timed)


def are_vouched(case: Case, tests: DataFrame) -> Series[bool]:
    """Tests of seed, row for row, whose controls somebody answers for: written down as passed, or by a
    laboratory with a letter of its own. None without a laboratory, or whose controls failed or weren't run.
    """
    lettered = ~is_own_bench(case, tests["laboratory"]) & (
        tests["report"].notna() | case.filed(tests["evidence"])
    )
    passed = tests["controls"] == "passed"
    told = passed | (lettered & ~tests["controls"].isin(["failed", "not run"]))
    return (told & tests["laboratory"].notna()).fillna(value=False).astype(bool)


def sound_samples(case: Case) -> DataFrame:
    """The rows of `case.samples` that prove their tree clean of what their method sees."""
    samples = case.samples
    frame = case.season.table("screening")
    row = samples["row"]
    planted = look_up(samples["tree"], case.planted)
    marked = names_tree(case, look_up(row, frame["mark"]), samples["tree"])
    repeated = look_up(row, frame["sample"].duplicated(keep=False))
    sound: Series[bool] = (
        (samples["outcome"] == "negative")
        & samples["collected"].notna()
        & samples["method"].notna()
        & ~(samples["collected"] < planted)
        & ~look_up(row, frame["condition"].isin(NOT_IN_ORDER))
        & (samples["pooled"] | marked)
        & look_up(row, has_letter(frame) & frame["laboratory"].notna())
        & look_up(row, answers_for_itself(case))
        & ~repeated
        & ~case.strange("screening")[row.to_numpy()]
        & ~row.isin(case.nobodys("screening", "collected", "mark"))
        & ~look_up(row, frame["tree"].notna() & (frame["trees"].str.len() > 0))
    )
    return samples[sound.fillna(value=False).astype(bool)]


_OWN: Final = re.compile(
    r"\b(?:own|our|ours|we|us|self|myself|in-house|in house|home|home-made|farm bench|kitchen)\b",
    re.IGNORECASE,
)


def is_own_bench(case: Case, laboratories: Series[Any]) -> Series[bool]:
    """Which laboratories are the operation itself or its people, by name or in so many words."""
    operation = case.season.details.operation
    folded = laboratories.str.casefold().str.strip()
    names = [name.casefold().strip() for name in (operation.name, operation.responsible) if name]
    own = folded.isin(names) | laboratories.str.contains(_OWN, na=False)
    return own.fillna(value=False).astype(bool)
