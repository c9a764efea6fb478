"""The season as a whole in a form: only what is changed changes in its file."""

from __future__ import annotations

import pytest
from desk_client import faults, form_of, hold, said, visit

from certgen.desk.season_pages import list_columns

#: With a layout of its own inside each mapping.
DETAILS = """\
  previous: ""
  operation:
    name: Larkfold Seed Orchard   # as on the certificate
    # The new one came in March.
    certificate: "0147"
  plan:
    - section: "2"   # land
      paper: plan/section-2.txt
      date: 2026-01-02
    - section: "4"
      title: Materials
  practice:
    # Our own lots.
    storage_months_cool_room: {high: 18, reason: still above 80 %}
  review_triggers: {mass_balance: 2 %}
"""


@pytest.fixture
def folder(folder):
    """The season's mapping with more in it."""
    path = folder / "season.yaml"
    text = path.read_text(encoding="utf-8")
    old = "  operation: {name: Larkfold Seed Orchard}\n"
    assert old in text
    path.write_text(text.replace(old, DETAILS.replace('  previous: ""\n', "")), encoding="utf-8")
    return folder


def send(desk, **typed):
    """Sends the form as it stands, with some fields typed in."""
    form = form_of(desk.get("/season").text, "/season")
    return desk.post("/season", data={**form, **typed})


def change(folder, desk, **typed):
    """The lines of the file that go and come by a change; the answer must be that it is saved."""
    path = folder / "season.yaml"
    before = path.read_text(encoding="utf-8").splitlines()
    answer = send(desk, **typed)
    after = path.read_text(encoding="utf-8").splitlines()
    assert 200 == answer.status_code, said(answer.text)
    return [line for line in before if line not in after], [line for line in after if line not in before]


def test_what_is_sent_back_as_it_was_shown_changes_nothing(desk, folder):
    """Not a byte, lists and mappings included, and nothing stands in the history."""
    before = (folder / "season.yaml").read_bytes()

    answer = send(desk)

    assert "nothing was changed" in said(answer.text)
    assert before == (folder / "season.yaml").read_bytes()
    assert not (folder / ".history").exists()


@pytest.mark.parametrize(
    ("typed", "gone", "come"),
    [
        ({"operation.certificate": "0148"}, ['    certificate: "0147"'], ['    certificate: "0148"']),
        ({"operation.certifier": "Quill"}, [], ["    certifier: Quill"]),
        ({"note": "windy"}, [], ["  note: windy"]),
        ({"standards": "us-nop; eu"}, ["  standards: [us-nop]"], ["  standards: [us-nop, eu]"]),
        ({"events_of_concern": "55-1, 63-1"}, [], ["  events_of_concern: [55-1, 63-1]"]),
        ({"plan.0.date": "2026-01-03"}, ["      date: 2026-01-02"], ["      date: 2026-01-03"]),
        ({"plan.2.section": "5"}, [], ['    - section: "5"']),
        ({"plan.1.section": "", "plan.1.title": ""}, ['    - section: "4"', "      title: Materials"], []),
        ({"practice.0.high": "17"}, ["    storage_months_cool_room: {high: 18, reason: still above 80 %}"],
         ["    storage_months_cool_room: {high: 17, reason: still above 80 %}"]),
        ({"review_triggers.0.value": "3"}, ["  review_triggers: {mass_balance: 2 %}"],
         ["  review_triggers: {mass_balance: 3 %}"]),
        ({"routine.stated_by": "KV", "routine.bag_use": "new"}, [],
         ["  routine:", "    stated_by: KV", "    bag_use: new"]),
    ],
)  # fmt: skip
def test_what_is_changed_is_all_that_changes(desk, folder, typed, gone, come):
    """Comments and layout beside it stay, those inside the same mapping too."""
    went, came = change(folder, desk, **typed)

    text = (folder / "season.yaml").read_text(encoding="utf-8")
    assert gone == went
    assert come == came
    assert all(comment in text for comment in ("# as on the certificate", "# The new one", "# Our own lots"))
    assert () == hold(folder).look().result.errors


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"label": ""}, "label", "needed"),
        ({"operation.name": ""}, "operation.name", "needed"),
        ({"standards": "us-nopp"}, "standards", "Did you mean 'us-nop'?"),
        ({"crop": "papayas"}, "crop", "papaya"),
        ({"scale_step": "abc"}, "scale_step", "not a number and a unit"),
        ({"from": "2027-01-01"}, "to", "before it begins"),
        ({"practice.1.name": "storage_months_cool_room", "practice.1.high": "3"}, "practice.1.name", "twice"),
        ({"practice.1.high": "3"}, "practice.1.name", "say what this is of"),
        (
            {"practice.1.name": "rinses", "practice.1.high": "3"},
            "practice",
            "practice.rinses.reason” is missing",
        ),
        ({"routine.bag_use": "new"}, "routine", "stated_by"),
        ({"plan.0.date": "1/2/2026"}, "plan.0.date", "can be two dates"),
    ],
)
def test_each_fault_stands_at_its_field_and_nothing_is_written(desk, folder, typed, field, words):
    """What was typed is still there."""
    before = (folder / "season.yaml").read_bytes()

    answer = send(desk, **typed)

    told = faults(answer.text)
    assert 422 == answer.status_code
    assert words in " ".join([told.get(field, ""), said(answer.text) if field not in told else ""])
    assert before == (folder / "season.yaml").read_bytes()
    form = form_of(answer.text, "/season")
    assert typed == {name: form[name] for name in typed}


def test_what_an_editor_changed_meanwhile_is_shown_beside(desk, folder):
    """Neither is lost; another field of the same mapping is no conflict."""
    form = form_of(desk.get("/season").text, "/season")
    path = folder / "season.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace('"0147"', '"0149"'), encoding="utf-8")

    clash = desk.post("/season", data={**form, "operation.certificate": "0148"})
    beside = desk.post("/season", data={**form, "operation.certifier": "Quill"})

    assert 409 == clash.status_code
    assert "0147 0149 0148" in said(clash.text)
    assert 200 == beside.status_code
    assert {"0149", "Quill"} < set(hold(folder).look().season.details.raw["operation"].values())


def test_every_field_of_the_mapping_is_in_the_form(desk):
    """Whatever the schema holds; what a form couldn't show would be named."""
    shown, left = list_columns()
    form = form_of(desk.get("/season").text, "/season")

    assert () == left
    assert [] == [column.name for column in shown if f"was.{column.name}" not in form]


@pytest.mark.parametrize("text", ["<b>x</b>", "a: b # c", "x" * 10_000, "two\nlines", "'\"\\"])
def test_whatever_is_typed_comes_back_or_is_refused(desk, folder, text):
    """No text breaks the file."""
    answer = send(desk, note=text, **{"operation.contact": text})

    details = hold(folder).look().season.details.raw
    saved = (details.get("note"), details["operation"].get("contact"))
    assert "<b>x</b>" not in answer.text
    assert saved == ((text, text) if answer.status_code == 200 else (None, None))


def test_a_change_of_the_season_can_be_undone(desk, folder):
    """As any other."""
    before = (folder / "season.yaml").read_bytes()
    saved = send(desk, note="windy")

    desk.post("/history/1/undo", data=form_of(saved.text, "/history/1/undo"))

    assert before == (folder / "season.yaml").read_bytes()


def test_two_browsers_change_two_fields(held):
    """Each form was made before the other was saved."""
    one, other = visit(held), visit(held)
    forms = [form_of(browser.get("/season").text, "/season") for browser in (one, other)]

    one.post("/season", data={**forms[0], "note": "windy"})
    other.post("/season", data={**forms[1], "operation.contact": "the shed"})

    details = held.look().season.details.raw
    assert ("windy", "the shed") == (details["note"], details["operation"]["contact"])
