"""Words of rules become runs, and only names of fields are set as such."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.report.wording import say, write_quantity
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


@pytest.mark.parametrize(
    ("typed", "kind", "told"),
    [
        ("20 g", "mass", "20 g"),
        ("1 oz", "mass", "28.35 g (1 oz)"),
        ("11.6 lb", "mass", "5.26 kg (11.6 lb)"),
        ("4.49 kg", "mass", "4.49 kg"),
        ("1000000 lb", "mass", "454000 kg (1000000 lb)"),
        ("76 °F", "temperature", "24.4 °C (76 °F)"),
        ("29 C", "temperature", "29 C"),
        ("1.25 in", "length", "31.8 mm (1.25 in)"),
        ("30 ft", "length", "9.14 m (30 ft)"),
        ("0.4 ha", "area", "0.4 ha"),
        ("1.2 acre", "area", "0.49 ha (1.2 acre)"),
        ("14 h", "duration", "14 h"),
        ("plenty", "mass", "plenty"),
        ("", "mass", ""),
    ],
)
def test_a_quantity_stands_in_one_unit_with_what_was_typed(typed, kind, told):
    """A column of grams can be read down though somebody weighed in ounces; what isn't read stays."""
    assert told == write_quantity(typed, kind)
