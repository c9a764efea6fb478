from __future__ import annotations

import pickle
from typing import Any

import pytest
import yaml
from generated_seasons import records_of, written
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.records.record_files.extracts import TableReader
from certgen.records.record_files.locating import Span, Spans, locate_in_span, locate_values, names_in_span
from certgen.records.tables import load_tables

TABLES = ["bagging", "batches", "lots", "tests", "harvests"]


def walk(node: yaml.Node, place: tuple[int, int], path: tuple[str | int, ...] = ()) -> Any:
    """Every path below a node with the line and column that it ought to have."""
    yield path, place
    if isinstance(node, yaml.SequenceNode):
        for index, part in enumerate(node.value):
            yield from walk(part, (part.start_mark.line + 1, part.start_mark.column + 1), (*path, index))
    elif isinstance(node, yaml.MappingNode):
        for key, part in node.value:
            yield from walk(part, (key.start_mark.line + 1, key.start_mark.column + 1), (*path, key.value))


@settings(max_examples=60)
@given(st.data())
def test_places_are_those_of_the_files_own_nodes(data: st.DataObject) -> None:
    """Whatever the layout: a record's own lines give the places that the whole file's nodes give."""
    name = data.draw(st.sampled_from(TABLES))
    records = data.draw(st.lists(records_of(load_tables()[name], {}), min_size=1, max_size=3))
    text = data.draw(written({name: records}))
    extract = TableReader({}, ("", 0)).read(text, "a.yaml")
    assert [] == extract.errors
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    spans = extract.stretches[name].spans
    for span, node in zip(spans, root.value[0][1].value, strict=True):
        home = (node.start_mark.line + 1, node.start_mark.column + 1)
        expected = dict(walk(node, home))
        assert expected == locate_in_span(text, span, {path: path for path in expected})


def test_values_are_found_where_they_begin() -> None:
    """Reading errors point at a value, not at its name."""
    text = "trees:\n- tree:   T1\n  note:\n    long\n"
    span = Span(9, len(text), 1, 2)
    assert {("tree",): (2, 11), ("note",): (4, 5), ("sex",): (2, 3), (): (2, 3)} == locate_values(
        text, span, [("tree",), ("note",), ("sex",), ()]
    )
    assert {"tree", "note"} == names_in_span(text, span)


def test_a_span_of_something_else() -> None:
    """A record that is no mapping, or can't be taken apart by itself, is shown at its beginning."""
    text = "trees:\n- [a\n"
    span = Span(9, len(text), 1, 2)
    assert {1: (2, 3)} == locate_in_span(text, span, {1: ("tree",)})
    assert {("tree",): (2, 3)} == locate_values(text, span, [("tree",)])
    assert frozenset() == names_in_span(text, span)


def test_the_lines_of_other_records_are_not_looked_at() -> None:
    """Only the record's own stretch is composed, so a place costs the same in a file of any length."""
    record = "- {tree: T1, sex: male}\n"
    text = "trees:\n" + record + "- [}\n" * 1000
    assert {1: (2, 14)} == locate_in_span(text, Span(9, 7 + len(record), 1, 2), {1: ("sex",)})


SPANS = st.lists(st.builds(Span, *[st.integers(0, 2**32 - 1)] * 4), max_size=9)


@given(SPANS, st.integers(-10, 10), st.integers(-10, 10))
def test_spans_are_a_list_of_spans(given_spans: list[Span], start: int, end: int) -> None:
    """However they are put in, they come out as a list would give them."""
    spans = Spans()
    for span in given_spans:
        spans.append(span)
    assert given_spans == list(spans)
    assert spans == Spans(given_spans) == Spans.from_numbers(spans.numbers())
    assert given_spans[start:end] == list(spans[start:end])
    assert spans == pickle.loads(pickle.dumps(spans))
    assert (given_spans == given_spans[start:end]) == (spans == spans[start:end])
    if -len(given_spans) <= start < len(given_spans):
        assert given_spans[start] == spans[start]
    else:
        with pytest.raises(IndexError):
            spans[start]


@pytest.mark.parametrize("numbers", [[1], [1, 2, 3], [0, 1, 2, -1], [0, 1, 2, 2**32]])
def test_numbers_that_are_no_spans(numbers: list[int]) -> None:
    """Half a span, or a number that no file holds, is refused."""
    with pytest.raises(ValueError, match=r"four|unsigned|range|large|int"):
        Spans.from_numbers(numbers)
