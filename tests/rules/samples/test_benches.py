from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from certgen.rules.samples.soundness import is_own_bench

COVERS = ("certgen.rules.samples.soundness",)


def judge(case_of, season, *names):
    """Whether each laboratory is the operation's own bench."""
    return is_own_bench(case_of(season), np.array(names, dtype=object)).tolist()


@pytest.mark.parametrize(
    "name",
    [
        "Larkfold Seed Orchard",
        "  larkfold SEED orchard ",
        "R. Alder",
        "r. alder",
        "own bench",
        "our own",
        "tested by us",
        "myself",
        "self",
        "in-house",
        "done in house",
        "Home laboratory",
        "the kitchen table",
        "farm bench",
    ],
)
def test_the_operation_its_people_and_plain_words_are_an_own_bench(case_of, stocked, name):
    """By their names as the season gives them, whatever the letter case, or in so many words."""
    assert [True] == judge(case_of, stocked(), name)


@pytest.mark.parametrize(
    "name",
    [
        "Bracken Ford Plant Diagnostics",
        "Ownby Diagnostics",
        "Homestead Plant Laboratory",
        "Selfridge Ford Laboratory",
        "Westus Diagnostics",
        "B. Alder",
        "Larkfold Plant Laboratory",
        None,
    ],
)
def test_another_laboratory_is_not(case_of, stocked, name):
    """Words are looked for whole; a laboratory that nobody wrote down is none."""
    assert [False] == judge(case_of, stocked(), name)


def test_a_season_without_a_responsible_person_has_only_its_name(case_of, stocked):
    """A name that is empty names nobody."""
    season = stocked()
    operation = replace(season.details.operation, responsible="")
    season = replace(season, details=replace(season.details, operation=operation))

    assert [True, False, False] == judge(case_of, season, "Larkfold Seed Orchard", "R. Alder", "")
