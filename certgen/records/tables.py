"""The tables a season is made of, as the JSON Schemas in `schemas/` declare them.

The schemas are the only place where a table's fields stand. Everything here (the order of columns,
which field is a mass, which names a tree) is read off them once.

`x-evidence` says of each field what it can do to the claim that seed is traced:

- `supports`: it can only help. Leaving it out never makes any lot better, whatever stood there.
- `against`: it can only hurt. Writing it where nothing stood never makes any lot better.
- `either`: what it says decides. Leaving it out may make better only a lot that it spoke against, or that
  another entry speaks for in its place (a round, a letter, the routine, another year's record).
- `describes`: it changes no lot's standing, whatever it says.

`x-discloses` says of each field what somebody who isn't the certifier may see of it, once its record is one
that they may see (`certgen/disclosure/`):

- `fact`: the value as it stands: a number, a day, a word out of a list, what a label says.
- `code`: a number instead of the record's own; `code:trees` where the text names a record of that table.
- `person`, `party`, `laboratory`, `paper`, `equipment`: a code instead of the name.
- `material`: the name of a prohibited kind, where it names one; of others only that something is named.
- `words`: only that something is written there.
- `file`: only that the file is there, and a digest of it.
- `nothing`, and a field that says nothing of it: it is left out.

The schemas keep to keywords on which both validators agree: no `multipleOf` on fractions, no
`format: date-time`, `[0-9]` and not `\\d`, `if`/`then` and not `oneOf`.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.records.quantities import SUFFIXES
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

EVIDENCE: Final = ("supports", "against", "either", "describes")
DISCLOSES: Final = (
    "fact", "code", "person", "party", "laboratory", "paper", "equipment", "material", "words",
    "file", "nothing",
)  # fmt: skip
#: The order of the job, which is the order of tables wherever they are listed.
TABLE_NAMES: Final = (
    "blocks",
    "plantings",
    "trees",
    "observations",
    "rounds",
    "submissions",
    "letters",
    "screening",
    "bagging",
    "harvests",
    "batches",
    "cleaning",
    "lots",
    "tests",
    "movements",
    "materials",
    "compost",
    "inputs",
    "scouting",
    "water_tests",
    "visits",
    "incidents",
    "recalls",
    "explanations",
)
TEXT_KINDS: Final = frozenset({"identifier", "text", "word"})


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a record, with what stands inside it.

    `fields` holds a mapping's own fields; `item` is what a list is a list of, or what stands under the
    names of a mapping that has no fields of its own (`review_triggers`). `evidence` is one of EVIDENCE, and
    empty in a form that is no season's table.
    """

    name: str
    kind: str
    required: bool = False
    title: str = ""
    description: str = ""
    refers_to: tuple[str, ...] = ()
    words: str = ""
    enum: tuple[str, ...] = ()
    examples: tuple[Any, ...] = ()
    fields: Mapping[str, Field] = field(default_factory=lambda: MappingProxyType({}))
    item: Field | None = None
    #: Whether the value may be a date; which days there are, a pattern can't say.
    dated: bool = False
    evidence: str = ""
    #: What may become of the value before somebody else sees it, one of DISCLOSES or `code:TABLE`; a field
    #: that says nothing of it is withheld.
    discloses: str = ""

    @property
    def is_quantity(self) -> bool:
        """Whether the field takes a number and a unit."""
        return self.kind in SUFFIXES


@dataclass(frozen=True, slots=True)
class Column:
    """A field as a column of the table: nested mappings are flattened, `tag.date`."""

    name: str
    path: tuple[str, ...]
    field: Field

    @property
    def kind(self) -> str:
        """The field's kind, as `x-kind` names it."""
        return self.field.kind

    @property
    def required(self) -> bool:
        """Whether the mapping that the field stands in needs it."""
        return self.field.required

    @property
    def refers_to(self) -> tuple[str, ...]:
        """The tables whose key the value, or each of its elements, names."""
        return self.field.refers_to or (self.field.item.refers_to if self.field.item else ())

    @property
    def computed(self) -> str:
        """The column that holds the converted quantity (`weight_mg`), or an empty string."""
        suffix = SUFFIXES.get(self.field.kind)
        return f"{self.name}_{suffix}" if suffix else ""


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its key, its fields as nested, its columns as flattened, and its schema."""

    name: str
    title: str
    description: str
    key: str
    fields: Mapping[str, Field]
    columns: tuple[Column, ...]
    schema: Mapping[str, Any]

    def column(self, name: str) -> Column:
        """The column of that dotted name. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


def _inline(schema: Any, file: str) -> Any:
    """The schema with every `$ref` replaced by what it points at."""
    if isinstance(schema, list):
        return [_inline(part, file) for part in schema]
    if not isinstance(schema, dict):
        return schema
    written = {
        key: _inline(value, file)
        for key, value in schema.items()
        if key not in {"$ref", "$defs", "$id", "$schema"}
    }
    return {**_follow(schema["$ref"], file), **written} if "$ref" in schema else written


def _follow(reference: str, file: str) -> Any:
    """What a `$ref` points at, its own references followed too."""
    target, _, pointer = reference.partition("#")
    found: Any = _load(target or file)
    for step in filter(None, pointer.split("/")):
        found = found[step]
    return _inline(found, target or file)


@cache
def _load(file: str) -> Any:
    return json.loads((schemas_dir() / file).read_text(encoding="utf-8"))


def _read_field(
    name: str, schema: Mapping[str, Any], *, required: bool, evidence: str = "", discloses: str = ""
) -> Field:
    evidence = schema.get("x-evidence", evidence)
    discloses = schema.get("x-discloses", discloses)
    kind = schema.get("x-kind")
    if kind is None:
        kind = {"object": "mapping", "array": "list", "integer": "whole", "boolean": "yes_no"}.get(
            str(schema.get("type")), "number" if schema.get("type") == "number" else "text"
        )
    inner = schema.get("properties", {})
    # A list's elements, or the values of a mapping whose names are the grower's own.
    within = schema.get("items", None if inner else schema.get("additionalProperties"))
    needed = set(schema.get("required", ()))
    return Field(
        name=name,
        kind=kind,
        required=required,
        title=schema.get("title", ""),
        description=schema.get("description", ""),
        refers_to=tuple(schema.get("x-refers-to", ())),
        words=schema.get("x-words", ""),
        enum=tuple(str(word) for word in schema.get("enum", ())),
        examples=tuple(schema.get("examples", ())),
        fields=MappingProxyType(
            {key: _read_field(key, value, required=key in needed) for key, value in inner.items()}
        ),
        # What a list's elements can do the list can.
        item=_read_field(name, within, required=True, evidence=evidence, discloses=discloses)
        if isinstance(within, dict)
        else None,
        # A text field may take a date beside words, as a block's last prohibited substance does.
        dated=kind == "date" or _takes(schema, "2026-02-28"),
        evidence=evidence,
        discloses=discloses,
    )


def _takes(schema: Mapping[str, Any], text: str) -> bool:
    """Whether a text field's form is written for such a text, rather than open to any."""
    pattern = schema.get("pattern", "")
    return pattern.startswith("^") and re.search(pattern, text) is not None and not re.search(pattern, "2026")


def _flatten(fields: Mapping[str, Field], above: tuple[str, ...] = ()) -> Iterator[Column]:
    for name, part in fields.items():
        path = (*above, name)
        if part.kind == "mapping" and part.fields:
            yield from _flatten(part.fields, path)
        else:
            yield Column(".".join(path), path, part)


def _load_table(name: str) -> Table:
    schema = _inline(_load(f"{name}.json"), f"{name}.json")
    needed = set(schema.get("required", ()))
    fields = MappingProxyType(
        {key: _read_field(key, value, required=key in needed) for key, value in schema["properties"].items()}
    )
    return Table(
        name=name,
        title=schema.get("title", name),
        description=schema.get("description", ""),
        key=schema.get("x-key", ""),
        fields=fields,
        columns=tuple(_flatten(fields)),
        schema=MappingProxyType(schema),
    )


@cache
def load_tables() -> Mapping[str, Table]:
    """Every table by name, in the order of the job. Read from `schemas/` once a process."""
    return MappingProxyType({name: _load_table(name) for name in TABLE_NAMES})


@cache
def load_season_table() -> Table:
    """The `season` mapping: not a list of records, but its fields are declared the same way."""
    return _load_table("season")


@cache
def load_form(name: str) -> Table:
    """A form that is no season's table but is declared the same way: a co-op's list of members."""
    return _load_table(name)


def __getattr__(name: str) -> Mapping[str, Table]:
    # Reading 16 schema files costs milliseconds that `certgen --help` need not pay.
    if name == "TABLES":
        return load_tables()
    raise AttributeError(name)
