"""Why a lot is traced: each obligation of the claim, in words, with what shows it and what leaves it open."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.rules.wording import capital, join, noun

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result
    from certgen.rules.obligations import Shown

#: Who says what shows an obligation.
SAID_BY: Final[Mapping[str, str]] = {
    "record": "the records themselves",
    "round": "rounds",
    "letter": "laboratory letters",
    "routine": "the operation’s own statement of its routine",
}
#: More open records than this are counted, not listed.
_MOST: Final = 4


@dataclass(frozen=True, slots=True)
class Proven:
    """One obligation of a lot: what the claim needs, on how many records it is shown, and by whose word.

    `open` names the records that leave it open; it is empty where all of it is shown.
    """

    claim: str
    shown: str
    by: str
    open: str
    weight_mg: int


def list_proof(result: Result, lot: str) -> tuple[Proven, ...]:
    """Every obligation of the lot in the order of the claim, from the jar back to the land."""
    return tuple(_tell(shown, lot) for shown in result.proof(lot))


def _tell(shown: Shown, lot: str) -> Proven:
    table = shown.obligation.table
    names = f"lot {lot}" if table == "lots" and shown.records == 1 else f"each {noun(table)}"
    claim = capital(shown.obligation.says.format(names=names, was="was"))
    sources = [source for source in SAID_BY if shown.by.get(source)]
    by = join(f"{shown.by[source]} by {source}" if len(sources) > 1 else f"by {source}" for source in sources)
    open_ = join(shown.open) if len(shown.open) <= _MOST else f"{shown.records - shown.shown} records"
    return Proven(claim, f"{shown.shown} of {shown.records}", by, open_, shown.weight_mg)


def say_proof(result: Result, lot: str) -> str:
    """How much of the claim is shown, by what, and what is left open, in a sentence or two."""
    proof = result.proof(lot)
    words: Counter[str] = Counter()
    for one in proof:
        words.update(one.by)
    told = [f"{words[source]:,} by {said_by}" for source, said_by in SAID_BY.items() if words[source]]
    done = sum(one.whole for one in proof)
    said = f"{done} of {len(proof)} obligations of the claim are shown"
    open_ = [
        f"{one.obligation.key} ({one.records - one.shown} of {one.records} records)"
        for one in proof
        if not one.whole
    ]
    return f"{said}{f': {join(told)}' if told else ''}.{f' Open: {join(open_)}.' if open_ else ''}"
