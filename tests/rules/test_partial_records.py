"""A record that can't be read whole never makes a lot's standing milder."""

from __future__ import annotations

import json

import pytest
import yaml
from stand_ins import StandIns

from certgen.examination import examine
from certgen.rules.example_seasons import EXAMPLES_ON, load_example

RANKS = {"traced": 0, "unproven": 1, "rejected": 2}
#: Rules that reject, each at another table of the line.
REJECTING = ("parent-positive", "batch-with-other-seed", "lot-transgene-positive")


def standings(folder):
    """The rank of each lot's standing."""
    result = examine(folder, EXAMPLES_ON, packets=StandIns())
    return {name: RANKS[lot.standing] for name, lot in result.lots.items()}


@pytest.mark.parametrize("slug", REJECTING)
def test_no_slip_in_any_record_makes_a_lot_milder(slug, tmp_path):
    """Each record of the season in turn gets a field that isn't there: what its other fields say stays."""
    season = load_example(slug, "bad").write(tmp_path)
    before = standings(season)
    assert 2 in before.values()
    milder = []
    for file in sorted(season.glob("*.yaml")):
        text = file.read_text(encoding="utf-8")
        tables = yaml.load(text, Loader=yaml.BaseLoader)
        for table, records in tables.items():
            for at, record in enumerate(records if isinstance(records, list) else ()):
                records[at] = {**record, "no_such_field": "1"}
                file.write_text(json.dumps(tables), encoding="utf-8")
                records[at] = record
                now = standings(season)
                milder += [(table, at, lot) for lot in now if now[lot] < before.get(lot, 0)]
        file.write_text(text, encoding="utf-8")

    assert [] == milder


@pytest.mark.parametrize(
    ("field", "value"), [("date", "some day"), ("dry_weight", "3 ft"), ("status", "very organic")]
)
def test_whichever_field_is_at_fault_the_others_speak_against(field, value, tmp_path):
    """A day that is none, a mass in feet, an unknown word: the other seed in the run still rejects."""
    season = load_example("batch-with-other-seed", "bad").write(tmp_path)
    before = standings(season)
    text = yaml.load((season / "bad.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    text["batches"][0][field] = value
    (season / "bad.yaml").write_text(json.dumps(text), encoding="utf-8")

    result = examine(season, EXAMPLES_ON)

    assert before == {name: RANKS[lot.standing] for name, lot in result.lots.items()}
    assert 2 == result.exit_code
    assert {"record-unread", "batch-with-other-seed"} <= {gap.rule for gap in result.gaps}


@pytest.mark.parametrize("slug", REJECTING)
def test_what_rejects_is_found_whatever_else_could_not_be_read(slug, tmp_path, monkeypatch):
    """Of much that may speak of any lot one is looked at again, and each lot is as bad as if all were."""
    season = load_example(slug, "bad").write(tmp_path)
    text = yaml.load((season / "bad.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    for records in text.values():
        for record in records if isinstance(records, list) else ():
            record["no_such_field"] = "1"
    (season / "bad.yaml").write_text(json.dumps(text), encoding="utf-8")
    for name in ("one", "another"):
        (season / f"{name}.yaml").write_text("screening: [\n", encoding="utf-8")
    found = examine(season, EXAMPLES_ON, packets=StandIns())
    monkeypatch.setattr("certgen.rules.partial_records._leave_one", tuple)
    expected = examine(season, EXAMPLES_ON, packets=StandIns())

    assert (expected.lots, expected.gaps) == (found.lots, found.gaps)
    assert 3 <= sum(gap.rule == "record-unread" for gap in found.gaps)


def test_what_can_be_read_in_part_shows_nothing(tmp_path):
    """A field of a clean season's sample can't be read: its lot is unproven, as if it weren't there."""
    season = load_example("parent-positive", "good").write(tmp_path)
    text = yaml.load((season / "base.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    text["screening"][0]["no_such_field"] = "1"
    (season / "base.yaml").write_text(json.dumps(text), encoding="utf-8")

    assert 1 == max(standings(season).values())
