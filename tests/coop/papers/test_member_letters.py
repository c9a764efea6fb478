"""A letter a member: what is missing there, and nothing of anybody else's."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from certgen.coop.papers.member_letters import write_letters

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.coop.between.result import CoopResult

GOLDEN = Path(__file__).parent / "golden"


def test_each_member_gets_its_own_letter(
    example_result: CoopResult, golden: Callable[[Path, str], None]
) -> None:
    """What is missing, in its own letter only; no letter names a gap of somebody else's."""
    letters = write_letters(example_result)
    for name in ("ALDER.txt", "THISTLE.txt"):
        golden(GOLDEN / name, letters[name])
    assert {"ALDER.txt", "HOLLOW.txt", "MARROW.txt", "THISTLE.txt"} == set(letters)
    assert "could not read" in letters["THISTLE.txt"]
    assert "papaia" in letters["THISTLE.txt"]
    for view in example_result.members:
        own = " ".join(letters[f"{view.member.key}.txt"].split())
        assert "no group certification" in own
        for gap in view.gaps:
            assert " ".join(gap.message.split()) in own
        for other in example_result.members:
            if other is not view:
                mine = {gap.message for gap in view.gaps}
                assert not [
                    gap.message for gap in other.gaps if gap.message in own and gap.message not in mine
                ]
