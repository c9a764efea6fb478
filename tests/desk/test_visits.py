"""Who is at the desk: asked once, kept by the browser, and told in the history and in new records."""

from __future__ import annotations

import re

import pytest
from desk_client import form_of, said, visit

from certgen.exchange.editing.history import name_account, read_history

COVERS = ("certgen.desk.person_pages",)


def name(desk, person, **more):
    """Gives a name at the desk."""
    return desk.post("/person", data={"person": person, "back": "/enter/bag-on", **more})


def enter(desk, **more):
    """Enters a bag through its form."""
    form = form_of(desk.get("/enter/bag-on").text, "/enter/bag-on")
    return desk.post("/enter/bag-on", data={**form, "tree": "01", **more})


def test_the_name_is_asked_once_and_stands_in_the_history_and_the_form(desk, folder):
    """And leads back to the page where it was asked for."""
    asked = desk.get("/enter/bag-on").text
    answer = name(desk, "  Marta \n Quill ")

    form = form_of(desk.get("/enter/bag-on").text, "/enter/bag-on")
    enter(desk)

    assert "Who is at the desk?" in said(asked)
    assert "/enter/bag-on" == answer.url.path
    assert "Who is at the desk?" not in said(answer.text)
    assert "Marta Quill" == form["recorded_by"]
    assert "Marta Quill" == read_history(folder).changes[0].person


def test_who_gives_no_name_is_not_asked_again(desk, folder):
    """The account that runs the desk stands in the history; nothing is made up in the record."""
    answer = name(desk, "Marta", nobody="yes")

    form = form_of(desk.get("/enter/bag-on").text, "/enter/bag-on")
    enter(desk)

    assert "Who is at the desk?" not in said(answer.text)
    assert "" == form["recorded_by"]
    assert name_account() == read_history(folder).changes[0].person


def test_the_name_is_who_saw_a_walk_unless_the_form_says_otherwise(desk):
    """In the day's entries; in the table's own form nobody is taken to have walked."""
    name(desk, "Marta")

    assert "Marta" == form_of(desk.get("/enter/check").text, "/enter/check")["by"]
    whole = form_of(desk.get("/tables/rounds/new").text, "/tables/rounds/new")
    assert ("", "Marta") == (whole["by"], whole["recorded_by"])


def test_two_browsers_have_a_name_each(held, folder):
    """A cookie is a browser's own."""
    one, other = visit(held), visit(held)
    name(one, "Marta")
    name(other, "Piet")

    enter(one, bag="B-8")
    enter(other, bag="B-9")

    assert ["Piet", "Marta"] == [change.person for change in read_history(folder).changes]


@pytest.mark.parametrize(
    ("typed", "words"), [("x" * 10_000, "10,000 letters"), ("a\x00b", "can't be printed"), ("-", "initials")]
)
def test_what_is_no_name_is_refused_at_the_field(desk, typed, words):
    """What was typed is shown again, no more of it than a page can hold."""
    answer = name(desk, typed)

    assert 422 == answer.status_code
    assert words in said(answer.text)
    assert len(answer.text) < 40_000


def test_a_hostile_name_is_text_wherever_it_stands(desk):
    """On every page's head, in the form and in the history."""
    name(desk, '"><script>alert(1)</script>')
    enter(desk, recorded_by="MK")

    pages = [desk.get(path).text for path in ("/today", "/person", "/history", "/history/1")]

    assert not [page for page in pages if "<script>alert" in page]
    assert all("alert(1)" in said(re.sub("&lt;/?script&gt;", "", page)) for page in pages)


@pytest.mark.parametrize("cookie", ["%00", "x" * 3000, "%ff%fe", "a%0d%0aSet-Cookie: x=1"])
def test_a_cookie_that_the_desk_never_set_names_nobody(desk, cookie):
    """It is no fault either: the page asks again, or shows its letters."""
    desk.cookies.set("certgen-person", cookie, domain="127.0.0.1")

    assert 200 == desk.get("/enter/bag-on").status_code


@pytest.mark.parametrize(
    "back", ["//elsewhere.example/", "https://elsewhere.example", "/\\elsewhere", "javascript:1"]
)
def test_no_form_leads_away_from_the_desk(desk, back):
    """Whatever a page says to go back to."""
    answer = name(desk, "Marta", back=back)

    assert ("127.0.0.1", "/today") == (answer.url.host, answer.url.path)
