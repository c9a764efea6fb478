"""Suppliers' packets that a lot or a planting names, and that show nothing; each says why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.rules.clauses import MATERIAL, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import capital, noun

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case
    from certgen.rules.seed.purchases import Fault, Judged

_CLAUSES: Final = (*RECORDS, *MATERIAL, "us-nop:205.2 audit trail", "eu:2018/848 annex III 2.1")


def _find(case: Case, fault: Fault) -> Iterator[Finding]:
    for one in case.purchases:
        if one.fault == fault:
            yield _tell(one)


def _tell(one: Judged) -> Finding:
    bought = one.purchase
    what = f"{noun(bought.table)} {bought.id}"
    return Finding(
        bought.table,
        bought.id,
        bought.row,
        bought.steps,
        f"{capital(what)} names the packet {bought.file}, which shows nothing: {one.says}.",
        weight=_weigh(one),
        touches="rest" if bought.table == "lots" else "own",
        supply=f"a packet of {bought.supplier or 'the supplier'} that leads the seed of {what} back to its "
        "parents",
    )


def _weigh(one: Judged) -> Weight | None:
    """What the supplier's own records say against the seed is said against it here.

    Of trees their own samples tell; what they were sown of leaves them unproven.
    """
    if one.purchase.table == "plantings" or one.packet is None:
        return None
    lot = one.packet.lots.get(one.purchase.lot)
    rejected = one.fault == "packet-lot-untraced" and lot is not None and lot.standing == "rejected"
    other = one.fault == "packet-lot-differs" and lot is not None
    return "rejects" if rejected or other else None


@rule(
    weight="unproven",
    clauses=_CLAUSES,
    remedy="Ask the supplier to send the report again, as the file that it made; a print, a scan or a file "
    "that passed through other programs is no longer that. `certgen verify` tells all that differs.",
)
def packet_unsound(case: Case) -> Iterator[Finding]:
    """A supplier's packet can't be made anew from the records inside it, or is no packet.

    The pages of a packet follow from its records to the last byte. Where they don't, somebody or something
    changed it after it was made, and nobody knows what else it says that isn't so.
    """
    yield from _find(case, "packet-unsound")


@rule(
    weight="unproven",
    clauses=_CLAUSES,
    remedy="Seed that came back is booked as `returned` in the ledger of the lot that it left. Of a long "
    "chain of sellers ask the one who grew the seed.",
)
def packet_circular(case: Case) -> Iterator[Finding]:
    """A packet that should vouch for bought seed rests on the word of the operation that bought it.

    Nobody is his own supplier, and no key is its own witness. What stands on more packets than anybody
    follows proves nothing either.
    """
    yield from _find(case, "packet-circular")


@rule(
    weight="unproven",
    clauses=_CLAUSES,
    remedy="Name the packet of whoever sold the seed, and write the supplier's name and certificate as they "
    "stand in it.",
)
def packet_of_another(case: Case) -> Iterator[Finding]:
    """A packet is another operation's than the supplier that is named, or about another crop.

    What one operation proves of its seed says nothing of another's.
    """
    yield from _find(case, "packet-of-another")


@rule(
    weight="unproven",
    clauses=_CLAUSES,
    remedy="Ask the supplier to sign its report, have the key's fingerprint read out by the supplier or "
    "the certifier, not out of the same message, and write it under `known_signers` in the `season` mapping "
    "with who told you and when.",
)
def packet_signer_unknown(case: Case) -> Iterator[Finding]:
    """A packet isn't signed, or with a key that nobody here knows as its supplier's.

    Anybody can invent records and make a packet of them that is sound in itself. Only the supplier's key says
    that they are the supplier's.
    """
    yield from _find(case, "packet-signer-unknown")


@rule(
    weight="unproven",
    clauses=_CLAUSES,
    remedy="Ask the supplier for a report of the day on which the seed left, or later; where a report was "
    "corrected, name the one that took its place.",
)
def packet_outdated(case: Case) -> Iterator[Finding]:
    """A packet was made before the seed left its supplier, or another packet took its place.

    What a supplier knew before doesn't tell what was in the bag on the day it left. A report that was
    corrected is no longer the supplier's word.
    """
    yield from _find(case, "packet-outdated")


@rule(
    weight="unproven",
    clauses=(*_CLAUSES, "us-nop:205.272(a)"),
    remedy="Write under `supplier_lot` the number on the delivery note. If it is right, the label or the "
    "record here is wrong: correct the variety or the status.",
)
def packet_lot_differs(case: Case) -> Iterator[Finding]:
    """A packet tells of no such lot, or of one of another variety or of a lower status.

    Seed doesn't become something else on the way. Where the supplier's records call it otherwise, that is
    what is in the bag.
    """
    yield from _find(case, "packet-lot-differs")


@rule(
    weight="unproven",
    clauses=(*_CLAUSES, "us-nop:205.105(e)"),
    remedy="Ask the supplier to mend what is missing there and to send a new report. Seed that is rejected "
    "there is rejected here.",
)
def packet_lot_untraced(case: Case) -> Iterator[Finding]:
    """The supplier's own records don't trace the lot that the seed is of, or speak against it.

    Seed is no better here than it was there. Trees of such seed bear what was sown.
    """
    yield from _find(case, "packet-lot-untraced")


@rule(
    weight="unproven",
    clauses=_CLAUSES,
    remedy="Compare the delivery notes with the weights here. If the supplier booked the delivery later or "
    "to another name, ask for a corrected report.",
)
def packet_grams_exceeded(case: Case) -> Iterator[Finding]:
    """More seed is drawn on a supplier's lot than its packet shows to have left for here.

    A packet that is good for 50 g doesn't vouch for the 60th. Which of the grams came from elsewhere nobody
    can tell, so none of them is shown.
    """
    yield from _find(case, "packet-grams-exceeded")
