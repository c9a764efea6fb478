"""What two members' papers say differently, and the kinds that there are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

#: Heaviest first. A question changes nobody's readiness: it asks the office to look.
WEIGHTS: Final = ("unproven", "question")


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of disagreement: its title, its weight, what mends it, and the clauses it rests on."""

    title: str
    weight: str
    remedy: str
    clauses: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One disagreement. `members` are the keys of those it concerns, `records` name what it stands at."""

    kind: str
    members: tuple[str, ...]
    records: tuple[str, ...]
    message: str

    @property
    def weight(self) -> str:
        """The kind's weight."""
        return KINDS[self.kind].weight


_TRACE = ("us-nop:205.103(b)(2)", "us-nop:205.103(b)(3)", "eu:2018/848 39(1)")
_IDENTITY = ("us-nop:205.307(a)(2)", "us-nop:205.103(b)(2)")

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "transfer-not-booked-in": Kind(
            "Seed left one member's book and never reached the other's",
            "unproven",
            "The receiver writes it under `movements` as `received`, or the sender corrects the entry.",
            _TRACE,
        ),
        "transfer-not-booked-out": Kind(
            "Seed came into one member's book and never left the other's",
            "unproven",
            "The sender writes it under `movements` as `transferred` or `sold`, or the receiver corrects "
            "the entry.",
            _TRACE,
        ),
        "transfer-differs": Kind(
            "Two members' books tell one transfer differently",
            "unproven",
            "Hold both books against the dispatch note and correct the one that is wrong.",
            _TRACE,
        ),
        "lot-number-shared": Kind(
            "Two members use one lot number for different seed",
            "unproven",
            "Give one of the lots another number, on its labels and in every record, and tell whoever "
            "bought it.",
            _IDENTITY,
        ),
        "origin-unknown": Kind(
            "A planting names another member's lot, and that member has none of that number",
            "unproven",
            "Correct the lot's number or the supplier; a lot of an earlier season belongs in that member's "
            "records.",
            _TRACE,
        ),
        "origin-unnamed": Kind(
            "A record names a lot that only another member has, without naming the member",
            "unproven",
            "Write whom the seed came from: under `origin.supplier` of a planting, under `party` of a "
            "movement.",
            _TRACE,
        ),
        "origin-unproven": Kind(
            "A planting was grown from another member's lot that isn't traced to its parents",
            "unproven",
            "The supplying member mends that lot's gaps; then this line is whole too.",
            _TRACE,
        ),
        "report-claimed-twice": Kind(
            "Two members claim one laboratory report for different trees or lots",
            "unproven",
            "Look at the letter: it says whose samples it is about. Correct the number at the other member.",
            ("us-nop:205.103(b)(2)",),
        ),
        "equipment-not-cleaned": Kind(
            "Shared equipment went from one member's seed to another's without a cleaning",
            "unproven",
            "Write the cleaning under `cleaning`, at whichever member did it. If none was done, say what "
            "kept the seed apart.",
            ("us-nop:205.272", "eu:2018/848 28"),
        ),
        "records-handed-in-twice": Kind(
            "Two members handed in the same records",
            "unproven",
            "Ask both for their own folder.",
            ("us-nop:205.103(b)(2)",),
        ),
        "certificate-differs": Kind(
            "The list of members and a member's records give different certificates",
            "unproven",
            "Look at the certificate and correct the list or the member's `season` entry.",
            ("us-nop:205.404",),
        ),
        "yield-unusual": Kind(
            "A member's seed for each screened tree is far from the others'",
            "question",
            "Ask the member: more parents than recorded, other seed in the lot, a scale or a unit, or a "
            "good reason?",
            ("eu:2021/771 2(i)",),
        ),
    }
)
