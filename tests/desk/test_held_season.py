"""The season in memory follows its folder."""

from __future__ import annotations

from datetime import date

import pytest
from desk_client import hold

from certgen.examination import ReadFailure


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
