"""What must be said and isn't: each field left out by itself, and each kind of word that says nothing."""

from __future__ import annotations

from fraud import of_stage
from frauds_edits import Edit, add, cut, file, put
from frauds_records import OPERATION, VARIETY, foreign, lot, returned
from frauds_seasons import PLAIN, ROUNDS, YEARS
from frauds_wants import BOTH, L1, L2, Want, gap, gap_at, not_all_traced, said, traced_at_most

silence = of_stage("silence")
NOTHING = {"question": "?", "dash": "-", "dashes": "--", "n-a": "n/a", "unknown": "unknown", "tbd": "tbd",
           "dot": ".", "x": "x", "none": "none"}  # fmt: skip
GOURD = add("batches", foreign("X0", "2026-06-05"))
BACK = add("movements", returned("M20", "2026-10-01", "L1", 5)), put("M5.weight", "14.5 g")
OWN_BENCH = put("S1.laboratory", "own bench")
# fmt: off

#: A field left out: by base, what must come of it, and what else has to be so for it to matter.
LEFT_OUT: dict[str, tuple[str, Want, str, str, tuple[Edit, ...]]] = {
    "bag-covered": (PLAIN, L1, "B1.covered", "Nothing says when B1 was put on.", ()),
    "bag-tag": (PLAIN, L1, "B1.tag", "B1 has no tag.", ()),
    "bag-tag-date": (PLAIN, L1, "B1.tag.date", "B1's tag bears no day.", ()),
    "bag-tag-variety": (PLAIN, L1, "B1.tag.variety", "B1's tag bears no variety.", ()),
    "bag-tag-tree": (PLAIN, L1, "B1.tag.tree", "B1's tag bears no tree.", ()),
    "bag-flower": (PLAIN, L1, "B1.flower", "Nothing says what flower B1 was put over.", ()),
    "bag-stage": (PLAIN, L1, "B1.stage", "Nothing says that the bud was closed.", ()),
    "bag-secured": (PLAIN, L1, "B1.secured", "Nobody says that B1 was tied.", ()),
    "bag-use": (PLAIN, L1, "B1.bag_use", "Nothing says whether the bag was new.", ()),
    "bag-checks": (PLAIN, L1, "B1.checks", "B1 was never looked at and never taken off.",
                   (cut("B1.uncovered"),)),
    "bag-fruit-marked": (PLAIN, L1, "B1.fruit_marked", "Nothing says that the fruit was marked.", ()),
    "bag-of-the-second-lot": (PLAIN, L2, "B6.secured", "Nobody says that B6 was tied.", ()),
    "bag-pollen-parent-of-a-female": (PLAIN, L1, "B1.pollen_parent", "Nothing says whose pollen it was.",
                                      (put("B1.pollen_parent", "005"), put("B1.tree", "003"),
                                       put("B1.tag.tree", "003"), put("B1.flower", "female"))),
    "sample-mark": (PLAIN, L1, "S1.mark", "The leaf bore no mark.", ()),
    "sample-collected": (PLAIN, L1, "S1.collected", "Nothing says when the leaf was cut.", ()),
    "sample-method": (PLAIN, L1, "S1.method", "Nothing says how it was tested.", ()),
    "sample-laboratory": (PLAIN, L1, "S1.laboratory", "Nothing says who tested it.", ()),
    "sample-report": (PLAIN, L1, "S1.report", "No report and no letter.", ()),
    "sample-result": (PLAIN, L1, "S1.result", "No result.", ()),
    "sample-tree": (PLAIN, L1, "S1.tree", "Nothing says of which tree it is.", ()),
    "sample-targets": (YEARS, L1, "S101.targets", "A DNA test for nothing.", ()),
    "sample-controls-on-the-own-bench": (PLAIN, L1, "S1.controls", "Own bench, no controls.", (OWN_BENCH,)),
    "sample-incubation-on-the-own-bench": (PLAIN, L1, "S1.incubation", "Own bench, no hours.", (OWN_BENCH,)),
    "sample-reported": (PLAIN, gap_at("M3"), "S1.reported", "Nothing says when the result came.", ()),
    "sample-of-last-year": (YEARS, not_all_traced("K2", "L3"), "2025/SP2.mark", "No mark, last year.", ()),
    "block-organic-since": (PLAIN, BOTH, "EAST.organic_since", "Organic since when?", ()),
    "block-substance": (PLAIN, BOTH, "EAST.last_prohibited_substance", "Nothing says what was last used.",
                        ()),
    "block-boundary": (PLAIN, BOTH, "EAST.boundary", "Nothing marks the boundary.", ()),
    "block-buffer": (PLAIN, BOTH, "EAST.buffer", "No buffer is told.", ()),
    "planting-origin": (PLAIN, BOTH, "P1.origin", "Nothing says where the mothers came from.", ()),
    "planting-certificate": (PLAIN, gap, "P1.origin.certificate", "Organic seed of no certificate.", ()),
    "planting-supplier": (PLAIN, gap, "P1.origin.supplier", "A certificate of nobody.", ()),
    "planting-statement": (PLAIN, said, "P1.non_gm_statement", "Nobody states that it isn't engineered.", ()),
    "picking-bags": (PLAIN, L1, "H1.bags", "Nothing says under which bags it grew.", ()),
    "run-harvests": (PLAIN, L1, "E1.harvests", "Nothing says what fruit was opened.", ()),
    "run-dry-weight": (PLAIN, L1, "E1.dry_weight", "Nobody weighed the seed.", ()),
    "run-equipment": (PLAIN, L1, "E1.equipment", "Gourd is run here, and E1 names no equipment.", (GOURD,)),
    "lot-sources": (PLAIN, traced_at_most("L1", 0), "L1.sources", "Nothing says where L1 came from.", ()),
    "lot-packaging": (PLAIN, L1, "L1.packaging", "Nothing says in what it is packed.", ()),
    "lot-container-use": (PLAIN, L1, "L1.container_use", "Nothing says whether the bags were new.", ()),
    "lot-last-year": (YEARS, not_all_traced("K1", "L1"), "2025/K1.container_use",
                      "Nothing says whether K1's bags were new.", ()),
    "sale-party": (PLAIN, traced_at_most("L1", 16), "M3.party", "Nothing says who has it.", ()),
    "sale-document": (PLAIN, traced_at_most("L1", 16), "M3.document", "No paper.", ()),
    "return-opened": (PLAIN, traced_at_most("L1", 6.5), "M20.opened", "Nothing says that it was unopened.",
                      BACK),
    "return-party": (PLAIN, traced_at_most("L1", 11.5), "M20.party", "Nothing says who brought it.", BACK),
    "round-flower": (ROUNDS, L1, "R2.flower", "The round doesn't say what flowers.", ()),
    "round-stage": (ROUNDS, L1, "R2.stage", "The round doesn't say that they were closed.", ()),
    "round-secured": (ROUNDS, L1, "R2.secured", "The round doesn't say that they were tied.", ()),
    "round-tagged": (ROUNDS, L1, "R2.tagged", "The round doesn't say that they got tags.", ()),
    "round-bags": (ROUNDS, L2, "R3.bags", "The round doesn't say which.", ()),
    "round-marked": (ROUNDS, BOTH, "R1.marked", "The round doesn't say that the stalks were marked.", ()),
    "round-samples": (ROUNDS, BOTH, "R1.samples", "The round doesn't say which leaves.", ()),
    "round-fruit-marked": (ROUNDS, BOTH, "R6.fruit_marked", "Nobody says that the fruit was marked.", ()),
    "round-blocks": (ROUNDS, L2, "R5.blocks", "The last look doesn't say where; they never came off.",
                     (put("R6.bags", ["B26-001 to B26-003"]),)),
    "letter-laboratory": (ROUNDS, BOTH, "ML-77.laboratory", "A letter of nobody.", ()),
    "letter-method": (ROUNDS, BOTH, "ML-77.method", "Nothing says how it was tested.", ()),
    "letter-targets": (ROUNDS, BOTH, "ML-77.targets", "A DNA test for nothing.", ()),
    "letter-result": (ROUNDS, BOTH, "ML-77.result", "A letter without a result.", ()),
    "letter-reported": (ROUNDS, gap_at("M3"), "ML-77.reported", "A letter without a day.", ()),
    "letter-controls-on-the-own-bench": (ROUNDS, BOTH, "ML-77.controls", "Own bench, no controls.",
                                         (put("ML-77.laboratory", OPERATION),)),
    "routine-bag-use": (ROUNDS, BOTH, "season.routine.bag_use", "Nobody says that bags are new.", ()),
    "routine-packaging": (ROUNDS, BOTH, "season.routine.packaging", "Nobody says in what it is packed.", ()),
    "routine-container-use": (ROUNDS, BOTH, "season.routine.container_use", "New or not?", ()),
    "routine-equipment": (ROUNDS, BOTH, "season.routine.equipment", "Gourd is run here.", (GOURD,)),
}

#: Fields in which a word that says nothing is silence: what else is to be done, and what must come of it.
WORDLESS: dict[str, tuple[str, Want, str, tuple[Edit, ...]]] = {
    "laboratory": (PLAIN, L1, "S1.laboratory", ()),
    "report": (PLAIN, L1, "S1.report", ()),
    "party": (PLAIN, traced_at_most("L1", 16), "M3.party", ()),
    "document": (PLAIN, traced_at_most("L1", 16), "M3.document", ()),
    "certificate": (PLAIN, gap, "P1.origin.certificate", ()),
    "packaging": (PLAIN, L1, "L1.packaging", ()),
    "letter-laboratory": (ROUNDS, BOTH, "ML-77.laboratory", ()),
    "supplier-of-the-mothers": (PLAIN, gap, "P1.origin.supplier", ()),
    "boundary": (PLAIN, BOTH, "EAST.boundary", ()),
    "allowed-by": (PLAIN, gap, "I1.allowed_by", (
        add("inputs", {"input": "I1", "date": "2026-03-01", "block": "EAST",
                       "material": "neem press cake"}),)),
}
#: Which word is tried in which field: each word somewhere, each field with three.
TRIED = [
    (slug, word) for at, slug in enumerate(WORDLESS)
    for word in [*NOTHING, *NOTHING][2 * at % len(NOTHING):][:3]
]

FRAUDS = [
    silence(f"silence-{slug}", base, want, says, *others, cut(address))
    for slug, (base, want, address, says, others) in LEFT_OUT.items()
]
FRAUDS += [
    silence(f"silence-{slug}-{word}", base, want, f"'{NOTHING[word]}' says nothing.", *others,
            put(address, NOTHING[word]))
    for slug, word in TRIED for base, want, address, others in [WORDLESS[slug]]
]
FRAUDS += [
    silence("silence-everything-of-a-bag", PLAIN, L1,
            "A bag with number, tree, day and tag, and no word more.",
            cut(*(f"B1.{one}" for one in ("flower", "stage", "other_buds_cleared", "secured", "bag_use",
                                          "checks", "uncovered", "outcome", "fruit_marked")))),
    silence("silence-everything-of-all-bags", PLAIN, BOTH, "Bags as numbers on trees.",
            *(cut(*(f"B{at}.{one}" for one in ("covered", "tag", "flower", "stage", "other_buds_cleared",
                                               "secured", "bag_use", "checks", "uncovered", "outcome",
                                               "fruit_marked"))) for at in range(1, 7))),
    silence("silence-everything-of-a-sample", PLAIN, L1, "A sample with tree and result, and no word more.",
            cut(*(f"S1.{one}" for one in ("mark", "collected", "petiole", "method", "laboratory", "submitted",
                                          "incubation", "temperature", "controls", "reported", "report")))),
    silence("silence-everything-of-a-block", PLAIN, BOTH, "A block with a name and the word organic.",
            cut(*(f"EAST.{one}" for one in ("organic_since", "last_prohibited_substance", "area", "boundary",
                                            "buffer", "nearest_same_crop")))),
    silence("silence-everything-of-a-run", PLAIN, L1, "A run with a day and a picking.",
            cut(*(f"E1.{one}" for one in ("equipment", "blade", "runs", "rinses", "floated_off", "wet_weight",
                                          "drying", "dry_weight", "moisture")))),
    silence("silence-a-lot-without-anything", PLAIN, not_all_traced("L9"), "A lot, and no other record.",
            add("lots", lot("L9", "2026-08-01", [], 5)), cut("L9.sources")),
    silence("silence-in-notes", PLAIN, L1, "A note that it was tied says it to nobody who counts.",
            cut("B1.secured"), put("B1.note", "tied, of course")),
    silence("silence-in-an-empty-evidence-file", PLAIN, traced_at_most("L1", 16),
            "The photo of the invoice is an empty file.", cut("M3.document"), put("M3.evidence", "m3.jpg"),
            file("evidence/m3.jpg", "")),
    silence("silence-behind-an-explanation", PLAIN, L1, "Explained: of course it was tied.",
            cut("B1.secured"),
            add("explanations", {"rule": "bag-not-secured", "about": ["B1"], "by": "I. Marl",
                                 "reason": f"we always tie {VARIETY}", "date": "2026-11-01"})),
    silence("silence-unscreened-behind-an-explanation", PLAIN, L1, "Explained: its neighbours are clean.",
            cut("S1.result"),
            add("explanations", {"rule": "parent-unscreened", "about": ["001"], "by": "I. Marl",
                                 "reason": "all its neighbours are clean", "date": "2026-11-01"})),
    silence("silence-said-for-other-bags", ROUNDS, L1, "One bag's record says tied; the round doesn't.",
            cut("R2.secured"), put("B26-001.secured", True)),
]
