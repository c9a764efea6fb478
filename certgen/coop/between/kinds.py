"""The kinds of what doesn't hold between members: their titles, weights, what mends each, and its clauses.

In the order in which they are told: what is wrong with the list of members comes first, since much else may
follow from it. A kind of the weight `rejects` speaks against seed at whoever holds it, and nothing mends it.
One of the weight `unproven` leaves grams unproven, in the co-op's sense. One of the weight `control` is a
hole in the co-op's own control: the grams stay what they are, but the member isn't ready. A question changes
nothing of these; the office looks, and may write down that it did.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

#: Heaviest first.
WEIGHTS: Final = ("rejects", "unproven", "control", "question")
#: Weights of what papers say of seed: with one of them members' papers don't agree.
WEIGHING: Final = frozenset({"rejects", "unproven"})


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of disagreement: its title, its weight, what mends it, and the clauses it rests on."""

    title: str
    weight: str
    remedy: str
    clauses: tuple[str, ...]


_TRACE = ("us-nop:205.103(b)(2)", "us-nop:205.103(b)(3)", "eu:2018/848 39(1)")
_IDENTITY = ("us-nop:205.307(a)(2)", "us-nop:205.103(b)(2)")

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "records-handed-in-twice": Kind(
            "Two members handed in the same records",
            "unproven",
            "Ask both for their own folder.",
            ("us-nop:205.103(b)(2)",),
        ),
        "member-listed-twice": Kind(
            "The list names one farm twice",
            "unproven",
            "Look which entry of coop.yaml is right, and take the other out. What else is told of the two "
            "comes of it.",
            ("us-nop:205.103(b)(2)",),
        ),
        "certificate-shared": Kind(
            "Two members go by one certificate number",
            "unproven",
            "Look at both certificates, and correct the list or the member's `season` entry. Where the group"
            " itself holds the certificate, write it under `coop`.",
            ("us-nop:205.404", "eu:2018/848 35"),
        ),
        "certificate-differs": Kind(
            "The list of members and a member's records give different certificates",
            "unproven",
            "Look at the certificate and correct the list or the member's `season` entry.",
            ("us-nop:205.404",),
        ),
        "season-differs": Kind(
            "A member's records are of another season than the others'",
            "unproven",
            "Ask the member for this season's folder; where several lie in it, name the right one under "
            "`season` in coop.yaml.",
            ("us-nop:205.103(b)(2)",),
        ),
        "member-not-in-season": Kind(
            "Seed was grown or packed when its grower was no member",
            "unproven",
            "Look at the agreement, and correct `joined` or `left` in coop.yaml. Seed of other days isn't "
            "the co-op's.",
            ("eu:2021/279 5", "us-nop:205.400(g)"),
        ),
        "standard-not-claimed": Kind(
            "The co-op names a standard that a member's records don't",
            "unproven",
            "If the member works by that standard it writes it under `season`, and its records are held "
            "against it. If not, its seed can't be sold under it: keep it apart, or correct the co-op's "
            "list.",
            ("us-nop:205.103(b)(2)", "eu:2018/848 39(1)"),
        ),
        "certificate-scope": Kind(
            "A member's certificate doesn't cover what it grows",
            "unproven",
            "Look at the certificate, and correct its scope in the control's file. If it says so, ask the "
            "certifier before any of that seed is sold.",
            ("us-nop:205.404", "eu:2018/848 35"),
        ),
        "origin-rejected": Kind(
            "Seed came from another member's lot that records speak against",
            "rejects",
            "Hold back whatever rests on it, and tell the certifier, who decides. No paper mends this.",
            _TRACE,
        ),
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
        "report-claimed-twice": Kind(
            "Two members claim one laboratory report for different trees or lots",
            "unproven",
            "Look at the letter: it says whose samples it is about. Correct the number at the other member.",
            ("us-nop:205.103(b)(2)",),
        ),
        "paper-of-two": Kind(
            "One photo or paper stands for two members' own work",
            "unproven",
            "Ask both members when and where it was made. Whose it isn't takes it out, and shows the work by"
            " something of its own.",
            ("us-nop:205.103(b)(2)",),
        ),
        "equipment-not-cleaned": Kind(
            "Shared equipment went from one member's seed to another's without a cleaning",
            "unproven",
            "Write the cleaning under `cleaning`, at whichever member did it. If none was done, say what "
            "kept the seed apart.",
            ("us-nop:205.272(a)", "eu:2018/848 28"),
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
        "origin-unproven": Kind(
            "Seed came from another member's lot that isn't traced to its parents",
            "unproven",
            "The supplying member mends that lot's gaps, which its letter names. Then this is whole too.",
            _TRACE,
        ),
        "seed-moved-while-stopped": Kind(
            "Seed left a member on a day on which the co-op's control doesn't let it leave",
            "unproven",
            "Whoever has it keeps it apart. Tell the certifier at once, with the lots. What lifts it is the "
            "paper that shows that the member's seed could leave on that day.",
            ("eu:2021/279 6", "us-nop:205.404", "eu:2018/848 35"),
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
        "transfer-under-way": Kind(
            "Seed left, or came, so near a season's end that the other book may not cover it",
            "question",
            "Ask the other member for the entry of the next season's book, or the last one's.",
            _TRACE,
        ),
        "transfer-day-differs": Kind(
            "One book has seed arriving a day before the other has it leaving",
            "question",
            "Look at the dispatch note. Nothing rests on that day.",
            _TRACE,
        ),
        "numbers-look-alike": Kind(
            "Two members' lot numbers look like the same",
            "question",
            "Ask whether it is one lot. If they are two, a number that can't be mistaken keeps a label from "
            "meaning either.",
            _IDENTITY,
        ),
        "reports-look-alike": Kind(
            "Two members' laboratory reports look like the same",
            "question",
            "Ask both for the letter. If it is one, correct the laboratory's name, so that they "
            "are compared.",
            ("us-nop:205.103(b)(2)",),
        ),
        "party-looks-alike": Kind(
            "A name in a stock book looks like a member's",
            "question",
            "Ask whom the entry means. If it is the member, correct the name, so that both books can be "
            "compared.",
            _TRACE,
        ),
        "lot-through-others": Kind(
            "A member's lot came to another through somebody who is no member",
            "question",
            "Ask for the papers of whoever handed it on: these books aren't here, so nothing was compared "
            "with them.",
            _TRACE,
        ),
        "equipment-looks-alike": Kind(
            "Equipment in a member's records looks like a piece that is shared",
            "question",
            "Ask whether it is the shared piece. If so, name it as coop.yaml does, so that its cleanings are"
            " compared.",
            ("us-nop:205.272(a)", "eu:2018/848 28"),
        ),
        "report-covers-two": Kind(
            "One laboratory letter is on file at two members",
            "question",
            "Look at the letter: it has to name the samples of both. Then write down that it was looked at.",
            ("us-nop:205.103(b)(2)",),
        ),
        "paper-shared": Kind(
            "Two members hand in the same file as evidence",
            "question",
            "Look at it: a paper may well be about both. Then write down that it was looked at.",
            ("us-nop:205.103(b)(2)",),
        ),
        "books-alike": Kind(
            "Two members weighed and picked the same on the same days",
            "question",
            "Lay both books side by side. The same figures on the same days are hardly chance: one may be "
            "the other's with other numbers.",
            ("us-nop:205.103(b)(2)",),
        ),
    }
)
