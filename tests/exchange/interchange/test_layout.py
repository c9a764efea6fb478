"""One layout of JSON and CSV for every output."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.interchange.layout import grams, render_csv, render_json


def test_days_and_a_tables_numbers_become_plain_json() -> None:
    """Values as records and tables hold them need no care of their own."""
    number = pd.Series([17], dtype="int64").iloc[0]

    assert {"day": "2026-03-01", "trees": 17} == json.loads(
        render_json({"day": dt.date(2026, 3, 1), "trees": number})
    )


def test_what_json_has_no_form_for_is_refused() -> None:
    """Nothing is written that reads as something else."""
    with pytest.raises(TypeError, match="set has no form"):
        render_json({"trees": {1, 2}})


def test_json_keeps_every_letter_and_ends_its_last_line() -> None:
    """Names stay legible, and text tools find a whole last line."""
    assert '{\n "party": "Ñandú"\n}\n' == render_json({"party": "Ñandú"})


_PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text()
_KEYS = st.text() | st.integers() | st.booleans() | st.none()


@given(
    st.recursive(
        _PLAIN,
        lambda inner: st.lists(inner) | st.lists(inner).map(tuple) | st.dictionaries(_KEYS, inner),
        max_leaves=20,
    )
)
def test_json_is_laid_out_as_the_library_would(content: object) -> None:
    """Whatever is in it, to the last space."""
    assert json.dumps(content, ensure_ascii=False, indent=1) + "\n" == render_json(content)


def test_csv_runs_nothing_and_leaves_nothing_empty_by_name() -> None:
    """A note that begins like a formula is text, and an absent value is an empty cell."""
    rows = list(csv.reader(io.StringIO(render_csv(["note", "weight"], [("=1+1", None), ("a,b", 2.5)]))))

    assert [["note", "weight"], ["'=1+1", ""], ["a,b", "2.5"]] == rows


@given(st.integers(min_value=0, max_value=10**12))
def test_grams_are_exact_to_the_milligram(milligrams: int) -> None:
    """The figure in an output leads back to the one that was weighed."""
    assert milligrams == round(grams(milligrams) * 1000)
