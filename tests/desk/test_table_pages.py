"""Tables: the grid, and what a script sends of it."""

from __future__ import annotations

import re

import pytest
from desk_client import said

from certgen.records.tables import load_tables


def send(desk, table, **data):
    """What the grid's script sends, and what it is answered."""
    return desk.post(f"/tables/{table}/cells", json=data)


def cell(name, column, was, now):
    """One changed cell."""
    return {"name": name, "column": column, "was": was, "now": now}


@pytest.mark.parametrize("table", load_tables())
def test_every_table_has_its_grid(desk, table):
    """Empty ones too, with all columns as well."""
    assert 200 == desk.get(f"/tables/{table}").status_code
    assert 200 == desk.get(f"/tables/{table}?columns=all&sort=-note&words=x&from=999999").status_code


def test_rows_are_chosen_by_words_and_ordered_by_a_column(desk):
    """As people count: 2 before 10."""
    rows = [{"tree": str(number), "planting": "P1", "sex": "male"} for number in (10, 9)]
    assert send(desk, "trees", rows=rows).json()["done"]

    ordered = re.findall(r'<tr data-name="([^"]+)"', desk.get("/tables/trees?sort=tree").text)
    chosen = re.findall(r'<tr data-name="([^"]+)"', desk.get("/tables/trees?words=FEMALE").text)

    assert ["01", "02", "9", "10"] == ordered
    assert ["02"] == chosen


def test_a_cell_is_changed_where_it_stands(desk, folder):
    """The comment beside the line stays."""
    answer = send(desk, "bagging", cells=[cell("B-1", "stage", "closed bud", "open")])

    assert (200, ["bag B-1"]) == (answer.status_code, answer.json()["done"])
    assert "# dry, no wind" in (folder / "bags.yaml").read_text(encoding="utf-8")


def test_many_cells_and_new_rows_are_kept_together_or_not_at_all(desk, held):
    """Each fault is led back to its cell, all of them in one go."""
    answer = send(
        desk, "bagging",
        cells=[
            cell("B-1", "stage", "closed bud", "open"),
            cell("B-2", "covered", "2026-01-13", "soon"),
        ],
        rows=[{"bag": "B-3", "tree": "01"}, {"bag": "B-4", "flower": "rose"}],
    )  # fmt: skip

    assert 422 == answer.status_code
    told = {(fault.get("name"), fault.get("row"), fault["column"]) for fault in answer.json()["faults"]}
    assert {("B-2", None, "covered"), (None, 1, "tree"), (None, 1, "flower")} == told
    assert "closed bud" == held.look().season.record("bagging", "B-1")["stage"]


def test_what_the_reader_objects_to_is_led_back_too(desk):
    """A row that lacks what it needs, a word that its field doesn't take."""
    answer = send(desk, "bagging", cells=[cell("B-2", "stage", "", "asleep")], rows=[{"bag": "B-3"}])

    assert [("B-2", None, "stage"), (None, 0, "tree")] == [
        (fault.get("name"), fault.get("row"), fault["column"]) for fault in answer.json()["faults"]
    ]


def test_a_cell_that_somebody_else_changed_is_a_conflict(desk):
    """What it showed, what stands there, what was to be."""
    send(desk, "bagging", cells=[cell("B-1", "stage", "closed bud", "open")])

    answer = send(desk, "bagging", cells=[cell("B-1", "stage", "closed bud", "")])

    (told,) = answer.json()["conflicts"]
    assert (409, "closed bud", "open", "") == (
        answer.status_code,
        told["was"],
        told["there"],
        told["wanted"],
    )


def test_a_cell_is_tried_without_being_kept(desk, held):
    """And a tree that isn't there is a hint, for it may come later."""
    answer = send(desk, "bagging", cells=[cell("B-1", "tree", "01", "2")], **{"try": True})

    assert ([], "no tree is called '2'. Did you mean 02?") == (
        answer.json()["faults"],
        answer.json()["hints"][0]["says"],
    )
    assert "01" == held.look().season.record("bagging", "B-1")["tree"]


@pytest.mark.parametrize(
    "data",
    [
        None, [], "x", 7, {"cells": {}}, {"cells": [{}]}, {"cells": [cell("B-1", "bag", "B-1", "B-9")]},
        {"cells": [cell("B-1", "checks", "", "x")]}, {"cells": [cell("B-1", "nothing", "", "x")]},
        {"rows": [{"bag": 7}]}, {"rows": [{"checks": "x"}]}, {"rows": ["x"]},
        {"cells": [{**cell("B-1", "stage", "", "x"), "now": None}]}, {"rows": [{}] * 20_001},
    ],
)  # fmt: skip
def test_what_no_script_of_ours_sends_is_refused(desk, data):
    """In words, and nothing is touched."""
    answer = desk.post("/tables/bagging/cells", json=data)

    assert answer.status_code in {400, 413}
    assert "Not possible" in said(answer.text)


def test_nothing_to_change_is_nothing_done(desk):
    """An empty list of cells, a row without a text."""
    assert ([], []) == (send(desk, "bagging").json()["done"], send(desk, "bagging", rows=[{}]).json()["done"])


def test_texts_of_the_records_never_become_markup(desk):
    """A name that looks like a tag is shown as it is typed."""
    send(desk, "bagging", cells=[cell("B-1", "note", "", '<img src=x onerror="a()">')])

    page = desk.get("/tables/bagging").text
    assert "<img" not in page
    assert "&lt;img" in page


def test_a_cell_shows_what_a_round_says_in_its_stead(desk, folder):
    """Told apart from what the record says, and found by it; typing there begins with nothing."""
    rounds = "rounds:\n  - {round: R1, kind: uncovering, date: 2026-02-03, bags: [B-1], by: KV}\n"
    (folder / "rounds.yaml").write_text(rounds, encoding="utf-8")

    page = desk.get("/tables/bagging").text

    assert re.search(r'data-said="2026-02-03" title="said by [^"]*R1[^"]*"></td>', page)
    assert "1 bag." in said(desk.get("/tables/bagging?words=2026-02-03").text)
    assert "slanted" in said(page)
