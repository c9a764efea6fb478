"""Frauds with recalls and complaints: seed in question that is sold on, and questions talked away."""

from __future__ import annotations

from fraud import of_stage
from frauds_edits import Edit, add, cut, file, put
from frauds_incidents import BLENDED
from frauds_records import NEIGHBOUR, move, sale, transgene
from frauds_seasons import PLAIN, YEARS
from frauds_wants import BOTH, L1, L1_KEPT, L2, L2_KEPT, gap, gap_at, not_all_traced, traced_at_most

recalls = of_stage("recalls")
# fmt: off


def called(kind: str, day: str, *about: str, table: str = "recalls", **more: object) -> Edit:
    """A recall, drill or complaint about some records, closed."""
    return add(table, {"recall": "Q1", "kind": kind, "opened": day, "about": list(about),
                       "closed": "2026-11-10", "certifier_notified": day, **more})


#: A paper that says how it ended.
PAPER = file("evidence/answer.txt", "Sown again by the buyer: 44 of 50 came up.\n")
SETTLED = {"evidence": "answer.txt"}
#: Two grams more of L1 go to somebody.
ON = put("M5.weight", "7.5 g")

RECALLS = [
    recalls("recall-closed-by-its-word", PLAIN, (L1, L2_KEPT), "Called back, closed, and no paper.",
            called("recall", "2026-10-20", "L1")),
    recalls("recall-complaint-closed-by-its-word", PLAIN, (L1, L2_KEPT), "A complaint, closed, and no paper.",
            called("complaint", "2026-10-20", "L1")),
    recalls("recall-on-an-absent-paper", PLAIN, L1, "The paper that settled it isn't there.",
            called("recall", "2026-10-20", "L1", **SETTLED)),
    recalls("recall-on-an-empty-paper", PLAIN, L1, "The paper that settled it is empty.",
            called("recall", "2026-10-20", "L1", **SETTLED), file("evidence/answer.txt", "")),
    recalls("recall-everybody-told-and-answered", PLAIN, L1, "That all answered shows nothing of the seed.",
            called("recall", "2026-10-20", "L1", notices=[
                {"party": "Tansy Acre", "lot": "L1", "told_on": "2026-10-20", "answered_on": "2026-10-21"},
            ])),
    recalls("recall-of-a-run", PLAIN, (L1, L2_KEPT), "Run E1 was called back, of which L1 is.",
            called("recall", "2026-10-20", "E1")),
    recalls("recall-of-a-tree", PLAIN, L1, "The seed of 001 was called back.",
            called("recall", "2026-10-20", "001")),
    recalls("recall-of-a-bag", PLAIN, L1, "The fruit of bag B1 was called back.",
            called("complaint", "2026-10-20", "B1")),
    recalls("recall-of-what-was-blended", PLAIN, not_all_traced("L1", "L3"), "Half of the blend is of L1.",
            *BLENDED, called("recall", "2026-11-15", "L1")),
    recalls("recall-of-both-pickings", PLAIN, BOTH, "Both pickings.",
            called("recall", "2026-10-20", "H1", "H2")),
    recalls("recall-sold-on-and-settled-later", PLAIN, (traced_at_most("L1", 19.5), gap_at("M20")),
            "Settled on 10 November; on the 2nd it was still held.", PAPER,
            called("recall", "2026-10-20", "L1", **SETTLED),
            add("movements", sale("M20", "2026-11-02", "L1", 2, party=NEIGHBOUR)), ON),
    recalls("recall-sold-on-the-same-day", PLAIN, gap_at("M20"), "Called back and sold on one day.", PAPER,
            called("recall", "2026-11-02", "L1", **SETTLED),
            add("movements", sale("M20", "2026-11-02", "L1", 2, party=NEIGHBOUR)), ON),
    recalls("recall-handed-to-a-neighbour", PLAIN, gap_at("M20"), "No sale, an exchange.", PAPER,
            called("recall", "2026-10-20", "L1", **SETTLED),
            add("movements", sale("M20", "2026-11-02", "L1", 2, party=NEIGHBOUR)), ON,
            put("M20.kind", "transferred")),
    recalls("recall-given-as-a-sample", PLAIN, gap_at("M20"), "A free sample for a good customer.", PAPER,
            called("recall", "2026-10-20", "L1", **SETTLED),
            add("movements", move("M20", "2026-11-02", "L1", "sampled", 2, party="Tansy Acre")), ON),
    recalls("recall-blend-sold-on", PLAIN, gap_at("M20"), "L1 is called back, and L3 of it is sold.", PAPER,
            *BLENDED, called("recall", "2026-10-20", "L1", **SETTLED),
            add("movements", sale("M20", "2026-11-02", "L3", 2, party=NEIGHBOUR))),
    recalls("recall-never-closed", PLAIN, gap_at("M20"), "A paper, and no day on which it ended.", PAPER,
            called("recall", "2026-10-20", "L1", **SETTLED), cut("Q1.closed"),
            add("movements", sale("M20", "2026-11-15", "L1", 2, party=NEIGHBOUR)), ON),
    recalls("recall-tested-with-failed-controls", PLAIN, L2, "The test since then failed its controls.",
            called("recall", "2026-10-20", "L2"),
            add("tests", transgene("T1", "L2", 0, "2026-10-30", controls="failed"))),
    recalls("recall-in-last-years-folder", YEARS, not_all_traced("K2"), "Last year's folder tells of it.",
            called("recall", "2025-11-20", "K2", table="2025/recalls")),
    recalls("recall-of-a-carried-lot", YEARS, not_all_traced("K1"), "Told this year, of last year's lot.",
            called("recall", "2026-03-20", "K1")),
    recalls("recall-of-an-unknown-lot", PLAIN, (gap, L1_KEPT), "L01 is called back; there is an L1.",
            called("recall", "2026-10-20", "L01")),
]  # fmt: skip
FRAUDS = RECALLS
