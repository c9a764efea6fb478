"""No letter vanishes from the page, and none upsets its neighbours."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pages import SETTINGS, fonts_of

from certgen.records.record_files import extracts
from certgen.typeset import faces
from certgen.typeset.first_page import Band, Cover
from certgen.typeset.html_pages import set_cover
from certgen.typeset.legibility import (
    LAST_PLAIN,
    make_legible,
    set_apart,
    tell_unset,
    unset_letters,
)
from certgen.typeset.parts import (
    Cell,
    Chapter,
    Grid,
    Prose,
    Register,
    RegisterColumn,
    RegisterSet,
    Row,
    Run,
    Section,
)
from certgen.typeset.registers import set_registers

COVERS = ("certgen.typeset.faces",)
NAMES = {
    "Noto Sans Arabic": "مزرعة وادي الفانوس",
    "Heebo": "מטע הפפאיה",
    "Noto Sans Devanagari": "पपीता बीज बाग",
    "Noto Sans Tamil": "பப்பாளி விதை",
    "Noto Sans Telugu": "బొప్పాయి విత్తన",
    "Noto Sans Thai": "สวนมะละกอ",
    "Noto Sans Khmer": "ចំការល្ហុង",
}
#: What the reader accepts within a text, with the letters that steer a line as often as all others.
REFUSED = "".join(filter(extracts._UNSHOWABLE.match, map(chr, range(0x10000))))
ACCEPTED = st.characters(exclude_characters=REFUSED, exclude_categories=["Cs"])
STEERING = st.characters(categories=["Cf", "Zs", "Zl", "Zp", "Mn", "Mc", "Me"]) | st.sampled_from(
    "\t\n\r\x85"
)
WORDS = st.text(ACCEPTED | STEERING | st.sampled_from("abc -/1"), min_size=1, max_size=40)
TEXTS = WORDS | st.builds(lambda word, times: word * times, WORDS, st.integers(2, 20))
COVER = Cover("Report", "Larkfold", "2026", (), (), "is", "is not", ())


def chapter(text: str) -> Chapter:
    """A chapter of one paragraph."""
    return Chapter("c", (Section("a", "Name", 1, (Prose((text,)),), style="chapter"),))


def cover(text: str) -> Cover:
    """A first page with one paragraph."""
    return replace(COVER, claim="Whole.", bands=(Band("Name", (Prose((text,)),)),))


def test_letters_are_found_in_every_place():
    """In a cell that stands twice, behind others, in what it leads to; signs that nobody sees are none."""
    cells = [Cell((Run("plain"), Run("\u0f00\u2060", "rows/\u1820"))), Cell((Run("\u13a0"),), mark="\u1680")]
    rows = tuple(Row((cells[0], cells[0], cells[number])) for number in (0, 1))
    grid = Grid("", (), rows, note="\U00010380")

    assert set("\u0f00\u13a0\u1820\U00010380") == unset_letters(
        Chapter("c", (Section("a", "Name", 1, (grid,)),))
    )


def test_our_own_letters_are_in_our_own_faces():
    """Latin letters, up to the bound below which nothing is looked at, are all set."""
    letters = "".join(filter(str.isprintable, map(chr, range(0x20, LAST_PLAIN + 1))))

    assert letters == faces.spell_out(letters)


@pytest.mark.parametrize(("family", "name"), NAMES.items())
def test_a_script_is_set_in_its_face(family, name):
    """A farm's name in another script asks for one more face, and is set in it."""
    assert [family] == [face.family for face in faces.faces_for(f"{name} 2026")]
    data = set_cover(cover(name), SETTINGS)
    assert any(font.startswith(family.replace(" ", "")) for font in fonts_of(data))


def test_latin_text_loads_no_other_face():
    """Faces of other scripts cost time; a season without such names pays for none."""
    assert () == faces.faces_for("Larkfold Söhne – 12 g · ≥ 95 %")


@given(st.text("ab 12,אבعم.", max_size=30))
def test_setting_apart_adds_signs_only(text):
    """What is set apart reads the same, and every isolate that opens is closed."""
    apart = set_apart(text)

    assert text == apart.replace("\u2068", "").replace("\u2069", "")
    assert apart.count("\u2068") == apart.count("\u2069")


def test_a_number_beside_a_name_stays_outside():
    """The comma and the number after a name from right to left are not drawn into it."""
    assert "from \u2068מטע הפפאיה\u2069, 12 g" == set_apart("from מטע הפפאיה, 12 g")


def test_an_unknown_letter_is_spelled_out_and_told():
    """A letter that no face has stands as its code point in the chapter, and the cover says so."""
    odd = chapter("farm ምርት")
    cover = tell_unset(COVER, unset_letters(odd))

    assert "farm [U+121D][U+122D][U+1275]" == make_legible(odd).sections[0].parts[0].paragraphs[0]
    assert {"ም", "ር", "ት"} == unset_letters(odd)
    assert "Letters" == cover.facts[-1].label
    assert "3 letters" in cover.facts[-1].runs[0].text
    assert "[U+121D]" in cover.facts[-1].runs[0].text


def test_links_keep_their_names():
    """Anchors and addresses are never touched, or links would lead nowhere."""
    for href in ("lots/ምርት", "lots/מטע"):
        odd = Chapter("c", (Section(href, f"ምርት {href}", 1, (), style="chapter"),))

        assert href == make_legible(odd).sections[0].anchor


def test_plain_chapters_are_left_alone():
    """Nothing strange, nothing copied, and nothing said of it."""
    plain = chapter("Larkfold")

    assert plain is make_legible(plain)
    assert COVER is tell_unset(COVER, unset_letters(plain))


def test_a_cover_is_made_legible_too():
    """A name from right to left is set apart on the cover as elsewhere."""
    cover = make_legible(replace(COVER, operation="מטע, 12"))

    assert "\u2068מטע\u2069, 12" == cover.operation


def test_a_sign_that_turns_words_round_unseen_is_spelled_out():
    """A direction that a record orders, a mark at the head of a file, a tag: each as its code point."""
    assert "a[U+202E]b [U+FEFF][U+E0041]" == faces.spell_out("a\u202eb \ufeff\U000e0041")
    assert "می\u200cخواهم\u200e" == faces.spell_out("می\u200cخواهم\u200e")


def test_ends_of_lines_are_blanks():
    """Those of other systems and of word processors too."""
    assert "a\nb\nc\nd" == faces.spell_out("a\x85b\u2028c\u2029d")


def test_a_mark_that_stands_at_no_letter_is_spelled_out():
    """No engine can set it; at its letter it is set, and nothing is said of it on the cover."""
    assert "पपीता" == faces.spell_out("पपीता")
    assert "[U+093E] a\n[U+05B0]" == faces.spell_out("ा a\n\u05b0")
    assert set() == unset_letters(chapter("पपीता बीज बाग"))


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(TEXTS, min_size=1, max_size=6))
def test_every_text_that_the_reader_accepts_can_be_set(texts):
    """Whatever letters stand in a note, in a narrow column and in a wide one, by either engine."""
    columns = tuple(RegisterColumn("Note", 1) for _ in texts)
    row = ("notes/1", tuple(((text, ""),) for text in texts))
    group = RegisterSet("Notes", "Words.", (Register("notes", "Notes", texts[-1], columns, (row,)),))

    (batch, *_) = set_registers(group, SETTINGS)
    assert batch.places["notes/1"]
    assert set_cover(make_legible(cover(texts[0])), SETTINGS).startswith(b"%PDF")
