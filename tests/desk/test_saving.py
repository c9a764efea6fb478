"""What a form changes goes into the season's files, and nothing else of them does."""

from __future__ import annotations

from datetime import date
from threading import Barrier, Thread

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.desk.saving import Addition, Mending, next_number, save, try_out

COVERED = date(2026, 1, 20)
LOT = {"lot": "L9", "variety": "Amber Kestrel", "packed": COVERED, "weight": "1 g", "status": "organic"}
SOLD = {"movement": "M1", "date": COVERED, "lot": "AK-26-1", "kind": "sold"}


def bag(name, tree="01", **more):
    """A new bag."""
    return Addition("bagging", {"bag": name, "tree": tree, "covered": COVERED, **more})


def said(outcome):
    """The fields at fault with what is said of each."""
    return {fault.name: fault.says for _, fault in outcome.faults}


def test_a_new_record_is_all_that_a_file_gains(held, folder):
    """Comments, blank lines and brackets stay to the byte; the record stands behind the last of its table."""
    before = (folder / "bags.yaml").read_text(encoding="utf-8")

    outcome = save(held, [bag("B-3", flower="hermaphrodite")])

    added = '  - bag: B-3\n    tree: "01"\n    covered: 2026-01-20\n    flower: hermaphrodite\n'
    assert before + added == (folder / "bags.yaml").read_text(encoding="utf-8")
    assert (["bag B-3"], ["bags.yaml"]) == (outcome.done, outcome.files)


def test_a_changed_field_is_all_that_changes(held, folder):
    """The comment on the line beside it is the grower's."""
    before = (folder / "bags.yaml").read_text(encoding="utf-8")

    outcome = save(held, [Mending("bagging", "B-1", {"stage": "open"}, {"stage": "closed bud"})])

    assert not outcome.refused
    assert before.replace("stage: closed bud", "stage: open") == (folder / "bags.yaml").read_text("utf-8")


def test_an_emptied_field_goes(held, folder):
    """Its line with it."""
    save(held, [Mending("bagging", "B-1", {"stage": None}, {"stage": "closed bud"})])

    assert "stage" not in held.look().season.record("bagging", "B-1")
    assert "# dry, no wind" in (folder / "bags.yaml").read_text(encoding="utf-8")


def test_a_nested_field_leaves_its_neighbours(held):
    """A tag's variety is added to the day that stands there."""
    save(held, [Mending("bagging", "B-1", {"tag.date": date(2026, 1, 12)}, {"tag.date": ""})])
    save(held, [Mending("bagging", "B-1", {"tag.variety": "Amber Kestrel"}, {"tag.variety": ""})])

    there = held.look().season.record("bagging", "B-1")["tag"]
    assert {"date": date(2026, 1, 12), "variety": "Amber Kestrel"} == there


def test_what_an_editor_wrote_elsewhere_is_joined(held, folder):
    """The change is made in the file as it is now, not as it was when the form was shown."""
    held.look()
    text = (folder / "bags.yaml").read_text(encoding="utf-8")
    (folder / "bags.yaml").write_text(
        text.replace("# The first", "# Looked over. The first"), encoding="utf-8"
    )

    outcome = save(held, [Mending("bagging", "B-1", {"stage": "open"}, {"stage": "closed bud"})])

    after = (folder / "bags.yaml").read_text(encoding="utf-8")
    assert not outcome.refused
    assert "# Looked over. The first" in after
    assert "stage: open" in after


def test_what_an_editor_wrote_in_the_same_field_is_shown_beside(held, folder):
    """Neither is lost: the file keeps the editor's, and both are told."""
    text = (folder / "bags.yaml").read_text(encoding="utf-8")
    (folder / "bags.yaml").write_text(text.replace("closed bud", "open"), encoding="utf-8")
    before = (folder / "bags.yaml").read_bytes()

    outcome = save(held, [Mending("bagging", "B-1", {"stage": None}, {"stage": "closed bud"})])

    assert [("bag B-1", "stage", "closed bud", "open", "")] == outcome.conflicts
    assert before == (folder / "bags.yaml").read_bytes()


def test_both_having_changed_it_to_the_same_is_no_conflict(held, folder):
    """Two people who agree needn't be told of each other."""
    text = (folder / "bags.yaml").read_text(encoding="utf-8")
    (folder / "bags.yaml").write_text(text.replace("closed bud", "open"), encoding="utf-8")

    outcome = save(held, [Mending("bagging", "B-1", {"stage": "open"}, {"stage": "closed bud"})])

    assert (False, ["bag B-1"]) == (outcome.refused, outcome.same)


def test_a_record_that_was_taken_out_meanwhile_is_not_put_back(held, folder):
    """Its change is refused in words."""
    text = (folder / "bags.yaml").read_text(encoding="utf-8")
    (folder / "bags.yaml").write_text(text[: text.index("  - {bag: B-2")], encoding="utf-8")

    outcome = save(held, [Mending("bagging", "B-2", {"stage": "open"}, {"stage": ""})])

    assert "isn't there any more" in said(outcome)[""]


def test_two_with_one_number_keep_both(held):
    """The second is told the next free number; sent twice by one hand, it is there once."""
    save(held, [bag("B-3")])

    other, again = save(held, [bag("B-3", tree="02")]), save(held, [bag("B-3")])

    assert {"bag": "B-3 is taken; the next free number is B-4."} == said(other)
    assert ([], ["bag B-3"]) == (again.done, again.same)
    assert "01" == held.look().season.record("bagging", "B-3")["tree"]


def test_many_at_once_lose_nothing(held):
    """Twelve windows save in the same moment: twelve bags."""
    start, outcomes = Barrier(12), []

    def enter(number):
        start.wait()
        outcomes.append(save(held, [bag(f"C-{number}")]))

    threads = [Thread(target=enter, args=(number,)) for number in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert [] == [one.faults for one in outcomes if one.refused]
    assert {"B-1", "B-2", *(f"C-{n}" for n in range(12))} == set(held.look().season.tables["bagging"]["bag"])


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        (bag("B 3"), "bag", "letters, digits"),
        (bag("B-3", flower="rose"), "flower", "rose"),
        (bag("B-3", checks=[{"date": COVERED, "condition": "fine"}]), "checks.0", "intact"),
        (Addition("bagging", {"bag": "B-3"}), "tree", "`tree` is missing"),
        (Addition("lots", {**LOT, "sources": [{"batch": "X1"}]}), "sources.0.weight", "is missing"),
        (Addition("movements", {**SOLD, "weight": "12"}), "weight", "no unit"),
        (Mending("bagging", "B-1", {"bag": "B-9"}, {"bag": "B-1"}), "bag", "number"),
    ],
)  # fmt: skip
def test_each_fault_is_told_at_its_field_and_nothing_is_written(held, folder, change, field, words):
    """In the reader's own words; the files stay to the byte."""
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    outcome = save(held, [change])

    (told,) = [says for name, says in said(outcome).items() if name in {field, ""}]
    assert words in told
    assert before == {path.name: path.read_bytes() for path in folder.iterdir()}


def test_one_fault_keeps_all_from_being_written(held):
    """A paste is kept whole or not at all."""
    outcome = save(held, [bag("B-3"), bag("B-4", flower="rose")])

    assert [(1, "flower")] == [(at, fault.name) for at, fault in outcome.faults]
    assert 2 == len(held.look().season.tables["bagging"])


def test_a_broken_record_elsewhere_is_no_obstacle(held, folder):
    """It stays left out and as it is, and the day's entries go on."""
    with (folder / "bags.yaml").open("a", encoding="utf-8") as file:
        file.write("  - {bag: B-7, tree: 01, covered: yesterday}\n")
    assert held.look().result.errors

    outcome = save(held, [bag("B-8")])

    assert ["bag B-8"] == outcome.done
    assert "covered: yesterday" in (folder / "bags.yaml").read_text(encoding="utf-8")


def test_a_file_that_can_not_be_taken_apart_is_named(held, folder):
    """With its line; what was typed is not written into the midst of it."""
    (folder / "bags.yaml").write_text("bagging:\n  - {bag: B-1, tree: [\n", encoding="utf-8")
    before = (folder / "bags.yaml").read_bytes()

    outcome = save(held, [Addition("bagging", {"bag": "B-3", "tree": "01"})])

    assert outcome.done or "bags.yaml" in said(outcome)[""]
    assert before == (folder / "bags.yaml").read_bytes()


def test_what_is_tried_out_is_not_written(held, folder):
    """A fault is told while somebody types."""
    before = (folder / "bags.yaml").read_bytes()

    outcome = try_out(held.look(), [bag("B-3", flower="rose")])

    assert ["flower"] == [fault.name for _, fault in outcome.faults]
    assert before == (folder / "bags.yaml").read_bytes()


def test_a_table_that_has_no_file_gets_one(held, folder):
    """The first picking of a season."""
    picked = {"harvest": "H-1", "date": date(2026, 6, 8), "bags": ["B-1"], "fruits": 1, "status": "organic"}

    outcome = save(held, [Addition("harvests", picked)])

    assert ["harvests.yaml"] == outcome.files
    assert (folder / "harvests.yaml").read_text(encoding="utf-8").startswith("harvests:\n  - harvest: H-1\n")


def test_the_next_number_follows_the_last(held):
    """With its noughts; a table without one begins with none."""
    season = held.look().season

    assert ("B-3", "03", "") == tuple(
        next_number(season, table) for table in ("bagging", "trees", "harvests")
    )


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(note=st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40))
def test_whatever_is_typed_comes_back_or_is_refused(held, note):
    """No text breaks a file: it is read back to the letter, or the form says why not."""
    there = held.look().season.record("bagging", "B-2").get("note", "")

    outcome = save(held, [Mending("bagging", "B-2", {"note": note}, {"note": there})])

    after = held.look()
    assert () == after.result.errors
    assert outcome.refused or note == after.season.record("bagging", "B-2")["note"]
