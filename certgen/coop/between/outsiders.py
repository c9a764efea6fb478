"""Names in stock books that mean no member: a member's name misspelt, or somebody who handed a lot on.

What went through somebody outside can't be followed, but its sums can: no more of a lot comes back from
there than went.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from certgen.coop.between.disagreements import Disagreement, Told
from certgen.coop.between.numbers import qualify
from certgen.coop.between.spelling import fold
from certgen.records.quantities import format_mass
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.numbers import Directory
    from certgen.coop.members.facts import MemberSummary, MoveFact

    #: A member and an entry of its stock book.
    Entry = tuple[str, MoveFact]

_OUT = frozenset({"sold", "transferred"})
_PAPERS = "Please send us that party's papers for it: its books aren't with us, so nothing was compared."


def compare_outsiders(summaries: Mapping[str, MemberSummary], directory: Directory) -> Iterator[Disagreement]:
    """Entries whose other party is no member, held against names and lots of members."""
    outside = [
        (key, move)
        for key, summary in summaries.items()
        for move in summary.moves
        if not move.earlier and directory.find(move.party) is None
    ]
    yield from _ask_about_names(outside, directory)
    yield from _compare_lots(outside, directory)


def _ask_about_names(outside: Sequence[Entry], directory: Directory) -> Iterator[Disagreement]:
    """One question a member and name, at the first entry that has it."""
    named: dict[tuple[str, str], list[MoveFact]] = defaultdict(list)
    for key, move in outside:
        named[key, move.party].append(move)
    for (key, party), moves in named.items():
        other = directory.find_alike(party)
        if other is None or other == key:
            continue
        more = f" and {len(moves) - 1} more name" if len(moves) > 1 else " names"
        what = f"{noun(moves[0].table)} {moves[0].movement}{more} “{party}”"
        yield Disagreement(
            "party-looks-alike",
            (key, other),
            tuple(qualify(key, move.table, move.movement) for move in moves[:5]),
            f"{key}'s {what}, which looks like {other}.",
            (
                Told(
                    key,
                    f"Your {what}, which looks like a member's name. If a member is meant, write the name as "
                    "the member writes it; if not, tell us who it is.",
                ),
            ),
        )


def _compare_lots(outside: Sequence[Entry], directory: Directory) -> Iterator[Disagreement]:
    went: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    came: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for key, move in outside:
        # Whoever had it of a member may have sent it on: not the holder alone counts.
        if move.kind in _OUT and directory.holders(move.lot):
            went[move.lot, _whom(move, directory)].append((key, move))
        elif move.kind not in _OUT and directory.holders(move.lot) and directory.lot(key, move.lot) is None:
            came[move.lot, _whom(move, directory)].append((key, move))
    for (lot, party), entries in came.items():
        sent = went.get((lot, party), [])
        yield from _compare_sums(lot, entries, sent, directory)


def _whom(move: MoveFact, directory: Directory) -> str:
    """Who an entry means, as far as that can be told: a misspelt member is nobody in particular."""
    return "" if directory.find_alike(move.party) is not None else fold(move.party)


def _compare_sums(
    lot: str, entries: Sequence[Entry], sent: Sequence[Entry], directory: Directory
) -> Iterator[Disagreement]:
    holders = _members(sent) or tuple(directory.holders(lot))
    receivers, party = _members(entries), entries[0][1].party
    members = tuple(dict.fromkeys((*receivers, *holders)))
    records = tuple(qualify(key, move.table, move.movement) for key, move in (*sent, *entries))
    slack = max(map(directory.scale_step, members)) * len(entries)
    if not sent or _sum(entries) <= _sum(sent) + slack:
        came = f"Lot {lot}, a number of {join(holders)}, came to {join(receivers)} from “{party}”"
        asked = tuple(Told(key, f"Lot {lot} came to you from “{party}”. {_PAPERS}") for key in receivers)
        yield Disagreement("lot-through-others", members, records, f"{came}, who is no member.", asked)
        return
    text = (
        f"{format_mass(_sum(entries))} of lot {lot} came to {join(receivers)} from “{party}”, and "
        f"{format_mass(_sum(sent))} went there from {join(holders)}."
    )
    told = [_tell_sum(key, entries, "came to you from", lot) for key in receivers]
    told += [_tell_sum(key, sent, "went from you to", lot) for key in holders]
    yield Disagreement("origin-overdrawn", members, records, text, tuple(told))


def _members(entries: Sequence[Entry]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for key, _ in entries))


def _tell_sum(member: str, entries: Sequence[Entry], way: str, lot: str) -> Told:
    own = [(key, move) for key, move in entries if key == member]
    text = (
        f"{format_mass(_sum(own))} of lot {lot} {way} “{own[0][1].party}”, and the other book has another "
        "sum. Please hold it against the dispatch note, and correct what is wrong."
    )
    return Told(member, text)


def _sum(entries: Sequence[Entry]) -> int:
    return sum(move.weight_mg for _, move in entries)
