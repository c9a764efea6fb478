"""What must hold between members and doesn't: the kinds there are, whom each is told, and what it reaches.

A kind of the weight `unproven` leaves grams unproven, in the co-op's sense. One of the weight `control` is a
hole in the co-op's own control: the grams stay what they are, but the member isn't ready. A question changes
neither.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Heaviest first.
WEIGHTS: Final = ("unproven", "control", "question")


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of disagreement: its title, its weight, what mends it, and the clauses it rests on."""

    title: str
    weight: str
    remedy: str
    clauses: tuple[str, ...]


class Told(NamedTuple):
    """A disagreement in words to one member, with what that member can do, and nothing of anybody else's."""

    member: str
    text: str


class Reach(NamedTuple):
    """Seed that a disagreement leaves unproven: a member's lot, or all its lots (`lot` empty).

    `weight_mg` is how much of it, where only what left is concerned; None for the whole lot.
    """

    member: str
    lot: str = ""
    weight_mg: int | None = None


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One disagreement. `members` are the keys of those it concerns, `records` name what it stands at.

    `told` says it to each of them that has something to do about it or needs to know.
    """

    kind: str
    members: tuple[str, ...]
    records: tuple[str, ...]
    message: str
    told: tuple[Told, ...] = ()
    reach: tuple[Reach, ...] = ()

    def tell(self, member: str) -> str:
        """The words to that member; empty where it is told nothing."""
        return " ".join(one.text for one in self.told if one.member == member)

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
            "Seed came from another member's lot that isn't traced to its parents",
            "unproven",
            "The supplying member mends that lot's gaps, which its letter names. Then this is whole too.",
            _TRACE,
        ),
        "origin-rejected": Kind(
            "Seed came from another member's lot that records speak against",
            "unproven",
            "Hold back whatever rests on it, and tell the certifier, who decides. No paper mends this.",
            _TRACE,
        ),
        "origin-not-moved": Kind(
            "Seed is said to come from another member, and no stock book shows that it went there",
            "unproven",
            "Find the dispatch note. The sender writes it under `movements` as `transferred` or `sold`, the "
            "receiver as `received`.",
            _TRACE,
        ),
        "origin-differs": Kind(
            "A record tells of another member's seed otherwise than that member's papers do",
            "unproven",
            "Hold the record against the dispatch note and the label that came with the seed, and correct "
            "what is wrong.",
            _TRACE,
        ),
        "origin-overdrawn": Kind(
            "More of another member's lot was used than came from there",
            "unproven",
            "Weigh again and correct the weights, or write the delivery that is missing in both books.",
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
            ("us-nop:205.272(a)", "eu:2018/848 28"),
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
        "seed-moved-while-stopped": Kind(
            "Seed left a member on a day on which the co-op's control doesn't let it leave",
            "unproven",
            "Whoever has it keeps it apart. Tell the certifier at once, with the lots. What lifts it is the "
            "paper that shows that the member's seed could leave on that day.",
            ("eu:2021/279 6", "us-nop:205.404", "eu:2018/848 35"),
        ),
        "certificate-scope": Kind(
            "A member's certificate doesn't cover what it grows",
            "unproven",
            "Look at the certificate, and correct its scope in the control's file. If it says so, ask the "
            "certifier before any of that seed is sold.",
            ("us-nop:205.404", "eu:2018/848 35"),
        ),
        "certificate-not-shown": Kind(
            "No valid certificate of a member is on file",
            "control",
            "Get a copy of the certificate, put it into `evidence`, and write its days and scope under "
            "`certificates`.",
            ("us-nop:205.404", "eu:2018/848 35"),
        ),
        "member-sanctioned": Kind(
            "A measure against a member is in force",
            "control",
            "Tell the certifier, if that hasn't been done. When it is lifted write `lifted`, and under "
            "`lifted_with` the paper that lifts it.",
            ("eu:2021/279 6",),
        ),
        "agreement-missing": Kind(
            "No agreement signed by a member is on file",
            "control",
            "Have it signed, put the copy into `evidence`, and write it under `agreements`.",
            ("eu:2021/279 5",),
        ),
        "member-not-inspected": Kind(
            "The group's own inspection of a member in the last twelve months is not shown",
            "control",
            "Inspect the member, and write it under `inspections` with its signed record; a co-op that keeps "
            "no such file writes the day under `inspected` in the list of members. The certifier's sample "
            "takes no inspection's place.",
            ("us-nop:205.400(g)", "eu:2021/771 2(e)"),
        ),
        "land-not-inspected": Kind(
            "Land of a member was never walked at an inspection of the co-op's own",
            "control",
            "Inspect it, and name its block under `blocks` of the inspection.",
            ("us-nop:205.400(g)", "eu:2021/771 2(e)"),
        ),
        "inspector-unfit": Kind(
            "An inspection was made by somebody who wasn't trained for it, or is tied to the member",
            "control",
            "Have somebody else inspect the member. What shows the training or the declaration goes into "
            "`evidence`, and is named at the inspector.",
            ("us-nop:205.400(g)", "eu:2021/279 5"),
        ),
        "finding-overdue": Kind(
            "A finding of the co-op's own inspection is open past its deadline",
            "control",
            "See that it is mended; then write `closed`, and under `closed_with` the paper that shows it.",
            (),
        ),
        "request-overdue": Kind(
            "What the office asked of a member is unanswered past its deadline",
            "control",
            "Ask once more. When the answer is there write `answered`, and under `answered_with` its paper.",
            (),
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
