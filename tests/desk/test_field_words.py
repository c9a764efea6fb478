"""The fields that rules name, called as the forms call them."""

from __future__ import annotations

import pytest

from certgen.desk.field_words import label_column, say_fields
from certgen.records.tables import load_tables
from certgen.rules import RULES


@pytest.mark.parametrize(
    ("text", "table", "said"),
    [
        ("Write it under `allowed_by`.", "inputs", "Write it under “Allowed by”."),
        ("`tree` is missing", "bagging", "“Tree” is missing"),
        ("written under `tag.bag`", "bagging", "written under “Bag on the tag”"),
        ("under `screening`", "trees", "under “Screening of parent trees”"),
        ("`plan 4` of the plan", "inputs", "“plan 4” of the plan"),
        ("no mark at all", "", "no mark at all"),
    ],
)
def test_a_field_is_called_by_its_label(text, table, said):
    """A grower who never sees a file needn't know what the files call it."""
    assert said == say_fields(text, table)


def test_no_rule_s_remedy_keeps_a_mark():
    """Whatever a remedy names, no backtick is left on a page."""
    assert [] == [rule.slug for rule in RULES.values() if "`" in say_fields(rule.remedy, "")]


def test_two_columns_of_a_table_never_share_a_label():
    """Else nobody could tell which is meant."""
    for table in load_tables().values():
        labels = [label_column(column) for column in table.columns]
        assert sorted(set(labels)) == sorted(labels), table.name
