"""What rounds, letters and the routine say of records that are silent themselves."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pandas as pd
import pytest
from seasons import TYPED

from certgen.records.joining.completion import complete_season
from certgen.records.season import Contradiction

COVERS = ("certgen.records.joining.written_tags",)
FARM = """\
plantings:
- {planting: P1, block: East, variety: Amber, planted: 2025-02-10, material: seed, material_status: organic}
trees:
- {tree: T1, planting: P1, sex: hermaphrodite}
- {tree: T2, planting: P1, sex: hermaphrodite}
"""
BAGS = FARM + "bagging:\n- {bag: B1, tree: T1}\n- {bag: B2, tree: T2}\n"
SAMPLES = FARM + "screening:\n- {sample: S1, tree: T1}\n- {sample: S2, tree: T2}\n"


@pytest.fixture
def complete(write: Callable):
    """Reads records, and completes them."""
    from certgen.records import read_season

    def complete(records, season=TYPED):
        found, errors = read_season(write({"records.yaml": records}, season))
        assert found is not None, [error.text() for error in errors]
        assert () == errors
        return complete_season(found)

    return complete


def column(season, table, name):
    """A column as plain values, with an empty text for what is absent."""
    frame = season.table(table)[name]
    return [
        "" if not isinstance(value, tuple) and pd.isna(value) else _plain(value) for value in frame.tolist()
    ]


def _plain(value):
    return value.date() if isinstance(value, pd.Timestamp) else value


def rounds(*entries):
    """A table of rounds by Ann, numbered from one."""
    lines = [f"- {{round: R{at}, by: Ann, {text}}}\n" for at, text in enumerate(entries, start=1)]
    return "rounds:\n" + "".join(lines)


def test_without_rounds_letters_and_routine_nothing_changes(read: Callable):
    """The same season comes back."""
    season, _ = read(BAGS)

    assert complete_season(season) is season


def test_a_bagging_round_says_what_held_for_its_bags(complete):
    """The day, the flower and its stage, that each was tied; and who says so."""
    season = complete(
        BAGS + rounds(
            "kind: bagging, date: 2026-02-02, bags: [B1 to B2], flower: hermaphrodite, stage: closed bud, "
            "secured: yes, other_buds_cleared: yes, bag_use: new"
        )
    )  # fmt: skip

    assert [date(2026, 2, 2)] * 2 == column(season, "bagging", "covered")
    assert ["closed bud"] * 2 == column(season, "bagging", "stage")
    assert [True] * 2 == column(season, "bagging", "secured")
    assert [True] * 2 == column(season, "bagging", "other_buds_cleared")
    assert ["new"] * 2 == column(season, "bagging", "bag_use")
    assert ["hermaphrodite"] * 2 == column(season, "bagging", "flower")
    assert ["round R1"] * 2 == season.attested["bagging", "secured"]
    assert () == season.contradicted


def test_what_a_round_does_not_say_stays_silent(complete):
    """Nothing is made up."""
    season = complete(BAGS + rounds("kind: bagging, date: 2026-02-02, bags: [B1]"))

    assert [date(2026, 2, 2), ""] == column(season, "bagging", "covered")
    for name in ("stage", "secured", "flower", "tag.date", "tag.tree", "tag.variety", "tag.bag", "bag_use"):
        assert ["", ""] == column(season, "bagging", name)


def test_who_walked_a_bagging_round_answers_for_its_bags(complete):
    """Whoever entered it goes before who walked; a bag's own word is kept, and who is silent isn't named."""
    bags = BAGS.replace("bag: B2, tree: T2", "bag: B2, tree: T2, recorded_by: Bo")
    walk = "kind: bagging, date: 2026-02-02, bags: [B1 to B2]"
    season = complete(bags + rounds(walk))

    assert ["Ann", "Bo"] == column(season, "bagging", "recorded_by")
    assert ["round R1", ""] == season.attested["bagging", "recorded_by"]
    assert () == season.contradicted
    assert ["Cy", "Bo"] == column(
        complete(bags + rounds(walk + ", recorded_by: Cy")), "bagging", "recorded_by"
    )
    silent = complete(bags + rounds(walk).replace("by: Ann", 'by: "?"'))
    assert ["", "Bo"] == column(silent, "bagging", "recorded_by")


@pytest.mark.parametrize(
    ("said", "exception", "marked"),
    [
        ("outcome: set, fruit_marked: yes", "outcome: dropped", [True, ""]),
        ("outcome: set, fruit_marked: yes", "condition: torn", [True, True]),
        ("outcome: set, fruit_marked: yes", "fruit_marked: no", [True, False]),
        ("outcome: set, fruit_marked: yes", "outcome: dropped, fruit_marked: yes", [True, True]),
        ("outcome: dropped, fruit_marked: yes", "outcome: set", ["", True]),
        ("outcome: dropped", "outcome: set, fruit_marked: yes", ["", True]),
        ("fruit_marked: yes", "outcome: lost", [True, ""]),
        ("outcome: set, fruit_marked: yes", "left_out: yes, outcome: set", [True, ""]),
    ],
)
def test_that_fruit_was_marked_is_said_of_fruit(complete, said, exception, marked):
    """What held for most flowers is no word about one that dropped."""
    season = complete(
        BAGS + rounds(
            f"kind: uncovering, date: 2026-02-22, bags: [B1 to B2], {said}, "
            f"exceptions: [{{about: [B2], {exception}}}]"
        )
    )  # fmt: skip

    assert marked == column(season, "bagging", "fruit_marked")


def test_what_a_bag_says_of_its_flower_goes_before_the_round(complete):
    """A bag that bore fruit on a walk on which most flowers had dropped is among those that were marked."""
    bags = BAGS.replace("bag: B1,", "bag: B1, outcome: set,", 1)
    assert bags != BAGS
    walk = "kind: uncovering, date: 2026-02-22, bags: [B1 to B2], outcome: dropped, fruit_marked: yes"
    assert [True, ""] == column(complete(bags + rounds(walk)), "bagging", "fruit_marked")


def test_a_round_wrote_the_tags_as_the_log_has_them(complete):
    """Date, tree and variety; the bag's number only if it says so; a copied tag is kept."""
    tagged = rounds("kind: bagging, date: 2026-02-02, bags: [B1 to B2], tagged: yes")
    season = complete(BAGS + tagged)

    assert [date(2026, 2, 2)] * 2 == column(season, "bagging", "tag.date")
    assert ["T1", "T2"] == column(season, "bagging", "tag.tree")
    assert ["Amber"] * 2 == column(season, "bagging", "tag.variety")
    assert ["", ""] == column(season, "bagging", "tag.bag")
    numbered = complete(BAGS + rounds("kind: bagging, date: 2026-02-02, bags: [B1], numbered: yes"))
    assert ["B1", ""] == column(numbered, "bagging", "tag.bag")
    copied = complete(BAGS.replace("tree: T2}\n", "tree: T2, tag: {tree: T7}}\n", 2).replace(
        "{tree: T2, tag: {tree: T7}, planting", "{tree: T2, planting") + tagged)  # fmt: skip
    assert ["T1", "T7"] == column(copied, "bagging", "tag.tree")


def test_a_round_that_wrote_no_tags_writes_none(complete):
    """Nor does an exception's bag get one."""
    season = complete(
        BAGS + rounds(
            "kind: bagging, date: 2026-02-02, bags: [B1 to B2], tagged: yes, "
            "exceptions: [{about: [B2], tagged: no}]"
        )
    )  # fmt: skip

    assert ["T1", ""] == column(season, "bagging", "tag.tree")
    none = complete(BAGS + rounds("kind: bagging, date: 2026-02-02, bags: [B1 to B2], tagged: no"))
    assert ["", ""] == column(none, "bagging", "tag.tree")


def test_an_exception_goes_before_what_held_for_the_rest(complete):
    """It names its record: of the rest the round's own word holds."""
    season = complete(
        BAGS + rounds(
            "kind: bagging, date: 2026-02-02, bags: [B1 to B2], stage: closed bud, secured: yes, "
            "exceptions: [{about: [T2], secured: no}]"
        )
    )  # fmt: skip

    assert [True, False] == column(season, "bagging", "secured")
    assert ["closed bud"] * 2 == column(season, "bagging", "stage")
    assert () == season.contradicted


def test_what_a_walk_left_out_it_says_nothing_of(complete):
    """Neither its day nor anything that held for the others."""
    season = complete(
        BAGS + rounds(
            "kind: bagging, date: 2026-02-02, bags: [B1 to B2], secured: yes, tagged: yes, "
            "exceptions: [{about: [B2], left_out: yes}]",
            "kind: check, date: 2026-02-09, bags: [B1 to B2], condition: intact, "
            "exceptions: [{about: [B2], left_out: yes}]",
        )
    )  # fmt: skip

    for name, value in (("covered", date(2026, 2, 2)), ("secured", True), ("tag.tree", "T1")):
        assert [value, ""] == column(season, "bagging", name)
    assert [1, 0] == [len(looks) for looks in column(season, "bagging", "checks")]


def test_the_record_goes_before_what_held_for_most(complete):
    """A round tells of many: what the record itself says is kept, without a contradiction."""
    season = complete(
        BAGS.replace("{bag: B1, tree: T1}", "{bag: B1, tree: T1, secured: no, stage: open}")
        + rounds("kind: bagging, date: 2026-02-02, bags: [B1 to B2], secured: yes, stage: closed bud")
    )

    assert [False, True] == column(season, "bagging", "secured")
    assert ["open", "closed bud"] == column(season, "bagging", "stage")
    assert ["", "round R1"] == season.attested["bagging", "secured"]
    assert () == season.contradicted


def test_an_exception_that_the_record_denies_is_a_contradiction(complete):
    """Both name the bag: one of them is wrong."""
    season = complete(
        BAGS.replace("{bag: B1, tree: T1}", "{bag: B1, tree: T1, secured: yes}")
        + rounds(
            "kind: bagging, date: 2026-02-02, bags: [B1 to B2], secured: yes, "
            "exceptions: [{about: [B1], secured: no}]"
        )
    )  # fmt: skip

    assert (Contradiction("bagging", 0, "secured", "yes", "round R1", "no"),) == season.contradicted
    assert [True, True] == column(season, "bagging", "secured")


def test_two_rounds_that_tell_one_thing_differently_are_a_contradiction(complete):
    """Two bagging rounds name the bag, each on its own day; the first one's is kept."""
    season = complete(
        BAGS + rounds(
            "kind: bagging, date: 2026-02-02, bags: [B1]", "kind: bagging, date: 2026-02-05, bags: [B1]"
        )
    )  # fmt: skip

    assert [date(2026, 2, 2), ""] == column(season, "bagging", "covered")
    assert (
        Contradiction("bagging", 0, "covered", "2026-02-02", "round R2", "2026-02-05"),
    ) == season.contradicted


def test_a_day_of_a_record_that_a_round_names_otherwise_is_a_contradiction(complete):
    """A block's round doesn't name the bag, so it is not of that day and not meant."""
    bags = BAGS.replace("{bag: B1, tree: T1}", "{bag: B1, tree: T1, covered: 2026-02-01}")
    named = complete(bags + rounds("kind: bagging, date: 2026-02-02, bags: [B1]"))
    block = complete(bags + rounds("kind: bagging, date: 2026-02-02, blocks: [East]"))

    assert ["2026-02-01"] == [one.here for one in named.contradicted]
    assert () == block.contradicted


def test_looks_are_added_to_the_bags_own(complete):
    """Of each walk the day, what was found and who says so; torn where an exception says it."""
    season = complete(
        BAGS.replace("{bag: B1, tree: T1}", "{bag: B1, tree: T1, covered: 2026-02-02, "
                     "checks: [{date: 2026-02-05, condition: intact}]}")
        .replace("{bag: B2, tree: T2}", "{bag: B2, tree: T2, covered: 2026-02-02}")
        + rounds(
            "kind: check, date: 2026-02-09, blocks: [East], condition: intact, "
            "exceptions: [{about: [B2], condition: torn}]",
            "kind: uncovering, date: 2026-02-20, bags: [B1], condition: intact, outcome: set, "
            "fruit_marked: yes",
        )
    )  # fmt: skip

    looks = [
        [(look["date"], look["condition"]) for look in looks] for looks in column(season, "bagging", "checks")
    ]
    assert [
        [(date(2026, 2, 5), "intact"), (date(2026, 2, 9), "intact"), (date(2026, 2, 20), "intact")],
        [(date(2026, 2, 9), "torn")],
    ] == looks
    assert [date(2026, 2, 20), ""] == column(season, "bagging", "uncovered")
    assert ["set", ""] == column(season, "bagging", "outcome")
    assert [True, ""] == column(season, "bagging", "fruit_marked")


def test_a_walk_without_a_condition_saw_nothing(complete):
    """It adds no look."""
    season = complete(BAGS + rounds("kind: check, date: 2026-02-09, bags: [B1 to B2]"))

    assert [(), ()] == column(season, "bagging", "checks")


def test_a_walk_tells_that_the_petals_had_fallen(complete):
    """Of all its bags, but for those excepted; the day is the walk's."""
    season = complete(
        BAGS + rounds(
            "kind: check, date: 2026-02-09, bags: [B1 to B2], petals_fallen: yes, "
            "exceptions: [{about: [B2], petals_fallen: no}]"
        )
    )  # fmt: skip

    assert [date(2026, 2, 9), ""] == column(season, "bagging", "petal_fall")
    other = complete(
        BAGS + rounds(
            "kind: check, date: 2026-02-09, bags: [B1 to B2], exceptions: [{about: [B2], petals_fallen: yes}]"
        )
    )  # fmt: skip
    assert ["", date(2026, 2, 9)] == column(other, "bagging", "petal_fall")


def test_a_bagging_round_gives_the_day_that_a_later_walk_needs(complete):
    """Written before or after it: the walk finds what hangs there by then."""
    season = complete(
        BAGS + rounds(
            "kind: check, date: 2026-02-09, blocks: [East], condition: intact",
            "kind: bagging, date: 2026-02-02, bags: [B1]",
        )
    )  # fmt: skip

    assert [1, 0] == [len(looks) for looks in column(season, "bagging", "checks")]


def test_a_sampling_round_says_how_its_leaves_were_taken(complete):
    """The day, the stalk, and that each was marked with its tree's number."""
    season = complete(
        SAMPLES + rounds(
            "kind: sampling, date: 2026-01-06, samples: [S1 to S2], petiole: 32 mm, tissue: leaf, "
            "marked: yes, exceptions: [{about: [S2], petiole: 50 mm, marked: no}]"
        )
    )  # fmt: skip

    assert [date(2026, 1, 6)] * 2 == column(season, "screening", "collected")
    assert ["32 mm", "50 mm"] == column(season, "screening", "petiole")
    assert [32.0, 50.0] == column(season, "screening", "petiole_mm")
    assert ["leaf", "leaf"] == column(season, "screening", "tissue")
    assert ["T1", ""] == column(season, "screening", "mark")


def test_a_picking_round_says_how_ripe_the_fruit_was(complete):
    """Of the pickings that it names."""
    season = complete(
        "harvests:\n- {harvest: H1, date: 2026-06-10, bags: [B1], fruits: 1, status: organic}\n"
        "- {harvest: H2, date: 2026-06-10, bags: [B2], fruits: 1, status: organic}\n"
        + rounds("kind: picking, date: 2026-06-10, harvests: [H2], ripeness: colour break")
    )

    assert ["", "colour break"] == column(season, "harvests", "stage")


def test_a_storm_says_nothing_of_any_record(complete):
    """What it did the checks ask."""
    season = complete(BAGS + rounds("kind: storm, date: 2026-02-09, blocks: [East], bags: [B1]"))

    assert [(), ()] == column(season, "bagging", "checks")
    assert ["", ""] == column(season, "bagging", "covered")


LETTER = (
    "letters:\n- {letter: L1, laboratory: Bracken Ford, received: 2026-01-07, reported: 2026-01-14,\n"
    "   method: pcr, targets: [35S], controls: passed, result: negative, evidence: L1.txt,\n"
    "   samples: [S1 to S2]"
)


def test_a_letter_says_what_holds_for_its_samples(complete):
    """Who tested them, how, what came out, when; its number is their report's."""
    season = complete(SAMPLES + LETTER + "}\n")

    for name, value in (
        ("laboratory", "Bracken Ford"), ("method", "pcr"), ("targets", ("35S",)), ("controls", "passed"),
        ("result", "negative"), ("reported", date(2026, 1, 14)), ("submitted", date(2026, 1, 7)),
        ("report", "L1"), ("evidence", ("L1.txt",)),
    ):  # fmt: skip
        assert [value] * 2 == column(season, "screening", name), name
    assert ["letter L1"] * 2 == season.attested["screening", "result"]


def test_a_stains_figures_come_from_the_letter(complete):
    """With their converted values."""
    season = complete(
        SAMPLES + "letters:\n- {letter: L1, report: BF-7, method: gus, incubation: 14 h, temperature: 37 C, "
        "reagent_lot: R-3, result: negative, samples: [S1]}\n"
    )

    assert [14 * 3600.0, ""] == column(season, "screening", "incubation_s")
    assert [37.0, ""] == column(season, "screening", "temperature_c")
    assert ["R-3", ""] == column(season, "screening", "reagent_lot")
    assert ["BF-7", ""] == column(season, "screening", "report")


def test_an_exception_of_a_letter_has_its_own_result_or_none(complete):
    """What the letter says of the rest is not said of a sample that it excepts."""
    other = complete(SAMPLES + LETTER + ", exceptions: [{samples: [S2], result: positive}]}\n")
    silent = complete(SAMPLES + LETTER + ", exceptions: [{samples: [S2], note: not enough leaf}]}\n")

    assert ["negative", "positive"] == column(other, "screening", "result")
    assert ["negative", ""] == column(silent, "screening", "result")
    assert ["pcr", "pcr"] == column(silent, "screening", "method")
    failed = complete(SAMPLES + LETTER + ", exceptions: [{samples: [S2], controls: failed}]}\n")
    assert ["passed", "failed"] == column(failed, "screening", "controls")


def test_a_result_that_the_letter_denies_is_a_contradiction(complete):
    """Even where the letter says it of all its samples: a result is what a letter is written for."""
    season = complete(
        SAMPLES.replace("{sample: S2,", "{sample: S2, result: positive, method: gus,") + LETTER + "}\n"
    )

    assert (
        Contradiction("screening", 1, "result", "positive", "letter L1", "negative"),
    ) == season.contradicted
    assert ["negative", "positive"] == column(season, "screening", "result")
    assert ["pcr", "gus"] == column(season, "screening", "method")


@pytest.mark.parametrize("number", ["L1", "BF-7"])
def test_a_letter_without_a_list_speaks_of_the_samples_that_name_it(complete, number):
    """By its own number, or by the one that stands on it."""
    season = complete(
        SAMPLES.replace("{sample: S2,", f"{{sample: S2, report: {number},")
        + "letters:\n- {letter: L1, report: BF-7, result: negative}\n"
    )

    assert ["", "negative"] == column(season, "screening", "result")
    assert () == season.contradicted


def test_a_sample_that_names_a_letter_which_does_not_list_it_is_a_contradiction(complete):
    """The letter is of other samples; the sample has no word of it."""
    season = complete(
        SAMPLES.replace("{sample: S2,", "{sample: S2, report: L1,")
        + "letters:\n- {letter: L1, result: negative, samples: [S1]}\n"
    )

    assert (Contradiction("screening", 1, "report", "L1", "letter L1", "not listed"),) == season.contradicted
    assert ["negative", ""] == column(season, "screening", "result")


ROUTINE = TYPED + (
    "  routine:\n    stated_by: R. Alder\n    date: 2026-01-02\n    laboratory: Bracken Ford\n"
    "    equipment: [mixer, sieve]\n    blade: blunt plastic\n    bag_use: new\n    packaging: foil pouch\n"
    "    container_use: new\n    storage: cool room\n"
)
SHED = (
    "batches:\n- {batch: X1, date: 2026-06-20, status: organic}\n"
    "- {batch: X2, date: 2026-06-21, status: conventional, equipment: [bucket]}\n"
    "- {batch: X3, date: 2026-06-21, status: conventional}\n"
    "lots:\n- {lot: L1, variety: Amber, packed: 2026-07-01, weight: 8 g, status: organic}\n"
    "- {lot: L2, variety: Amber, packed: 2026-07-01, weight: 8 g, status: organic, packaging: paper}\n"
)


def test_the_routine_says_what_does_not_change(complete):
    """Where the record is silent; seed that claims nothing went its own way."""
    season = complete(SAMPLES + BAGS.removeprefix(FARM) + SHED, ROUTINE)

    assert ["Bracken Ford"] * 2 == column(season, "screening", "laboratory")
    assert ["new"] * 2 == column(season, "bagging", "bag_use")
    assert [("mixer", "sieve"), ("bucket",), ()] == column(season, "batches", "equipment")
    assert ["blunt plastic", "", ""] == column(season, "batches", "blade")
    assert ["foil pouch", "paper"] == column(season, "lots", "packaging")
    assert ["new"] * 2 == column(season, "lots", "container_use")
    assert ["cool room"] * 2 == column(season, "lots", "storage")
    assert ["routine", ""] == season.attested["lots", "packaging"]


def test_the_routine_comes_last(complete):
    """After the record, the round and the letter."""
    season = complete(
        SAMPLES + LETTER + "}\n" + BAGS.removeprefix(FARM)
        + rounds("kind: bagging, date: 2026-02-02, bags: [B1], bag_use: re-used"),
        ROUTINE.replace("laboratory: Bracken Ford", "laboratory: Marlpit"),
    )  # fmt: skip

    assert ["Bracken Ford"] * 2 == column(season, "screening", "laboratory")
    assert ["re-used", "new"] == column(season, "bagging", "bag_use")
    assert ["round R1", "routine"] == season.attested["bagging", "bag_use"]
    assert () == season.contradicted


@pytest.mark.parametrize("name", ["'?'", "nobody"])
def test_a_routine_that_nobody_states_says_nothing(complete, name):
    """It is worth the word of whoever answers for it."""
    season = complete(SHED, ROUTINE.replace("R. Alder", name))

    assert ["", "paper"] == column(season, "lots", "packaging")


def test_a_placeholder_in_the_routine_says_nothing(complete):
    """The rest of it stands."""
    season = complete(SHED, ROUTINE.replace("foil pouch", "'?'"))

    assert ["", "paper"] == column(season, "lots", "packaging")
    assert ["new"] * 2 == column(season, "lots", "container_use")
