"""Honest runs, equipment, lots, stock and papers."""

from __future__ import annotations

from fraud import of_stage
from frauds_edits import Edit, add, cut, file, out, put
from frauds_records import (
    BUYER,
    NEIGHBOUR,
    VARIETY,
    bag,
    batch,
    cleaning,
    foreign,
    germination,
    harvest,
    incident,
    lot,
    move,
    returned,
    sale,
    transgene,
)
from frauds_seasons import PLAIN, YEARS
from frauds_wants import silent, traced_at_least

honest = of_stage("honest keeping")
# fmt: off


def autumn_fruit(picked: str, table: str = "2025/") -> tuple[Edit, ...]:
    """Three bags on 002 last summer, whose fruit is picked in December."""
    bags = [bag(f"BY{one}", "002", "2025-07-0" + str(one)) for one in (1, 2, 3)]
    return (add("2025/bagging", *bags),
            add(f"{table}harvests", harvest("HP3", picked, [one["bag"] for one in bags])))


def winter_lot(day: str, **more: object) -> tuple[Edit, ...]:
    """Lot L4 of this January, with its test and count."""
    made = lot("L4", day, [{"batch": "E4", "weight": "20 g"}], 20, **more)
    made["label"]["tested"] = "2026-03-01"
    return (add("lots", made),
            add("tests", germination("G4", "L4", "2026", date="2026-03-01", sampled="2026-02-01")),
            add("movements", move("M30", "2026-02-01", "L4", "sampled", 6.5, party="own bench", note="G4"),
                move("M31", "2026-11-20", "L4", "counted", 13.5)))


RUNS = [
    honest("honest-dried-in-december-packed-in-january", YEARS, silent, "The run is of December.",
           *autumn_fruit("2025-12-05"), add("2025/batches", batch("E4", "2025-12-14", ["HP3"], 20)),
           add("2025/cleaning", cleaning("C4", "2025-12-13", "E4")), *winter_lot("2026-01-05")),
    honest("honest-picked-in-december-opened-in-january", YEARS, silent, "The fruit is of December.",
           *autumn_fruit("2025-12-28"), add("batches", batch("E4", "2026-01-06", ["HP3"], 20)),
           add("cleaning", cleaning("C4", "2026-01-05", "E4")), *winter_lot("2026-01-15")),
    honest("honest-foreign-run-cleaned-after", PLAIN, silent, "Gourd in June; cleaned before E1.",
           add("batches", foreign("X0", "2026-06-28"))),
    honest("honest-foreign-run-cleaned-that-day", PLAIN, silent,
           "Gourd in the morning, dried elsewhere; cleaned after it and before E1.",
           add("batches", foreign("X0", "2026-07-03", equipment=["pulper", "sieve"])), put("C1.after", "X0"),
           put("X0.drying.on", ["attic rack"])),
    honest("honest-strangers-cup-of-the-same-name-cleaned-after", PLAIN, silent,
           "Somebody's cup of seed, called by the farm's own variety, ran before the cleaning.",
           add("batches", foreign("X0", "2026-07-02", other_seed=VARIETY, status="organic"))),
    honest("honest-foreign-run-on-its-own-things", PLAIN, silent, "Gourd in a kitchen bowl, while E1 dried.",
           add("batches", foreign("X0", "2026-07-05", equipment=["kitchen bowl", "attic rack"]))),
    honest("honest-foreign-run-while-drying-elsewhere", PLAIN, silent,
           "Gourd through the pulper while E1 lay on the trays; the pulper was cleaned for E2.",
           add("batches", foreign("X0", "2026-07-05", equipment=["pulper", "attic rack"])),
           put("X0.drying.on", ["attic rack"]), put("E1.drying.on", ["trays"])),
    honest("honest-foreign-run-after-all", PLAIN, silent, "Gourd in September.",
           add("batches", foreign("X0", "2026-09-10"))),
    honest("honest-mixing-in-the-foreign-run", PLAIN, silent, "The gourd was mixed with beans: not our seed.",
           add("batches", foreign("X0", "2026-09-10")),
           add("incidents", incident("N1", "2026-09-10", "mixing", ["X0"]))),
    honest("honest-other-seed-none", PLAIN, silent, "Under other seed stands 'none'.",
           put("E1.other_seed", "none")),
    honest("honest-both-runs-share-a-day", PLAIN, silent, "E1 and E2 on one day: one variety, one farm.",
           put("E1.date", "2026-07-11"), put("E1.drying.from", "2026-07-11"),
           put("E1.drying.to", "2026-07-14"), put("C1.date", "2026-07-10")),
    honest("honest-one-run-of-both-pickings", PLAIN, silent, "E1 took one fruit's seed of H2 along.",
           put("E1.harvests", ["H1", "H2"]), put("E1.date", "2026-07-11"),
           put("E1.drying.from", "2026-07-11"),
           put("E1.drying.to", "2026-07-14"), put("C1.date", "2026-07-10")),
    honest("honest-broken-seed-composted", PLAIN, silent, "Two grams of broken seed were composted.",
           put("E1.dry_weight", "23 g"), put("E1.wet_weight", "50 g"),
           put("E1.never_packed", {"weight": "2 g", "why": "broken seed, composted"})),
    honest("honest-run-in-two-lots", PLAIN, silent, "E1 filled L1 and a small lot L3.",
           put("E1.dry_weight", "29 g"), put("E1.wet_weight", "64 g"),
           add("lots", lot("L3", "2026-07-16", [{"batch": "E1", "weight": "8 g"}], 8)),
           add("tests", germination("G3", "L3", "2026"))),
    honest("honest-run-a-tenth-lighter", PLAIN, (silent, traced_at_least("L1", 20.9)),
           "The run weighed 20.9 g and the lot 21: the scale's last digit.", put("E1.dry_weight", "20.9 g")),
    honest("honest-source-a-tenth-heavier", PLAIN, (silent, traced_at_least("L1", 20.9)),
           "21.1 g went in, 21 g were packed.", put("L1.sources.0.weight", "21.1 g"),
           put("E1.dry_weight", "21.1 g")),
    honest("honest-fruit-not-weighed", PLAIN, silent, "Nobody weighed the fruit; it was counted.",
           cut("H1.weight")),
]

STOCK = [
    honest("honest-count-a-tenth-less", PLAIN, (silent, traced_at_least("L1", 20.9)), "9.4 g for 9.5.",
           put("M5.weight", "9.4 g")),
    honest("honest-count-a-tenth-more", PLAIN, (silent, traced_at_least("L1", 20.9)), "9.6 g for 9.5.",
           put("M5.weight", "9.6 g")),
    honest("honest-coarse-scale", PLAIN, silent, "The scale shows half grams; 0.4 g are within it.",
           put("season.scale_step", "0.5 g"), put("M5.weight", "9.1 g")),
    honest("honest-opening-a-tenth-less", YEARS, silent, "11.4 g for 11.5 over New Year.",
           put("MO2.weight", "11.4 g"), put("M11.weight", "4.4 g")),
    honest("honest-not-counted", PLAIN, silent, "Nobody has counted yet.", out("M5", "M6")),
    honest("honest-counted-often", PLAIN, silent, "Three counts that agree with the book.",
           add("movements", move("M30", "2026-08-10", "L1", "counted", 14.5),
               move("M31", "2026-09-20", "L1", "counted", 9.5))),
    honest("honest-returned-unopened", PLAIN, silent, "Two of five grams came back closed.",
           add("movements", returned("M30", "2026-10-01", "L1", 2)), put("M5.weight", "11.5 g")),
    honest("honest-returned-in-small-letters", PLAIN, silent, "The buyer's name is typed in small letters.",
           add("movements", returned("M30", "2026-10-01", "L1", 2, party=BUYER.lower())),
           put("M5.weight", "11.5 g")),
    honest("honest-returned-and-sold-again", PLAIN, silent, "It came back closed, and was sold again.",
           add("movements", returned("M30", "2026-10-01", "L1", 2),
               sale("M31", "2026-10-09", "L1", 2, party=NEIGHBOUR))),
    honest("honest-returned-of-last-years-sale", YEARS, silent, "Of 5 g of K1 sold last year two come back.",
           add("movements", returned("M30", "2026-03-01", "K1", 2)), put("M10.weight", "8.5 g")),
    honest("honest-receipt-on-a-photo", PLAIN, silent, "A photo of the receipt for a number.",
           cut("M3.document"), put("M3.evidence", "m3.jpg"), file("evidence/m3.jpg", "5 g L1, organic")),
    honest("honest-one-invoice-two-lots", PLAIN, silent, "One buyer, one invoice, two lots.",
           put("M4.document", "INV-M3")),
    honest("honest-two-invoices-two-buyers", PLAIN, silent, "L2 went to another buyer.",
           put("M4.party", NEIGHBOUR)),
    honest("honest-transferred-with-a-note", PLAIN, silent, "Handed to a member on a dispatch note.",
           put("M3.kind", "transferred"), put("M3.document", "DN-3")),
    honest("honest-discarded-with-a-word", PLAIN, silent, "Two grams got wet.",
           add("movements", move("M30", "2026-10-01", "L1", "discarded", 2, note="got wet, composted")),
           put("M5.weight", "7.5 g")),
    honest("honest-sold-in-ounces", PLAIN, silent, "0.176 oz are five grams.", put("M3.weight", "0.176 oz")),
    honest("honest-packed-in-kilograms", PLAIN, silent, "0.021 kg are 21 g.", put("L1.weight", "0.021 kg")),
    honest("honest-sold-out", PLAIN, silent, "All that was left was sold.",
           add("movements", sale("M30", "2026-10-09", "L1", 9.5, party=NEIGHBOUR)), put("M5.weight", "0 g")),
    honest("honest-blend", PLAIN, silent, "Five grams of each lot made a third.",
           add("lots",
               lot("L3", "2026-09-25", [{"lot": "L1", "weight": "5 g"}, {"lot": "L2", "weight": "5 g"}],
                           10)),
           add("tests", germination("G3", "L3", "2026", sampled="2026-10-01", date="2026-10-25",
                                    replicates=[21, 21, 22, 21], per_replicate=25)),
           put("L3.label.tested", "2026-10-25"), put("M5.weight", "4.5 g"), put("M6.weight", "6.5 g")),
    honest("honest-carried-over-and-sold-out", YEARS, silent, "The rest of K1 went to a neighbour.",
           add("movements", sale("M30", "2026-02-20", "K1", 6.5, party=NEIGHBOUR)), put("M10.weight", "0 g")),
    honest("honest-farm-renamed", YEARS, silent, "Another name, the same certificate.",
           put("2025/season.operation.name", "Quillbrook Orchard")),
]

TESTS = [
    honest("honest-transgene-negative", PLAIN, silent, "Ten clean pools.",
           add("tests", transgene("T1", "L1", 0))),
    honest("honest-purity-clean", PLAIN, silent, "No other seed.",
           add("tests", {"test": "T1", "lot": "L1", "date": "2026-09-01", "kind": "purity", "pure": "4.9 g",
                         "other": "0 g", "inert": "0.1 g", "laboratory": "Marlpit Leaf Laboratory",
                         "report": "ML-T1"})),
    honest("honest-complaint-answered-by-a-letter", PLAIN, silent, "The answer is filed.",
           add("incidents", incident("N1", "2026-10-20", "complaint", ["L1"], evidence="answer.txt")),
           file("evidence/answer.txt", "it was sown too deep; the buyer agrees")),
    honest("honest-complaint-answered-by-a-test", PLAIN, silent, "A test after the complaint is sound.",
           add("incidents", incident("N1", "2026-08-20", "complaint", ["L1"]))),
    honest("honest-other-incident", PLAIN, silent, "A ladder broke.",
           add("incidents", incident("N1", "2026-03-20", "other", [], note="a ladder broke"))),
    honest("honest-containers-reused-and-cleaned", PLAIN, silent, "Jars that held papaya seed, boiled.",
           put("L1.container_use", "re-used"), put("L1.packaging", "glass jars"),
           put("L1.previous_contents", "papaya seed, lot of 2024"),
           put("L1.container_cleaned", "2026-07-10")),
    honest("honest-notes-and-initials", PLAIN, silent, "Initials and notes everywhere.",
           *(put(f"{name}.{key}", word) for name in ("B1", "S1", "H1", "E1", "L1", "M3", "EAST", "P1", "001")
             for key, word in (("recorded_by", "IM"), ("note", "as every year")))),
    honest("honest-second-file", PLAIN, silent, "An incident stands in a file of its own.",
           file("incidents/2026.yaml", "incidents:\n- incident: N1\n  date: 2026-03-20\n  kind: other\n"
                                       "  about: []\n  action: mended\n  closed: 2026-03-21\n")),
]
VARIANTS = [*RUNS, *STOCK, *TESTS]
