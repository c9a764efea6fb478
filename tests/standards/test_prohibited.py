"""Names of materials that nobody may use on organic land."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.reading import read_season
from certgen.standards import find_prohibited, list_prohibited


@pytest.mark.parametrize(
    ("text", "name"), [
        ("glyphosate", "glyphosate"), ("GLYPHOSATE 480 SL", "glyphosate"),
        ("some Glyphosate, once", "glyphosate"),
        ("urea (prilled)", "urea"), ("glyphosate-based killer", "glyphosate"),
        ("superphosphates", "superphosphate"), ("lime-urea mix", "urea"),
        ("ammonium-nitrate", "ammonium nitrate"),
        ("Ammonium  nitrate", "ammonium nitrate"), ("ammoniumnitrate", "ammonium nitrate"),
        ("2.4-D amine", "2,4-d"), ("2,4 D", "2,4-d"), ("lambda cyhalothrin", "lambda-cyhalothrin"),
        ("gly\u00adphosate", "glyphosate"),
        ("\uff27\uff2c\uff39\uff30\uff28\uff2f\uff33\uff21\uff34\uff25", "glyphosate"),
        ("glyphosate\u2011based", "glyphosate"), ("sulphate of ammonia", "sulphate of ammonia"),
        ("methyl bromide, two tins", "methyl bromide"), ("biosolids", "biosolid"),
    ],
)  # fmt: skip
def test_a_name_is_found_in_what_people_write(text, name):
    """Whatever its letter case, its hyphens and spaces, and what stands beside it."""
    assert name == find_prohibited(text).name


@pytest.mark.parametrize(
    "text", [
        "glyphosate-free compost", "glyphosate free compost", "free of glyphosate", "free from urea",
        "no urea",
        "non-urea", "without any trace of NPK", "no urea or NPK, then lime", "free of glyphosate and urea",
        "bureau", "ureal", "", "compost", "sulfate of potash", "sulphate of potash-magnesia", "fish meal",
    ],
)  # fmt: skip
def test_a_name_within_a_word_or_that_is_denied_is_none(text):
    """The material is something else, or is said to be without it."""
    assert find_prohibited(text) is None


@pytest.mark.parametrize(
    "text", [
        "urea, free of charge", "urea free of charge", "No. 1 urea", "not only urea", "without doubt urea",
        "no urea, NPK 15-15-15", "free of weeds thanks to glyphosate", "no drift: glyphosate",
        "urea, no lime",
        "glyphosate free sample",
    ],
)  # fmt: skip
def test_a_denial_of_something_else_hides_no_name(text):
    """Only what stands right before the name, or joined to it, denies it."""
    assert find_prohibited(text)


def test_every_name_of_the_list_is_found_with_its_kind_and_mark():
    """Each by itself; the longest name that fits is the one that is told."""
    names = list_prohibited()

    assert names
    assert [] == [one for one in names if find_prohibited(one.name) != one]
    assert len({one.name.casefold() for one in names}) == len(names)
    assert all(
        one.source and one.mark in {"read", "partly read", "from memory", "common practice"} for one in names
    )


@given(
    st.sampled_from(list_prohibited()), st.sampled_from((str.upper, str.title, str.casefold)), st.booleans()
)
def test_how_a_name_is_written_makes_no_difference(one, write, plural):
    """Letter case, an s, more spaces."""
    text = write(one.name).replace(" ", "  ") + ("s" if plural and not one.name.endswith("s") else "")

    assert one == find_prohibited(f"  {text}  ")


def test_no_name_stands_in_what_the_example_uses(example_season):
    """The grower of the example may use all that is written there."""
    season, _ = read_season(example_season)
    materials = [*season.table("inputs")["material"], *season.table("materials")["name"]]

    assert len(materials) > 5
    assert [] == [text for text in materials if find_prohibited(text)]


def test_a_name_denied_a_page_after_others_is_denied_all_the_same():
    """What stands right before a name counts, however much stands before that."""
    assert find_prohibited("no urea; " * 500) is None
    assert "urea" == find_prohibited("no urea; " * 500 + "urea").name


def test_a_part_of_a_word_denies_nothing_far_behind_other_text():
    """Where only what is near is looked at, it begins at a blank: the end of another word is no 'no'."""
    for more in range(5):
        assert "urea" == find_prohibited(f"{'x' * 50} pia{'no'}{' added' * 66}{' ' * more} urea").name
