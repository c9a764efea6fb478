"""What was put onto the land, and what allows it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

COVERS = ("certgen.rules.growing.approvals",)
ENTRY = {
    "material": "M-4",
    "name": "Crushed Shell",
    "kind": "lime",
    "approved_by": "the certifier, letter of 2025-12-02",
    "from": date(2025, 12, 1),
    "until": date(2026, 12, 31),
}
USED = {"input": "I1", "date": date(2026, 3, 2), "block": "East", "material": "crushed  shell"}


@pytest.fixture
def gaps(stocked, find):
    """`gaps(slug, input, *entries)`: the weights and lots of what a rule finds of one input."""

    def gaps(slug, used, *entries, **tables):
        season = stocked(inputs=[{**USED, **used}], materials=list(entries), **tables)
        return [(gap.weight, gap.lots) for gap in find(season, slug)]

    return gaps


UNPROVEN = [("unproven", ("L1",))]


@pytest.mark.parametrize(
    ("used", "entries", "found"),
    [
        ({}, [], UNPROVEN),
        ({}, [ENTRY], []),
        ({"material": "m-4"}, [ENTRY], []),
        ({"approval": "M-4", "material": "white powder"}, [ENTRY], []),
        ({"material": "shell"}, [ENTRY], UNPROVEN),
        ({"allowed_by": "our plan"}, [], []),
        ({"allowed_by": "?"}, [], UNPROVEN),
    ],
)
def test_an_approval_allows_by_its_number_or_name(gaps, used, entries, found):
    """Letter case and spaces make no other name; a part of one is another material."""
    assert found == gaps("input-unlisted", used, *entries)


@pytest.mark.parametrize(
    "entry",
    [
        {**ENTRY, "until": date(2026, 3, 1)},
        {**ENTRY, "from": date(2026, 3, 3)},
        {**ENTRY, "condition": "after a soil test"},
        {**ENTRY, "condition": "unknown"},
        {**ENTRY, "blocks": ["West"]},
        {**ENTRY, "approved_by": "n/a"},
        {name: told for name, told in ENTRY.items() if name != "approved_by"},
        {name: told for name, told in ENTRY.items() if name != "until"},
        {name: told for name, told in ENTRY.items() if name != "from"},
    ],
)
@pytest.mark.parametrize(
    ("used", "found"),
    [
        ({}, UNPROVEN),
        ({"approval": "M-4"}, UNPROVEN),
        ({"approval": "M-4", "allowed_by": "our plan"}, UNPROVEN),
        ({"allowed_by": "our plan"}, [("advice", ())]),
    ],
)
def test_an_approval_holds_as_it_was_given(seasons, gaps, entry, used, found):
    """On its days, in its place, under its condition; beside words that allow it this is asked only."""
    blocks = [seasons.block(), seasons.block("West")]

    assert found == gaps("approval-not-holding", used, entry, blocks=blocks)
    assert [] == gaps("input-unlisted", used, entry, blocks=blocks)


@pytest.mark.parametrize(
    ("entry", "used"),
    [
        ({"until": date(2026, 3, 2)}, {}),
        ({"from": date(2026, 3, 2)}, {}),
        ({"condition": "after a soil test"}, {"condition_met": "test of February: pH 5.4"}),
        ({"condition": "none"}, {}),
        ({"blocks": ["East"]}, {}),
        ({"purposes": ["liming"]}, {"purpose": "Liming, every third year"}),
    ],
)
def test_an_approval_that_holds_is_silent(gaps, entry, used):
    """Its first and last day count."""
    assert [] == gaps("approval-not-holding", {**used, "approval": "M-4"}, {**ENTRY, **entry})


@pytest.mark.parametrize("purpose", [{}, {"purpose": "against snails"}])
def test_another_purpose_is_advice(gaps, purpose):
    """What a material was used for are the grower's words."""
    entry = {**ENTRY, "purposes": ["liming"]}

    assert [("advice", ())] == gaps("approval-not-holding", {**purpose, "approval": "M-4"}, entry)


def test_of_several_approvals_one_that_holds_is_enough(gaps):
    """Last year's and this year's bear one name."""
    old = {**ENTRY, "material": "M-3", "from": date(2024, 12, 1), "until": date(2025, 12, 31)}

    assert [] == gaps("approval-not-holding", {}, ENTRY, old)
    assert [] == gaps("approval-not-holding", {}, old, ENTRY)


@pytest.mark.parametrize(
    ("used", "entries", "found"),
    [
        ({"allowed_by": "our plan", "material": "wood ash"}, [ENTRY], 1),
        ({"allowed_by": "our plan", "material": "wood ash"}, [], 0),
        ({"allowed_by": "our plan"}, [ENTRY], 0),
        ({"material": "wood ash"}, [ENTRY], 0),
    ],
)
def test_where_a_list_is_kept_what_is_not_on_it_is_asked_for(stocked, find, used, entries, found):
    """Where nothing allows it another rule says so."""
    told = find(stocked(inputs=[{**USED, **used}], materials=entries), "material-not-listed")

    assert found == len(told)
    assert all(("advice", ()) == (gap.weight, gap.lots) for gap in told)


@pytest.mark.parametrize(
    ("used", "entry", "found"),
    [
        ({"material": "glyphosate", "allowed_by": "the plan"}, None, "glyphosate (herbicide, from memory)"),
        ({"material": "white powder", "approval": "M-4"}, {**ENTRY, "name": "Urea"}, "urea (synthetic"),
        ({"material": "M-4"}, {**ENTRY, "name": "potassium chloride"}, "potassium chloride (synthetic"),
    ],
)  # fmt: skip
def test_no_permission_makes_a_prohibited_material_pass(stocked, find, used, entry, found):
    """Neither words nor an approval; the name may stand on the list of approved materials."""
    season = stocked(inputs=[{**USED, **used}], materials=[entry] if entry else [])
    (gap,) = find(season, "input-prohibited")

    assert ("rejects", ("L1",)) == (gap.weight, gap.lots)
    assert found in gap.message


@pytest.mark.parametrize("slug", ["input-prohibited", "input-unlisted", "approval-not-holding"])
def test_nothing_reaches_fruit_that_was_picked_before(seasons, gaps, slug):
    """The day of picking itself counts."""
    used = {"material": "urea"} if slug == "input-prohibited" else {}
    entries = [{**ENTRY, "until": date(2026, 1, 1)}] if slug == "approval-not-holding" else []
    after = gaps(slug, {**used, "date": seasons.PICKED + timedelta(1)}, *entries)

    assert [("advice", ())] == after
    assert ("L1",) == gaps(slug, {**used, "date": seasons.PICKED}, *entries)[0][1]
