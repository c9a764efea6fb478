"""Why a lot isn't traced in the co-op's sense, a sentence each, in words for its own member."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from certgen.coop.between.kinds import WEIGHING
from certgen.rules.wording import capital

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.links import Links
    from certgen.coop.members.facts import GapFact, LotFact

#: A full stop within a number or a unit ends no sentence.
_SENTENCES: Final = re.compile(r"(?<=[\w)’”])\. (?=[A-Z])")
#: Kinds of disagreement that are told as doubts about the way that seed came.
_DOUBTS: Final = frozenset({"origin-not-moved", "origin-differs", "origin-overdrawn"})


def explain_lot(
    member: str, lot: LotFact, gaps: Collection[GapFact], links: Links, concerned: Collection[Disagreement]
) -> tuple[str, ...]:
    """What stands in a lot's way: the member's own `gaps`, the way that others' seed came, and disagreements.

    Each once. A disagreement is told where it reaches the lot or stands at what the lot came from.
    """
    found = [_first_sentence(gap.message) for gap in gaps if gap.weight != "advice" and lot.lot in gap.lots]
    behind = [link for name in lot.outside if (link := links.find(member, name))]
    found += [f"{capital(doubt.told)}." for link in behind for doubt in link.doubts]
    records = {link.where for link in behind}
    found += _tell_reaching(member, lot, records, concerned)
    return tuple(dict.fromkeys(found))


def _tell_reaching(
    member: str, lot: LotFact, records: set[str], concerned: Collection[Disagreement]
) -> Iterator[str]:
    for one in concerned:
        reached = any(part.member == member and part.lot in {"", lot.lot} for part in one.reach)
        told = one.tell(member) if reached or records & set(one.records) else ""
        if told and one.weight in WEIGHING and one.kind not in _DOUBTS:
            yield _first_sentence(told)


def _first_sentence(text: str) -> str:
    return _SENTENCES.split(text, maxsplit=1)[0].rstrip(".") + "."
