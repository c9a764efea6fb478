"""A record file with the records of other lots taken out of it, and every line of the rest where it stood.

What is taken out leaves its lines behind, empty but for one that says what stood there. So a finding's line
is the same in the grower's own file, and whoever holds both sees at once what was left out. Of comments only
those inside a kept record and right above it stay: nobody knows what the others speak of.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from yaml.nodes import CollectionNode, MappingNode, Node, ScalarNode, SequenceNode

from certgen.disclosure.line_records import tables_named
from certgen.exchange.editing.splicing import content_end, line_end
from certgen.exchange.editing.yaml_text import render_scalar
from certgen.records.record_files.parsing import compose
from certgen.records.tables import load_tables
from certgen.rules.wording import noun

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

    from certgen.records.tables import Field

    #: What is left of a text that names records of some tables; None: nothing.
    CutText = Callable[[tuple[str, ...], str], str | None]

SEASON: Final = "season"
#: What a line may hold behind a list so that a comment can still be put at its end.
_CLOSING: Final = re.compile(r"[ \t,\]}]*")
#: The dash before a record of a list that isn't in brackets.
_DASH: Final = re.compile(r"^[ \t]*-(?=\s)", re.MULTILINE)
#: What YAML counts as the end of a line.
_BREAKS: Final = frozenset("\r\n\x85\u2028\u2029")
#: Stands for an entry that stays as it is.
_STAYS: Final = object()


@dataclass(frozen=True, slots=True)
class CutFile:
    """A cut file's text (empty where nothing of it belongs), and the texts in its records: of those that
    stay, and of those that went or lost something."""

    text: str
    stays: frozenset[str]
    shared: frozenset[str]


def cut_file(
    text: str, file: str, kept: Mapping[str, Collection[int]], cut_text: CutText, whose: str
) -> CutFile:
    """A record file with only some records: by table their places in the file's list.

    The `season` mapping stays. `whose` is whose line is kept, as a comment says it: `lot L`.
    """
    root = compose(text, file)
    if not isinstance(root, MappingNode):
        return CutFile("", frozenset(), frozenset())
    cutter = _Cutter(text, cut_text, whose, in_braces=bool(root.flow_style))
    holds = [cutter.cut_pair(key, value, kept) for key, value in root.value]
    if not any(holds):
        return CutFile("", frozenset(), frozenset(cutter.shared))
    if root.flow_style:
        cutter.keep_braces(root, holds)
    return CutFile(cutter.write(), frozenset(cutter.stays), frozenset(cutter.shared))


@dataclass
class _Cutter:
    text: str
    cut_text: CutText
    whose: str
    in_braces: bool
    stays: set[str] = field(default_factory=set)
    shared: set[str] = field(default_factory=set)
    #: Stretches of the text that stay, and those inside them that go.
    _kept: list[tuple[int, int]] = field(default_factory=list)
    _gone: list[tuple[int, int]] = field(default_factory=list)
    #: What is put in, by place.
    _put_in: dict[int, str] = field(default_factory=dict)

    # A file's tables

    def cut_pair(self, key: Node, value: Node, kept: Mapping[str, Collection[int]]) -> bool:
        """Decides over one table of the file; whether anything of it stays."""
        start, end = key.start_mark.index, content_end(value)
        if key.value == SEASON:
            self.stays.update(_texts(value))
            self._kept.append((start, line_end(self.text, end)))
            return True
        if not isinstance(value, SequenceNode) or not value.value:
            return False
        wanted = kept.get(key.value, ())
        fields = load_tables()[key.value].fields
        for at, record in enumerate(value.value):
            if at in wanted:
                self._cut_record(record, fields, key.value)
            else:
                self.shared.update(_texts(record))
        gone = [at not in wanted for at in range(len(value.value))]
        if all(gone):
            self._say_gone(start, key.value, len(gone))
            return False
        if value.flow_style:
            self.take_entries(value, gone)
            self._kept.append((start, line_end(self.text, value.end_mark.index)))
            if any(gone) and self.in_braces:
                self._say_gone(start, key.value, sum(gone))
            elif any(gone):
                self._put_comment(value.end_mark.index, self._word_gone(key.value, sum(gone)))
        else:
            self._keep_records(self._keep_key(key), value, gone, key.value)
        return True

    def _keep_key(self, key: Node) -> int:
        """Keeps a table's name; where its line ends."""
        colon = self.text.index(":", key.end_mark.index)
        self._kept.append((key.start_mark.index, colon + 1))
        return line_end(self.text, colon + 1)

    def _keep_records(self, above: int, value: SequenceNode, gone: Sequence[bool], table: str) -> None:
        """Keeps whole lines of a list with a dash before each record; it begins below `above`."""
        missing, first = 0, 0
        for record, is_gone in zip(value.value, gone, strict=True):
            dash = self._find_dash(above, record.start_mark.index)
            end = line_end(self.text, content_end(record))
            if is_gone:
                first = first if missing else dash
                missing += 1
            else:
                if missing:
                    self._say_gone(first, table, missing)
                missing = 0
                self._kept.append((self._find_comment(dash, above), end))
            above = end
        if missing:
            self._say_gone(first, table, missing)

    def _find_comment(self, dash: int, above: int) -> int:
        """Where the comment right above a record begins, no further up than the record before it ends."""
        start = self.text.rfind("\n", 0, dash) + 1
        while start > above:
            before = self.text.rfind("\n", 0, start - 1) + 1
            line = self.text[before:start].strip()
            if before < above or not line.startswith("#"):
                break
            start = before
        return start

    def _word_gone(self, table: str, count: int) -> str:
        verb = "that is" if count == 1 else "that are"
        return f"# left out: {count} {noun(table, count)} {verb} not of {self.whose}’s line"

    def _say_gone(self, at: int, table: str, count: int) -> None:
        """Says where records stood what they were; of a file in braces behind it."""
        if self.in_braces:
            said = self._put_in.get(len(self.text), "")
            self._put_in[len(self.text)] = f"{said}\n{self._word_gone(table, count)}"
        else:
            column = at - self.text.rfind("\n", 0, at) - 1
            self._put_in[at] = " " * column + self._word_gone(table, count)

    # A record

    def _cut_record(self, record: Node, fields: Mapping[str, Field], table: str) -> None:
        before = len(self._gone)
        self._cut_mapping(record, fields, table)
        texts = set(_texts(record))
        self.stays.update(texts)
        if len(self._gone) > before:
            self.shared.update(texts)

    def _cut_mapping(self, node: Node, fields: Mapping[str, Field], at: str) -> None:
        if not isinstance(node, MappingNode):
            return
        emptied = []
        for key, value in node.value:
            known = fields.get(key.value)
            if known is None:
                continue
            here = f"{at}.{key.value}"
            if isinstance(value, SequenceNode):
                emptied += [key] if self._cut_list(value, known.item or known, here) else []
            elif isinstance(value, MappingNode):
                self._cut_mapping(value, known.fields, here)
        for key in emptied:
            self._take_field(node, key)

    def _cut_list(self, node: SequenceNode, item: Field, at: str) -> bool:
        """Takes out of a list what names others alone; whether nothing is left of it."""
        left = [self._cut_entry(entry, item, at) for entry in node.value]
        gone = [one is None for one in left]
        if all(gone):
            return bool(left)
        before = len(self._gone)
        for entry, one in zip(node.value, left, strict=True):
            if isinstance(one, str):
                start, end = _span(entry)
                self._gone.append((start, end))
                self._put_in[start] = render_scalar(one, inside_flow=True)
        if any(gone):
            self.take_entries(node, gone)
        if len(self._gone) > before:
            self._say_cut(node, gone)
        for entry, one in zip(node.value, left, strict=True):
            if one is _STAYS:
                self._cut_mapping(entry, item.fields, at)
        return False

    def _say_cut(self, node: SequenceNode, gone: Sequence[bool]) -> None:
        """Says in place that a list names others no more."""
        said = f"# cut to what is of {self.whose}’s line"
        if node.flow_style or not any(gone):
            self._put_comment(content_end(node), said)
        else:
            first = gone.index(True)
            above = _span(node.value[first - 1])[1] if first else self._begin_line(node)
            self._put_in[self._find_dash(above, _span(node.value[first])[0])] = said

    def _cut_entry(self, entry: Node, item: Field, at: str) -> object:
        """A list's entry: `_STAYS`, the text that it becomes, or None where it speaks of others alone."""
        if isinstance(entry, ScalarNode):
            tables = tables_named(item, at)
            left = self.cut_text(tables, entry.value) if tables else entry.value
            return _STAYS if left == entry.value else left
        if not isinstance(entry, MappingNode):
            return _STAYS
        for key, value in entry.value:
            known = item.fields.get(key.value)
            if known is not None and self._speaks_of_others(value, known, f"{at}.{key.value}"):
                return None
        return _STAYS

    def _speaks_of_others(self, value: Node, known: Field, at: str) -> bool:
        """Whether a field of a list's entry names records and none of the line."""
        inner = known.item or known
        texts = value.value if isinstance(value, SequenceNode) else [value]
        tables = tables_named(inner, at)
        named = [one.value for one in texts if isinstance(one, ScalarNode)]
        return bool(tables and named) and all(self.cut_text(tables, text) is None for text in named)

    # Taking out

    def take_entries(self, node: CollectionNode, gone: Sequence[bool]) -> None:
        """Takes some entries out of a list, or pairs out of a mapping, in brackets or below one another."""
        spans = [_span(entry) for entry in node.value]
        if not node.flow_style:
            above = self._begin_line(node)
            for (start, end), is_gone in zip(spans, gone, strict=True):
                if is_gone:
                    self._gone.append((self._find_dash(above, start), line_end(self.text, end)))
                above = end
            return
        at = 0
        while at < len(spans):
            first = at
            while at < len(spans) and gone[at]:
                at += 1
            if at == first:
                at += 1
            elif at < len(spans):
                self._gone.append((spans[first][0], spans[at][0]))
            else:
                start = spans[first - 1][1] if first else spans[first][0]
                self._gone.append((start, node.end_mark.index - 1))

    def _begin_line(self, node: Node) -> int:
        """Where the line begins on which a node does."""
        return self.text.rfind("\n", 0, node.start_mark.index) + 1

    def _find_dash(self, above: int, start: int) -> int:
        """Where the dash before an entry stands, below the end of what comes above it."""
        found = _DASH.search(self.text, above, start)
        return found.end() - 1 if found else self.text.rindex("-", 0, start + 1)

    def _take_field(self, node: MappingNode, key: Node) -> None:
        """Takes a field out of a record; one that shares its line with the dash is emptied."""
        place = [one for one, _ in node.value].index(key)
        if node.flow_style:
            self.take_entries(node, [at == place for at in range(len(node.value))])
            return
        start, end = _span(node.value[place])
        if place:
            self._gone.append((start, line_end(self.text, end)))
            said = f"# left out: {key.value}, of which none is of {self.whose}’s line"
            self._put_in[start] = said
        else:
            colon = self.text.index(":", key.end_mark.index) + 1
            self._gone.append((colon, end))
            self._put_in[colon] = " []"

    def _put_comment(self, at: int, comment: str) -> None:
        """Puts a comment behind a list, where its line holds nothing else; in a file in braces none."""
        if self.in_braces:
            return
        found = _CLOSING.match(self.text, at)
        end = found.end() if found else at
        if end == len(self.text) or self.text[end] in _BREAKS:
            self._put_in.setdefault(end, f"  {comment}")

    def keep_braces(self, root: CollectionNode, holds: Sequence[bool]) -> None:
        """Keeps a file in one pair of braces, without the tables of which nothing stays."""
        self.take_entries(root, [not one for one in holds])
        self._kept = [(root.start_mark.index, root.end_mark.index)]

    def write(self) -> str:
        """The file's text with all that is to be taken out gone, and nothing of it left but its lines."""
        at = 0
        for start, end in sorted(self._kept):
            self._gone.append((at, start))
            at = max(at, end)
        self._gone.append((at, len(self.text)))
        letters = [*self.text, ""]
        for start, end in self._gone:
            for place in range(start, end):
                if letters[place] not in _BREAKS:
                    letters[place] = ""
        for place, new in self._put_in.items():
            letters[place] = new + letters[place]
        return "".join(letters)


def _span(entry: Any) -> tuple[int, int]:
    """Where an entry of a list, or a pair of a mapping, begins and ends."""
    first, last = entry if isinstance(entry, tuple) else (entry, entry)
    return first.start_mark.index, content_end(last)


def _texts(node: Node) -> Iterator[str]:
    """Every text inside a node."""
    if isinstance(node, ScalarNode):
        yield node.value
    else:
        for part in node.value:
            for inner in part if isinstance(part, tuple) else (part,):
                yield from _texts(inner)
