"""Nodes to typed records, guided by the table's fields: a value's type is never guessed.

Tree `010` stays text because the schema says that a tree's number is text; `12` becomes a number
only where the schema asks for one. Faults are collected with the node they stand at, and the
record they stand in is left out.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from certgen.records.quantities import QuantityError, parse_quantity
from certgen.records.tables import TEXT_KINDS, Field

_WHOLE = re.compile(r"[+-]?[0-9]{1,15}")
_NUMBER = re.compile(r"[+-]?[0-9]{1,15}(\.[0-9]{1,15})?")
_YES = frozenset({"yes", "true", "Yes", "True", "YES", "TRUE"})
_NO = frozenset({"no", "false", "No", "False", "NO", "FALSE"})


@dataclass(slots=True)
class Fault:
    """Something wrong at a node."""

    node: Node
    message: str


_ABSENT = object()
type_of = type
Convert = Callable[[Node, list[Fault]], Any]


def _is_absent(node: ScalarNode) -> bool:
    """An empty value is an entry not made yet; so is `~`. Quoted, both are text."""
    return node.style is None and node.value in ("", "~")


def _describe(node: Node) -> str:
    return "a list" if isinstance(node, SequenceNode) else "several fields"


def _scalar(field: Field, node: Node, faults: list[Fault]) -> Any:
    if type_of(node) is not ScalarNode:
        faults.append(Fault(node, f"`{field.name}` takes one value, and here stands {_describe(node)}"))
        return _ABSENT
    if _is_absent(node):
        return _ABSENT
    return node.value


def _convert_text(field: Field) -> Convert:
    def convert(node: Node, faults: list[Fault]) -> Any:
        return _scalar(field, node, faults)

    return convert


def _convert_word(field: Field, allowed: frozenset[str], listed: Sequence[str]) -> Convert:
    def convert(node: Node, faults: list[Fault]) -> Any:
        value = _scalar(field, node, faults)
        if value is not _ABSENT and value not in allowed:
            faults.append(Fault(node, f"`{field.name}` says '{_short(value)}'; {_suggest(value, listed)}"))
        return value

    return convert


def _convert_quantity(field: Field) -> Convert:
    def convert(node: Node, faults: list[Fault]) -> Any:
        value = _scalar(field, node, faults)
        if value is not _ABSENT:
            try:
                parse_quantity(value, field.kind)
            except QuantityError as fault:
                faults.append(Fault(node, f"`{field.name}`: {fault}"))
        return value

    return convert


def _convert_whole(field: Field) -> Convert:
    def convert(node: Node, faults: list[Fault]) -> Any:
        value = _scalar(field, node, faults)
        if value is _ABSENT:
            return value
        if _WHOLE.fullmatch(value) is None:
            faults.append(
                Fault(node, f"`{field.name}` takes a whole number, and here stands '{_short(value)}'")
            )
            return _ABSENT
        return int(value)

    return convert


def _convert_number(field: Field) -> Convert:
    def convert(node: Node, faults: list[Fault]) -> Any:
        value = _scalar(field, node, faults)
        if value is _ABSENT:
            return value
        if _NUMBER.fullmatch(value) is None:
            faults.append(
                Fault(node, f"`{field.name}` takes a number like 96.5, and here stands '{_short(value)}'")
            )
            return _ABSENT
        return float(value)

    return convert


def _convert_yes_no(field: Field) -> Convert:
    def convert(node: Node, faults: list[Fault]) -> Any:
        value = _scalar(field, node, faults)
        if value is _ABSENT:
            return value
        if value in _YES:
            return True
        if value in _NO:
            return False
        faults.append(Fault(node, f"`{field.name}` takes yes or no, and here stands '{_short(value)}'"))
        return _ABSENT

    return convert


def _convert_evidence(field: Field) -> Convert:
    """One path or a list of paths; always a list from here on."""

    def convert(node: Node, faults: list[Fault]) -> Any:
        if type_of(node) is ScalarNode:
            value = _scalar(field, node, faults)
            return _ABSENT if value is _ABSENT else [value]
        if type_of(node) is not SequenceNode:
            faults.append(Fault(node, f"`{field.name}` takes a file's path or a list of paths"))
            return _ABSENT
        values = [_scalar(field, element, faults) for element in node.value]
        return [value for value in values if value is not _ABSENT]

    return convert


def _convert_list(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    element_of = _converter(field.item or Field(field.name, "text"), words)

    def convert(node: Node, faults: list[Fault]) -> Any:
        if type_of(node) is ScalarNode:
            if _is_absent(node):
                return _ABSENT
            faults.append(
                Fault(
                    node,
                    f"`{field.name}` takes a list; write [{_short(node.value)}], or a dash and a line for each",
                )
            )
            return _ABSENT
        if type_of(node) is not SequenceNode:
            faults.append(Fault(node, f"`{field.name}` takes a list: begin each entry with a dash"))
            return _ABSENT
        values = []
        for element in node.value:
            value = element_of(element, faults)
            if value is _ABSENT:
                if type_of(element) is ScalarNode and _is_absent(element):
                    faults.append(Fault(element, f"an entry of `{field.name}` is empty"))
                continue
            values.append(value)
        return values

    return convert


def _convert_mapping(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    if not field.fields:
        return _convert_free_mapping(field, words)
    convert_record = record_converter(field.fields, words)

    def convert(node: Node, faults: list[Fault]) -> Any:
        if type_of(node) is ScalarNode and _is_absent(node):
            return _ABSENT
        if type_of(node) is not MappingNode:
            names = ", ".join(field.fields)
            faults.append(Fault(node, f"`{field.name}` takes fields of its own ({names}), each on a line"))
            return _ABSENT
        return convert_record(node, faults)

    return convert


def _convert_free_mapping(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    """A mapping whose names are the grower's own, like `review_triggers`: every value of one kind."""
    value_of = _converter(field.item or Field(field.name, "text"), words)

    def convert(node: Node, faults: list[Fault]) -> Any:
        if type_of(node) is ScalarNode and _is_absent(node):
            return _ABSENT
        if type_of(node) is not MappingNode:
            faults.append(Fault(node, f"`{field.name}` takes names and values, `name: value`, one a line"))
            return _ABSENT
        found: dict[str, Any] = {}
        for key, value in node.value:
            if type_of(key) is not ScalarNode or key.value in found:
                faults.append(Fault(key, f"a name in `{field.name}` stands twice or isn't plain text"))
                continue
            converted = value_of(value, faults)
            if converted is not _ABSENT:
                found[key.value] = converted
        return found

    return convert


def _converter(field: Field, words: Mapping[str, Sequence[str]]) -> Convert:
    if field.kind in TEXT_KINDS or field.kind == "date":
        listed = words.get(field.words, ()) if field.words else field.enum
        return _convert_word(field, frozenset(listed), listed) if listed else _convert_text(field)
    if field.is_quantity:
        return _convert_quantity(field)
    if field.kind == "list":
        return _convert_list(field, words)
    if field.kind == "mapping":
        return _convert_mapping(field, words)
    simple = {
        "whole": _convert_whole,
        "number": _convert_number,
        "yes_no": _convert_yes_no,
        "evidence": _convert_evidence,
    }
    return simple[field.kind](field)


def record_converter(fields: Mapping[str, Field], words: Mapping[str, Sequence[str]]) -> Convert:
    """A function that turns one mapping node into a dict of typed values, appending what is wrong.

    Plain text fields without a list of allowed words, which are most, are taken without a call.
    """
    plan: dict[str, tuple[bool, Convert]] = {}
    for name, field in fields.items():
        listed = words.get(field.words, ()) if field.words else field.enum
        plain = (field.kind in TEXT_KINDS or field.kind == "date") and not listed
        plan[name] = (plain, _converter(field, words))
    scalar = ScalarNode
    absent = _ABSENT

    def convert(node: Node, faults: list[Fault]) -> dict[str, Any]:
        record: dict[str, Any] = {}
        seen = 0
        for key, value in node.value:
            if type_of(key) is not scalar:
                faults.append(Fault(key, "a field's name must be plain text"))
                continue
            name = key.value
            entry = plan.get(name)
            if entry is None:
                faults.append(Fault(key, _unknown_field(name, plan)))
                continue
            seen += 1
            if entry[0] and type_of(value) is scalar:
                content = value.value
                if value.style is None and (content == "" or content == "~"):
                    record.setdefault(name, absent)
                    continue
            else:
                content = entry[1](value, faults)
            if name in record:
                first = next(k for k, _ in node.value if type_of(k) is scalar and k.value == name)
                faults.append(
                    Fault(
                        key,
                        f"`{name}` stands twice in this record (first on line {first.start_mark.line + 1}); keep one",
                    )
                )
                continue
            record[name] = content
        if absent in record.values():
            return {name: content for name, content in record.items() if content is not absent}
        return record

    return convert


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "…"


def _suggest(value: str, listed: Sequence[str]) -> str:
    close = (
        difflib.get_close_matches(value.lower(), [word.lower() for word in listed], 1, 0.7)
        if len(value) < 60
        else []
    )
    options = ", ".join(listed)
    if close:
        meant = next(word for word in listed if word.lower() == close[0])
        return f"did you mean '{meant}'? Allowed: {options}"
    return f"write one of: {options}"


def _unknown_field(name: str, plan: Mapping[str, Any]) -> str:
    if name == "<<":
        return "'<<' would copy another record in; write the fields out"
    close = difflib.get_close_matches(name, list(plan), 1, 0.6) if len(name) < 60 else []
    hint = f"did you mean `{close[0]}`?" if close else f"the fields here are: {', '.join(plan)}"
    return f"there is no field `{_short(name)}`; {hint}"
