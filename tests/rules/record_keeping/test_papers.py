from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest


def spanning(season, start, end):
    """The season with other first and last days."""
    return replace(season, details=replace(season.details, start=start, end=end))


def test_work_belongs_into_its_season(seasons, stocked, find) -> None:
    """The first and the last day still count; trees and samples may be older."""
    moves = [
        {**seasons.movement(f"M{number}", "L1", "sampled", 1), "date": when}
        for number, when in enumerate(
            (date(2025, 10, 31), date(2025, 11, 1), date(2026, 10, 31), date(2026, 11, 1))
        )
    ]
    old = seasons.sample("S1", "T1", collected=date(2025, 3, 1), submitted=date(2025, 3, 2))
    season = stocked(movements=moves, screening=[old])

    assert ["M0", "M3"] == [gap.id for gap in find(season, "date-outside-season")]


@pytest.mark.parametrize(("standards", "weight"), [(("us-nop",), "advice"), (("us-nop", "eu"), "unproven")])
def test_the_weight_of_fruit_is_asked_by_one_standard(seasons, stocked, find, standards, weight) -> None:
    """Where the amounts picked are asked for, the lot isn't proved without them."""
    picking = {name: value for name, value in seasons.harvest("H1", ["B1"]).items() if name != "weight"}

    assert [weight] == [
        gap.weight for gap in find(stocked(harvests=[picking]), "record-incomplete", *standards)
    ]


def test_what_is_missing_everywhere_is_one_gap(seasons, stocked, find) -> None:
    """One cause, one gap; and of what claims nothing nothing is asked."""
    batches = [seasons.batch(f"X{number}", ["H1"]) for number in (1, 2, 3)]
    batches[2]["status"] = "conventional"
    bare = [{name: value for name, value in one.items() if name != "wet_weight"} for one in batches]
    (gap,) = find(stocked(batches=bare), "record-incomplete")

    assert (("X1", "X2"), "advice") == (gap.ids, gap.weight)


def test_one_missing_file_is_one_gap(seasons, stocked, find) -> None:
    """Two samples name the letter that isn't there."""
    samples = [seasons.sample(name, "T1", evidence=("letter.txt",)) for name in ("S1", "S2")]
    (gap,) = find(stocked(screening=samples), "evidence-absent")

    assert (("S1", "S2"), ("evidence", 0)) == (gap.ids, gap.field)


def test_a_file_may_be_named_anywhere(seasons, stocked, find) -> None:
    """By a list of evidence or by a field of its own; what nobody names is told at the file itself."""
    season = stocked(
        screening=[seasons.sample("S1", "T1", evidence=("letter.txt",))],
        plantings=[seasons.planting(non_gm_statement="statement.txt")],
    )
    season = replace(season, evidence_files=("letter.txt", "photo.png", "statement.txt"))
    (gap,) = find(season, "evidence-unnamed")

    assert ("evidence/photo.png", "advice", ()) == (gap.place.file, gap.weight, gap.lots)
    assert () == find(season, "evidence-absent")


@pytest.mark.parametrize(
    ("ended", "standard", "found"),
    [
        (date(2025, 10, 31), "us-nop", 0),
        (date(2025, 10, 1), "us-nop", 0),
        (date(2024, 10, 31), "us-nop", 1),
        (date(2024, 10, 31), "codex", 0),
    ],
)
def test_a_year_between_two_seasons_is_missed(seasons, stocked, find, ended, standard, found) -> None:
    """Where a standard says how long records are kept; a few weeks between seasons are no season."""
    before = spanning(seasons.season_of(label="before"), date(2023, 11, 1), ended)

    assert found == len(find(replace(stocked(), previous=before), "records-missing-past-seasons", standard))


@pytest.mark.parametrize(("year", "found"), [(2025, 1), (2022, 1), (2021, 0)])
def test_the_oldest_season_that_goes_on_from_an_older_one(seasons, stocked, find, year, found) -> None:
    """Its opening stock came from somewhere; beyond the five years nobody asks."""
    opening = {**seasons.movement("M1", "K0", "opening stock", 5), "date": date(year - 1, 11, 2)}
    first = spanning(
        seasons.season_of(label="old", movements=[opening]), date(year - 1, 11, 1), date(2025, 10, 31)
    )
    season = replace(stocked(), previous=first)

    assert found == len(find(season, "records-missing-past-seasons"))


@pytest.mark.parametrize("named", ["letter.txt", ["plan.txt", "letter.txt"]])
def test_the_season_itself_names_evidence(stocked, find, named) -> None:
    """One file or several; what is missing is told at the season."""
    season = stocked()
    season = replace(
        season,
        details=replace(season.details, raw={**season.details.raw, "evidence": named}),
        evidence_files=("letters/BF-2201.txt", "plan.txt"),
    )
    (gap,) = find(season, "evidence-absent")

    assert ("season", ("evidence", 0 if isinstance(named, str) else 1)) == (gap.table, gap.field)
    assert "The season names the file letter.txt, and it is not in the folder `evidence`." == gap.message


def test_a_record_that_names_a_missing_file_is_told_by_its_number(seasons, stocked, find) -> None:
    """And the second of two files as the second."""
    sample = seasons.sample("S1", "T1", evidence=("here.txt", "letter.txt"))
    season = replace(stocked(screening=[sample]), evidence_files=("here.txt",))
    (gap,) = find(season, "evidence-absent")

    assert ("evidence", 1) == gap.field
    assert gap.message.startswith("Sample S1 names the file letter.txt")


@pytest.mark.parametrize(("days", "found"), [(31, 0), (32, 1)])
def test_a_month_between_two_seasons_is_no_season(seasons, stocked, find, days, found) -> None:
    """The season began on 1 November 2025."""
    ended = date(2025, 11, 1) - timedelta(days)
    before = spanning(seasons.season_of(label="before"), date(2024, 11, 1), ended)

    assert found == len(find(replace(stocked(), previous=before), "records-missing-past-seasons"))


@pytest.mark.parametrize(
    ("on", "found"),
    [
        # Five years before are the season's first day, and the day before it.
        (date(2030, 11, 1), 0),
        (date(2030, 10, 31), 1),
    ],
)
def test_beyond_the_years_of_keeping_nobody_asks(seasons, stocked, find, on, found) -> None:
    """To the day: for a year between two seasons, and for what the oldest goes on from."""
    gone = spanning(seasons.season_of(label="before"), date(2022, 11, 1), date(2023, 10, 31))
    season = spanning(stocked(), date(2025, 11, 1), date(2026, 10, 31))
    opening = {**seasons.movement("M1", "K0", "opening stock", 5), "date": date(2025, 11, 2)}
    oldest = spanning(
        seasons.season_of(label="old", movements=[opening]), date(2025, 11, 1), date(2026, 10, 31)
    )
    next_one = spanning(stocked(), date(2026, 11, 1), date(2027, 10, 31))

    for one in (replace(season, previous=gone), replace(next_one, previous=oldest)):
        assert found == len(find(one, "records-missing-past-seasons", on=on))


@pytest.mark.parametrize(("start", "found"), [(date(2023, 2, 28), 0), (date(2023, 3, 1), 1)])
def test_five_years_before_a_leap_day(seasons, stocked, find, start, found) -> None:
    """29 February 2028 looks back to the last of February."""
    before = spanning(seasons.season_of(label="before"), date(2021, 1, 1), date(2021, 12, 31))
    season = spanning(stocked(), start, date(2028, 2, 29))

    assert found == len(
        find(replace(season, previous=before), "records-missing-past-seasons", on=date(2028, 2, 29))
    )


def test_a_planting_may_go_on_from_an_older_lot(seasons, stocked, find) -> None:
    """Beside opening stock; a lot that the records hold is no loss, nor is what other movements name."""
    moves = [
        {**seasons.movement("M1", "K1", "opening stock", 5), "date": date(2024, 11, 2)},
        {**seasons.movement("M2", "K7", "sown", 5), "date": date(2024, 11, 2)},
    ]
    oldest = seasons.season_of(
        label="old",
        lots=[{**seasons.lot("K1", [], 8), "packed": date(2024, 12, 1)}],
        movements=moves,
        plantings=[seasons.planting("P7", origin={"lot": "K8"}), seasons.planting("P2")],
    )
    oldest = spanning(oldest, date(2024, 11, 1), date(2025, 10, 31))
    (gap,) = find(replace(stocked(), previous=oldest), "records-missing-past-seasons")

    assert gap.message.startswith("Season old goes on from lot K8, and the season before it is not named.")


def test_a_season_alone_has_no_past_to_miss(seasons, stocked, find) -> None:
    """Of its own unknown lots the rule about unknown numbers tells."""
    opening = seasons.movement("M1", "K0", "opening stock", 5, -200)

    assert () == find(stocked(movements=[opening]), "records-missing-past-seasons")


@pytest.mark.parametrize(
    ("table", "lost", "weight"),
    [
        ("batches", "dry_weight", "unproven"),
        ("batches", "wet_weight", "advice"),
        ("harvests", "weight", "advice"),
        ("lots", "containers", "advice"),
        ("lots", "storage", "advice"),
    ],
)
def test_what_growers_forget_is_asked_for(stocked, find, table, lost, weight) -> None:
    """Without the dry weight nothing can be balanced; of what claims nothing nothing is asked."""
    season = stocked()
    record = {name: value for name, value in season.record_at(table, 0).items() if name != lost}
    (gap,) = find(stocked(**{table: [record]}), "record-incomplete")
    low = stocked(**{table: [{**record, "status": "conventional"}]})

    assert ((lost,), weight) == (gap.field, gap.weight)
    assert () == find(low, "record-incomplete")


@pytest.mark.parametrize(
    ("lost", "told"),
    [
        (("certificate",), "the certificate's number"),
        (("certifier", "certificate"), "the certificate's number and the certifier"),
        ((), None),
    ],
)
def test_the_operation_names_its_certificate(stocked, find, lost, told) -> None:
    """Which touches no lot."""
    season = stocked()
    operation = replace(season.details.operation, **dict.fromkeys(lost, ""))
    found = find(replace(season, details=replace(season.details, operation=operation)), "record-incomplete")

    assert ([f"The season doesn't name {told} of the operation."] if told else []) == [
        gap.message for gap in found
    ]
    assert all(("advice", (), ("operation",)) == (gap.weight, gap.lots, gap.field) for gap in found)


@pytest.mark.parametrize(
    ("own", "other", "expected"),
    [
        ({}, {}, None),
        ({}, {"name": "Larkfold Orchard, formerly Holt"}, None),
        ({}, {"certificate": " c-0417 "}, None),
        ({}, {"certificate": "C-0999"}, "Larkfold Seed Orchard (C-0999)"),
        ({"certificate": ""}, {"certificate": "C-0999"}, None),
        ({"certificate": ""}, {"name": "LARKFOLD  seed orchard", "certificate": ""}, None),
        ({"certificate": ""}, {"name": "Holt Orchard", "certificate": ""}, "Holt Orchard (no certificate)"),
        ({}, {"name": "Holt Orchard", "certificate": ""}, "Holt Orchard (no certificate)"),
    ],
)
def test_the_season_before_is_the_same_operations(carried, find, own, other, expected) -> None:
    """By the certificate where both name one, else by the name. What rests on another's records is
    unproven: here last year's lot, and not this year's."""
    season = carried()
    before = season.previous
    details = replace(season.details, operation=replace(season.details.operation, **own))
    others = replace(before.details, operation=replace(before.details.operation, **other))
    season = replace(season, details=details, previous=replace(before, details=others))
    found = find(season, "season-before-of-another")

    assert [("unproven", ("K1",))] * bool(expected) == [(gap.weight, gap.lots) for gap in found]
    assert all(gap.message.startswith(f"Season 2025 belongs to {expected}, and this one to") for gap in found)


def test_another_operation_two_seasons_back_is_told_too(seasons, carried, find) -> None:
    """By the label of that season."""
    season = carried()
    oldest = seasons.season_of(label="2024")
    operation = replace(oldest.details.operation, name="Holt Orchard", certificate="C-0999")
    oldest = spanning(replace(oldest, details=replace(oldest.details, operation=operation)),
                      date(2023, 11, 1), date(2024, 10, 31))  # fmt: skip
    season = replace(season, previous=replace(season.previous, previous=oldest))
    (gap,) = find(season, "season-before-of-another")

    assert gap.message.startswith("Season 2024 belongs to Holt Orchard (C-0999)")


@pytest.mark.parametrize(
    ("lost", "expected"),
    [
        ((), None),
        (("evidence",), "1 of 2 results name a letter (1 in all) of which no copy is filed."),
        (("evidence", "report"), None),
        (("evidence", "result"), None),
    ],
)
def test_a_letter_is_filed_beside_its_number(seasons, stocked, find, lost, expected) -> None:
    """Which is advice: the number shows that there is one. A result without a number is told elsewhere."""
    bare = {name: value for name, value in seasons.sample("S2", "T1").items() if name not in lost}
    found = find(stocked(screening=[seasons.sample("S1", "T1"), bare]), "letter-unfiled")

    assert [(expected, "advice", ("S2",))] * bool(expected) == [
        (gap.message, gap.weight, gap.ids) for gap in found
    ]


def test_unfiled_letters_are_one_gap_of_this_season(seasons, carried, find) -> None:
    """However many; each letter counts once, and last year's were told last year."""
    bare = [
        {
            name: value
            for name, value in seasons.sample(f"S{at}", "T1", report=report).items()
            if name != "evidence"
        }
        for at, report in ((1, "BF-1"), (2, "BF-1"), (3, "BF-2"))
    ]
    old = {name: value for name, value in seasons.sample("S9", "T9").items() if name != "evidence"}
    (gap,) = find(carried(before={"screening": [old]}, screening=bare), "letter-unfiled")

    assert ("S1", "S2", "S3") == gap.ids
    assert gap.message.startswith("3 of 3 results name a letter (2 in all)")
