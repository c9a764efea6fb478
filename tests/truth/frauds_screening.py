"""Frauds with leaf samples, pools and what a laboratory says."""

from __future__ import annotations

from fraud import of_stage
from frauds_edits import Edit, add, again, cut, file, out, put
from frauds_records import OPERATION, RESPONSIBLE, dna_tested, planting, stained, tree
from frauds_seasons import PLAIN, YEARS
from frauds_wants import BOTH, L1, L2, L2_KEPT, gap, gap_at, not_all_traced, said, traced_at_most

screening = of_stage("screening")
CROWD = [f"0{number:02}" for number in range(6, 31)]
MORE_TREES = add("trees", *(tree(one) for one in CROWD))
# fmt: off


def pool(name: str, *trees: str, day: str = "2026-01-06", method: str = "gus", **more: object) -> Edit:
    """A pooled sample in place of any mark."""
    made = (stained if method == "gus" else dna_tested)(name, "", day, **more)
    made = {key: value for key, value in made.items() if key not in {"tree", "mark"}}
    return add("screening", {**made, "trees": list(trees)})


def strip(name: str, of: str, day: str, **more: object) -> dict[str, object]:
    """A leaf tested with a protein strip."""
    return dna_tested(name, of, day, method="strip", **{"targets": ["nptII", "CP"], **more})


#: The fruit of B1 to B3 is of the female 003, with pollen of 005.
BY_HAND = tuple(
    put(f"B{one}.{key}", value) for one in (1, 2, 3)
    for key, value in (("tree", "003"), ("tag.tree", "003"), ("flower", "female"), ("pollen_parent", "005"))
)

POOLS = [
    screening("screening-pool-above-the-stain-limit", PLAIN, BOTH,
              "Eleven leaves in one stain: one blue leaf of eleven is easily missed.", MORE_TREES,
              out("S1", "S2"), pool("S20", "001", "002", *CROWD[:9])),
    screening("screening-pool-above-the-dna-limit", PLAIN, BOTH, "Twenty-one leaves in one DNA test.",
              MORE_TREES, out("S1", "S2"), pool("S20", "001", "002", *CROWD[:19], method="pcr")),
    screening("screening-pool-above-the-strip-limit", PLAIN, BOTH, "Eleven leaves on one strip.", MORE_TREES,
              out("S1", "S2"),
              pool("S20", "001", "002", *CROWD[:9], method="pcr", targets=["nptII", "CP"]),
              put("S20.method", "strip")),
    screening("screening-pool-of-all-trees", PLAIN, BOTH, "Thirty leaves went into one bottle.", MORE_TREES,
              out("S1", "S2"), pool("S20", "001", "002", "003", "004", "005", *CROWD)),
    screening("screening-pool-of-a-positive-tree", PLAIN, L1,
              "The pool is clean and holds 001, of which a single leaf was positive.",
              put("S1.result", "positive"), pool("S20", "001", "003", day="2026-01-20")),
    screening("screening-pool-overturns-a-single", PLAIN, L1,
              "A pool tested later by DNA doesn't clear a tree that was blue singly.",
              put("S1.result", "positive"), pool("S20", "001", "002", day="2026-01-20", method="pcr")),
    screening("screening-pool-positive", PLAIN, BOTH,
              "The pool of both is positive; nobody looked at either.",
              out("S1", "S2"), pool("S20", "001", "002", result="positive")),
    screening("screening-pool-positive-singles-of-the-day", PLAIN, BOTH,
              "A positive pool whose trees were all clean the same day: one of the results is wrong.",
              pool("S20", "001", "002", result="positive")),
    screening("screening-pool-positive-after-the-singles", PLAIN, BOTH,
              "Single leaves clean in January, the pool positive in March.",
              pool("S20", "001", "002", day="2026-03-06", result="positive")),
    screening("screening-pool-positive-cleared-by-strips", PLAIN, BOTH,
              "A DNA test found it in the pool; strips, which see less, are to clear each tree.",
              out("S1", "S2"), pool("S20", "001", "002", method="pcr", result="positive"),
              add("screening", strip("S21", "001", "2026-01-20"), strip("S22", "002", "2026-01-20"))),
    screening("screening-pool-positive-one-cleared", PLAIN, L2,
              "Of the positive pool only 001 was tested again.", out("S1", "S2"),
              pool("S20", "001", "002", result="positive"),
              add("screening", stained("S21", "001", "2026-01-20"))),
    screening("screening-pool-without-the-tree", PLAIN, L1, "The pool that is to clear 001 doesn't hold it.",
              out("S1"), pool("S20", "003", "004", "005")),
    screening("screening-pool-with-void-controls", PLAIN, BOTH, "The pool's controls failed.",
              out("S1", "S2"), pool("S20", "001", "002", controls="failed")),
    screening("screening-pool-and-tree-at-once", PLAIN, said, "The sample is of one tree and of a pool.",
              put("S1.trees", ["001", "002"])),
]

RESULTS = [
    screening("screening-positive", PLAIN, (traced_at_most("L1", 0), L2_KEPT), "The mother is positive.",
              put("S1.result", "positive")),
    screening("screening-positive-afterwards", PLAIN, L1, "A second leaf, in October, is positive.",
              add("screening", stained("S20", "001", "2026-10-06", result="positive"))),
    screening("screening-positive-then-strip", PLAIN, L1, "A strip is no match for a stain.",
              put("S1.result", "positive"), add("screening", strip("S20", "001", "2026-01-20"))),
    screening("screening-positive-by-dna-then-stained", PLAIN, L1, "A stain doesn't overturn a DNA test.",
              add("screening", stained("S20", "001", "2026-01-25")), out("S1"),
              add("screening", dna_tested("S21", "001", "2026-01-06", result="positive"))),
    screening("screening-positive-then-the-same-method", PLAIN, L1,
              "Two stains, blue and clean: a third, other method must say.",
              put("S1.result", "positive"), add("screening", stained("S20", "001", "2026-01-20"))),
    screening("screening-positive-three-clean-stains", PLAIN, L1, "Stained until it came out clean.",
              put("S1.result", "positive"),
              add("screening", *(stained(f"S2{one}", "001", f"2026-01-{20 + one}") for one in range(3)))),
    screening("screening-positive-cleared-by-an-older-leaf", PLAIN, L1,
              "The DNA test that is to clear it was of an older leaf.", put("S1.result", "positive"),
              add("screening", dna_tested("S20", "001", "2026-01-02"))),
    screening("screening-positive-cleared-the-same-day", PLAIN, L1, "The DNA test is of the same day's leaf.",
              put("S1.result", "positive"), add("screening", dna_tested("S20", "001"))),
    screening("screening-positive-cleared-by-another-target", PLAIN, L1,
              "The DNA test looked for another coat protein than these events carry.",
              put("S1.result", "positive"),
              add("screening", dna_tested("S20", "001", "2026-01-20", targets=["CP-YK"]))),
    screening("screening-positive-cleared-by-void-dna", PLAIN, L1, "The clearing run failed its controls.",
              put("S1.result", "positive"),
              add("screening", dna_tested("S20", "001", "2026-01-20", controls="failed"))),
    screening("screening-positive-cleared-without-a-letter", PLAIN, L1, "Nobody wrote the clearing result.",
              put("S1.result", "positive"), add("screening", dna_tested("S20", "001", "2026-01-20")),
              cut("S20.laboratory", "S20.report")),
    screening("screening-positive-cleared-after-covering", PLAIN, L1,
              "The false alarm was settled when the bags hung already.", put("S1.result", "positive"),
              add("screening", dna_tested("S20", "001", "2026-03-20"))),
    screening("screening-positive-last-year", YEARS, not_all_traced("K2", "L2", "L3"),
              "002 was positive last year and clean by the same method this year.",
              put("2025/SP2.result", "positive")),
    screening("screening-positive-under-two-numbers", PLAIN, L1, "S1 stands twice, clean and positive.",
              again("S1", result="positive")),
    screening("screening-positive-leaf-marked-001", PLAIN, said,
              "The positive leaf of 005 bears the mark 001.", put("S5.mark", "001"),
              put("S5.result", "positive")),
    screening("screening-inconclusive", PLAIN, L1, "The laboratory couldn't tell.",
              put("S1.result", "inconclusive")),
    screening("screening-inconclusive-afterwards-by-pool", PLAIN, L1, "Inconclusive, and the pool is void.",
              put("S1.result", "inconclusive"), pool("S20", "001", "002", controls="not run")),
    screening("screening-controls-failed", PLAIN, L1, "The positive control stayed white.",
              put("S1.controls", "failed")),
    screening("screening-controls-not-run", PLAIN, L1, "No controls were run.",
              put("S1.controls", "not run")),
    screening("screening-none", PLAIN, L1, "001 was never tested.", out("S1")),
    screening("screening-of-another-tree", PLAIN, L1, "The leaf is of 005 and bears its mark.",
              put("S1.tree", "005"), put("S1.mark", "005")),
    screening("screening-two-results-in-two-years", YEARS, not_all_traced("L2"),
              "One sample SP2 of one day stands in both folders, positive in one.",
              put("2025/SP2.result", "positive"), add("screening", dna_tested("SP2", "002", "2025-01-06"))),
]

MARKS = [
    screening("screening-mark-of-the-neighbour", PLAIN, L1, "The stalk said 002.", put("S1.mark", "002")),
    screening("screening-mark-with-a-letter-o", PLAIN, L1, "O01 isn't 001.", put("S1.mark", "O01")),
    screening("screening-mark-short", PLAIN, L1, "01 isn't 001.", put("S1.mark", "01")),
    screening("screening-mark-of-two", PLAIN, L1, "The mark names two trees.", put("S1.mark", "001/002")),
    screening("screening-mark-question", PLAIN, L1, "A question mark is no mark.", put("S1.mark", "?")),
    screening("screening-marks-swapped", PLAIN, BOTH, "The marks of two leaves are swapped.",
              put("S1.mark", "002"), put("S2.mark", "001")),
]

TIMES = [
    screening("screening-a-day-after-covering", PLAIN, L1, "The leaf was cut the day after B1 was put on.",
              put("S1.collected", "2026-02-03"), put("S1.submitted", "2026-02-04"),
              put("S1.reported", "2026-02-10")),
    screening("screening-after-picking", PLAIN, L1, "It was tested when the fruit was in the shed.",
              put("S1.collected", "2026-07-03"), put("S1.submitted", "2026-07-04"),
              put("S1.reported", "2026-07-10")),
    screening("screening-before-the-tree", PLAIN, L1, "The leaf is older than the tree.",
              put("S1.collected", "2024-06-03"), put("S1.submitted", "2024-06-04"),
              put("S1.reported", "2024-06-10")),
    screening("screening-of-the-tree-before", YEARS, L2,
              "002 was felled and planted anew; only the old tree was tested.", out("S2"),
              add("plantings", planting("P3", "2025-08-01")),
              put("002.planting", "P3"), put("2025/002.removed", "2025-07-25"),
              put("2025/002.removed_because", "old")),
    screening("screening-reported-after-the-sale", PLAIN, (gap_at("M3"), traced_at_most("L1", 16)),
              "It was sold in September, and the result came in October.",
              put("S1.submitted", "2026-09-28"), put("S1.reported", "2026-10-05")),
    screening("screening-never-reported", PLAIN, (gap_at("M3"), traced_at_most("L1", 16)),
              "Nothing says when the result came, so nothing says that it was in before the sale.",
              cut("S1.reported")),
    screening("screening-never-reported-last-year", YEARS, gap,
              "K2 was sold last year, and the result of its mother bears no day.",
              cut("2025/SP2.reported")),
    screening("screening-reported-before-it-was-cut", PLAIN, gap, "The result is older than the leaf.",
              put("S1.reported", "2026-01-05")),
    screening("screening-submitted-before-it-was-cut", PLAIN, gap, "Handed in before it was cut.",
              put("S1.submitted", "2026-01-05")),
    screening("screening-young-tree", PLAIN, L1, "B1 is entered on a tree of 89 days; it can't flower yet.",
              put("P1.planted", "2025-11-05")),
    screening("screening-seedling-in-january", PLAIN, BOTH, "Planted in January, bagged in February.",
              put("P1.planted", "2026-01-03"), put("P1.material", "annual seedling")),
]

METHODS = [
    screening("screening-stain-of-half-an-hour", PLAIN, L1, "Nothing turns blue in half an hour.",
              put("S1.incubation", "30 min")),
    screening("screening-stain-of-a-week", PLAIN, L1, "A hundred hours in the stain.",
              put("S1.incubation", "100 h")),
    screening("screening-stain-of-five-days", PLAIN, L1, "Five days in the stain.",
              put("S1.incubation", "5 d")),
    screening("screening-stain-in-the-cold", PLAIN, L1, "The enzyme sleeps at 20 degrees.",
              put("S1.temperature", "20 C")),
    screening("screening-stain-boiled", PLAIN, L1, "At 60 degrees the enzyme is dead.",
              put("S1.temperature", "60 C")),
    screening("screening-stain-at-37-fahrenheit", PLAIN, L1, "37 °F is a refrigerator.",
              put("S1.temperature", "37 F")),
    screening("screening-stain-cannot-see-the-event", PLAIN, BOTH,
              "Without the season's own list X17-2 is of concern, and no stain can see it.",
              cut("season.events_of_concern")),
    screening("screening-event-added", PLAIN, BOTH, "The list names an event that has no blue gene.",
              put("season.events_of_concern", ["55-1", "63-1", "16-0-1"])),
    screening("screening-dna-without-targets", PLAIN, L1, "A DNA test that looked for nothing.", out("S1"),
              add("screening", dna_tested("S20", "001")), cut("S20.targets")),
    screening("screening-dna-for-another-gene", PLAIN, L1, "It looked for what these events don't carry.",
              out("S1"), add("screening", dna_tested("S20", "001", targets=["CP-YK"]))),
    screening("screening-events-each-by-half", YEARS, L2,
              "A stain and a CP-YK test together leave X17-2 open.",
              out("S2"), out("2025/SP2"), add("screening", stained("S20", "002")),
              add("screening", dna_tested("S21", "002", targets=["CP-YK"]))),
    screening("screening-own-bench-without-controls", PLAIN, L1, "Stained in the kitchen, no controls.",
              put("S1.laboratory", "own bench"), cut("S1.controls")),
    screening("screening-own-bench-without-hours", PLAIN, L1, "Stained at home; nobody says how long.",
              put("S1.laboratory", "home"), cut("S1.incubation")),
    screening("screening-own-bench-by-the-farms-name", PLAIN, L1, "The laboratory is the farm itself.",
              put("S1.laboratory", OPERATION.lower()), cut("S1.controls")),
    screening("screening-own-bench-by-the-growers-name", PLAIN, L1, "The laboratory is the grower.",
              put("S1.laboratory", RESPONSIBLE), cut("S1.controls")),
    screening("screening-own-bench-in-house", PLAIN, L1, "In-house, and no hours in the stain.",
              put("S1.laboratory", "in-house"), cut("S1.incubation", "S1.temperature")),
    screening("screening-empty-letter", PLAIN, L1, "No report number; the letter named is an empty file.",
              cut("S1.report"), put("S1.evidence", "s1.txt"), file("evidence/s1.txt", "")),
    screening("screening-absent-letter", PLAIN, L1, "No report number; the letter named isn't there.",
              cut("S1.report"), put("S1.evidence", "letters/s1.txt")),
    screening("screening-letter-without-a-laboratory", PLAIN, L1, "A report number of nobody.",
              cut("S1.laboratory")),
]

POLLEN = [
    screening("screening-father-after-covering", PLAIN, L1, "The pollen parent's leaf was cut in May.",
              *BY_HAND,
              put("S5.collected", "2026-05-01"), put("S5.submitted", "2026-05-02"),
              put("S5.reported", "2026-05-09")),
    screening("screening-father-untested", PLAIN, L1, "The pollen parent was never tested.", *BY_HAND,
              out("S5")),
    screening("screening-father-positive", PLAIN, L1, "The pollen parent is positive.", *BY_HAND,
              put("S5.result", "positive")),
    screening("screening-father-of-one-bag-positive", PLAIN, L1, "One of three fruits has a positive father.",
              *BY_HAND, put("B2.pollen_parent", "004"), put("S4.result", "positive")),
    screening("screening-father-unnamed", PLAIN, L1, "A female flower, and nobody says whose pollen.",
              *BY_HAND,
              cut("B1.pollen_parent")),
    screening("screening-father-unknown", PLAIN, L1, "No tree bears the pollen parent's number.", *BY_HAND,
              put("B1.pollen_parent", "099")),
    screening("screening-father-reported-after-the-sale", PLAIN, (gap_at("M3"), traced_at_most("L1", 16)),
              "The pollen parent's result came after the sale.", *BY_HAND,
              put("S5.submitted", "2026-09-28"), put("S5.reported", "2026-10-05")),
    screening("screening-father-unmarked", PLAIN, L1, "The pollen parent's leaf bore no mark.", *BY_HAND,
              cut("S5.mark")),
    screening("screening-father-is-a-female", PLAIN, L1, "The pollen parent is female.", *BY_HAND,
              put("B3.pollen_parent", "003")),
]
FRAUDS = [*POOLS, *RESULTS, *MARKS, *TIMES, *METHODS, *POLLEN]
