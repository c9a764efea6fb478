from __future__ import annotations

import pickle
from typing import Any

import pytest
import yaml
from generated_seasons import records_of, written
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from certgen.records.record_files.braces import is_plain
from certgen.records.record_files.extracts import TableReader
from certgen.records.record_files.locating import Span, Spans, locate_in_span, locate_values, names_in_span
from certgen.records.tables import load_tables

COVERS = ("certgen.records.record_files.braces",)
TABLES = ["bagging", "batches", "lots", "tests", "harvests"]


def walk(node: yaml.Node, place: tuple[int, int], path: tuple[str | int, ...] = ()) -> Any:
    """Every path below a node with the line and column that it ought to have; of names twice the first."""
    yield path, place
    if isinstance(node, yaml.SequenceNode):
        for index, part in enumerate(node.value):
            yield from walk(part, (part.start_mark.line + 1, part.start_mark.column + 1), (*path, index))
    elif isinstance(node, yaml.MappingNode):
        for key, part in {key.value: (key, part) for key, part in reversed(node.value)}.values():
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


#: Words that mean nothing to YAML, and some that it takes otherwise than they look.
WORDS = st.one_of(
    st.sampled_from(
        ["B1", "4 ha", "tree", "tree tag", "2026-02-01", "08:15", "a.b", "it's", "Vénus", "100 %"]
    ),
    st.sampled_from(
        ["a  b", "'tree: x'", '"t\\x61g: 1"', "a #b", "x:", "-", "a -b", "[", "?", "é\u2028b", "~", ""]
    ),
    st.text("ab :,#'-\"\\\n{}[]?é", max_size=4),
)
STEPS = st.sampled_from(["tree", "tag", "t", "ag", "date", "'tag'", '"t\\x61g"'])


def in_braces(inside: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    """Mappings and lists of some values, on one line, here and there with other blanks than usual."""
    commas, colons = st.sampled_from([", "] * 8 + [","]), st.sampled_from([": "] * 8 + [":  "])
    pairs = st.builds(lambda name, colon, value: name + colon + value, STEPS, colons, inside)
    return st.one_of(
        st.builds(lambda parts, comma: "{" + comma.join(parts) + "}", st.lists(pairs, max_size=3), commas),
        st.builds(lambda parts, comma: "[" + comma.join(parts) + "]", st.lists(inside, max_size=3), commas),
    )


@settings(max_examples=300)
@given(st.recursive(WORDS, in_braces, max_leaves=8).filter(lambda text: text[:1] == "{"))
def test_a_record_in_braces_is_looked_through_as_it_is_composed(text: str) -> None:
    """Each path by itself, known and unknown, has the place that the nodes of the same text have."""
    try:
        root = yaml.compose(f"- {text}", Loader=yaml.CSafeLoader).value[0]
    except yaml.YAMLError:
        assume(False)
    assume(root.end_mark.index == len(text) + 2)
    expected: dict[tuple[str | int, ...], tuple[int, int]] = {}
    for path, place in walk(root, (1, 3)):
        expected.setdefault(path, place)
    for path in [*expected]:
        for step in ("tag", "tree", "ag", 0, 1, -1):
            expected.setdefault((*path, step), expected[path])
    span = Span(2, 2 + len(text), 0, 2)
    found = {path: locate_in_span(f"- {text}", span, {0: path})[0] for path in expected}
    assert expected == found


@pytest.mark.parametrize(
    ("text", "path", "column"),
    [
        ("{bag: B1, tag: {tag: x, tree: 17}}", ("tag", "tree"), 27),
        ("{a_tag: tag, tag: 1}", ("tag",), 16),
        ("{a: [{tag: 1}, {tree: 2}], tree: 3}", ("tree",), 30),
        ("{a: [{tag: 1}, {tree: 2}], b: 3}", ("a", 0, "tree"), 8),
        ("{a: [x, [y, z], w], b: 3}", ("a", 2), 19),
        ("{a: [], b: 3}", ("a", 0), 4),
        ("{a: {b: 1}, b: 3}", ("b", "c"), 15),
    ],
)
def test_a_name_is_found_in_its_own_braces(text: str, path: tuple[str | int, ...], column: int) -> None:
    """Not where another name ends with it, nor inside other braces, nor behind those that are closed."""
    assert is_plain(text, 0, len(text))
    assert {0: (1, column)} == locate_in_span(f"- {text}", Span(2, 2 + len(text), 0, 2), {0: path})


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
