from __future__ import annotations

import datetime as dt
import json
import os
import tempfile
from pathlib import Path
from typing import Any

import pytest
from generated_seasons import records_of, seasons, written
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.examination import examine
from certgen.records import read_season
from certgen.records.record_files.validation import find_failing
from certgen.records.tables import load_tables
from certgen.standards import PROFILES, RULEBOOKS, load_profile

COVERS = ("certgen.examination", "certgen.records.record_files.validation")
WORDS = load_profile("papaya").words
SEASONS = seasons(WORDS, standards=sorted(RULEBOOKS))
#: More for a night's run: CERTGEN_EXAMPLES=5000.
EXAMPLES = int(os.environ.get("CERTGEN_EXAMPLES", "25"))
UNHURRIED = settings(
    max_examples=EXAMPLES, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def laid_out(folder: str, text: str) -> Path:
    """A season's folder with one file."""
    (Path(folder) / "season.yaml").write_text(text, encoding="utf-8", newline="")
    return Path(folder)


@pytest.mark.parametrize("name", list(load_tables()))
@settings(max_examples=20)
@given(data=st.data())
def test_generated_records_are_sound(name: str, data: st.DataObject) -> None:
    """The generator keeps to the schema, or the tests below would test nothing."""
    record = data.draw(records_of(load_tables()[name], WORDS))
    assert [] == find_failing(name, [record])


@UNHURRIED
@given(st.data())
def test_every_sound_season_is_read_whole(data: st.DataObject) -> None:
    """Whatever the schemas allow, in whatever layout: no error, no record lost, and every value as it was."""
    content = data.draw(SEASONS)
    with tempfile.TemporaryDirectory() as folder:
        season, errors = read_season(laid_out(folder, data.draw(written(content))), words_of=lambda _: WORDS)
    assert [] == [error.text() for error in errors]
    for name, table in load_tables().items():
        records = content.get(name, [])
        assert len(records) == len(season.table(name))
        for row, record in enumerate(records):
            assert plain(record, table.fields) == json.loads(
                json.dumps(season.record_at(name, row), default=str)
            )


def plain(record: dict[str, Any], fields: Any) -> dict[str, Any]:
    """A record as it reads back: one evidence path as a list, empty mappings left out."""
    found: dict[str, Any] = {}
    for name, value in record.items():
        field = fields[name]
        if field.kind == "evidence":
            found[name] = value if isinstance(value, list) else [value]
        elif field.kind == "mapping":
            inner = plain(value, field.fields)
            if inner:
                found[name] = inner
        elif field.kind == "list" and field.item.kind == "mapping":
            found[name] = [plain(part, field.item.fields) for part in value]
        else:
            found[name] = value
    return found


@UNHURRIED
@given(content=SEASONS, on=st.dates(dt.date(2024, 1, 1), dt.date(2028, 1, 1)))
def test_every_sound_season_is_checked(content: dict[str, Any], on: dt.date) -> None:
    """Whatever the schemas allow is examined to the end: no rule fails, and every standing is by gram."""
    with tempfile.TemporaryDirectory() as folder:
        result = examine(laid_out(folder, json.dumps(content, ensure_ascii=False)), on)
    assert () == result.errors
    assert () == result.crashed
    assert result.exit_code in {0, 1}
    for lot in result.lots.values():
        parts = (lot.traced_mg, lot.unproven_mg, lot.rejected_mg, lot.unaccounted_mg)
        assert lot.weight_mg == sum(parts)
    places = [gap.place for gap in result.gaps]
    assert {place for place in places if place.path} <= set(result.locate(places))
    assert set(PROFILES) >= {result.season.details.crop}
