"""Faults that reach so far and no farther: what they don't touch stays traced."""

from __future__ import annotations

from fraud import of_stage
from frauds_bagging import looks, storm
from frauds_edits import Edit, add, cut, put
from frauds_incidents import BLENDED, told
from frauds_records import NEIGHBOUR, came, foreign, germination, lot, move, returned, transgene
from frauds_seasons import PLAIN, ROUNDS, YEARS
from frauds_wants import L1_KEPT, L2_KEPT, traced_at_least

bounded = of_stage("honest bounds")
# fmt: off


def drawn(day: str) -> tuple[Edit, ...]:
    """A lot L3 of 5 g of L1."""
    return (add("lots", lot("L3", day, [{"lot": "L1", "weight": "5 g"}], 5)),
            add("tests", germination("G3", "L3", "2026")))


VARIANTS = [
    bounded("bound-torn-bag", PLAIN, L2_KEPT, "A torn bag of L1 isn't one of L2.", looks("B1", "02-05 torn")),
    bounded("bound-storm-over-late-bags", PLAIN, L1_KEPT, "The need of L1's bags was over or looked after.",
            storm("02-12"), *(put(f"B{one}.checks", []) for one in (4, 5, 6))),
    bounded("bound-drift-between-pickings", PLAIN, L1_KEPT, "H1 was in the shed.",
            told("drift", "2026-06-28", "EAST")),
    bounded("bound-received-after-sales", PLAIN, (traced_at_least("L1", 11.5), L2_KEPT),
            "What was sampled and sold before stays what it was.",
            add("movements", came("M20", "2026-10-01", "L1", "received", 10)), put("M5.weight", "19.5 g")),
    bounded("bound-received-after-a-blend", PLAIN, (traced_at_least("L3", 5), traced_at_least("L1", 16)),
            "The blend was made before the foreign seed came.", *drawn("2026-09-25"),
            add("movements", came("M20", "2026-10-10", "L1", "received", 10)), put("M5.weight", "14.5 g")),
    bounded("bound-mixing-after-the-sale", PLAIN, (traced_at_least("L1", 11.5), L2_KEPT),
            "The jar was mixed after the sale.", told("mixing", "2026-10-01", "L1")),
    bounded("bound-sale-without-paper", PLAIN, (traced_at_least("L1", 16), L2_KEPT),
            "Only the grams that left without a paper.", cut("M3.document")),
    bounded("bound-missing-grams", PLAIN, (traced_at_least("L1", 16.5), L2_KEPT),
            "The counted ones keep their origin.", put("M5.weight", "5 g")),
    bounded("bound-everything-missing", PLAIN, (traced_at_least("L1", 11.5), L2_KEPT),
            "What was sampled and sold is accounted for.", put("M5.weight", "0 g")),
    bounded("bound-source-short", PLAIN, (traced_at_least("L1", 15), L2_KEPT), "15 of 21 g have a source.",
            put("L1.sources.0.weight", "15 g"), put("E1.dry_weight", "15 g")),
    bounded("bound-transgene-in-l1", PLAIN, L2_KEPT, "L2 has another mother and another run.",
            add("tests", transgene("T1", "L1", 3))),
    bounded("bound-transgene-twin-tested-itself", PLAIN, traced_at_least("L3", 10),
            "L3 came of the same run, and its own sound test is clean.", put("L1.sources.0.weight", "11 g"),
            put("L1.weight", "11 g"), put("M3.weight", "4 g"), put("M5.weight", "0.5 g"),
            add("lots", lot("L3", "2026-07-16", [{"batch": "E1", "weight": "10 g"}], 10)),
            add("tests", germination("G3", "L3", "2026"), transgene("T1", "L1", 3),
                transgene("T2", "L3", 0))),
    bounded("bound-positive-mother-of-l1", PLAIN, L2_KEPT, "002 is another tree.",
            put("S1.result", "positive")),
    bounded("bound-grandmother", YEARS, L2_KEPT, "001 is behind K1 and L1, not behind L2.",
            put("S1.result", "positive")),
    bounded("bound-returned-opened", PLAIN, (traced_at_least("L1", 6.5), L2_KEPT),
            "The 6.5 g that were sampled before.",
            add("movements", returned("M20", "2026-10-01", "L1", 5, opened=True)),
            put("M5.weight", "14.5 g")),
    bounded("bound-returned-too-much", PLAIN, (traced_at_least("L1", 6.5), L2_KEPT), "The same.",
            add("movements", returned("M20", "2026-10-01", "L1", 40)), put("M5.weight", "49.5 g")),
    bounded("bound-foreign-run-while-e1-dried", PLAIN, L2_KEPT, "E2 came after the next cleaning.",
            add("batches", foreign("X0", "2026-07-05", equipment=["trays"]))),
    bounded("bound-received-after-sowing", YEARS, (L1_KEPT, L2_KEPT),
            "K1 got foreign seed in October; what was sown in July was of K1 alone.",
            add("2025/movements", came("MP20", "2025-10-01", "K1", "received", 3)),
            put("2025/MP5.weight", "9.5 g"), put("MO1.weight", "9.5 g"), put("M10.weight", "9.5 g")),
    bounded("bound-carried-lot-short", YEARS, (L1_KEPT, L2_KEPT, traced_at_least("K2", 21)),
            "Of K2 three grams are missing, no more.", put("M11.weight", "1.5 g")),
    bounded("bound-blended-part", PLAIN, (L2_KEPT, traced_at_least("L3", 5)),
            "Half of the blend is of L2, and nothing is wrong with that.", *BLENDED, put("B1.stage", "open")),
    bounded("bound-one-round-untied", ROUNDS, L2_KEPT, "The second round tied.", put("R2.secured", False)),
    bounded("bound-letter-exception", ROUNDS, L2_KEPT, "One leaf of five.",
            put("ML-77.exceptions", [{"samples": ["S26-001"], "result": "positive"}])),
    bounded("bound-unread-receipt", PLAIN, L2_KEPT, "What is left out names L1.",
            add("movements", {"movement": "M20", "date": "2026-10-01", "lot": "L1", "kind": "received",
                              "weight": "10"})),
    bounded("bound-recall-of-l2", PLAIN, L1_KEPT, "L2 was recalled.", told("recall", "2026-10-20", "L2")),
    bounded("bound-invoice-to-two-buyers", PLAIN, (traced_at_least("L1", 16), traced_at_least("L2", 18)),
            "The grams on that invoice, no others.", put("M4.document", "INV-M3"),
            put("M4.party", NEIGHBOUR)),
    bounded("bound-discarded-in-time", PLAIN, (traced_at_least("L1", 11.5), L2_KEPT),
            "What was left before the stranger's seed came in was thrown out with it: 11.5 g had gone.",
            add("movements", came("M20", "2026-10-01", "L1", "received", 10),
                move("M21", "2026-10-02", "L1", "discarded", 19.5, note="all of it")),
                put("M5.weight", "0 g")),
]
