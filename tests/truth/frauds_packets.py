"""Frauds with suppliers' packets: what a packet must not make of bought seed.

The packets are stand-ins: each file holds what the verification of a packet answers (`tests/stand_ins.py`).
"""

from __future__ import annotations

from typing import Any

from fraud import of_stage
from frauds_edits import Edit, add, file, put, together
from frauds_records import CERTIFICATE, CIRCLE, OPERATION, OTHER_VARIETY, SUPPLIER, VARIETY, germination, lot
from frauds_seasons import PLAIN
from frauds_wants import gap_at, not_all_traced, silent, traced_at_least
from stand_ins import packet_text

from certgen.records.supplied import fingerprint_of

packets, honest = of_stage("packets"), of_stage("honest packets")
# fmt: off

FILE, PLACE = "packets/circle.pdf", "evidence/packets/circle.pdf"
KEY, STRANGE = "5e" * 32, "a9" * 32
LOT = {"variety": VARIETY, "status": "organic", "standing": "traced", "weight_mg": 90_000,
       "traced_mg": 90_000}
GONE = {"lot": "SC-7", "party": OPERATION, "date": "2026-02-20", "weight_mg": 30_000, "document": "SC-D-11"}
PART = {"supplier": SUPPLIER, "certificate": CIRCLE, "supplier_lot": "SC-7", "packet": FILE,
        "weight": "30 g"}
KNOWN = {"party": SUPPLIER, "key": fingerprint_of(KEY), "told_by": "O. Sallow, at the market",
         "date": "2026-02-21"}
L9 = not_all_traced("L9")


def sound(**told: Any) -> str:
    """The circle's packet on lot SC-7, but for what is told."""
    return packet_text(**{
        "operation": {"name": SUPPLIER, "certificate": CIRCLE}, "season": "2025", "on": "2026-02-25",
        "fingerprint": "circle-1", "signers": [{"key": KEY, "name": SUPPLIER, "holds": True}],
        "lots": {"SC-7": LOT, "SC-8": {**LOT, "variety": OTHER_VARIETY}}, "dispatches": [GONE], **told})


def bought(text: str = "", *, known: tuple[dict[str, str], ...] = (KNOWN,), **part: Any) -> Edit:
    """Lot L9 of thirty grams of the circle's seed, with its packet."""
    made = {**PART, **part}
    grams = float(made["weight"].split()[0])
    return together(
        add("lots", lot("L9", "2026-03-01", [made], grams)), add("tests", germination("G9", "L9", "2026")),
        put("season.known_signers", list(known)), file(PLACE, text or sound()))


def shown(**told: Any) -> Edit:
    """The same with a packet that shows something else."""
    return bought(sound(**told))


def sown(text: str, **origin: Any) -> Edit:
    """The mothers' planting, sown of the circle's seed, with its packet."""
    return together(
        put("P1.origin", {"supplier": SUPPLIER, "certificate": CIRCLE, "supplier_lot": "SC-7",
                          "packet": FILE, **origin}),
        put("season.known_signers", [KNOWN]), file(PLACE, text))


EARLY = {"on": "2024-09-01", "dispatches": [{**GONE, "date": "2024-08-30"}]}
FRAUDS = [
    packets("packets-forged", PLAIN, L9, "The seller rewrote page 1.", shown(faults=["page 1 differs"])),
    packets("packets-no-packet", PLAIN, L9, "A letter on the seller's paper, saved as a PDF.",
            bought("%PDF-1.7 all of it is traced")),
    packets("packets-unsigned", PLAIN, L9, "Anybody can make a sound packet of invented records.",
            shown(signers=[])),
    packets("packets-signature-broken", PLAIN, L9, "The signature covers other bytes.",
            shown(signers=[{"key": KEY, "name": SUPPLIER, "holds": False}])),
    packets("packets-unknown-signer", PLAIN, L9, "Signed with a key that bears the seller's name.",
            shown(signers=[{"key": STRANGE, "name": SUPPLIER, "holds": True}])),
    packets("packets-no-signer-known", PLAIN, L9, "Nobody asked whose key it is.", bought(known=())),
    packets("packets-key-of-somebody", PLAIN, L9, "Somebody said it is their key.",
            bought(known=({**KNOWN, "told_by": "somebody"},))),
    packets("packets-key-told-later", PLAIN, L9, "The key will be read out next month.",
            bought(known=({**KNOWN, "date": "2026-12-20"},))),
    packets("packets-key-of-another", PLAIN, L9, "It is the key of Hollin Traders.",
            bought(known=({**KNOWN, "party": "Hollin Traders"},))),
    packets("packets-key-of-two", PLAIN, L9, "One key is said to be two sellers'.",
            bought(known=(KNOWN, {**KNOWN, "party": "Hollin Traders"}))),
    packets("packets-own-key", PLAIN, L9, "The farm signed its seller's packet itself.",
            shown(signers=[{"key": KEY, "name": OPERATION, "holds": True}])),
    packets("packets-own-key-stated", PLAIN, L9, "The key is the farm's own, by its own list.",
            bought(known=(KNOWN, {**KNOWN, "party": OPERATION}))),
    packets("packets-own-packet", PLAIN, L9, "The farm's own packet under the seller's name in the record.",
            shown(operation={"name": OPERATION, "certificate": CIRCLE})),
    packets("packets-own-certificate", PLAIN, L9, "The farm's own packet with the seller's name put in.",
            shown(operation={"name": SUPPLIER, "certificate": CERTIFICATE})),
    packets("packets-in-a-circle", PLAIN, L9, "The seller had the seed from the farm itself.",
            shown(behind=[{"name": "Middle Barn", "certificate": "MB-1"},
                          {"name": OPERATION, "certificate": ""}], depth=3)),
    packets("packets-too-deep", PLAIN, L9, "Six sellers, each vouching for the one before.", shown(depth=6)),
    packets("packets-of-another-seller", PLAIN, L9, "The packet is Hollin Traders'.",
            shown(operation={"name": "Hollin Traders", "certificate": "HT-9"})),
    packets("packets-of-another-certificate", PLAIN, L9, "A namesake with another certificate.",
            shown(operation={"name": SUPPLIER, "certificate": "SC-23"})),
    packets("packets-of-another-crop", PLAIN, L9, "The packet is about maize.", shown(crop="maize")),
    packets("packets-lot-not-in-it", PLAIN, L9, "The packet tells of other lots.",
            shown(lots={"SC-8": {**LOT, "variety": OTHER_VARIETY}})),
    packets("packets-of-another-lot", PLAIN, L9, "The bag was of SC-8, which is another variety.",
            bought(supplier_lot="SC-8")),
    packets("packets-lot-unnamed", PLAIN, L9, "Which of the seller's lots it was stands nowhere.",
            bought(supplier_lot="?")),
    packets("packets-variety-differs", PLAIN, L9, "The seller sold Dusk Finch, the farm sells Copper Wren.",
            shown(lots={"SC-7": {**LOT, "variety": OTHER_VARIETY}})),
    packets("packets-status-differs", PLAIN, L9, "The seller's land is still on its way.",
            shown(lots={"SC-7": {**LOT, "status": "transitional"}})),
    packets("packets-lot-rejected-there", PLAIN, L9, "The seller's own packet rejects the lot.",
            shown(lots={"SC-7": {**LOT, "standing": "rejected", "traced_mg": 0}})),
    packets("packets-lot-unproven-there", PLAIN, L9, "Half of the lot is unproven there.",
            shown(lots={"SC-7": {**LOT, "standing": "unproven", "traced_mg": 45_000}})),
    packets("packets-grams-beyond-the-delivery", PLAIN, L9, "Thirty grams came, forty are packed.",
            bought(weight="40 g")),
    packets("packets-grams-beyond-by-a-hair", PLAIN, L9, "One milligram more than came.",
            bought(weight="30.001 g")),
    packets("packets-delivered-to-another", PLAIN, L9, "The thirty grams went to Rookery Allotments.",
            shown(dispatches=[{**GONE, "party": "Rookery Allotments"}])),
    packets("packets-other-lot-delivered", PLAIN, L9, "What left for here was SC-8.",
            shown(dispatches=[{**GONE, "lot": "SC-8"}])),
    packets("packets-nothing-delivered", PLAIN, L9, "The packet tells of no delivery.",
            shown(dispatches=[])),
    packets("packets-delivered-later", PLAIN, L9, "The delivery came after the lot was packed.",
            shown(on="2026-04-30", dispatches=[{**GONE, "date": "2026-04-01"}])),
    packets("packets-made-before-the-delivery", PLAIN, L9, "Of the month before; the seed was still there.",
            shown(on="2026-02-19")),
    packets("packets-of-a-day-to-come", PLAIN, L9, "The packet speaks of next year.",
            shown(on="2027-02-25")),
    packets("packets-replaced", PLAIN, L9, "The seller corrected it, and the farm names the first one.",
            shown(), file("evidence/packets/corrected.pdf", sound(fingerprint="2", replaces="circle-1"))),
    packets("packets-drawn-twice", PLAIN, (L9, not_all_traced("L8")),
            "Two lots are packed of the same thirty grams.", shown(),
            add("lots", lot("L8", "2026-03-02", [PART], 30)), add("tests", germination("G8", "L8", "2026"))),
    packets("packets-drawn-twice-without-a-packet", PLAIN, L9,
            "The second lot of the same grams names no packet.", shown(),
            add("lots", lot("L8", "2026-03-02", [
                {key: value for key, value in PART.items() if key != "packet"}], 30)),
            add("tests", germination("G8", "L8", "2026"))),
    packets("packets-drawn-twice-under-two-names", PLAIN, not_all_traced("L8"),
            "The same certificate under another name of the seller's.", shown(),
            add("lots", lot("L8", "2026-03-02", [
                {**PART, "supplier": "Sallow Circle", "packet": "packets/two.pdf"}], 30)),
            file("evidence/packets/two.pdf", sound(
                operation={"name": "Sallow Circle", "certificate": CIRCLE})),
            put("season.known_signers", [KNOWN, {**KNOWN, "party": "Sallow Circle",
                                                 "key": fingerprint_of(STRANGE)}]),
            add("tests", germination("G8", "L8", "2026"))),
    packets("packets-file-not-there", PLAIN, (L9, gap_at("L9")), "The packet is promised.",
            bought(packet="packets/promised.pdf")),
    packets("packets-planting-of-rejected-seed", PLAIN, not_all_traced("L1", "L2"),
            "The mothers grew from a lot that its own grower rejects.",
            sown(sound(**EARLY, lots={"SC-7": {**LOT, "standing": "rejected"}}))),
    packets("packets-planting-of-unproven-seed", PLAIN, not_all_traced("L1", "L2"),
            "The mothers grew from a lot that isn't proved there.",
            sown(sound(**EARLY, lots={"SC-7": {**LOT, "standing": "unproven"}}))),
    packets("packets-planting-of-another-variety", PLAIN, not_all_traced("L1", "L2"),
            "The mothers' seed was Dusk Finch.",
            sown(sound(**EARLY, lots={"SC-7": {**LOT, "variety": OTHER_VARIETY}}))),
    packets("packets-planting-forged", PLAIN, (not_all_traced("L1", "L2"), gap_at("P1")),
            "A forged packet lies beside the planting.", sown(sound(**EARLY, faults=["page 3 differs"]))),
]

VARIANTS = [
    honest("honest-packet", PLAIN, (silent, traced_at_least("L9", 30)), "Traced through the circle's packet.",
           shown()),
    honest("honest-packet-by-the-digest", PLAIN, (silent, traced_at_least("L9", 30)),
           "The key as 64 digits, in capitals.", bought(known=({**KNOWN, "key": KEY.upper()},))),
    honest("honest-packet-of-a-later-day", PLAIN, (silent, traced_at_least("L9", 30)),
           "Asked for when the inspector asked.", shown(on="2026-11-01")),
    honest("honest-packet-on-another", PLAIN, (silent, traced_at_least("L9", 30)),
           "The circle had part of its mothers' seed from Hollin Traders.",
           shown(behind=[{"name": "Hollin Traders", "certificate": "HT-9"}], depth=2)),
    honest("honest-packet-for-two-lots", PLAIN, (silent, traced_at_least("L9", 20)),
           "Thirty grams came and were packed as twenty and ten.", bought(weight="20 g"),
           add("lots", lot("L8", "2026-03-02", [{**PART, "weight": "10 g"}], 10)),
           add("tests", germination("G8", "L8", "2026"))),
    honest("honest-packet-of-a-planting", PLAIN, silent, "The mothers' seed has its packet.",
           sown(sound(**EARLY))),
    honest("honest-packet-unproven-beside-own-seed", PLAIN, (traced_at_least("L1", 21),
                                                             traced_at_least("L2", 24)),
           "A false packet for bought seed doesn't touch the farm's own.", shown(faults=["page 1 differs"])),
]
