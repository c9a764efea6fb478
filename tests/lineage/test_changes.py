from __future__ import annotations

from dataclasses import replace

import pytest
from seasons import blank

from certgen.lineage.changes import Alteration, Change, compare_seasons


def test_a_season_against_itself_has_no_changes(example_season) -> None:
    """Nothing came, nothing went."""
    from certgen.standards.season_reading import read_case

    season, _ = read_case(example_season)

    assert () == compare_seasons(season, season).changed


def test_what_came_and_went_between_the_example_seasons(example_season) -> None:
    """Read off the two seasons' records by hand."""
    from certgen.standards.season_reading import read_case

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
    from certgen.standards.season_reading import read_case

    season, _ = read_case(example_season)
    there, back = compare_seasons(season.previous, season), compare_seasons(season, season.previous)
    for key in ("blocks", "plantings", "varieties", "materials", "equipment", "suppliers", "methods"):
        assert there.of(key).added == back.of(key).removed
        assert there.of(key).removed == back.of(key).added


def test_operation_and_standards_are_compared(example_season) -> None:
    """A new certifier and a second standard belong on the page."""
    from certgen.standards.season_reading import read_case

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
    from certgen.standards.season_reading import read_case

    season, _ = read_case(example_season)
    frame = season.table("plantings")
    shouted = frame.assign(variety=frame["variety"].str.upper())
    later = replace(season, tables={**season.tables, "plantings": shouted})

    assert () == compare_seasons(season, later).of("varieties").added


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (Change("lots", "Lots"), False),
        (Change("lots", "Lots", added=("L1",)), True),
        (Change("lots", "Lots", removed=("L1",)), True),
        (Change("lots", "Lots", altered=(Alteration("L1", "weight", "", "1 g"),)), True),
    ],
)
def test_one_thing_is_a_change(change, expected) -> None:
    """What came, what went or what was altered."""
    assert expected == change.any


def test_a_subject_that_is_not_compared_is_no_change(seasons) -> None:
    """It is an error to ask for it."""
    with pytest.raises(KeyError):
        compare_seasons(seasons.season_of(), seasons.season_of()).of("weather")


def test_records_are_matched_by_number(seasons) -> None:
    """Two blocks stay, of which one is altered; one came and one went. An unaltered one is not told."""
    before = seasons.season_of(
        label="2025",
        blocks=[seasons.block("A"), seasons.block("B"), seasons.block("C", buffer="8 m", area="1 ha")],
    )
    after = seasons.season_of(
        blocks=[
            seasons.block("D"),
            seasons.block("C", buffer="9 m", organic_since=seasons.SCREENED),
            seasons.block("B"),
        ]
    )
    change = compare_seasons(before, after).of("blocks")

    assert (("D",), ("A",)) == (change.added, change.removed)
    assert {
        Alteration("C", "organic_since", "2020-05-01", "2025-12-08"),
        Alteration("C", "area", before.table("blocks")["area"].astype(str).iloc[2], ""),
        Alteration("C", "buffer", before.table("blocks")["buffer"].astype(str).iloc[2],
                   after.table("blocks")["buffer"].astype(str).iloc[1]),
    } == set(change.altered)  # fmt: skip
    assert change in compare_seasons(before, after).changed


def test_a_removed_tree_is_not_missed_and_any_other_is(seasons) -> None:
    """T2 had been taken out last season, T3 was forgotten; a planting that is gone is told."""
    before = seasons.season_of(
        label="2025",
        plantings=[seasons.planting(), seasons.planting("P2")],
        trees=[seasons.tree("T1"), seasons.tree("T2", removed=seasons.PICKED), seasons.tree("T3")],
    )
    after = seasons.season_of(plantings=[seasons.planting()], trees=[seasons.tree("T1", sex="female")])
    changes = compare_seasons(before, after)

    assert ("P2",) == changes.of("plantings").removed
    assert ("T3",) == changes.of("trees").removed
    assert (Alteration("T1", "sex", "hermaphrodite", "female"),) == changes.of("trees").altered
    assert ["plantings", "trees"] == [change.key for change in changes.changed]


def test_of_two_records_with_one_number_the_first_is_compared(seasons) -> None:
    """And one without a number is nobody's."""
    before = seasons.season_of(label="2025", blocks=[seasons.block("A")])
    after = seasons.season_of(
        blocks=[seasons.block("A"), seasons.block("A", boundary="road"), seasons.block("B")]
    )

    assert () == compare_seasons(before, after).of("blocks").altered
    assert ("B",) == compare_seasons(before, after).of("blocks").added
    assert () == compare_seasons(before, blank(after, "blocks", "block", 2)).of("blocks").added
    assert () == compare_seasons(blank(after, "blocks", "block", 2), before).of("blocks").removed


def test_words_are_compared_from_every_column_that_holds_them(seasons) -> None:
    """Varieties of plantings and lots, equipment of batches and cleanings, suppliers of seed and inputs."""
    applied = {"date": seasons.PICKED, "block": "East"}
    before = seasons.season_of(
        label="2025", batches=[seasons.batch("X1", [], equipment=("mixer", "sieve"))],
        lots=[seasons.lot("K1", [], 1)],
        plantings=[seasons.planting(origin={"supplier": "Brackwen  Seed exchange", "certificate": "C-1"})],
    )  # fmt: skip
    after = seasons.season_of(
        batches=[seasons.batch("X1", [], equipment=("Mixer", "fan", "FAN"))],
        cleaning=[{"cleaning": "C1", "date": seasons.PICKED, "equipment": ("tray",), "method": "hot water"}],
        plantings=[seasons.planting(variety="Moth Lantern")],
        inputs=[
            applied | {"input": "I1", "material": "compost", "supplier": "Heap Yard"},
            applied | {"input": "I2", "material": "lime"},
        ],
    )  # fmt: skip
    changes = compare_seasons(before, after)

    assert (("fan", "tray"), ("sieve",)) == (changes.of("equipment").added, changes.of("equipment").removed)
    assert (("Moth Lantern",), ("Amber Kestrel",)) == (
        changes.of("varieties").added, changes.of("varieties").removed,
    )  # fmt: skip
    assert (("Heap Yard",), ()) == (changes.of("suppliers").added, changes.of("suppliers").removed)
    assert ("compost", "lime") == changes.of("materials").added


def test_lots_that_are_still_in_the_ledger_are_not_gone(seasons) -> None:
    """K1 was sold this season and K2 is nowhere; L1 is new, and told once."""
    before = seasons.season_of(
        label="2025", lots=[seasons.lot(name, [], 8) for name in ("K2", "K1", "K3", "K2")]
    )
    after = seasons.season_of(
        lots=[seasons.lot(name, [], 8) for name in ("L1", "K3", "L1")],
        movements=[seasons.sale("M1", "K1", 3)],
    )
    change = compare_seasons(before, after).of("lots")

    assert (("L1",), ("K2",)) == (change.added, change.removed)


def test_events_of_concern_are_compared(seasons) -> None:
    """As words; so are standards that were dropped."""
    season = seasons.season_of(standards=("us-nop", "eu"))
    later = replace(
        season,
        details=replace(season.details, events_of_concern=("55-1",), standards=("us-nop",), label="2027"),
    )
    changes = compare_seasons(season, later)

    assert ("2026", "2027") == (changes.before, changes.after)
    assert (("55-1",), ()) == (changes.of("events_of_concern").added, changes.of("events_of_concern").removed)
    assert ((), ("eu",)) == (changes.of("standards").added, changes.of("standards").removed)
