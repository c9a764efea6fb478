"""The season in memory follows its folder."""

from __future__ import annotations

import tempfile
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import pytest
from desk_client import BAGS, DAY, SEASON, hold
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.desk import held_season, saving
from certgen.desk.saving import Addition, Mending, save
from certgen.examination import ReadFailure, examine
from certgen.standards.season_reading import read_case


def test_a_season_that_is_as_it_was_is_not_read_again(held):
    """Two pages of one state show one result."""
    assert held.look() is held.look()


def test_a_change_by_an_editor_is_seen_at_the_next_look(held, folder):
    """What an editor saved stands on the next page, and the findings with it."""
    before = held.look()
    text = (folder / "bags.yaml").read_text(encoding="utf-8")
    (folder / "bags.yaml").write_text(text.replace("    stage: closed bud\n", ""), encoding="utf-8")

    after = held.look()

    assert before.version != after.version
    assert "closed bud" == before.season.record("bagging", "B-1")["stage"]
    assert "stage" not in after.season.record("bagging", "B-1")


def test_what_a_change_brings_and_settles_is_told(held, folder):
    """A tag without a tree comes as a finding, and goes with its mending."""
    text = (folder / "bags.yaml").read_text(encoding="utf-8")
    (folder / "bags.yaml").write_text(text.replace('tree: "02"', 'tree: "99"'), encoding="utf-8")
    broken = held.look()
    (folder / "bags.yaml").write_text(text, encoding="utf-8")
    mended = held.look()

    assert broken.come
    assert {gap.rule for gap in broken.come} & {gap.rule for gap in mended.gone}


def test_a_file_that_can_not_be_read_for_now_leaves_the_last_state(held, folder):
    """An editor in the midst of the season's own entry: what was read stays, with why it is no newer."""
    text = (folder / "season.yaml").read_text(encoding="utf-8")
    (folder / "season.yaml").write_text("season: [\n", encoding="utf-8")
    broken = held.look()
    (folder / "season.yaml").write_text(text, encoding="utf-8")

    assert broken.broken
    assert "B-1" in broken.season.tables["bagging"]["bag"].tolist()
    assert () == held.look().broken


def test_a_new_day_is_a_new_examination(folder):
    """Left open over midnight, the desk tells what is due today."""
    days = [date(2026, 3, 1)]
    held = hold(folder, lambda: days[0])
    before = held.look().result.on
    days[0] = date(2026, 3, 2)

    assert (date(2026, 3, 1), date(2026, 3, 2)) == (before, held.look().result.on)


def test_no_season_is_refused_at_once(tmp_path):
    """An empty folder opens no desk."""
    with pytest.raises(ReadFailure):
        hold(tmp_path)


_NOTE = Mending("bagging", "B-1", {"note": "torn at the seam"}, {"note": ""})


def _read(season, errors):
    """What a season holds and couldn't read, whatever objects say it: all that an examination goes by."""
    return {
        "files": {name: source.sha256 for name, source in season.sources.items()},
        "papers": (season.evidence_files, season.empty_evidence),
        "errors": [error.text() for error in errors],
        "left out": season.left_out,
        "refused": season.refused,
        "before": season.previous and _read(season.previous, season.lost),
        "tables": {name: repr(frame.to_dict("list")) for name, frame in season.tables.items()},
    }


def _facts(result):
    """What a result says."""
    return {
        **_read(result.season, result.errors),
        "findings": [(gap.rule, gap.weight, gap.ids, gap.message, gap.place) for gap in result.gaps],
        "lots": {name: (lot.standing, lot.traced_mg, lot.unproven_mg) for name, lot in result.lots.items()},
    }


def test_what_was_saved_is_not_read_a_second_time(held, monkeypatch):
    """The files are read once, as they would be, before they are written; that season is the one examined."""
    held.look()
    monkeypatch.setattr(held_season, "read_case", lambda *_args, **_named: pytest.fail("read again"))

    outcome = save(held, [_NOTE], {"evidence/walk.txt": b"a slip of paper"})

    assert ["bag B-1"] == outcome.done
    assert "torn at the seam" == held.look().season.record("bagging", "B-1")["note"]
    assert ("walk.txt",) == held.look().season.evidence_files


@pytest.mark.parametrize("file", ["season.yaml", "bags.yaml", "more.yaml", "evidence/late.txt"])
def test_what_an_editor_writes_at_that_moment_is_read(held, folder, monkeypatch, file):
    """Between the writing of a change and the look at the folder something else may have been written."""
    write = saving.write_change

    def write_both(*args, **named):
        write(*args, **named)
        path = folder / file
        path.parent.mkdir(exist_ok=True)
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(f"# by hand\n{text}", encoding="utf-8")

    monkeypatch.setattr(saving, "write_change", write_both)
    save(held, [_NOTE])

    assert _facts(examine(folder, DAY)) == _facts(held.look().result)


def test_a_season_before_that_changes_meanwhile_is_read_again(held, folder):
    """What was carried over may be told otherwise by now."""
    before = folder.parent / "before"
    before.mkdir()
    text = (folder / "season.yaml").read_text(encoding="utf-8")
    (before / "season.yaml").write_text(text.replace("2026", "2025"), encoding="utf-8")
    (folder / "season.yaml").write_text(
        text.replace("  crop:", "  previous: ../before\n  crop:"), encoding="utf-8"
    )
    held.look()
    (before / "season.yaml").write_text("season: [\n", encoding="utf-8")

    save(held, [_NOTE])

    assert _facts(examine(folder, DAY)) == _facts(held.look().result)


_CHANGES = ("note", "tree", "add", "paper", "hand", "new file", "clear", "broken", "away")


def _change(held, folder, change, number):
    """One change at the desk or by hand."""
    bags = folder / "bags.yaml"
    shown = {"tree": "01", "note": held.look().season.record("bagging", "B-1").get("note", "")}
    if change == "note":
        save(held, [Mending("bagging", "B-1", {"note": f"seen {number}"}, shown)])
    elif change == "clear":
        save(held, [Mending("bagging", "B-1", {"note": None}, shown)])
    elif change == "tree":
        save(held, [Mending("bagging", "B-1", {"tree": "02"}, shown)])
    elif change == "add":
        values = {"bag": f"B-1{number}", "tree": "01", "covered": "2026-01-20"}
        save(held, [Addition("bagging", values)])
    elif change == "paper":
        save(held, [], {f"evidence/slip-{number}.txt": b"seen" * (number % 2)})
    elif change == "hand":
        bags.write_text(bags.read_text(encoding="utf-8") + f"# {number}\n", encoding="utf-8")
    elif change == "new file":
        text = f"incidents:\n  - {{incident: I-{number}, date: 2026-02-01, kind: storm}}\n"
        (folder / f"incidents-{number}.yaml").write_text(text, encoding="utf-8")
    elif change == "away":
        for path in folder.glob("incidents-*.yaml"):
            path.unlink()
    else:
        (folder / "torn.yaml").write_text(f"trees:\n  - {{tree: {number}\n", encoding="utf-8")


def test_after_changes_of_all_kinds_the_findings_are_those_of_the_folder(held, folder):
    """At the desk and by hand, one after another: what is held is what an examination afresh gives."""
    for number, change in enumerate(("hand", "paper", "tree", "broken")):
        _change(held, folder, change, number)

    assert _facts(examine(folder, DAY)) == _facts(held.look().result)


@settings(max_examples=15)
@given(changes=st.lists(st.sampled_from(_CHANGES), min_size=1, max_size=6))
def test_whatever_is_changed_what_is_examined_is_as_the_folder(changes):
    """In any order and number: the season that is held, read or taken over, is the one in the folder."""
    with tempfile.TemporaryDirectory() as place, pytest.MonkeyPatch.context() as patch:
        patch.setattr(held_season, "examine_season", _note_season)
        folder = Path(place, "season")
        folder.mkdir()
        (folder / "season.yaml").write_text(SEASON, encoding="utf-8")
        (folder / "bags.yaml").write_text(BAGS, encoding="utf-8")
        held = hold(folder)
        for number, change in enumerate(changes):
            _change(held, folder, change, number)

        examined = held.look().result
        assert _read(*read_case(folder)) == _read(examined.season, examined.errors)


def _note_season(season, on, errors, **_packets):
    """Stands for an examination, which goes by these alone and always gives the same for them."""
    return SimpleNamespace(season=season, on=on, errors=errors, gaps=())
