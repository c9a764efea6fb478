"""One small season with every kind of trouble a page can have, set once for all tests of the report."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pikepdf
import pytest
import yaml

from certgen.examination import Result, examine
from certgen.report.packet import build_packet, settings_of
from certgen.typeset.compose import compose

if TYPE_CHECKING:
    from certgen.typeset.parts import Document

ON = date(2026, 11, 25)
HOSTILE = (
    "<script>alert(1)</script><img src=http://example.org/x> #set page(fill: red) {{ 7*7 }} & \\ $ * _ `"
)


def write_season(folder: Path, *, hostile: str = "a plain note", name: str = "Larkfold Seed Orchard") -> Path:
    """A season of one lot with a screened and an unscreened parent."""
    records = {
        "season": {
            "operation": {"name": name, "certificate": "C-1"},
            "label": "2026",
            "from": "2026-01-01",
            "to": "2026-12-31",
            "crop": "papaya",
            "standards": ["us-nop"],
        },
        "blocks": [{"block": "East", "name": hostile, "status": "organic", "organic_since": "2019-01-01"}],
        "plantings": [
            {
                "planting": "P1",
                "block": "East",
                "variety": "Amber Kestrel",
                "planted": "2024-02-10",
                "material": "seed",
                "origin": {"supplier": hostile},
                "material_status": "organic",
            }
        ],
        "trees": [
            {"tree": name_, "planting": "P1", "row": "1", "position": str(n), "sex": "hermaphrodite"}
            for n, name_ in enumerate(("T1", "T2", "T3"), start=1)
        ],
        "screening": [
            {
                "sample": f"S{n}",
                "tree": f"T{n}",
                "collected": "2026-01-08",
                "method": "pcr",
                "targets": ["35S", "nptII", "NOS"],
                "controls": "passed",
                "result": result,
                "laboratory": hostile,
                "report": f"R-{n}",
            }
            for n, result in ((1, "negative"), (3, "positive"))
        ],
        "bagging": [
            {
                "bag": f"B{n:03}",
                "tree": "T1" if n < 30 else "T2",
                "covered": "2026-02-01",
                "tag": {"date": "2026-02-01", "variety": "Amber Kestrel", "tree": "T1" if n < 30 else "T2"},
                "flower": "hermaphrodite",
                "stage": "closed bud",
                "checks": [{"date": f"2026-02-{day:02}", "condition": "intact"} for day in (3, 7, 11)],
                "uncovered": "2026-02-15",
                "outcome": "set",
                "fruit_marked": True,
                "note": hostile,
            }
            for n in range(1, 41)
        ],
        "harvests": [
            {
                "harvest": "H1",
                "date": "2026-06-20",
                "bags": [f"B{n:03}" for n in range(1, 41)],
                "fruits": 40,
                "status": "organic",
            }
        ],
        "batches": [
            {
                "batch": "X1",
                "date": "2026-06-25",
                "harvests": ["H1"],
                "status": "organic",
                "wet_weight": "900 g",
                "dry_weight": "300 g",
            }
        ],
        "lots": [
            {
                "lot": "L1",
                "variety": "Amber Kestrel",
                "packed": "2026-07-10",
                "sources": [{"batch": "X1", "weight": "250 g"}],
                "weight": "250 g",
                "status": "organic",
                "packaging": hostile,
            }
        ],
        "movements": [
            {
                "movement": "M1",
                "date": "2026-08-01",
                "lot": "L1",
                "kind": "sold",
                "weight": "100 g",
                "party": hostile,
                "document": "INV-7",
            }
        ],
    }
    folder.mkdir(parents=True)
    text = yaml.safe_dump(records, allow_unicode=True, sort_keys=False)
    # Days are typed bare in a record; the dumper would quote them.
    (folder / "records.yaml").write_text(text, encoding="utf-8")
    (folder / "evidence").mkdir()
    (folder / "evidence" / "letter.txt").write_text("a letter", encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def season_folder(tmp_path_factory) -> Path:
    """The folder of the small season, hostile in every free text."""
    return write_season(
        tmp_path_factory.mktemp("report") / "season", hostile=HOSTILE, name="Larkfold ⟨مزرعة⟩ & Söhne"
    )


@pytest.fixture(scope="session")
def result(season_folder) -> Result:
    """The small season, examined."""
    return examine(season_folder, ON)


@pytest.fixture(scope="session")
def packet(result) -> Document:
    """Its packet."""
    return build_packet(result)


@pytest.fixture(scope="session")
def pdf_bytes(packet, result) -> bytes:
    """Its packet as a file, set in this process alone."""
    return compose(packet, settings_of(result))


@pytest.fixture
def pdf(pdf_bytes):
    """The file, opened."""
    with pikepdf.open(io.BytesIO(pdf_bytes)) as opened:
        yield opened
