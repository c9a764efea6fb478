"""How ready a member is, as papers show it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.report.wording import cell
from certgen.typeset.parts import Run

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.typeset.parts import Cell

#: A readiness as the standing whose shape it wears.
READINESS_MARKS: Final = {
    "ready": "traced",
    "evidence missing": "unproven",
    "against the claim": "rejected",
    "not read": "rejected",
}


def show_readiness(readiness: str) -> Cell:
    """How ready a member is, with the shape of the standing, on one line: a second would begin below the
    shape.
    """
    return cell(readiness.replace(" ", "\u00a0"), mark=READINESS_MARKS[readiness])


def name_members(keys: Sequence[str]) -> Iterator[Run]:
    """Members by their keys, each leading to its place in the report."""
    for number, name in enumerate(keys):
        if number:
            yield Run(", ")
        yield Run(name, f"member/{name}")
