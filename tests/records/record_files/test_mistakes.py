"""Words that were once in use are refused with what they are called now."""

from __future__ import annotations

import pytest

from certgen.records.record_files.mistakes import RENAMED, suggest_name, suggest_word, tell_new_name
from certgen.standards import load_profile

PAPAYA = load_profile("papaya").words
SQUASH = load_profile("squash").words


@pytest.mark.parametrize(
    ("word", "listed", "said"),
    [
        ("airtight room", PAPAYA["storage"], "'airtight dry room'"),
        ("plastic dough", PAPAYA["blades"], "'blunt plastic'"),
    ],
)
def test_a_word_of_before_is_told_by_its_new_name(word, listed, said) -> None:
    """A crop is offered its own words alone."""
    assert f"it is now called {said}" == suggest_word(word, listed)


def test_a_field_of_before_is_told_by_its_new_name() -> None:
    """Marked as a field is."""
    assert "it is now called `secured`" == suggest_name("cinched", ("bag", "secured"), "fields")


@pytest.mark.parametrize("name", ["cold room", "", "refrigerat", "cool room"])
def test_what_never_was_in_use_has_no_new_name(name) -> None:
    """Nothing is guessed here."""
    assert "" == tell_new_name(name, PAPAYA["storage"])
    assert "" == tell_new_name("airtight room", PAPAYA["blades"])


def test_nothing_in_use_is_refused() -> None:
    """What was given up stands in no crop's words and figures."""
    crops = [load_profile(name) for name in ("papaya", "squash")]
    used = {word for crop in crops for words in crop.words.values() for word in words}
    used |= {key for crop in crops for key in crop.practice}

    assert set() == used & {*RENAMED}
