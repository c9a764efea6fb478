"""Names of materials that nobody may use on organic land."""

from __future__ import annotations

import pytest

from certgen.standards.profile import prohibited_names
from certgen.standards.reading import read_data

COVERS = ("certgen.standards.profile",)


@pytest.mark.parametrize(
    "text", [
        "glyphosate", "GLYPHOSATE 480 SL", "some Glyphosate, once", "urea (prilled)",
        "glyphosate-based killer", "superphosphates", "lime-urea mix",
    ],
)  # fmt: skip
def test_a_name_is_found_in_what_people_write(text):
    """Whatever its letter case and what stands beside it."""
    assert prohibited_names().search(text)


@pytest.mark.parametrize("text", ["glyphosate-free compost", "non-urea", "bureau", "ureal", "", "compost"])
def test_a_name_within_a_word_or_that_is_denied_is_none(text):
    """The material is something else, or is said to be without it."""
    assert not prohibited_names().search(text)


def test_every_name_of_the_list_is_found():
    """Each by itself; the longest name that fits is the one that is told."""
    file = read_data("prohibited")
    names = [name for words in file.word_lists("kinds").values() for name in words]

    assert names
    assert [] == [
        name for name in names if not (found := prohibited_names().search(name)) or found[0] != name
    ]
    assert len({name.casefold() for name in names}) == len(names)


def test_no_name_stands_in_what_the_example_uses(example_season):
    """The grower of the example may use all that is written there."""
    text = (example_season / "inputs.yaml").read_text(encoding="utf-8")

    assert "material" in text
    assert prohibited_names().search(text) is None
