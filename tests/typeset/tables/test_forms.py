"""Forms: texts in other scripts, set once, measured, and leading where their links lead."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pages import SETTINGS

from certgen.typeset.design import SANS
from certgen.typeset.tables.forms import LETTERS, FormText, set_forms, split_long

COVERS = ("certgen.typeset.typst_pages",)


def form_text(*runs, room: float = 120.0) -> FormText:
    """A text of the registers' size."""
    return FormText(runs, room, SANS, 400, 7.2, 9.1)


def forms_of(*texts: FormText):
    """The forms, and the objects they are made of."""
    numbers = itertools.count(50)
    return set_forms(texts, SETTINGS, lambda: next(numbers))


def test_nothing_wanted_costs_nothing():
    """Where every text can be drawn, Typst is not asked."""
    assert ({}, {}) == forms_of()


def test_a_text_is_set_once():
    """The same text in the same room is one form, however often it is asked for; another room is another."""
    name, wide = form_text(("بذور", "")), form_text(("بذور", ""), room=200)
    found, objects = forms_of(name, name, wide)

    assert [name, wide] == list(found)
    assert 2 == len({form.number for form in found.values()})
    assert {form.number for form in found.values()} <= set(objects)
    assert all(b"/Form" in objects[form.number] for form in found.values())


def test_objects_refer_to_each_other_only():
    """What a form is made of is complete: nothing points at what was left behind."""
    _, objects = forms_of(form_text(("ไร่มะละกอ", "")), form_text(("שדה", "")))
    named = {
        int(number)
        for body in objects.values()
        for number in re.findall(rb"\b(\d+) 0 R", body.partition(b"\nstream\n")[0])
    }

    assert named <= set(objects)


def test_height_follows_the_lines():
    """A text of two lines is a leading higher than one of one line."""
    short, long = form_text(("بذور", "")), form_text(("بذور\nبذور", ""))
    found, _ = forms_of(short, long)

    assert 7.2 * 0.66 == pytest.approx(found[short].height, abs=0.01)
    assert 9.1 == pytest.approx(found[long].height - found[short].height, abs=0.01)


def test_links_have_their_boxes():
    """Each link's box lies on its words, measured from the text's lower left corner."""
    text = form_text(("بذور", "trees/T 1"), (" - ", ""), ("حقل", "blocks/ب"))
    found, _ = forms_of(text)
    links = found[text].links

    assert ["blocks/ب", "trees/T 1"] == sorted(anchor for anchor, _ in links)
    assert all(0 <= left < right <= 120 for _, (left, _, right, _) in links)
    assert all(low < 2 and high > 3 for _, (_, low, _, high) in links)


def test_setter_code_in_a_text_is_text():
    """A name that looks like code of Typst is set, not run."""
    text = form_text(('#panic("run") $x^2$ @ref <label> بذور', ""))

    assert [text] == list(forms_of(text)[0])


def test_a_letter_without_a_shape_is_told():
    """A letter that no face has is set as its code point: Typst does not fail."""
    text = form_text(("\U00016a40 بذور", ""))

    assert [text] == list(forms_of(text)[0])


@given(st.lists(st.tuples(st.text("ab \n", max_size=700), st.sampled_from(["", "lots/L1"])), max_size=3))
def test_parts_are_the_whole(runs):
    """A long text is split into pieces of bounded length that say the same, each leading where it led."""
    parts = split_long(runs)

    def letters(pieces):
        return [(letter, href) for text, href in pieces for letter in text]

    assert letters(runs) == letters(run for part in parts for run in part)
    assert all(sum(len(text) for text, _ in part) <= LETTERS for part in parts)
