from __future__ import annotations

from datetime import date

import pytest

from certgen.examination import examine
from certgen.manifest import PacketOptions
from certgen.report.chapters.short import build_short
from certgen.report.context import Context
from certgen.report.packet import build_packet
from certgen.report.tables import say_shown
from certgen.rules.example_seasons import load_example
from certgen.typeset.parts import Facts, Grid, Note, Signature

ON = date(2026, 10, 31)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """A small season, one lot of which has a torn bag."""
    return examine(load_example("bag-failed", "bad").write(tmp_path_factory.mktemp("season")), ON)


@pytest.fixture(scope="module")
def sections(result):
    """The short packet's sections by anchor."""
    return {section.anchor: section for section in build_short(Context(result), 470.0).sections}


def test_every_gap_has_a_row_with_room_for_what_is_found(result, sections):
    """Heaviest first, with its anchor; the last column is the inspector's."""
    (grid,) = sections["gaps"].parts

    assert [f"gap/{number}" for number in range(1, len(result.gaps) + 1)] == sorted(
        row.anchor for row in grid.rows
    )
    assert {""} == {say_shown(row.cells[-1]) for row in grid.rows}
    assert "B3" in say_shown(grid.rows[0].cells[2])


@pytest.mark.parametrize("lot", ["L1", "L2"])
def test_every_lot_is_told_in_a_few_lines(result, sections, lot):
    """Its standing, what it is made of, and who had it."""
    (facts,) = sections[f"lots/{lot}"].parts
    assert isinstance(facts, Facts)
    told = {item.label: "".join(run.text for run in item.runs) for item in facts.items}

    assert told["Standing"].startswith(result.lots[lot].standing)
    assert {"Made of", "Parents screened", "Claim", "Not ruled out", "Germination", "Went to"} <= told.keys()


def test_the_balance_and_a_place_to_sign_stand_behind(sections):
    """By lot and variety; then the declaration."""
    assert any(isinstance(part, Grid) for part in sections["balance"].parts)
    assert isinstance(sections["declaration"].parts[0], Signature)


def test_a_season_without_a_gap_says_so(tmp_path):
    """A sentence stands in the place of an empty table."""
    clean = examine(load_example("bag-failed", "good").write(tmp_path), ON)
    sections = {section.anchor: section for section in build_short(Context(clean), 470.0).sections}

    assert ("No gap was found" in sections["gaps"].parts[0].paragraphs[0]) == (not clean.gaps)


def test_the_short_packet_lists_nothing_and_holds_the_same_files(result):
    """No registers, index or manifest is printed; the attachments are those of the full one."""
    short, full = (build_packet(result, PacketOptions(short=short)) for short in (True, False))

    assert ((), None, ()) == (short.registers.registers, short.index, short.manifest.registers)
    assert [one.name for one in full.attachments] == [one.name for one in short.attachments]
    assert short.cover.title.endswith(", short")


def test_its_first_page_names_no_page_that_it_lacks(root):
    """Notices and earlier inspections stand in the whole packet only, and the short one says so."""
    shown = examine(root / "example_season", ON)
    short, full = (build_packet(shown, PacketOptions(short=short)) for short in (True, False))
    anchors = {section.anchor for section in short.front[0].sections} | {
        f"gap/{number}" for number in range(1, len(shown.gaps) + 1)
    }

    led = {run.href for run in list_runs(full.cover) if run.page}
    assert {"notices", "inspections"} <= led
    assert set() == {run.href for run in list_runs(short.cover) if run.page} - anchors
    told = "".join(run.text for run in list_runs(short.cover))
    assert ("Drafts: in the whole packet." in told, "; in the whole packet." in told) == (True, True)


def list_runs(cover):
    """What the notes and facts of a first page say, run by run."""
    for band in cover.bands:
        for part in band.parts:
            if isinstance(part, Note):
                yield from part.runs
            elif isinstance(part, Facts):
                yield from (run for item in part.items for run in item.runs)
