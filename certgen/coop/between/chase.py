"""What the office has to chase: at whom, what, and how much it proves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.between.kinds import KINDS
from certgen.coop.between.result import Chase

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.origins import Origins
    from certgen.coop.between.result import MemberView
    from certgen.coop.members.member_list import Looked

#: Members not read that are named each on its own.
_UNREAD_SHOWN: Final = 8


def list_chases(
    views: Sequence[MemberView],
    disagreements: Sequence[Disagreement],
    origins: Origins,
    looked: Mapping[str, Looked],
) -> Iterator[Chase]:
    """What to chase: whom nothing is known of, then member by member, whoever proves most first, and of each
    what proves most, then what disagrees. What concerns several stands at the first of them.
    """
    yield from _chase_unread([view for view in views if view.readiness == "not read"])
    found = list(_list_chases(views, disagreements, origins, looked))
    ranks: dict[str, int] = {}
    for one in found:
        ranks.setdefault(one.members[0], len(ranks))
    yield from sorted(found, key=lambda one: ranks[one.members[0]])


def _list_chases(
    views: Sequence[MemberView],
    disagreements: Sequence[Disagreement],
    origins: Origins,
    looked: Mapping[str, Looked],
) -> Iterator[Chase]:
    mends = [
        (mend.proves_mg, view.member.key, mend)
        for view in views
        for mend in view.summary.mend
        if not origins.spares(view.member.key, mend)
    ]
    for mass, key, mend in sorted(mends, key=lambda proving: (-proving[0], proving[1])):
        yield Chase((key,), f"{mend.text[:1].upper()}{mend.text[1:]}", mass)
    for position, disagreement in enumerate(disagreements):
        if disagreement.weight == "question" and disagreement.code in looked:
            continue
        text = f"{disagreement.message} {KINDS[disagreement.kind].remedy}"
        yield Chase(disagreement.members, text, 0, position)


def _chase_unread(unread: Sequence[MemberView]) -> Iterator[Chase]:
    for view in unread[:_UNREAD_SHOWN]:
        reason = view.summary.errors[0] if view.summary.errors else "nothing could be read"
        yield Chase((view.member.key,), f"Get records that can be read: {reason}", 0)
    rest = tuple(view.member.key for view in unread[_UNREAD_SHOWN:])
    if rest:
        yield Chase(rest, "Get records that can be read; each member's letter says what is wrong", 0)
