from __future__ import annotations

from dataclasses import replace

from certgen.lineage.changes import Alteration, compare_seasons


def test_a_season_against_itself_has_no_changes(example_season) -> None:
    """Nothing came, nothing went."""
    from certgen.examination import read_case

    season, _ = read_case(example_season)

    assert () == compare_seasons(season, season).changed


def test_what_came_and_went_between_the_example_seasons(example_season) -> None:
    """Read off the two seasons' records by hand."""
    from certgen.examination import read_case

    season, _ = read_case(example_season)
    changes = compare_seasons(season.previous, season)

    assert ("2025", "2026") == (changes.before, changes.after)
    assert ("LOWER", "ROADSIDE") == changes.of("blocks").added
    assert ("pcr",) == changes.of("methods").added
    assert (Alteration("U-207", "removed", "", "2026-01-21"),) == changes.of("trees").altered
    assert ("AK-25-1",) == changes.of("lots").removed
    assert () == changes.of("standards").added


def test_comparing_the_other_way_round_swaps_came_and_went(example_season) -> None:
    """What the later season has more, the earlier one lacks; removed trees are not missed."""
    from certgen.examination import read_case

    season, _ = read_case(example_season)
    there, back = compare_seasons(season.previous, season), compare_seasons(season, season.previous)
    for key in ("blocks", "plantings", "varieties", "materials", "equipment", "suppliers", "methods"):
        assert there.of(key).added == back.of(key).removed
        assert there.of(key).removed == back.of(key).added


def test_operation_and_standards_are_compared(example_season) -> None:
    """A new certifier and a second standard belong on the page."""
    from certgen.examination import read_case

    season, _ = read_case(example_season)
    operation = replace(season.details.operation, certifier="Another Body")
    later = replace(
        season,
        details=replace(season.details, operation=operation, standards=(*season.details.standards, "eu")),
    )
    changes = compare_seasons(season, later)

    assert ["standards", "operation"] == [change.key for change in changes.changed]
    assert ("eu",) == changes.of("standards").added
    ((name, field, before, after),) = changes.of("operation").altered
    assert (season.details.operation.name, "certifier", "Another Body") == (name, field, after)
    assert season.details.operation.certifier == before


def test_letter_case_and_spaces_make_no_change(example_season) -> None:
    """The mixer is the Mixer."""
    from certgen.examination import read_case

    season, _ = read_case(example_season)
    frame = season.table("plantings")
    shouted = frame.assign(variety=frame["variety"].str.upper())
    later = replace(season, tables={**season.tables, "plantings": shouted})

    assert () == compare_seasons(season, later).of("varieties").added
