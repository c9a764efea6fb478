"""What can be printed of a season, and what a form may ask for."""

from __future__ import annotations

import pytest
import seasons
from desk_client import hold
from hypothesis import given
from hypothesis import strategies as st

from certgen.desk.print_kinds import find_kinds, list_kinds, read_order
from certgen.exchange.field_paper.paper_kinds import KINDS

COVERS = ("certgen.desk.print_orders",)


def test_all_papers_for_the_field_are_there(held):
    """Each kind that `certgen labels` knows, under its own name."""
    assert set(KINDS) <= set(find_kinds(held.look()))


def test_only_what_the_season_has_is_offered(held, folder):
    """No card without a lot; no notices unless a recall is on record."""
    before = set(find_kinds(held.look()))
    season = folder / "season.yaml"
    season.write_text(season.read_text().split("lots:")[0])
    after = set(find_kinds(held.look()))
    season.write_text(
        season.read_text() + "recalls: [{recall: RC1, kind: drill, opened: 2026-11-20, about: [B-1]}]\n"
    )

    assert {"card", "lots"} == before - after
    assert set() == after - before
    kinds = find_kinds(held.look())
    assert (("RC1", "Drill RC1, about B-1"),) == kinds["recall"].choices[0].options


@pytest.mark.parametrize(
    ("slug", "form", "faults"),
    [
        ("tags", {"only": "01 to 02", "each": "200"}, {}),
        ("tags", {"only": "01, 7"}, {"only": "No tree is called 7."}),
        ("tags", {"bags": "B-1; B-9"}, {"bags": "No bag is called B-9."}),
        ("tags", {"each": "0"}, {"each": "Write a whole number from 1 to 200."}),
        ("tags", {"skip": "٤"}, {"skip": "Write a whole number from 0 to 5000."}),
        ("tags", {"blank": "9" * 40}, {"blank": "Write a whole number from 0 to 5000."}),
        ("tags", {"page": "../../x.pdf"}, {"page": "Choose one of those that are here."}),
        ("tags", {"size": "a\x00b"}, {"size": "Write one line of at most 400 signs."}),
        ("tags", {"only": "x" * 20_001}, {"only": "That is more than can be chosen at once."}),
        ("report", {"lot": "AK-26-1"}, {}),
        ("report", {"lot": "/etc/passwd"}, {"lot": "Choose one of those that are here."}),
        ("card", {"lot": ""}, {"lot": "Choose one of those that are here."}),
        ("visit", {"seed": "y" * 401}, {"seed": "Write one line of at most 400 signs."}),
        ("picking-list", {"on": "2026-12-02"}, {}),
        ("picking-list", {"on": "2026-13-02"}, {"on": "Write a day of these years, as year-month-day."}),
        ("picking-list", {"on": "0001-01-01"}, {"on": "Write a day of these years, as year-month-day."}),
        ("sample-round", {"form": "spreadsheet", "out": "../elsewhere.csv"}, {}),
    ],
)
def test_a_form_is_read_choice_by_choice(held, slug, form, faults):
    """Each takes what it offers; what no choice asks for isn't there."""
    snapshot = held.look()
    kind = find_kinds(snapshot)[slug]
    order, found = read_order(kind, form, snapshot)

    assert faults == found
    assert {one.name for one in kind.choices} == set(order.chosen)


def test_ranges_mean_the_records_between(held):
    """As everywhere in the records."""
    snapshot = held.look()
    order, _ = read_order(find_kinds(snapshot)["tags"], {"only": "01 to 02"}, snapshot)

    assert {"only": ("01", "02"), "bags": ()} == order.names


@given(
    st.dictionaries(st.sampled_from(["only", "each", "page", "lot", "seed", "size", "skip", "x"]), st.text())
)
def test_any_form_is_read_or_faulted(example_kinds, form):
    """Nothing that a browser can send is a fault of the reading itself."""
    snapshot, kinds = example_kinds
    for kind in kinds:
        order, faults = read_order(kind, form, snapshot)
        assert set(faults) <= set(order.chosen)


@pytest.fixture(scope="module")
def example_kinds(tmp_path_factory):
    """A small season and all that can be printed of it."""
    folder = tmp_path_factory.mktemp("season")
    seasons.write_season(folder, **seasons.one_line())
    snapshot = hold(folder).look()
    return snapshot, [kind for _, kinds in list_kinds(snapshot) for kind in kinds]
