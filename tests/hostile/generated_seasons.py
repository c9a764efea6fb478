"""Seasons made from the schemas: whatever records these allow, in every shape YAML can give them.

Identifiers are drawn from a small pool and dates from three years, so that records refer to each other, to
nothing, and to themselves far more often than a grower's would.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import yaml
from hypothesis import strategies as st

from certgen.records.quantities import SUFFIXES
from certgen.records.record_files.validation import explain, find_failing
from certgen.records.tables import Field, Table, load_season_table, load_tables

Words = Mapping[str, Sequence[str]]
IDENTIFIERS = st.sampled_from(["1", "01", "NO", "A-1", "B/2", "1e3", ".", "-", "2026-01-01", "x" * 40])
#: Texts that a person may type and that no page may trip over.
TEXTS = st.one_of(
    st.sampled_from(
        [
            "010", "NO", "~", "null", "12:30", "1e3", " a ", "a: b", "- a", "#a", "a #b", "'", '"',
            "&a", "*a", "!a",
            "{{ a }}", "{% raw %}", "<script>a</script>", "<img src=x>", "&amp;", "]]>", "file:///etc/passwd",
            "=1+1", "@a", "\u202eabc\u202c", "\u200d", "é", "é", "\U0001f4a9", "名",
            "a\nb", "a\r\nb", "\ta", "a" * 3000,
        ]
    ),
    st.text(
        st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufeff\ufffe\uffff"), min_size=1
    ).filter(lambda text: text.strip(" \t\r\n") != ""),
)  # fmt: skip
_DAYS = [
    f"{year}-{month:02d}-{day:02d}" for year in (2025, 2026, 2027) for month in (1, 6, 12) for day in (1, 28)
]
DATES = st.one_of(st.sampled_from(_DAYS), st.sampled_from(["1000-01-01", "2999-12-31", "2024-02-29"]))
_UNITS = {
    "mass": ["mg", "g", "kg", "oz", "lb", "t"],
    "temperature": ["C", "°C", "F"],
    "length": ["mm", "in", "ft", "m", "km"],
    "duration": ["s", "min", "h", "d", "weeks"],
    "percent": ["%"],
    "area": ["m2", "ha", "acre", "sq ft"],
}
_AMOUNTS = st.sampled_from(["0", "0.001", "1", "5", "12.5", "100", "250", "1000000", "000", "0.0000001"])


def values_of(field: Field, words: Words) -> st.SearchStrategy[Any]:
    """Values that a field takes, as JSON has them."""
    listed = words.get(field.words, ()) or field.enum
    if listed:
        return st.sampled_from(list(listed))
    if field.kind == "date":
        return DATES
    if field.name == "key":
        # The digest of a signer's key, which no other text can stand for.
        return st.text("0123456789abcdef", min_size=64, max_size=64)
    if field.dated:
        return st.one_of(DATES, st.just("none known"))
    if field.kind in SUFFIXES:
        written = st.builds(
            lambda amount, unit: f"{amount} {unit}", _AMOUNTS, st.sampled_from(_UNITS[field.kind])
        )
        # More than a season can hold.
        return written.filter(lambda text: text != "1000000 t")
    if field.kind == "list":
        return st.lists(values_of(field.item or Field(field.name, "text"), words), min_size=1, max_size=4)
    if field.kind == "mapping":
        if field.fields:
            return mappings_of(field.fields, words)
        names = st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True)
        return st.dictionaries(names, values_of(field.item or Field(field.name, "text"), words), max_size=3)
    return {
        "identifier": IDENTIFIERS,
        "text": TEXTS,
        "word": TEXTS,
        "whole": st.sampled_from([0, 1, 2, 50, 100, 400, 1000]),
        "number": st.sampled_from([0.0, 0.5, 1.0, 96.25, -3.0, 10.0**9]),
        "yes_no": st.booleans(),
        "evidence": st.one_of(TEXTS, st.lists(TEXTS, min_size=1, max_size=2)),
    }[field.kind]


def mappings_of(fields: Mapping[str, Field], words: Words) -> st.SearchStrategy[dict[str, Any]]:
    """A mapping with the required fields and any of the others."""
    required = {name: values_of(field, words) for name, field in fields.items() if field.required}
    optional = {name: values_of(field, words) for name, field in fields.items() if not field.required}
    return st.fixed_dictionaries(required, optional=optional)


def records_of(table: Table, words: Words) -> st.SearchStrategy[dict[str, Any]]:
    """Records that the table's schema allows."""
    fields = {name: values_of(field, words) for name, field in table.fields.items()}
    typed = mappings_of(table.fields, words)

    @st.composite
    def sound(draw: st.DrawFn) -> dict[str, Any]:
        record = draw(typed)
        # What a schema asks for only under a condition is found out by asking it.
        for _ in range(4):
            if not find_failing(table.name, [record]):
                break
            for objection in explain(table.name, record):
                if objection.missing and not objection.path:
                    record[objection.missing] = draw(fields[objection.missing])
        return record

    return sound().filter(lambda record: not find_failing(table.name, [record]))


def seasons(
    words: Words, *, crops: Sequence[str] = ("papaya",), standards: Sequence[str] = ("us-nop",), most: int = 5
) -> st.SearchStrategy[dict[str, Any]]:
    """Whole seasons: the season's own mapping, and up to `most` records of each of some tables."""
    fields = dict(load_season_table().fields)
    # What these name is not the schema's to know: a folder, and the profile's own figures and events.
    for beyond in ("previous", "practice", "events_of_concern"):
        del fields[beyond]
    own = mappings_of(fields, words)
    tables = {
        name: st.lists(records_of(table, words), min_size=1, max_size=most)
        for name, table in load_tables().items()
    }
    # With some of all tables most seasons would be larger than hypothesis lets them be: drawn in vain.
    holds_records = st.sampled_from([False, True, True])

    @st.composite
    def whole(draw: st.DrawFn) -> dict[str, Any]:
        details = draw(own)
        details["crop"] = draw(st.sampled_from(list(crops)))
        details["standards"] = draw(st.lists(st.sampled_from(list(standards)), min_size=1, unique=True))
        details["from"], details["to"] = sorted((details["from"], details["to"]))
        found: dict[str, Any] = {"season": details}
        found |= {name: draw(records) for name, records in tables.items() if draw(holds_records)}
        return found

    return whole()


@st.composite
def written(draw: st.DrawFn, content: Any) -> str:
    """The content as YAML in one of many layouts, every text kept a text."""
    plain = json.dumps(content, ensure_ascii=False, indent=draw(st.sampled_from([None, 1, 4])))
    if draw(st.booleans()):
        return plain
    laid_out = yaml.dump(
        content,
        Dumper=_Dumper,
        default_flow_style=draw(st.sampled_from([False, None, True])),
        indent=draw(st.sampled_from([2, 3, 7])),
        width=draw(st.sampled_from([20, 80, 10**6])),
        allow_unicode=draw(st.booleans()),
        sort_keys=draw(st.booleans()),
        default_style=draw(st.sampled_from([None, None, "'", '"', "|", ">"])),
    )
    # The library folds some texts so that it can't read them back itself (spaces at a fold, where lines are
    # short and far in): then it is the writing that is wrong, and not the reading.
    sound = yaml.load(laid_out, yaml.BaseLoader) == yaml.load(plain, yaml.BaseLoader)
    return laid_out if sound else plain


class _Dumper(yaml.SafeDumper):
    """Without anchors and tags, and with quotes round texts that would mean an entry left out."""

    def ignore_aliases(self, data: Any) -> bool:  # noqa: ARG002 - the library names it
        return True

    def choose_scalar_style(self) -> str:
        style = super().choose_scalar_style()
        if not style and self.event.value in {"", "~"}:
            return "'"
        return style

    def process_tag(self) -> None:
        if self.style is None and hasattr(self.event, "value"):
            self.style = self.choose_scalar_style()
        self.prepared_tag = None
