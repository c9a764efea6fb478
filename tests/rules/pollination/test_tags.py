from __future__ import annotations

from datetime import date

import pytest

COVERS = ("certgen.rules.pollination.spelling",)


@pytest.mark.parametrize(
    ("tag", "expected"),
    [
        ({}, []),
        ({"tree": "T2"}, ["other_tree"]),
        ({"date": "2026-01-13"}, ["other_date"]),
        ({"variety": "Moth Lantern"}, ["other_variety"]),
        ({"variety": " amber  KESTREL "}, []),
        ({"bag": "B1"}, []),
        ({"bag": "B2"}, ["other_bag"]),
        ({"bag": "B2", "tree": "T2"}, ["other_tree", "other_bag"]),
    ],
)
def test_each_word_of_a_tag_is_held_against_the_log(seasons, stocked, case_of, tag, expected):
    """Tree, date, variety and the bag's own number, where they are written."""
    bag = seasons.bag("B1", "T1", covered=date(2026, 1, 12))
    bag = bag | {"tag": {"date": "2026-01-12", "variety": "Amber Kestrel", "tree": "T1"} | tag}
    case = case_of(stocked(bagging=[bag]))
    found = case.tags_that_differ.iloc[0]

    assert expected == [name for name in found.index if found[name]]


def test_only_a_whole_tag_can_be_that_of_two_bags(seasons, stocked, case_of):
    """Date, variety and tree make a tag; the bag's number tells two apart."""
    whole = {"date": "2026-01-12", "variety": "Amber Kestrel", "tree": "T1"}
    tags = [whole, whole, whole | {"bag": "B3"}, {"tree": "T1"}]
    bags = [
        seasons.bag(f"B{at}", "T1", covered=date(2026, 1, 12)) | {"tag": tag}
        for at, tag in enumerate(tags, start=1)
    ]
    texts = case_of(stocked(bagging=bags)).tag_texts

    assert texts[0] == texts[1] != texts[2]
    assert [True, True, True, False] == [text is not None for text in texts]
