"""Two at work on one season at once: browsers, an editor, an import. Nothing of either is lost."""

from __future__ import annotations

import re
from threading import Barrier, Thread

import pytest
from desk_client import form_of, said, visit

from certgen import cli

COVERS = ("certgen.desk.saving", "certgen.desk.entry_pages", "certgen.desk.table_pages")
RECORD = "/record/bagging/B-1"


def open_form(desk):
    """The record's form as a browser holds it."""
    return form_of(desk.get(RECORD).text, RECORD)


def stands(folder, *parts):
    """Whether the season's files hold all of this."""
    text = "".join(path.read_text(encoding="utf-8") for path in folder.glob("*.yaml"))
    return [part for part in parts if part not in text]


def test_two_browsers_change_different_fields(desk, held, folder):
    """Both changes stand, and the grower's comments."""
    other = visit(held)
    mine, theirs = open_form(desk), open_form(other)

    first = desk.post(RECORD, data={**mine, "stage": "open"})
    second = other.post(RECORD, data={**theirs, "note": "seen by two"})

    assert [200, 200] == [first.status_code, second.status_code]
    assert [] == stands(
        folder, "stage: open", "note: seen by two", "# dry, no wind", "# The first of the year."
    )


def test_two_browsers_change_the_same_field(desk, held, folder):
    """The second is shown both, and what it typed; saved again by one who has seen both, it stands."""
    other = visit(held)
    mine, theirs = open_form(desk), open_form(other)
    desk.post(RECORD, data={**mine, "note": "torn at the seam", "stage": "open"})

    refused = other.post(RECORD, data={**theirs, "note": "string was loose"})

    assert 409 == refused.status_code
    assert "Note empty torn at the seam string was loose" in said(refused.text)
    assert [] == stands(folder, "note: torn at the seam")
    again = form_of(refused.text, RECORD)
    assert ("string was loose", "open") == (again["note"], again["stage"])
    assert 200 == other.post(RECORD, data=again).status_code
    assert [] == stands(folder, "note: string was loose", "stage: open")


def test_two_browsers_save_in_the_same_moment(held):
    """One of them is told; the file holds one of the two, whole, never a mixture."""
    forms = [(client, open_form(client)) for client in (visit(held), visit(held))]
    start, answers = Barrier(2), {}

    def send(number):
        client, form = forms[number]
        start.wait()
        answers[number] = client.post(RECORD, data={**form, "note": f"of browser {number}"})

    threads = [Thread(target=send, args=(number,)) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert [200, 409] == sorted(answer.status_code for answer in answers.values())
    (kept,) = [number for number, answer in answers.items() if answer.status_code == 200]
    (told,) = [answer for answer in answers.values() if answer.status_code == 409]
    assert f"of browser {kept}" == held.look().season.record("bagging", "B-1")["note"]
    assert {"of browser 0", "of browser 1"} == set(re.findall(r"of browser \d", said(told.text)))


@pytest.mark.parametrize(
    ("found", "put", "status"),
    [
        ("# The first of the year.", "# The first of the year, looked over.", 200),
        ("covered: 2026-01-13", "covered: 2026-01-14", 200),
        ("stage: closed bud", "stage: closed bud\n    note: by the editor", 200),
        ("stage: closed bud", "stage: open", 409),
    ],
    ids=["another line", "another record", "another field", "the same field"],
)
def test_an_editor_writes_between_showing_and_saving(desk, folder, found, put, status):
    """What it wrote stays in every case, and where both meant one field both are shown."""
    form = open_form(desk)
    bags = folder / "bags.yaml"
    bags.write_text(bags.read_text(encoding="utf-8").replace(found, put), encoding="utf-8")

    answer = desk.post(RECORD, data={**form, "stage": "" if status == 409 else "open", "flower": "female"})

    assert status == answer.status_code
    assert [] == stands(folder, put.replace("closed bud", "open") if status == 200 else put)
    assert (status == 200) == (not stands(folder, "flower: female"))


def test_an_editor_leaves_broken_yaml_behind(desk, folder):
    """Nothing is written into it; what was typed is kept on the page, which says where the fault is; mended,
    it is sent once more from there.
    """
    form = open_form(desk)
    bags = folder / "bags.yaml"
    sound = bags.read_text(encoding="utf-8")
    broken = sound.replace("bag: B-2,", "bag: [B-2,")
    bags.write_text(broken, encoding="utf-8")

    refused = desk.post(RECORD, data={**form, "note": "typed meanwhile"})

    assert 409 == refused.status_code
    assert "bags.yaml:" in said(refused.text)
    assert "Note typed meanwhile" in said(refused.text)
    assert broken == bags.read_text(encoding="utf-8")
    bags.write_text(sound, encoding="utf-8")
    again = form_of(refused.text, RECORD)
    assert 200 == desk.post(RECORD, data=again).status_code
    assert [] == stands(folder, "note: typed meanwhile")


def test_a_grid_shows_both_versions(desk, folder):
    """The cell that was looked at, what the file says now, and what was typed."""
    bags = folder / "bags.yaml"
    bags.write_text(bags.read_text(encoding="utf-8").replace("closed bud", "open"), encoding="utf-8")
    cell = {"name": "B-1", "column": "stage", "was": "closed bud", "now": ""}

    answer = desk.post("/tables/bagging/cells", json={"cells": [cell], "rows": []})

    told = {"record": "bag B-1", "column": "stage", "was": "closed bud", "there": "open", "wanted": ""}
    assert (409, [told]) == (answer.status_code, answer.json()["conflicts"])
    assert [] == stands(folder, "stage: open")


def test_an_import_comes_between(desk, folder, tmp_path):
    """Its rows and the browser's stand side by side; a number that both took is refused to the second."""
    form = form_of(desk.get("/enter/bag-on").text, "/enter/bag-on")
    sheet = tmp_path / "more.csv"
    sheet.write_text("bag,tree,covered\nB-3,02,2026-01-20\nB-4,01,2026-01-20\n", encoding="utf-8")
    assert 0 == cli.run(["import", str(folder), str(sheet), "--table", "bagging"])

    taken = desk.post("/enter/bag-on", data={**form, "bag": "B-3", "tree": "01"})
    saved = desk.post("/enter/bag-on", data={**form, "bag": "B-5", "tree": "01"})

    assert (422, 200) == (taken.status_code, saved.status_code)
    assert "the next free number is B-5" in said(taken.text)
    assert [] == stands(folder, "B-3", "B-4", "B-5", "# The first of the year.")
