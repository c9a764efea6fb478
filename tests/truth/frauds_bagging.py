"""Frauds with bags: what they were put over, how long they held, and what their tags say."""

from __future__ import annotations

from fraud import of_stage
from frauds_edits import Edit, add, again, also, cut, out, put
from frauds_records import bag, later
from frauds_seasons import EARLIER, PLAIN, YEARS
from frauds_wants import BOTH, L1, L2, L2_KEPT, gap, not_all_traced, said, traced_at_most

bagging = of_stage("bagging")
# fmt: off


def looks(name: str, *found: str) -> Edit:
    """The checks of a bag, each `MM-DD condition`."""
    return put(f"{name}.checks", [
        {"date": f"2026-{day}", "condition": condition} for day, condition in map(str.split, found)
    ])


def storm(day: str, **more: object) -> Edit:
    """A walk after a storm."""
    round_ = {"round": "R20", "kind": "storm", "date": f"2026-{day}", "by": "I. Marl"}
    return add("rounds", {**round_, **(more or {"blocks": ["EAST"]})})


def spare(**more: object) -> Edit:
    """A further bag on 001 with the tag of B1 and B2, that no picking takes up."""
    return add("bagging",
               bag("B9", "001", "2026-02-02", **{"outcome": "dropped", "fruit_marked": False, **more}))


COVERS = [
    bagging("bag-over-an-open-flower", PLAIN, (traced_at_most("L1", 0), L2_KEPT), "The flower was open.",
            put("B1.stage", "open")),
    bagging("bag-untied", PLAIN, (L1, L2_KEPT), "Bees creep into a bag that nobody tied.",
            put("B1.secured", False)),
    bagging("bag-all-untied", PLAIN, BOTH, "None was tied.",
            *(put(f"B{one}.secured", False) for one in range(1, 7))),
    bagging("bag-over-a-male-flower", PLAIN, L1, "A male flower sets no fruit.", put("B1.flower", "male")),
    bagging("bag-over-a-female-flower", PLAIN, L1, "A female flower, and 001 bears none.",
            put("B1.flower", "female")),
    bagging("bag-on-a-male-tree", PLAIN, L1, "The tree of this bag is male.", put("001.sex", "male")),
    bagging("bag-on-a-female-tree", PLAIN, L1, "The tree is female and its flower hermaphrodite.",
            put("001.sex", "female")),
    bagging("bag-on-an-unknown-tree", PLAIN, L1, "No tree 091 is in the register.",
            put("B1.tree", "091"), put("B1.tag.tree", "091")),
    bagging("bag-on-a-tree-of-no-planting", PLAIN, L1, "Tree 001 belongs to a planting that isn't there.",
            put("001.planting", "P9")),
    bagging("bag-on-a-felled-tree", PLAIN, L1, "001 was felled a week before.",
            put("001.removed", "2026-01-26"), put("001.removed_because", "old")),
    bagging("bag-picked-from-a-felled-tree", PLAIN, L1, "001 was felled in March and picked in June.",
            put("001.removed", "2026-03-26"), put("001.removed_because", "old")),
    bagging("bag-before-the-tree", PLAIN, L1, "The tree was planted after the bag went on.",
            put("P1.planted", "2026-02-05")),
    bagging("bag-used-before-for-treated-seed", PLAIN, said, "The bag held treated seed.",
            put("B1.bag_use", "re-used"), put("B1.previous_contents", "seed treated with fungicide")),
    bagging("bag-entered-twice", PLAIN, L1, "Bag B1 stands twice, once over an open flower.",
            again("B1", stage="open")),
    bagging("bag-covered-after-picking", PLAIN, L1, "The bag went on after its fruit was picked.",
            put("B1.covered", "2026-06-30"), put("B1.tag.date", "2026-06-30"), put("B1.checks", []),
            cut("B1.uncovered", "B1.fruit_marked")),
    bagging("bag-picked-after-seven-weeks", PLAIN, L1, "No papaya ripens in 55 days.",
            put("B1.covered", "2026-05-01"), put("B1.tag.date", "2026-05-01"), looks("B1", "05-09 intact"),
            put("B1.uncovered", "2026-05-20")),
    bagging("bag-picked-after-a-year", YEARS, L2, "The fruit of this bag is 15 months old.",
            *(put("B4.covered", "2025-03-20"), put("B4.tag.date", "2025-03-20")),
            put("B4.checks", [{"date": "2025-03-28", "condition": "intact"}]),
            put("B4.uncovered", "2025-04-10")),
]

HELD = [
    bagging("bag-torn-on-the-last-day", PLAIN, (traced_at_most("L1", 0), L2_KEPT),
            "Found torn on the seventh day, when the stigma still takes pollen.", looks("B1", "02-09 torn")),
    bagging("bag-loose-on-the-third-day", PLAIN, L1, "Found loose.", looks("B1", "02-05 loose")),
    bagging("bag-gone-on-the-first-day", PLAIN, L1, "Found gone the day after.", looks("B1", "02-03 gone")),
    bagging("bag-torn-and-mended", PLAIN, L1, "Torn on the fourth day, whole again on the seventh.",
            looks("B1", "02-06 torn", "02-09 intact", "02-15 intact")),
    bagging("bag-torn-and-whole-the-same-day", PLAIN, L1, "Torn and whole on one day.",
            looks("B1", "02-05 intact", "02-05 torn", "02-15 intact")),
    bagging("bag-torn-with-a-gap-before", PLAIN, L1,
            "Whole on the third day, torn on the tenth: it may have torn on the fourth.",
            looks("B1", "02-05 intact", "02-12 torn")),
    bagging("bag-torn-never-looked-at-before", PLAIN, L1, "Torn in the third week, never looked at before.",
            looks("B1", "02-18 torn")),
    bagging("bag-gone-after-a-month", PLAIN, L1, "Gone when somebody first looked.",
            looks("B1", "03-05 gone"), cut("B1.uncovered")),
    bagging("bag-looked-at-after-it-came-off", PLAIN, L1,
            "Off on the sixth day; the look is of the twentieth.",
            put("B1.uncovered", "2026-02-08"), looks("B1", "02-22 intact")),
    bagging("bag-off-a-day-early", PLAIN, L1, "Off on the sixth day.", put("B1.uncovered", "2026-02-08"),
            looks("B1", "02-06 intact")),
    bagging("bag-never-looked-at", PLAIN, L1, "Nobody looked and nobody took it off; it was picked, no more.",
            cut("B1.checks", "B1.uncovered")),
    bagging("bag-looked-at-too-early", PLAIN, L1, "The only look was on the third day.",
            looks("B1", "02-05 intact"), cut("B1.uncovered")),
    bagging("bag-looked-at-before-it-hung", PLAIN, L1, "The look is older than the bag.",
            looks("B1", "02-01 intact"), cut("B1.uncovered")),
    bagging("bag-looked-at-after-picking", PLAIN, L1, "The look is of July; the fruit was picked in June.",
            looks("B1", "07-01 intact"), cut("B1.uncovered")),
    bagging("bag-off-before-it-was-on", PLAIN, L1, "It came off before it went on.",
            put("B1.uncovered", "2026-01-20")),
    bagging("bag-petals-fell-late", PLAIN, L1, "The petals fell on the 20th, the bag came off on the 17th.",
            put("B1.petal_fall", "2026-02-20"), put("B1.uncovered", "2026-02-17")),
    bagging("bag-petals-fell-late-and-torn", PLAIN, L1, "Torn on the 15th; the petals fell on the 20th.",
            put("B1.petal_fall", "2026-02-20"), looks("B1", "02-12 intact", "02-15 torn"),
            put("B1.uncovered", "2026-02-22")),
    bagging("bag-petals-fell-before-covering", PLAIN, L1, "The petals fell before the bag went on.",
            put("B1.petal_fall", "2026-01-30")),
    bagging("bag-own-days-of-cover", PLAIN, L1, "Their own figure says that two days are enough.",
            put("B1.uncovered", "2026-02-05"), put("B1.checks", []),
            put("season.practice", {"days_covered": {"low": 2, "reason": "our flowers wither quickly"}})),
    bagging("bag-torn-in-last-years-folder", YEARS, L2,
            "A bag of December, torn in December; the folder of last year has it.",
            add("2025/bagging", bag("BX", "002", "2025-12-01", checks=[
                {"date": "2025-12-05", "condition": "torn"}])),
            also("H2.bags", "BX"), put("H2.fruits", 4), put("H2.weight", "2000 g")),
    bagging("bag-torn-then-whole-in-the-next-folder", YEARS, L2,
            "Torn in last year's folder; this year's tells of the same bag and leaves that out.",
            add("2025/bagging", bag("BX", "002", "2025-12-01", checks=[
                {"date": "2025-12-05", "condition": "torn"}])),
            add("bagging", bag("BX", "002", "2025-12-01")), also("H2.bags", "BX"), put("H2.fruits", 4),
            put("H2.weight", "2000 g")),
]

STORMS = [
    bagging("bag-storm-and-no-look", PLAIN, L2, "A storm three days after covering; nobody went to look.",
            storm("02-12"), *(put(f"B{one}.checks", []) for one in (4, 5, 6))),
    bagging("bag-storm-looked-at-before", PLAIN, L2, "The last look was the day before the storm.",
            storm("02-12"), looks("B4", "02-11 intact")),
    bagging("bag-storm-looked-at-that-day", PLAIN, L2, "Looked at on the day of the storm, before or after?",
            storm("02-14"), looks("B4", "02-14 intact")),
    bagging("bag-storm-then-torn", PLAIN, L2, "After the storm it was found torn.", storm("02-12"),
            looks("B4", "02-11 intact", "02-20 torn")),
    bagging("bag-storm-looked-at-when-off", PLAIN, L2, "The look came when the bag was off.", storm("02-12"),
            looks("B4", "02-22 intact"), put("B4.uncovered", "2026-02-18")),
    bagging("bag-storm-over-one-tree", PLAIN, L2, "The storm was over 002.", storm("02-12", trees=["002"]),
            put("B5.checks", [])),
    bagging("bag-storm-over-named-bags", PLAIN, L2, "The storm took B4 to B6.",
            storm("02-12", bags=["B4 to B6"]), put("B6.checks", [])),
    bagging("bag-storm-of-long-petals", PLAIN, L1, "The petals fell on the 20th; the storm was on the 18th.",
            storm("02-18"), put("B1.petal_fall", "2026-02-20"), looks("B1", "02-15 intact"),
            put("B1.uncovered", "2026-02-22")),
    bagging("bag-two-storms", PLAIN, L2, "A look between two storms, and none after the second.",
            storm("02-11"), add("rounds", {"round": "R21", "kind": "storm", "date": "2026-02-14",
                                           "by": "I. Marl", "blocks": ["EAST"]}),
            looks("B4", "02-12 intact")),
    bagging("bag-storm-in-last-years-folder", YEARS, not_all_traced("L2"),
            "A storm in December over a bag of December; last year's folder has both, and no look since.",
            add("2025/bagging", bag("BX", "002", "2025-12-01", checks=[])),
            add("2025/rounds", {"round": "RP1", "kind": "storm", "date": "2025-12-04", "by": "I. Marl",
                                "blocks": ["EAST"]}),
            also("H2.bags", "BX"), put("H2.fruits", 4), put("H2.weight", "2000 g")),
]

TAGS = [
    bagging("tag-of-another-tree", PLAIN, L1, "The tag says 002.", put("B1.tag.tree", "002")),
    bagging("tag-of-another-day", PLAIN, L1, "The tag says 20 February.", put("B1.tag.date", "2026-02-20")),
    bagging("tag-of-another-variety", PLAIN, L1, "The tag says Dusk Finch.",
            put("B1.tag.variety", "Dusk Finch")),
    bagging("tag-of-another-bag", PLAIN, L1, "The tag bears the number of B7.", put("B1.tag.bag", "B7")),
    bagging("tag-short-name-undeclared", PLAIN, L1, "'CW' is no variety that a planting declares.",
            put("B1.tag.variety", "CW")),
    bagging("tag-short-name-of-another", PLAIN, L1, "The planting is called CR for short; the tag says CW.",
            put("P1.short", "CR"), put("B1.tag.variety", "CW")),
    bagging("tag-question", PLAIN, L1, "The tag's variety is a question mark.", put("B1.tag.variety", "?")),
    bagging("tag-twice-one-open", PLAIN, L1,
            "Two bags with one tag; one of them was put over an open flower. Which fruit was picked?",
            spare(stage="open")),
    bagging("tag-twice-one-untied", PLAIN, L1, "A third bag with the tag of B1 was never tied.",
            spare(secured=False)),
    bagging("tag-twice-one-torn", PLAIN, L1, "A third bag with the tag of B1 was torn.",
            spare(checks=[{"date": "2026-02-05", "condition": "torn"}], outcome="set")),
    bagging("tag-twice-one-never-looked-at", PLAIN, L1, "A third bag with this tag was never looked at.",
            spare(checks=[], uncovered=None, outcome="set"), cut("B9.uncovered")),
    bagging("tag-twice-across-lots", PLAIN, BOTH,
            "B3 of L1 and a bag of L2 bear one tag; the one of L2 was torn.",
            put("B4.tag.tree", "001"), put("B4.tree", "001"), looks("B4", "02-12 torn")),
    bagging("tag-numbered-on-one-only", PLAIN, L1,
            "B1's tag bears its number; those of B2 and of the untied third bag don't.",
            put("B1.tag.bag", "B1"), spare(secured=False)),
]

FATES = [
    bagging("bag-dropped-and-picked", PLAIN, L1, "The flower dropped, and its fruit was picked.",
            put("B1.outcome", "dropped")),
    bagging("bag-lost-and-picked", PLAIN, L1, "The flower was lost, and its fruit was picked.",
            put("B1.outcome", "lost")),
    bagging("bag-fruit-unmarked", PLAIN, L1, "Four months without a bag and without a mark.",
            put("B1.fruit_marked", False)),
    bagging("bag-picked-twice", PLAIN, BOTH, "B1 stands in both pickings, and in each for a fruit.",
            also("H2.bags", "B1"), put("H2.fruits", 4), put("H2.weight", "2000 g")),
    bagging("bag-picked-in-two-years", YEARS, gap, "BP4 of last year is picked again this year.",
            also("H2.bags", "BP4"), put("H2.fruits", 4), put("H2.weight", "2000 g")),
    bagging("bag-of-no-record", PLAIN, L1, "Picking H1 names a bag that nobody hung.",
            put("H1.bags", ["B1", "B2", "B33"])),
    bagging("bag-record-taken-out", PLAIN, L1, "The record of B3 is gone; its fruit was picked.", out("B3")),
    bagging("bag-moved-to-last-year", YEARS, L1,
            "The record of B1, which nobody tied, was moved to last year's folder.",
            out("B1"), add(f"{EARLIER}/bagging", bag("B1", "101", "2026-02-02", secured=False))),
    bagging("bag-more-fruit-than-bags", PLAIN, L1, "Four fruits of three bags.", put("H1.fruits", 4),
            put("H1.weight", "2000 g")),
    bagging("bag-more-fruit-by-own-figure", PLAIN, said,
            "Nine fruits of three bags, by a figure of their own.",
            put("H1.fruits", 9), put("H1.weight", "4500 g"),
            put("season.practice", {"fruits_per_bag": {"high": 5, "reason": "we get more"}})),
    bagging("bag-outcome-of-a-bag-in-both-years", YEARS, gap,
            "One bag, told of in both years: set in one and dropped in the other.",
            add("2025/bagging", bag("BX", "002", "2025-12-01", outcome="dropped")),
            add("bagging", bag("BX", "002", "2025-12-01")), also("H2.bags", "BX"), put("H2.fruits", 4),
            put("H2.weight", "2000 g")),
    bagging("bag-chain-of-small-things", PLAIN, L1,
            "Covered early, looked at a day early, off a day early: the seventh day was never seen.",
            put("B2.checks", [{"date": later("2026-02-02", 6), "condition": "intact"}]),
            put("B2.uncovered", later("2026-02-02", 6))),
]
FRAUDS = [*COVERS, *HELD, *STORMS, *TAGS, *FATES]
