from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.record_files.limits import LINE_CHARACTERS
from certgen.records.record_files.parsing import ParsingError, compose, decode, open_document, skip


def refusal(text: str) -> tuple[int | None, int | None, str]:
    """Where and why a text is refused."""
    with pytest.raises(ParsingError) as caught:
        compose(text, "a.yaml")
    error = caught.value.error
    assert "a.yaml" == error.file
    return error.line, error.column, error.message


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("a: &x 1\n", 1, 4, "'&x' is a YAML reference"),
        ("a: 1\nb: *x\n", 2, 4, "'*x' is a YAML reference"),
        ("a: &x 1\nb: *x\n", 1, 4, "'&x'"),
        ("a: [1,*x]\n", 1, 7, "'*x'"),
        ('{"a":*x}\n', 1, 6, "'*x'"),
        ("a: !!python/object:os.system x\n", 1, 4, "is a YAML tag"),
        ("a: ! watch out\n", 1, 4, "'!' is a YAML tag"),
        ("!x\na: 1\n", 1, 1, "'!x' is a YAML tag"),
        ("? !x a\n: 1\n", 1, 3, "'!x' is a YAML tag"),
        ("- &x\n  a: 1\n", 1, 3, "'&x'"),
        ("&x a: 1\n", 1, 1, "'&x'"),
        ("a: 1\n---\nb: 2\n", 2, 1, "a second document"),
        ("a: 1\n...\n---\nb: 2\n", 3, 1, "a second document"),
        ("a: 1\n\tb: 2\n", 2, 1, "a tab stands where spaces belong"),
        ("a:\n\t- 1\n", 2, 1, "a tab stands where spaces belong"),
        ("a: %b\n", 1, 4, "a reserved sign"),
        ("a: 'b\n", 1, 4, "a quote is opened here and never closed"),
        ("a: 1\nb: 'c\nd: e\n", 2, 4, "a quote is opened here and never closed"),
        ("a: [1, 2\nb: 3\n", 1, 4, "the bracket or brace here isn't closed"),
        ("a: {b: 1, c: [1, 2}\n", 1, 14, "the bracket or brace here isn't closed"),
        ("a: b: c\n", 1, 5, "a colon stands where it can't; put the value in quotes"),
        ("a:\n- b: 1\n   c: 2\n", 3, 5, "line this name up with the names above it"),
        ("a\n  - b: 1\n", 2, 6, "see that the line above has its own colon"),
        ("a:\n  -b: 1\n   c: 2\n", 3, 5, "the dash above needs a space behind it"),
        ("  - b: 1\na:\n", 2, 1, "this stands outside every table"),
        ("a:\n  - 1\n - 2\n", 3, 2, "the indentation doesn't match"),
        ("a: 1\nbc\n", 2, 1, "a name without a colon"),
        ("a: 1\nb: x\x07y\n", 2, 5, "a control character"),
        ("[" * 10_000, 1, None, "nested far too deeply"),
        ("- " * 10_000, 1, None, "nested far too deeply"),
        ("{a: " * 10_000, 1, None, "nested far too deeply"),
    ],
)
def test_refusals_name_the_place(text: str, line: int, column: int | None, says: str) -> None:
    """What records have no use for is refused at its line and column, in plain words."""
    at_line, at_column, message = refusal(text)
    assert says in message
    assert line == at_line
    assert column is None or column == at_column


@pytest.mark.parametrize(
    "text",
    [
        "a: Smith & Co\n",
        "a: 2 * 3\n",
        "a: great!\n",
        "a: 'stop! &x *y !z'\n",
        'a: " &x *y !z"\n',
        "a: |\n  &x *y !z\n",
        "a: done # &x *y !z\n",
        "%YAML 1.1\n---\na: 1\n",
        "---\na: 1\n...\n",
    ],
)
def test_text_with_such_signs_is_text(text: str) -> None:
    """Ampersands, asterisks and exclamation marks inside text, quotes and comments are nobody's concern."""
    assert compose(text, "a.yaml") is not None


def test_a_line_of_ten_megabytes() -> None:
    """A line longer than any grower's is refused with its number and length."""
    line, column, message = refusal("a: 1\n" + "b" * 10_000_000 + "\nc: 1\n")
    assert (2, 1) == (line, column)
    assert "10,000,000 characters long" in message
    assert f"at most {LINE_CHARACTERS:,}" in message


def test_a_long_file_of_short_lines() -> None:
    """The bound is on lines, not on files."""
    text = "- a\n" * (LINE_CHARACTERS // 3)
    node = compose(text, "a.yaml")
    assert text.count("\n") == len(node.value)


@pytest.mark.parametrize(
    ("data", "line", "column", "says"),
    [
        (b"a: 1\nb: \xe9t\xe9\n", 2, 4, "isn't UTF-8 (byte 0xe9)"),
        (b"PK\x03\x04\x14", 1, 1, "save it as plain text"),
        (b"\xd0\xcf\x11\xe0\xa1", 1, 1, "save it as plain text"),
        (b"{\\rtf1 a: 1}", 1, 1, "save it as plain text"),
        ("é: ".encode() + b"\xff", 1, 4, "isn't UTF-8 (byte 0xff)"),
        ("a: 1\n".encode("utf-16"), 1, 1, "is saved as UTF-16"),
        ("a: 1\n".encode("utf-16-be"), None, None, ""),
    ],
)
def test_bytes_that_are_no_utf8(data: bytes, line: int | None, column: int | None, says: str) -> None:
    """The first byte that isn't UTF-8 is named with its place; UTF-16 by its mark."""
    if line is None:
        # Without a mark UTF-16 looks like UTF-8 with zeros, which YAML refuses.
        with pytest.raises(ParsingError, match="control character"):
            compose(decode(data, "a.yaml"), "a.yaml")
        return
    with pytest.raises(ParsingError) as caught:
        decode(data, "a.yaml")
    error = caught.value.error
    assert (line, column) == (error.line, error.column)
    assert says in error.message


def test_a_byte_order_mark_is_no_part_of_the_text() -> None:
    """Windows editors begin a file with a mark; columns are counted without it."""
    assert "a: 1" == decode(b"\xef\xbb\xbfa: 1", "a.yaml")


@pytest.mark.parametrize("text", ["", "\n", "# only a comment\n", "\ufeff"])
def test_a_file_that_holds_nothing(text: str) -> None:
    """A file without a document gives no node and no error."""
    assert compose(text, "a.yaml") is None


PIECES = st.lists(
    st.sampled_from(
        ["a", "b: ", "- ", "? ", ": ", "\n", "\n  ", "[", "]", "{", "}", ", ", ",", "&x", "&x ", "*x", "!",
         "!t ", "!!str ", "'", '"', " ", "#", " # ", "|\n  ", ">", "\t", "---\n", "...", "\ufeff", "\x85",
         "\u2028", "%"]
    ),
    max_size=25,
).map("".join)  # fmt: skip


@given(PIECES)
def test_no_reference_or_tag_ever_passes(text: str) -> None:
    """Whatever a text is put together from: if its events hold a reference or a tag, it is refused."""
    try:
        events = list(yaml.parse(text, Loader=yaml.CSafeLoader))
    except yaml.YAMLError:
        with pytest.raises(ParsingError):
            compose(text, "a.yaml")
        return
    refers = any(getattr(event, "anchor", None) or getattr(event, "tag", None) for event in events)
    many = 1 < sum(isinstance(event, yaml.events.DocumentStartEvent) for event in events)
    if refers or many:
        with pytest.raises(ParsingError):
            compose(text, "a.yaml")
    else:
        compose(text, "a.yaml")


@given(PIECES)
def test_nodes_are_those_of_the_library(text: str) -> None:
    """Composing gives PyYAML's own nodes: values, styles, and marks of beginning and end."""
    try:
        ours = compose(text, "a.yaml")
    except ParsingError:
        return
    theirs = yaml.compose(text, Loader=yaml.CSafeLoader)
    pairs = [(ours, theirs)]
    while pairs:
        one, other = pairs.pop()
        if one is None or other is None:
            assert one is other
            continue
        assert type(other) is type(one)
        for name in ("start_mark", "end_mark"):
            mine, its = getattr(one, name), getattr(other, name)
            assert (its.index, its.line, its.column) == (mine.index, mine.line, mine.column)
        if isinstance(one, yaml.ScalarNode):
            assert (other.value, other.style or None) == (one.value, one.style)
            continue
        assert len(other.value) == len(one.value)
        for mine, its in zip(one.value, other.value, strict=True):
            pairs.extend(zip(mine, its, strict=True) if isinstance(mine, tuple) else [(mine, its)])


def test_skipping_passes_over_everything_inside() -> None:
    """After a value is skipped, the next event is what follows it."""
    with open_document("a: [1, {b: [2]}, [[3]]]\nc: 4\n", "a.yaml") as (event, take):
        take()
        last = skip(take(), take)
        assert "c" == take().value
        assert (0, 23) == (last.end_mark.line, last.end_mark.column)
        assert "4" == take().value
        assert isinstance(take(), yaml.events.MappingEndEvent)
    assert isinstance(event, yaml.events.MappingStartEvent)


def test_every_line_end_that_yaml_knows_counts():
    """A next-line sign (U+0085) ends a line for the parser; the place of a slip below it is still found."""
    with pytest.raises(ParsingError) as caught:
        compose("a\x85b: ", "a.yaml")

    assert (2, 2) == (caught.value.error.line, caught.value.error.column)
