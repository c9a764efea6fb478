"""Recalls: they hold, they are told to whoever holds the seed, and their answers add up."""

from __future__ import annotations

from datetime import date

import pytest
from seasons import write_season

from certgen.dossier.seed_for_sale import offer_seed
from certgen.examination import examine

COVERS = ("certgen.rules.seed.deliveries",)
ON = date(2026, 10, 31)
PAPER = "letters/growing-out.txt"
TOLD = {"party": "quillmere  growers.", "lot": "L1", "weight": "3 g", "told_on": "2026-09-01"}
OURS = ("recall-", "complaint-", "drill-", "sold-while-held")


@pytest.fixture
def called(seasons, tmp_path):
    """The result of one line to lot L1 of 8 g, of which 3 g were sold and 1 g given as a sample, then called
    back on 1 September; with more movements, and fields of the recall.
    """

    def build(*movements, on=ON, shown=True, incidents=(), tables=(), **recall):
        told = {
            "recall": "Q1", "kind": "recall", "opened": "2026-09-01", "about": ["L1"],
            "notices": [TOLD], **({"evidence": PAPER} if shown else {}), **recall,
        }  # fmt: skip
        first = {**seasons.sale("M1", "L1", 3), "date": date(2026, 8, 20)}
        season = {**seasons.one_line(), "movements": [first, *movements], "incidents": incidents}
        write_season(tmp_path, **{**season, **dict(tables), "recalls": [told]})
        path = tmp_path / "evidence" / PAPER
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("All true to the variety.\n", encoding="utf-8")
        result = examine(tmp_path, on)
        assert () == tuple(result.errors)
        assert () == tuple(result.crashed)
        return result

    return build


def rules(result):
    """What recalls are found at fault with."""
    return sorted(gap.rule for gap in result.gaps if gap.rule.startswith(OURS))


HELD = {
    "incident": "E1", "date": "2026-09-01", "kind": "recall", "about": ["X1"], "action": "set apart",
    "held_from": "2026-09-01", "released": "2026-10-05", "closed": "2026-10-05", "evidence": PAPER,
}  # fmt: skip


def test_a_recall_in_order_says_nothing(called):
    """Held, told, and settled by a paper: the lot stays traced."""
    result = called(incidents=[HELD], closed="2026-10-05")

    assert ["recall-closed-unanswered"] == rules(result)
    assert "traced" == result.lots["L1"].standing
    answered = {**TOLD, "answered_on": "2026-09-03", "sown": "1 g", "still_there": "2 g"}
    assert [] == rules(called(incidents=[HELD], closed="2026-10-05", notices=[answered]))


@pytest.mark.parametrize("about", [["L1"], ["X1"], ["H1"], ["B1"], ["T1"], ["T1", "L1"]])
@pytest.mark.parametrize("kind", ["recall", "complaint"])
def test_what_is_in_question_is_unproven_until_a_paper_shows_how_it_ended(called, about, kind):
    """Whatever it names, and whatever is said of telling and closing."""
    result = called(about=about, kind=kind, shown=False, closed="2026-10-05")

    assert "recall-unresolved" in rules(result)
    assert ("unproven", 0) == (result.lots["L1"].standing, result.lots["L1"].traced_mg)


def test_a_drill_questions_and_holds_nothing(called, seasons):
    """It is an exercise: seed goes on being sold."""
    later = {**seasons.sale("M2", "L1", 1), "date": date(2026, 9, 20)}
    result = called(later, kind="drill", shown=False)

    assert [] == [one for one in rules(result) if one != "recall-weight-differs"]
    assert "traced" == result.lots["L1"].standing


def test_a_sound_test_since_then_settles_it(called, seasons):
    """One of that lot, made on that day or later, whose controls held."""
    test = {**seasons.germination("G2", "L1"), "date": "2026-09-20"}
    line = seasons.one_line()

    assert "recall-unresolved" not in rules(called(shown=False, tables={"tests": [*line["tests"], test]}))
    early = {**test, "date": "2026-08-31"}
    assert "recall-unresolved" in rules(called(shown=False, tables={"tests": [*line["tests"], early]}))


@pytest.mark.parametrize(
    ("when", "closed", "rejected"),
    [
        ("2026-08-31", None, False),
        ("2026-09-01", None, True),
        ("2026-10-20", None, True),
        ("2026-10-04", "2026-10-05", True),
        ("2026-10-05", "2026-10-05", False),
    ],
)
def test_a_recall_holds_its_lots(called, seasons, when, closed, rejected):
    """From its day until it is closed with a paper."""
    sale = {**seasons.sale("M2", "L1", 1), "date": when}
    told = {} if closed is None else {"closed": closed}
    result = called(sale, incidents=[HELD], **told)

    assert rejected == ("sold-while-held" in rules(result))
    assert (1_000 if rejected else 0) == result.lots["L1"].rejected_mg


def test_what_came_back_is_not_sold_again_while_it_is_held(called, seasons):
    """It is the lot's again, and the lot is held."""
    back = {
        **seasons.movement("M2", "L1", "returned", 2), "date": "2026-09-05", "party": "Quillmere Growers",
        "document": "RET-1", "opened": False,
    }  # fmt: skip
    again = {**seasons.sale("M3", "L1", 2), "date": "2026-09-20"}

    assert ["sold-while-held"] == [
        one for one in rules(called(back, again, incidents=[HELD])) if "held" in one
    ]


def test_nothing_of_what_is_called_back_is_offered(called):
    """The plan says what holds it."""
    (lot,) = offer_seed(called())

    assert (0, "recall Q1 holds the lot") == (lot.seed.offered_mg, lot.why)


@pytest.mark.parametrize(
    ("notice", "found"),
    [
        ({}, []),
        ({"weight": "2 g"}, ["recall-weight-differs"]),
        ({"weight": "300 kg"}, ["recall-weight-differs"]),
        ({"document": "INV-M1"}, []),
        ({"document": "INV-9"}, ["recall-weight-differs"]),
        ({"party": "Sallow Reach"}, ["recall-holder-untold", "recall-party-unsupplied"]),
        ({"told_on": None}, ["recall-holder-untold"]),
        ({"answered_on": "2026-09-02"}, ["recall-answer-differs"]),
        ({"answered_on": "2026-09-02", "sown": "3 g"}, []),
        ({"sown": "4 g"}, ["recall-answer-differs"]),
        ({"passed_on": "3 g"}, ["recall-answer-differs"]),
        ({"passed_on": "3 g", "passed_to": "Ash Farm"}, []),
        ({"sent_back": "3 g"}, ["recall-return-unbooked"]),
        ({"sent_back": "3 g", "returned": "M1"}, ["recall-return-unbooked"]),
    ],
)
def test_a_notice_agrees_with_the_stock_book_and_with_its_answer(called, notice, found):
    """Who was told, of how much, and where all of it is."""
    told = {key: value for key, value in {**TOLD, **notice}.items() if value is not None}

    assert found == rules(called(incidents=[HELD], notices=[told]))


def test_what_came_back_is_booked(called, seasons):
    """By the movement that the answer names: of that party, that lot and that weight."""
    back = {
        **seasons.movement("M2", "L1", "returned", 2), "date": "2026-09-05", "party": "Quillmere Growers",
        "document": "RET-1", "opened": False,
    }  # fmt: skip
    told = {**TOLD, "answered_on": "2026-09-04", "sown": "1 g", "sent_back": "2 g", "returned": "M2"}

    assert [] == rules(called(back, incidents=[HELD], notices=[told]))
    less = {**told, "sown": "2 g", "sent_back": "1 g"}
    assert ["recall-return-unbooked"] == rules(called(back, incidents=[HELD], notices=[less]))


@pytest.mark.parametrize(("opened", "found"), [("2026-10-01", []), ("2026-09-30", ["complaint-unanswered"])])
def test_a_complaint_waits_for_thirty_days(called, seasons, opened, found):
    """Then it is asked about, as common practice, where a test has taken the lot out of question."""
    test = {**seasons.germination("G2", "L1"), "date": "2026-10-20"}
    tests = [*seasons.one_line()["tests"], test]

    assert found == rules(
        called(kind="complaint", shown=False, opened=opened, notices=[], tables={"tests": tests})
    )


@pytest.mark.parametrize(("opened", "found"), [("2025-11-20", []), ("2025-10-20", ["drill-outdated"])])
def test_the_last_drill_is_no_older_than_a_year(called, opened, found):
    """What is usual; no standard asks for one."""
    assert found == rules(called(kind="drill", opened=opened, notices=[]))


def test_a_clock_is_read_as_hours_and_minutes(called, tmp_path):
    """Written without quotes too; anything else is refused with an example."""
    called(kind="drill", started="08:10", ended="08:47", notices=[])
    path = tmp_path / "season.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"08:10"', "8.10"), encoding="utf-8")

    (error,) = examine(tmp_path, ON).errors
    assert "08:10" in error.message
