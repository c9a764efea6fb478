"""History: what was changed, by whom, what from and to, by hand too; and any change taken back."""

from __future__ import annotations

import gzip
import html
import shutil
from threading import Barrier, Thread

import msgspec
import pytest
from desk_client import form_of, hold, said, visit

from certgen.desk.saving import Addition, Mending, save
from certgen.exchange.editing.history import Author, read_history, write_change

COVERS = ("certgen.desk.undoing",)


def open_bag(held, to="female", was="hermaphrodite"):
    """Changes the first bag's flower."""
    return save(held, [Mending("bagging", "B-1", {"flower": to}, {"flower": was})])


def flower(held):
    """What the first bag's flower is."""
    return held.look().season.record("bagging", "B-1")["flower"]


def rewrite(folder, old, new):
    """Somebody's editor."""
    path = folder / "bags.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def undo(desk, number, **more):
    """Takes a change back at one press."""
    return desk.post(f"/history/{number}/undo", data=more)


def test_a_change_is_told_field_by_field_with_its_file(held, desk):
    """Who, what from and to; the record leads to its page."""
    open_bag(held)

    listed, whole = desk.get("/history"), desk.get("/history/1")

    for page in (listed, whole):
        assert "bag B-1 changed Flower from hermaphrodite to female" in said(page.text)
        assert "at the desk" in said(page.text)
        assert 'href="/record/bagging/B-1"' in page.text
    assert "bags.yaml changed" in said(whole.text)


def test_nothing_is_shown_before_anything_is_kept(desk):
    """In a season that no command has written to."""
    assert "No change is kept." in said(desk.get("/history").text)


def test_what_would_become_of_the_records_is_shown_before_it_is_done(held, desk, folder):
    """Then the file is to the byte what it was, and that is a change of its own."""
    before = (folder / "bags.yaml").read_bytes()
    open_bag(held)
    page = desk.get("/history/1/undo")
    untouched = (folder / "bags.yaml").read_bytes()

    answer = desk.post("/history/1/undo", data=form_of(page.text, "/history/1/undo"))

    assert "bag B-1 changed Flower from female to hermaphrodite" in said(page.text)
    assert b"flower: female" in untouched
    assert before == (folder / "bags.yaml").read_bytes()
    assert "Change 1 is undone; that is change 2" in said(answer.text)
    assert "Undone by change 2" in said(answer.text)


def test_an_undo_can_be_undone(held, desk):
    """From the message that tells of it."""
    open_bag(held)
    answer = undo(desk, 1, back="/lots")

    again = desk.post("/history/2/undo", data=form_of(answer.text, "/history/2/undo"))

    assert "/lots" == again.url.path
    assert "female" == flower(held)
    assert "Takes change 2 back" in said(desk.get("/history/3").text)


def test_every_saved_message_offers_to_undo_that_very_change(held, desk):
    """At one press, which leads back to the form."""
    form = form_of(desk.get("/enter/bag-on").text, "/enter/bag-on")
    saved = desk.post("/enter/bag-on", data={**form, "tree": "01"})
    open_bag(held)

    answer = desk.post("/history/1/undo", data=form_of(saved.text, "/history/1/undo"))

    assert "/enter/bag-on" == answer.url.path
    assert ["B-1", "B-2"] == held.look().season.tables["bagging"]["bag"].tolist()
    assert "female" == flower(held)


def test_a_grid_and_a_paper_say_which_change_they_made(desk):
    """So that their script can offer to undo it."""
    cell = {"name": "B-1", "column": "flower", "was": "hermaphrodite", "now": "female"}
    told = desk.post("/tables/bagging/cells", json={"cells": [cell], "rows": [], "try": False}).json()
    headers = {"content-type": "application/octet-stream"}
    taken = desk.post(
        "/papers?name=photo.txt&table=bagging&records=B-2", content=b"x", headers=headers
    ).json()

    assert (1, 2) == (told["change"], taken["change"])


def test_what_was_changed_while_somebody_looked_is_shown_again(held, desk, folder):
    """Nothing is undone but what was shown."""
    open_bag(held)
    form = form_of(desk.get("/history/1/undo").text, "/history/1/undo")
    rewrite(folder, "2026-01-13", "2026-01-14")

    answer = desk.post("/history/1/undo", data=form)
    after = (folder / "bags.yaml").read_text(encoding="utf-8")
    done = desk.post("/history/1/undo", data=form_of(answer.text, "/history/1/undo"))

    assert 409 == answer.status_code
    assert "Nothing was undone yet" in said(answer.text)
    assert "was changed again since; that stays" in said(answer.text)
    assert "flower: female" in after
    assert 200 == done.status_code
    assert "2026-01-14" in (folder / "bags.yaml").read_text(encoding="utf-8")
    assert "hermaphrodite" == flower(held)


def test_a_field_that_was_changed_by_hand_since_is_shown_beside(held, desk, folder):
    """Neither is lost, and the way out is said."""
    open_bag(held)
    rewrite(folder, "flower: female", "flower: male")
    before = (folder / "bags.yaml").read_bytes()

    answer = undo(desk, 1)

    assert 409 == answer.status_code
    assert before == (folder / "bags.yaml").read_bytes()
    assert "flower: female flower: male" in said(answer.text)
    assert "by hand since" in said(answer.text)
    assert "Change what isn’t to stay in its records: bag B-1" in said(answer.text)


def test_a_field_that_another_change_changed_since_names_that_change(held, desk):
    """Its undo is a press away."""
    open_bag(held)
    open_bag(held, "male", "female")

    answer = undo(desk, 1)

    assert "Undo first, in this order: change 2" in said(answer.text)
    assert 'href="/history/2/undo"' in answer.text


def test_a_change_by_hand_is_told_as_one(held, desk, folder):
    """Before the change that found it, with what it did, and since the last one."""
    open_bag(held)
    rewrite(folder, "2026-01-13", "2026-01-14")
    save(held, [Addition("trees", {"tree": "03", "planting": "P1", "sex": "female"})])
    open_bag(held, "male", "female")
    rewrite(folder, "male", "hermaphrodite")

    page, change, since = (
        said(desk.get(path).text) for path in ("/history", "/history/3", "/history/by-hand")
    )

    assert "By hand, since change 3: bags.yaml was changed outside the desk" in page
    assert "By hand before that, since change 1: bags.yaml was changed outside certgen" in change
    assert "bag B-2 changed Covered from 2026-01-13 to 2026-01-14" in change
    assert "bag B-1 changed Flower from male to hermaphrodite" in since


def test_an_entry_that_can_not_be_read_hides_no_other_and_stops_nobody(held, desk, folder):
    """What lies around it is no hand's for sure."""
    open_bag(held)
    open_bag(held, "male", "female")
    open_bag(held, "hermaphrodite", "male")
    (folder / ".history" / "000002.json").write_text("{", encoding="utf-8")

    page = said(desk.get("/history").text)

    assert "1 entry of the history can’t be read" in page
    assert "or by a change whose entry can’t be read" in page
    assert "its entry can't be read" in said(desk.get("/history/2").text)
    assert 1 == len(open_bag(held, "female", "hermaphrodite").done)


@pytest.mark.parametrize("how", ["entries", "file", "kept", "folder in the way"])
def test_a_broken_history_never_stops_the_desk(held, desk, folder, how):
    """It is said, and entering goes on wherever what stands there can still be kept."""
    open_bag(held)
    place = folder / ".history"
    if how == "entries":
        for name in ("000001.json", "000009.json"):
            (place / name).write_bytes(b"\xff\x00")
        (place / "000012.json").mkdir()
    elif how == "file":
        shutil.rmtree(place)
        place.write_text("", encoding="utf-8")
    elif how == "kept":
        for path in (place / "files").iterdir():
            path.write_bytes(b"damaged")
    else:
        for path in (place / "files").iterdir():
            path.unlink()
            path.mkdir()

    outcome = open_bag(held, "male", "female")
    pages = [desk.get(path) for path in ("/history", "/history/1", "/history/1/undo", "/history/by-hand")]

    assert outcome.done or "Move it away" in outcome.faults[0][1].says
    assert (how in {"entries", "kept"}) == bool(outcome.done)
    assert not [page.status_code for page in pages if page.status_code >= 500]


def test_the_season_itself_is_not_undone_at_the_desk(desk, folder):
    """Without it there would be nothing to show; the command that can is named."""
    text = (folder / "season.yaml").read_bytes()
    (folder / "season.yaml").unlink()
    write_change(folder, {"season.yaml": text}, Author("certgen new"))

    answer = undo(desk, 1)

    assert 409 == answer.status_code
    assert "certgen undo" in said(answer.text)
    assert text == (folder / "season.yaml").read_bytes()


def test_what_could_not_be_read_afterwards_is_said_before(desk, folder):
    """A record that only a later change made sound."""
    rewrite(folder, "covered: 2026-01-13", "covered: sometime")
    text = (folder / "bags.yaml").read_bytes()
    write_change(folder, {"bags.yaml": text.replace(b"sometime", b"2026-01-13")}, Author("certgen import"))

    page = said(desk.get("/history/1/undo").text)

    assert "This couldn’t be read afterwards" in page
    assert "sometime" in page


def test_saving_and_undoing_at_once_lose_nothing(held):
    """Six browsers enter bags while six undo the same change: one of these does, all bags are there."""
    open_bag(held)
    start, statuses = Barrier(12), []

    def enter(number):
        start.wait()
        save(held, [Addition("bagging", {"bag": f"C-{number}", "tree": "01"})])

    def take():
        browser = visit(held)
        start.wait()
        statuses.append(undo(browser, 1).status_code)

    threads = [Thread(target=enter, args=(number,)) for number in range(6)]
    threads += [Thread(target=take) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert [200, 409, 409, 409, 409, 409] == sorted(statuses)
    assert {f"C-{number}" for number in range(6)} < set(held.look().season.tables["bagging"]["bag"])
    assert "hermaphrodite" == flower(held)


def test_a_long_history_is_shown_page_by_page(held, desk, folder):
    """3,000 entries: thirty stand on a page, and words choose among all."""
    open_bag(held)
    change = read_history(folder).changes[0]
    for number in range(2, 3001):
        entry = msgspec.structs.replace(change, number=number, person=f"person-{number % 7}")
        (folder / ".history" / f"{number:06}.json").write_bytes(msgspec.json.encode(entry))

    page = desk.get("/history?from=30")
    chosen = said(desk.get("/history?words=person-3").text)

    assert "3000 changes, 31 to 60 shown" in said(page.text)
    assert 30 == page.text.count('<article class="gap"')
    assert "428 changes" in chosen or "429 changes" in chosen
    assert len(page.text) < 200_000


@pytest.mark.parametrize("number", ["0", "77", "-1", "1e3", "²", "9" * 30, "..%2f1"])
def test_no_other_number_is_a_change(desk, number):
    """It is refused in words, to be seen as well as to be undone."""
    assert 404 == desk.get(f"/history/{number}").status_code
    assert 404 == undo(desk, number).status_code


def test_what_a_record_says_is_text_on_every_page_of_the_history(held, desk):
    """Markup, line feeds and ten thousand letters; a list shows the beginning, its page what is kept."""
    note = "<b>bold</b>\n" + "x" * 10_000
    save(held, [Mending("bagging", "B-2", {"note": note}, {"note": ""})])

    pages = {path: desk.get(path).text for path in ("/history", "/history/1", "/history/1/undo")}

    assert not [path for path, page in pages.items() if "<b>bold</b>" in page]
    assert all(html.escape("<b>bold</b>") in page for page in pages.values())
    assert "x" * 130 not in pages["/history"]


def test_a_packed_bomb_among_the_kept_files_is_no_danger(held, desk, folder):
    """What isn't what its name says counts as lost."""
    open_bag(held)
    for path in (folder / ".history" / "files").glob("*.gz"):
        path.write_bytes(gzip.compress(bytes(5 << 20)))

    assert "isn't kept any more" in said(undo(desk, 1).text)


def test_a_season_that_can_not_be_read_can_be_mended_by_undoing(folder):
    """The change that broke it, if it was a change of certgen's."""
    held = hold(folder)
    desk = visit(held)
    text = (folder / "season.yaml").read_bytes()
    write_change(folder, {"season.yaml": b"season: [\n"}, Author("certgen import"))
    broken = held.look().broken

    undo(desk, 1)

    assert broken
    assert text == (folder / "season.yaml").read_bytes()
    assert () == held.look().broken


def test_rows_without_a_number_are_undone_here_and_changed_in_their_file(desk, folder):
    """The page of their table says so, and where they stand."""
    text = "explanations:\n  - {rule: bag-no-tag, about: [B-1], reason: lost, by: KV, date: 2026-11-12}\n"
    (folder / "explanations.yaml").write_text(text, encoding="utf-8")

    page = said(desk.get("/tables/explanations").text)

    assert "use an editor: explanations.yaml" in page
    assert "use an editor" not in said(desk.get("/tables/bagging").text)
