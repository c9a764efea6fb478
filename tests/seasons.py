"""Seasons built in memory for tests, and strategies that generate them.

`season_of` takes records as they would be typed, but with dates as dates. `clean_seasons` are clean by
construction: every check must find nothing in them. Tests import it, or have it by the `seasons` fixture.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import strategies as st

from certgen.examination import examine_season
from certgen.lineage import build_lineage
from certgen.records.joining.farm import join_seasons
from certgen.standards.season_reading import read_case

OPERATION = "Larkfold Seed Orchard"
SCREENED, COVERED, PICKED = date(2025, 12, 8), date(2026, 1, 12), date(2026, 6, 8)
GRAMS_A_FRUIT = 8
FILE = "season.yaml"
#: A season's own mapping, as it is typed.
TYPED = """\
season:
  label: 2026
  from: 2026-01-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
  operation: {name: Two Streams Seed Garden}
"""


#: A season of two lots with comments of its own, as text: the first names a letter.
TWO_LOTS = """season: {operation: {name: X}, label: '1', from: 2026-01-01, to: 2026-12-31,
  crop: papaya, standards: [us-nop]}
lots:
  - lot: L1   # mine
    variety: V
    packed: 2026-05-04
    weight: 3 g
    status: organic
    evidence: a.txt   # the letter
  - lot: L2
    variety: V
    packed: 2026-05-04
    weight: 3 g
    status: organic
"""


def write_season(folder, *, label="2026", standards=("us-nop",), details=(), **tables):
    """Writes a season of the given tables into a folder, the others empty, with the letters it names.

    `details` is more of the `season` mapping.
    """
    mapping = {
        "label": label,
        "from": "2025-11-01",
        "to": "2026-10-31",
        "crop": "papaya",
        "standards": list(standards),
        "operation": {
            "name": OPERATION,
            "certificate": "C-0417",
            "certifier": "Fernhollow Organic Certification",
            "address": "4 Mill Lane, Larkfold",
            "responsible": "R. Alder",
        },
        **dict(details),
    }
    # JSON is YAML, and quick to write.
    content = json.dumps(
        {"season": mapping, **{name: rows for name, rows in tables.items() if rows}}, default=str
    )
    (Path(folder) / FILE).write_text(content, encoding="utf-8")
    for row in tables.get("screening") or ():
        # The letters that samples name lie where they are named.
        for letter in [row["evidence"]] if isinstance(row.get("evidence"), str) else ():
            path = Path(folder) / "evidence" / letter
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text("Bracken Ford Plant Diagnostics\n", encoding="utf-8")


def season_of(*, previous=None, **written):
    """A season of the given tables, the others empty: written, read, and sound. See `write_season`."""
    with TemporaryDirectory() as folder:
        write_season(folder, **written)
        season, errors = read_case(Path(folder))

    assert [] == [error.text() for error in errors]
    return replace(season, previous=previous)


def read_sound(folder):
    """The season of a folder as it is now, in which nothing is at fault."""
    season, errors = read_case(folder)
    assert [] == [error.text() for error in errors]
    return season


def block(name="East", **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "block": name, "status": "organic", "organic_since": date(2020, 5, 1),
        "last_prohibited_substance": "none known", "boundary": "hedge", "buffer": "12 m",
        "nearest_same_crop": "900 m", **more,
    }  # fmt: skip


def planting(name="P1", variety="Amber Kestrel", **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "planting": name, "block": "East", "variety": variety, "planted": date(2025, 2, 10),
        "material": "seed",
        "origin": {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"},
        "material_status": "organic", "generation": 1, **more,
    }  # fmt: skip


def tree(name, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {"tree": name, "planting": "P1", "row": "1", "position": name, "sex": "hermaphrodite", **more}


def sample(name, of, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "sample": name, "tree": of, "mark": of, "collected": SCREENED, "petiole": "1.25 in", "method": "pcr",
        "targets": ("35S", "nptII", "NOS"), "laboratory": "Bracken Ford Plant Diagnostics",
        "submitted": SCREENED + timedelta(1), "controls": "passed", "result": "negative",
        "reported": SCREENED + timedelta(8), "report": "BF-2201", "evidence": "letters/BF-2201.txt", **more,
    }  # fmt: skip


def bag(name, of, variety="Amber Kestrel", **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "bag": name, "tree": of, "covered": COVERED, "tag": {"date": COVERED, "variety": variety, "tree": of},
        "flower": "hermaphrodite", "stage": "closed bud", "other_buds_cleared": True, "secured": True,
        "bag_use": "new", "checks": ({"date": COVERED + timedelta(3), "condition": "intact"},),
        "uncovered": COVERED + timedelta(12), "outcome": "set", "fruit_marked": True, **more,
    }  # fmt: skip


def harvest(name, bags, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "harvest": name, "date": PICKED, "bags": tuple(bags), "fruits": len(bags),
        "weight": f"{950 * len(bags)} g",
        "stage": "colour break", "status": "organic",
        "ripening": {"temperature": "24 C", "until": PICKED + timedelta(11), "colour": "90 %"}, **more,
    }  # fmt: skip


def batch(name, harvests, fruits=1, day=0, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    done = PICKED + timedelta(11 + day)
    return {
        "batch": name, "date": done, "harvests": tuple(harvests), "status": "organic",
        "equipment": ("mixer",),
        "blade": "blunt plastic", "runs": ("20 s", "20 s"), "rinses": 4, "floated_off": "1 g",
        "wet_weight": f"{32 * fruits} g",
        "drying": {
            "method": "fan", "temperature": "30 C", "from": done, "to": done + timedelta(5),
            "humidity": "normal",
        },
        "dry_weight": f"{GRAMS_A_FRUIT * fruits} g", "moisture": "8.5 %", **more,
    }  # fmt: skip


def lot(name, sources, grams, variety="Amber Kestrel", day=0, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "lot": name, "variety": variety, "packed": PICKED + timedelta(40 + day),
        "sources": tuple(sources),
        "weight": f"{grams} g", "status": "organic", "containers": 1, "packaging": "foil pouch",
        "container_use": "new", "storage": "cool room", "generation": 2,
        "label": {
            "lot": name, "status": "organic", "variety": variety, "last_certified_operation": OPERATION,
            "germination": "88 %", "tested": PICKED + timedelta(60),
        }, **more,
    }  # fmt: skip


def germination(name, of, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "test": name, "lot": of, "date": PICKED + timedelta(60), "kind": "germination",
        "replicates": (44, 44, 44, 44), "per_replicate": 50, "temperature": "20-30 C alternating",
        "substrate": "sand", "counts": (15, 22), "laboratory": "Bracken Ford Plant Diagnostics",
        "report": f"BF-{name}", **more,
    }  # fmt: skip


def movement(name, of, kind, grams, day=80, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return {
        "movement": name, "date": PICKED + timedelta(day), "lot": of, "kind": kind,
        "weight": f"{grams} g", **more,
    }  # fmt: skip


def sale(name, of, grams, **more):
    """A sound record of the kind; `more` replaces or adds fields."""
    return movement(
        name, of, "sold", grams, 70, party="Quillmere Growers", document=f"INV-{name}", status="organic",
        last_certified_operation=OPERATION, **more,
    )  # fmt: skip


def record_of(table, name):
    """A sound record of a table whose records have a day."""
    return {
        "screening": lambda: sample(name, "T1"), "bagging": lambda: bag(name, "T1"),
        "harvests": lambda: harvest(name, ["B1"]), "batches": lambda: batch(name, ["H1"]),
        "lots": lambda: lot(name, [], 3), "tests": lambda: germination(name, "L1"),
        "movements": lambda: movement(name, "L1", "sold", 2),
    }[table]()  # fmt: skip


def pool(name, *trees, **more):
    """A sample of many trees at once, in place of any tree's own; `more` replaces or adds fields."""
    return {**without(sample(name, "", **more), "tree", "mark"), "trees": trees}


def look(days, condition="intact"):
    """A look at a bag some days after it was put on."""
    return {"date": COVERED + timedelta(days), "condition": condition}


def without(record, *fields):
    """The record, less some fields."""
    return {name: value for name, value in record.items() if name not in fields}


def blank(season, table, column, row=0):
    """The season with one value unknown: no file reads so, as the reader leaves such records out."""
    frame = season.table(table)
    return season.with_tables({table: frame.assign(**{column: frame[column].mask(frame.index == row)})})


def lineage_of(season):
    """The lineage of the season with all earlier ones."""
    return build_lineage(join_seasons(season))


@st.composite
def clean_tables(draw):
    """The tables of a season in which everything is as it should be, as lists of records."""
    trees = [f"T{number}" for number in range(1, draw(st.integers(1, 4)) + 1)]
    bags, batches, harvests, lots = [], [], [], []
    for number in range(1, draw(st.integers(1, 3)) + 1):
        of = draw(st.lists(st.sampled_from(trees), min_size=1, max_size=4))
        mine = [bag(f"B{number}-{at}", one) for at, one in enumerate(of)]
        bags += mine
        harvests.append(harvest(f"H{number}", [one["bag"] for one in mine]))
        batches.append(batch(f"X{number}", [f"H{number}"], len(mine), day=number))
    blend: list[dict[str, str]] = []
    for number, one in enumerate(batches, start=1):
        grams = int(one["dry_weight"].split()[0])
        handed = draw(st.integers(0, grams // 2))
        own = [{"batch": one["batch"], "weight": f"{grams} g"}]
        lots.append(lot(f"L{number}", own, grams))
        if handed:
            blend.append({"lot": f"L{number}", "weight": f"{handed} g"})
    if blend:
        grams = sum(int(part["weight"].split()[0]) for part in blend)
        lots.append(lot("L9", blend, grams, day=5))
    return {
        "blocks": [block()],
        "plantings": [planting()],
        "trees": [tree(name) for name in trees],
        "screening": [sample(f"S-{name}", name) for name in trees],
        "bagging": bags,
        "harvests": harvests,
        "batches": batches,
        "cleaning": [
            {"cleaning": "C1", "date": PICKED, "equipment": ("mixer",), "method": "hot water", "before": "X1"}
        ],
        "lots": lots,
        "tests": [germination(f"G-{one['lot']}", one["lot"]) for one in lots],
        "movements": [],
    }


def clean_seasons():
    """Seasons in which every check must find nothing that touches a lot."""
    return clean_tables().map(lambda tables: season_of(**tables))


def one_line():
    """One line from a block to a lot and its test: a tree, bag, picking, batch X1 of 8 g and lot L1."""
    return {
        "blocks": [block()],
        "plantings": [planting()],
        "trees": [tree("T1")],
        "screening": [sample("S1", "T1")],
        "bagging": [bag("B1", "T1")],
        "harvests": [harvest("H1", ["B1"])],
        "batches": [batch("X1", ["H1"])],
        "lots": [lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
        "tests": [germination("G1", "L1")],
    }


def examine_line(on, **changes):
    """What that line comes to on a day, with some tables in the place of its own."""
    return examine_season(season_of(**{**one_line(), **changes}), on)
