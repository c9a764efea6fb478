"""Small seasons, each laid over the clean base of the rules' examples, and what their lots must come to.

Worked out by hand from the page, not by either engine. Lot L1 (16 g, of trees T1 and T2) sold 6 g and holds
10 g; lot L2 (8 g, of tree T3 under bag B3, covered on 12 January) holds all of its 8 g. The masses are
(traced, unproven, rejected, unaccounted) in milligrams.
"""

from __future__ import annotations

from typing import NamedTuple

CLEAN_1, CLEAN_2 = (16_000, 0, 0, 0), (8_000, 0, 0, 0)
DOUBT_1, DOUBT_2 = (0, 16_000, 0, 0), (0, 8_000, 0, 0)

_PLAIN_BAG = """\
bagging:
  - bag: B3
    tree: T3
    checks: [{date: 2026-01-20, condition: intact}]
rounds:
  - round: R1
    kind: bagging
    date: 2026-01-12
    by: RA
    bags: [B3 to B4]
    flower: hermaphrodite
    stage: closed bud
    secured: yes
    bag_use: new
    tagged: yes
"""
_BAG = """\
bagging:
  - bag: B3
    tree: T3
    covered: 2026-01-12
    tag: {date: 2026-01-12, variety: Amber Kestrel, tree: T3}
    flower: hermaphrodite
    stage: closed bud
    secured: true
    bag_use: new
    fruit_marked: true
"""
_SAMPLE = """\
screening:
  - sample: S3
    tree: T3
    mark: no. T3
    collected: 2025-12-08
    report: BF-9
letters:
  - letter: BF-9
    laboratory: Bracken Ford Plant Diagnostics
    reported: 2025-12-16
    method: pcr
    targets: [35S, nptII]
    result: negative
    samples: [S1 to S9]
"""
_FOREIGN = """\
batches:
  - batch: X0
    date: 2026-06-24
    other_seed: okra
    status: conventional
    equipment: [mixer]
cleaning:
  - cleaning: C0
    date: 2026-06-23
    equipment: [mixer]
    method: brush
    before: X0
  - cleaning: C2
    date: 2026-06-24
    equipment: [mixer]
    method: brush
"""
_VISIT = """\
visits:
  - visit: V1
    kind: yearly
    from: 2026-09-15
    evidence: letters/BF-2201.txt
"""
_COUNTED = """\
    exercises:
      - kind: count of stock
        about: [L2]
        outcome: differs
"""
_SETTLED = "        settled: 2026-09-20\n"
_FOUND = """\
    findings:
      - finding: NC-1
        kind: substance
        about: [T3]
"""
_CLOSED = "        closed: 2026-09-25\n        closed_by: P. Ash\n        letter: letters/BF-2201.txt\n"
_COUNT = """\
movements:
  - movement: M3
    date: 2026-10-01
    lot: L2
    kind: counted
    weight: """
_BACK = """\
# without: movements M2
movements:
  - movement: M4
    date: 2026-09-01
    lot: L1
    kind: returned
    party: Quillmere Growers
    document: R-1
    opened: no
    weight: """


_SHEET = """\
submissions:
  - submission: SH-1
    kind: to the laboratory
    date: 2025-12-09
    samples: [S3]
{}"""


class Pin(NamedTuple):
    """What a season says, in words and in YAML, and its two lots."""

    about: str
    text: str
    first: tuple[int, int, int, int]
    second: tuple[int, int, int, int]


PINS = (
    Pin("nothing is wrong", "incidents: []\n", CLEAN_1, CLEAN_2),
    Pin("a bagging round says it once for many", _PLAIN_BAG, CLEAN_1, CLEAN_2),
    Pin(
        "the round's exception says that the bag wasn't tied",
        _PLAIN_BAG + "    exceptions: [{about: [B3], secured: no}]\n", CLEAN_1, DOUBT_2,
    ),
    Pin("nobody attests the round", _PLAIN_BAG.replace("by: RA", "by: '?'"), CLEAN_1, DOUBT_2),
    Pin("never looked at and never taken off", _BAG, CLEAN_1, DOUBT_2),
    Pin("removed on the day of need", _BAG + "    uncovered: 2026-01-19\n", CLEAN_1, CLEAN_2),
    Pin("removed a day before it", _BAG + "    uncovered: 2026-01-18\n", CLEAN_1, DOUBT_2),
    Pin(
        "torn a day after the need, last seen whole before it",
        _BAG + "    checks: [{date: 2026-01-15, condition: intact}, {date: 2026-01-20, condition: torn}]\n"
        "    uncovered: 2026-01-22\n", CLEAN_1, DOUBT_2,
    ),
    Pin(
        "torn on the day of need",
        _BAG + "    checks: [{date: 2026-01-19, condition: torn}]\n    uncovered: 2026-01-22\n",
        CLEAN_1, (0, 0, 8_000, 0),
    ),
    Pin(
        "torn the day after the petals fell, whole on that day",
        _BAG + "    petal_fall: 2026-01-16\n    uncovered: 2026-01-22\n    checks: "
        "[{date: 2026-01-16, condition: intact}, {date: 2026-01-17, condition: torn}]\n", CLEAN_1, CLEAN_2,
    ),
    Pin(
        "a storm, after which only two of three bags were looked at",
        _BAG + "    uncovered: 2026-01-24\nrounds:\n  - round: R2\n    kind: storm\n    date: 2026-01-14\n"
        "    by: RA\n    blocks: [East]\n", CLEAN_1, DOUBT_2,
    ),
    Pin(
        "torn bags told by an incident, closed",
        "incidents:\n  - incident: E1\n    date: 2026-01-14\n    kind: torn bags\n    about: [B3]\n"
        "    action: tied anew\n    closed: 2026-01-15\n", CLEAN_1, (0, 0, 8_000, 0),
    ),
    Pin("the laboratory's letter says what the record needn't", _SAMPLE, CLEAN_1, CLEAN_2),
    Pin(
        "the letter's exception",
        _SAMPLE + "    exceptions: [{samples: [S3], result: positive}]\n", CLEAN_1, (0, 0, 8_000, 0),
    ),
    Pin(
        "an own bench that doesn't say how its controls came out",
        _SAMPLE.replace("Bracken Ford Plant Diagnostics", "own bench"), CLEAN_1, DOUBT_2,
    ),
    Pin(
        "a record that can't be read may speak against",
        "screening:\n  - sample: S9\n    tree: T1\n    result: Positive\n", DOUBT_1, CLEAN_2,
    ),
    Pin("a table that nobody knows", "screning:\n  - sample: S9\n", DOUBT_1, DOUBT_2),
    Pin("cleaned that day, after the other seed", _FOREIGN + "    after: X0\n", CLEAN_1, CLEAN_2),
    Pin("cleaned that day, nobody says when", _FOREIGN, CLEAN_1, DOUBT_2),
    Pin("more counted than the book holds", _COUNT + "9 g\n", CLEAN_1, (0, 9_000, 0, 0)),
    Pin("less counted", _COUNT + "5 g\n", CLEAN_1, (5_000, 0, 0, 3_000)),
    Pin("less counted, within what the scale shows", _COUNT + "7.9 g\n", CLEAN_1, CLEAN_2),
    Pin("more came back than was bought", _BACK + "8 g\n", (0, 18_000, 0, 0), CLEAN_2),
    Pin("sealed packets came back", _BACK + "4 g\n", CLEAN_1, CLEAN_2),
    Pin("leaves on a sheet that came in order", _SHEET.format(""), CLEAN_1, CLEAN_2),
    Pin("the sheet says damaged", _SHEET.format("    condition: damaged\n"), CLEAN_1, DOUBT_2),
    Pin(
        "one bag of the sheet came damaged, with other samples",
        _SHEET.format(
            '    bags:\n    - {seal: "1", samples: [S1], condition: damaged}\n'
            '    - {seal: "2", samples: [S3]}\n'
        ),
        DOUBT_1, CLEAN_2,
    ),
    Pin(
        "one bag was in order, the rest damaged",
        _SHEET.format(
            '    condition: damaged\n    bags: [{seal: "2", samples: [S1, S3], condition: in order}]\n'
        ),
        CLEAN_1, CLEAN_2,
    ),
    Pin(
        "it came under another seal, and is called in order",
        _SHEET.format('    bags: [{seal: "2", samples: [S3], seal_on_receipt: "7", condition: in order}]\n'),
        CLEAN_1, DOUBT_2,
    ),
    Pin(
        "the same seal, otherwise written",
        _SHEET.format('    bags: [{seal: "QR 2", samples: [S3], seal_on_receipt: "qr2"}]\n'),
        CLEAN_1, CLEAN_2,
    ),
    Pin(
        "a bag that names no samples holds any of them",
        _SHEET.format('    bags: [{seal: "2", seal_on_receipt: "7"}]\n'), CLEAN_1, DOUBT_2,
    ),
    Pin("an inspector's count that differs", _VISIT + _COUNTED, CLEAN_1, DOUBT_2),
    Pin("and that is called settled, without a paper", _VISIT + _COUNTED + _SETTLED, CLEAN_1, DOUBT_2),
    Pin(
        "and that a filed paper settles",
        _VISIT + _COUNTED + _SETTLED + "        paper: letters/BF-2201.txt\n", CLEAN_1, CLEAN_2,
    ),
    Pin(
        "settled before the inspector came",
        _VISIT + _COUNTED + "        settled: 2026-09-01\n        paper: letters/BF-2201.txt\n",
        CLEAN_1, DOUBT_2,
    ),
    Pin("a finding of a substance on a tree", _VISIT + _FOUND, CLEAN_1, DOUBT_2),
    Pin("answered, which doesn't close it", _VISIT + _FOUND + "        done: 2026-09-20\n", CLEAN_1, DOUBT_2),
    Pin(
        "closed by nobody", _VISIT + _FOUND + _CLOSED.replace("P. Ash", "'?'"), CLEAN_1, DOUBT_2,
    ),
    Pin("closed by a letter", _VISIT + _FOUND + _CLOSED, CLEAN_1, CLEAN_2),
    Pin(
        "a visit that can't be read may speak against what it names",
        _VISIT + _COUNTED.replace("        outcome: differs\n", ""), CLEAN_1, DOUBT_2,
    ),
    Pin("a finding about papers", _VISIT + _FOUND.replace("substance", "paper"), CLEAN_1, CLEAN_2),
    Pin(
        "a movement's balance that differs reaches its lot",
        _VISIT + _COUNTED.replace("[L2]", "[M3]"), CLEAN_1, DOUBT_2,
    ),
    Pin(
        "other seed fell into a lot after some of it was sold",
        "incidents:\n  - incident: E1\n    date: 2026-09-01\n    kind: mixing\n    about: [L1]\n",
        (6_000, 0, 10_000, 0), CLEAN_2,
    ),
    Pin(
        "a transgene in a lot",
        "tests:\n  - test: G9\n    lot: L2\n    date: 2026-09-01\n    kind: transgene\n    pools: 4\n"
        "    seeds_per_pool: 50\n    positive_pools: 1\n    targets: [35S]\n    controls: passed\n"
        "    laboratory: Bracken Ford Plant Diagnostics\n    report: BF-3\n", CLEAN_1, (0, 0, 8_000, 0),
    ),
    Pin(
        "one invoice to two buyers",
        "# without: movements M3\nmovements:\n  - movement: M4\n    date: 2026-08-05\n    lot: L2\n"
        "    kind: sold\n    weight: 1 g\n    party: Thorn Farm\n    document: INV-31\n    status: organic\n"
        "    last_certified_operation: Larkfold Seed Orchard\n", (10_000, 6_000, 0, 0), (7_000, 1_000, 0, 0),
    ),
)  # fmt: skip
