"""Rules know no crop: under another profile other sexes, flowers, stages and figures hold."""

from __future__ import annotations

import json
from datetime import date

import pytest

from certgen.examination import examine_season
from certgen.rules import RULES
from certgen.standards.season_reading import read_case

COVERS = ("certgen.rules", "certgen.standards.profile")
ON = date(2026, 12, 31)
DAY = {"taped": "2026-07-01", "picked": "2026-08-25", "opened": "2026-09-20"}


def tables():
    """Two plants of a crop with separate flowers, each the other's father, from bud to lot."""
    plants = ("V1", "V2")
    return {
        "season": {
            "label": "2026",
            "from": "2026-04-01",
            "to": "2026-12-31",
            "crop": "squash",
            "standards": ["us-nop"],
            "operation": {
                "name": "Larkfold Seed Orchard",
                "certificate": "C-0417",
                "certifier": "Fernhollow",
            },
        },
        "blocks": [
            {
                "block": "East",
                "status": "organic",
                "organic_since": "2018-05-01",
                "boundary": "hedge",
                "last_prohibited_substance": "none known",
                "buffer": "12 m",
                "nearest_same_crop": "1200 m",
            }
        ],
        "plantings": [
            {
                "planting": "P1",
                "block": "East",
                "variety": "Callow Lantern",
                "planted": "2026-05-02",
                "material": "seed",
                "material_status": "organic",
                "origin": {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"},
            }
        ],
        "trees": [{"tree": one, "planting": "P1", "sex": "monoecious"} for one in plants],
        "screening": [
            {
                "sample": f"S-{one}",
                "tree": one,
                "mark": one,
                "collected": "2026-06-01",
                "submitted": "2026-06-02",
                "reported": "2026-06-10",
                "method": "pcr",
                "targets": ["35S", "nptII"],
                "controls": "passed",
                "result": "negative",
                "laboratory": "Bracken Ford Plant Diagnostics",
                "report": "BF-1",
            }
            for one in plants
        ],
        "bagging": [
            {
                "bag": f"B-{one}",
                "tree": one,
                "covered": DAY["taped"],
                "flower": "female",
                "stage": "taped bud",
                "secured": True,
                "bag_use": "new",
                "tag": {"date": DAY["taped"], "variety": "Callow Lantern", "tree": one},
                "pollen_parent": father,
                "uncovered": "2026-07-04",
                "outcome": "set",
                "fruit_marked": True,
            }
            for one, father in (plants, reversed(plants))
        ],
        "harvests": [
            {
                "harvest": "H1",
                "date": DAY["picked"],
                "bags": ["B-V1", "B-V2"],
                "fruits": 2,
                "weight": "3 kg",
                "stage": "hard rind",
                "status": "organic",
            }
        ],
        "batches": [
            {
                "batch": "X1",
                "date": DAY["opened"],
                "harvests": ["H1"],
                "status": "organic",
                "equipment": ["spoon", "screens"],
                "blade": "spoon",
                "rinses": 3,
                "wet_weight": "110 g",
                "drying": {
                    "method": "screen",
                    "temperature": "25 C",
                    "from": DAY["opened"],
                    "to": "2026-09-30",
                },
                "dry_weight": "60 g",
                "moisture": "7 %",
            }
        ],
        "lots": [
            {
                "lot": "L1",
                "variety": "Callow Lantern",
                "packed": "2026-10-05",
                "weight": "60 g",
                "sources": [{"batch": "X1", "weight": "60 g"}],
                "status": "organic",
                "containers": 1,
                "packaging": "foil pouch",
                "container_use": "new",
                "storage": "freezer",
            }
        ],
    }


def examine(folder, content):
    """The gaps of what is written into a folder."""
    (folder / "season.yaml").write_text(json.dumps(content), encoding="utf-8")
    season, errors = read_case(folder)
    assert [] == [error.text() for error in errors]
    return examine_season(season, ON)


#: What this file is about: from the land to the dry seed.
STAGES = {
    "land",
    "orchard",
    "plantings",
    "parents",
    "screening",
    "detection",
    "bagging",
    "covering",
    "processing",
    "picking",
    "ripeness",
    "extraction",
    "equipment",
    "drying",
    "follow_up",
}


def found(result):
    """The slugs of gaps from the land to the dry seed."""
    return sorted({gap.rule for gap in result.gaps if RULES[gap.rule].stage in STAGES})


def test_a_clean_season_of_another_crop_is_clean(tmp_path):
    """Flowers that need a father have one, and no figure of the first crop is asked for."""
    result = examine(tmp_path, tables())

    assert [] == found(result)
    assert () == result.crashed
    assert ("traced", 60_000) == (result.lots["L1"].standing, result.lots["L1"].traced_mg)


@pytest.mark.parametrize(
    ("table", "change", "slug"),
    [
        ("bagging", {"flower": "male"}, "bag-on-wrong-flower"),
        ("bagging", {"flower": None}, "bag-on-wrong-flower"),
        ("bagging", {"pollen_parent": None}, "female-without-pollen-parent"),
        ("bagging", {"stage": "open"}, "bag-over-open-flower"),
        ("harvests", {"stage": "table stage"}, "harvest-stage"),
        (
            "harvests",
            {"date": "2026-09-30", "ripening": {"until": "2026-10-01"}},
            "harvest-interval-unlikely",
        ),
        ("batches", {"blade": "knife"}, "blade-sharp"),
        ("batches", {"moisture": "9 %"}, "drying-out-of-range"),
        ("batches", {"wet_weight": "900 g", "dry_weight": "500 g"}, "batch-weight-impossible"),
        ("screening", {"method": "strip", "targets": None}, "method-does-not-cover"),
        ("blocks", {"nearest_same_crop": "600 m"}, "isolation-short"),
        ("blocks", {"last_prohibited_substance": "2024-01-01"}, "land-too-recent"),
    ],
)
def test_the_other_profile_decides(tmp_path, table, change, slug):
    """Each word and figure is taken from it: 9 % is damp for this seed, and a knife cuts."""
    content = tables()
    changed = {**content[table][0], **change}
    content[table][0] = {key: value for key, value in changed.items() if value is not None}

    assert slug in found(examine(tmp_path, content))


def test_annual_crops_count_from_the_sowing_where_a_standard_says_so(tmp_path):
    """Two years before the sowing for one standard, three before the harvest for the other."""
    content = tables()
    content["blocks"][0]["last_prohibited_substance"] = "2024-04-30"

    assert ["land-too-recent"] == found(examine(tmp_path, content))
    content["season"]["standards"] = ["eu"]
    assert "land-too-recent" not in found(examine(tmp_path, content))
    content["blocks"][0]["last_prohibited_substance"] = "2024-05-03"
    assert "land-too-recent" in found(examine(tmp_path, content))
