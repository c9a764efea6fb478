"""Words of rules become runs, and only names of fields are set as such."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.report.wording import say
from certgen.typeset.parts import Run


def test_a_field_is_set_as_a_field():
    """The backticks go, the name is marked."""
    assert (Run("Write the cleaning under "), Run("cleaning", field=True), Run(".")) == say(
        "Write the cleaning under `cleaning`."
    )


@pytest.mark.parametrize("text", ["a ` b", "`", "``", "`Not A Field`", "`<b>`", "one `two"])
def test_other_backticks_stay(text):
    """A backtick that somebody typed in a record is no mark of ours."""
    assert (Run(text),) == say(text)


@given(st.text(max_size=60))
def test_no_letter_is_lost(text):
    """Whatever is said, only pairs of backticks around a field's name go."""
    runs = say(text)

    assert text == "".join(f"`{run.text}`" if run.field else run.text for run in runs)
