from __future__ import annotations

from datetime import date

import pytest

from certgen.examination import examine_season


@pytest.mark.parametrize(
    ("rule", "about", "idle"),
    [
        ("parent-unscreened", ("T1",), False),
        ("parent-unscreened", ("T9", "T1"), False),
        ("parent-unscreened", ("B1",), True),
        ("bag-untagged", ("T1",), True),
    ],
)
def test_an_explanation_must_speak_of_a_gap(stocked, rule, about, idle) -> None:
    """Of its rule, and at one of the records that it names."""
    words = {"rule": rule, "about": about, "reason": "so", "by": "R. A.", "date": date(2026, 7, 1)}
    result = examine_season(stocked(screening=[], explanations=[words]), date(2026, 10, 31))
    found = [gap for gap in result.gaps if gap.rule == "explanation-idle"]

    assert [("explanations", rule, ("rule",), "advice")] * idle == [
        (gap.table, gap.id, gap.field, gap.weight) for gap in found
    ]
    assert idle == all(gap.explanation is None for gap in result.gaps)
