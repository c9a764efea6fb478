"""The schemas of the records: their form, their annotations, and that two engines agree on them."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import jsonschema_rs
import pytest
import referencing
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

if TYPE_CHECKING:
    from collections.abc import Iterator

COVERS = ("schemas",)
SCHEMAS_DIR = Path(__file__).resolve().parents[2] / "schemas"
SCHEMAS: dict[str, dict[str, Any]] = {
    path.stem: json.loads(path.read_text(encoding="utf-8")) for path in sorted(SCHEMAS_DIR.glob("*.json"))
}
TABLES = sorted(set(SCHEMAS) - {"common", "records", "coop", "control"})
EXPECTED_TABLES = sorted(
    [
        "season",
        "blocks",
        "plantings",
        "trees",
        "observations",
        "rounds",
        "letters",
        "submissions",
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
    ]
)
KINDS = {
    "identifier",
    "text",
    "word",
    "date",
    "whole",
    "number",
    "yes_no",
    "mass",
    "temperature",
    "length",
    "duration",
    "percent",
    "area",
    "evidence",
    "mapping",
    "list",
}
CROP_WORDS = {
    "sexes",
    "flower_stages",
    "flowers",
    "ripeness_stages",
    "assay_methods",
    "blades",
    "drying_methods",
    "materials",
    "storage",
}
JSON_TYPES = {
    "whole": "integer",
    "number": "number",
    "yes_no": "boolean",
    "list": "array",
    "mapping": "object",
    "evidence": ["string", "array"],
}

REGISTRY: referencing.Registry[Any] = referencing.Registry().with_contents(
    [(f"{name}.json", schema) for name, schema in SCHEMAS.items()]
)
RUST_REGISTRY = jsonschema_rs.Registry([(f"{name}.json", schema) for name, schema in SCHEMAS.items()])
EXPLAINERS = {
    name: jsonschema.Draft202012Validator(
        SCHEMAS[name], registry=REGISTRY, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    for name in [*TABLES, "records"]
}
DECIDERS = {
    name: jsonschema_rs.Draft202012Validator(SCHEMAS[name], registry=RUST_REGISTRY, validate_formats=True)
    for name in [*TABLES, "records"]
}

RECORDS: dict[str, dict[str, Any]] = {
    name: {
        field: part["examples"][0]
        for field, part in SCHEMAS[name]["properties"].items()
        if "examples" in part
    }
    for name in TABLES
}
TEST_KINDS = SCHEMAS["tests"]["properties"]["kind"]["enum"]
NEEDED_BY_KIND = {
    "germination": {"replicates", "per_replicate"},
    "moisture": {"weighings"},
    "purity": {"pure", "other", "inert"},
    "seed weight": {"hundred_seed_weights"},
    "transgene": {"pools", "seeds_per_pool", "positive_pools", "targets"},
}


def resolved(part: dict[str, Any]) -> dict[str, Any]:
    """A property with what its reference says merged below its own words."""
    reference = part.get("$ref", "")
    if reference.startswith("common.json#/$defs/"):
        return {**SCHEMAS["common"]["$defs"][reference.rsplit("/", 1)[1]], **part}
    return part


def properties(
    part: dict[str, Any], path: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], dict[str, Any]]]:
    """Every property, list element and free-keyed value below a schema, with its path."""
    for name, child in part.get("properties", {}).items():
        yield (*path, name), child
        yield from properties(child, (*path, name))
    for word in ("items", "additionalProperties"):
        child = part.get(word)
        if isinstance(child, dict) and not child.get("$ref", "").endswith(".json"):
            yield (*path, f"<{word}>"), child
            yield from properties(child, (*path, f"<{word}>"))


PROPERTIES = [
    pytest.param(part, id=".".join(path))
    for name in [*TABLES, "records"]
    for path, part in properties(SCHEMAS[name], (name,))
]


def verdict(name: str, value: Any) -> bool:
    """What both engines say of a value; they must say the same."""
    explained = EXPLAINERS[name].is_valid(value)
    decided = DECIDERS[name].is_valid(value)
    assert explained == decided, f"the engines differ on {name}: {value!r}"
    return decided


def test_one_schema_a_table() -> None:
    """Each table of the records has its schema; besides them a co-op's list and its control."""
    assert EXPECTED_TABLES == TABLES
    assert {"common", "records", "coop", "control", *TABLES} == set(SCHEMAS)


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_schema_is_a_schema(name: str) -> None:
    """Each file is valid JSON Schema 2020-12, and has no address under which others would be looked for."""
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[name])
    assert SCHEMAS[name]["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "$id" not in SCHEMAS[name]
    assert SCHEMAS[name]["title"]
    assert SCHEMAS[name]["description"]


@pytest.mark.parametrize("name", TABLES)
def test_table_refuses_fields_it_does_not_know(name: str) -> None:
    """A misspelt field is an error, at the top and in every nested mapping with fixed fields."""
    assert SCHEMAS[name]["type"] == "object"
    for part in [SCHEMAS[name], *(part for _, part in properties(SCHEMAS[name], ()))]:
        if "properties" in part:
            assert part["additionalProperties"] is False


@pytest.mark.parametrize("name", TABLES)
def test_key_is_a_required_identifier(name: str) -> None:
    """The field that names a record is required and an identifier; two tables have none."""
    key = SCHEMAS[name].get("x-key")
    assert (key is None) == (name in {"season", "explanations"})
    if key is not None:
        assert SCHEMAS[name]["x-unique"] is True
        assert key == next(iter(SCHEMAS[name]["properties"]))
        assert key in SCHEMAS[name]["required"]
        assert resolved(SCHEMAS[name]["properties"][key])["x-kind"] == "identifier"


@pytest.mark.parametrize("name", TABLES)
def test_every_record_may_carry_a_note_initials_and_evidence(name: str) -> None:
    """The three fields that every record may have stand last in each table."""
    assert ["note", "recorded_by", "evidence"] == list(SCHEMAS[name]["properties"])[-3:]


@pytest.mark.parametrize("part", PROPERTIES)
def test_property_helps_an_editor(part: dict[str, Any]) -> None:
    """Each property has a title and a description of its own, whatever it refers to."""
    assert part.get("title")
    assert part.get("description", "").endswith(".")


@pytest.mark.parametrize("part", PROPERTIES)
def test_property_has_a_kind_that_fits_its_type(part: dict[str, Any]) -> None:
    """`x-kind` is one of the known kinds and the JSON type is the one that goes with it."""
    full = resolved(part)
    assert full["x-kind"] in KINDS
    if not full.get("$ref", "").endswith(".json"):
        assert full["type"] == JSON_TYPES.get(full["x-kind"], "string")
    if full["x-kind"] == "list":
        assert "items" in full


@pytest.mark.parametrize("part", PROPERTIES)
def test_references_name_a_table_with_a_key(part: dict[str, Any]) -> None:
    """`x-refers-to` names tables whose records bear an identifier."""
    for table in part.get("x-refers-to", []):
        assert table in TABLES
        assert "x-key" in SCHEMAS[table]
    if "x-refers-to" in part:
        assert resolved(part)["x-kind"] == "identifier"


@pytest.mark.parametrize("part", PROPERTIES)
def test_words_of_the_crop_are_not_fixed_here(part: dict[str, Any]) -> None:
    """A field whose words the crop profile brings has no list of its own, and names the profile's."""
    if "x-words" in part:
        assert part["x-words"] in CROP_WORDS
        assert "enum" not in part


@pytest.mark.parametrize("part", PROPERTIES)
def test_examples_are_valid(part: dict[str, Any]) -> None:
    """An example that an editor shows is itself allowed."""
    validator = jsonschema.Draft202012Validator(dict(part), registry=REGISTRY)
    for example in part.get("examples", []):
        assert [] == [error.message for error in validator.iter_errors(example)]


def test_names_are_snake_case() -> None:
    """Field names are lower-case words joined by underscores."""
    for name in TABLES:
        for path, _ in properties(SCHEMAS[name], ()):
            assert re.fullmatch(r"[a-z][a-z0-9_]*|<items>|<additionalProperties>", path[-1])


def test_only_keywords_on_which_the_engines_agree() -> None:
    r"""No `multipleOf`, no `format` but `date`, no `oneOf` or `anyOf`, and no `\d` or `\w` in a pattern."""
    seen: set[str] = set()

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            seen.update(value)
            pattern = value.get("pattern")
            if isinstance(pattern, str):
                assert not re.search(r"\\[dDwWsSbB]", pattern)
                assert not pattern.endswith("$"), "one engine lets a line feed follow the end"
            assert value.get("format", "date") == "date"
            for child in value.values():
                walk(child)
        elif isinstance(value, list):
            for child in value:
                walk(child)

    walk(SCHEMAS)
    assert not seen & {"multipleOf", "oneOf", "anyOf"}


@pytest.mark.parametrize("name", TABLES)
def test_full_record_is_valid(name: str) -> None:
    """A record with every field's first example is allowed."""
    assert verdict(name, RECORDS[name])


@pytest.mark.parametrize("name", TABLES)
def test_record_with_required_fields_only_is_valid(name: str) -> None:
    """What is not required may be left out."""
    needed = set(SCHEMAS[name]["required"])
    if name == "tests":
        needed |= NEEDED_BY_KIND[RECORDS[name]["kind"]]
    assert verdict(name, {field: value for field, value in RECORDS[name].items() if field in needed})


@pytest.mark.parametrize("name", TABLES)
def test_record_without_a_required_field_is_refused(name: str) -> None:
    """Each required field is missed when it is gone."""
    for field in SCHEMAS[name]["required"]:
        assert not verdict(name, {key: value for key, value in RECORDS[name].items() if key != field})


@pytest.mark.parametrize("kind", TEST_KINDS)
def test_kind_of_test_asks_for_its_fields(kind: str) -> None:
    """A test needs the fields of its own kind and no other kind's."""
    base = {"test": "G1", "lot": "L1", "date": "2026-08-20", "kind": kind}
    own = {field: RECORDS["tests"][field] for field in NEEDED_BY_KIND[kind]}
    assert verdict("tests", {**base, **own})
    for field in own:
        assert not verdict("tests", {**base, **{key: value for key, value in own.items() if key != field}})


def test_moisture_test_may_give_the_result_alone() -> None:
    """A moisture test has its weighings or, where they were not kept, the percentage."""
    base = {"test": "G1", "lot": "L1", "date": "2026-08-20", "kind": "moisture"}
    assert verdict("tests", {**base, "moisture": "8.6 %"})
    assert not verdict("tests", base)


@pytest.mark.parametrize(
    ("typed", "allowed"),
    [
        ("T-017", True),
        ("010", True),
        ("B26/0412", True),
        ("a" * 40, True),
        ("a" * 41, False),
        ("T 17", False),
        ("T-017\n", False),
        ("", False),
        ("Ä1", False),
    ],
)
def test_identifier_form(typed: str, allowed: bool) -> None:
    """Letters, digits and four signs, at most forty, nothing after the end."""
    assert allowed == verdict("trees", {**RECORDS["trees"], "tree": typed})


@pytest.mark.parametrize(
    ("typed", "allowed"),
    [
        ("2026-03-14", True),
        ("2026-3-14", False),
        ("14.03.2026", False),
        ("2026-02-30", False),
        ("2024-02-29", True),
        ("0026-02-03", False),
        ("2026-03-14\n", False),
    ],
)
def test_date_form(typed: str, allowed: bool) -> None:
    """Year-month-day with all digits, a year from 1000 to 2999, and a day that exists."""
    assert allowed == verdict("trees", {**RECORDS["trees"], "removed": typed})


@pytest.mark.parametrize(
    ("typed", "allowed"),
    [("2014-09-30", True), ("none known", True), ("long ago", False), ("none known\n", False)],
)
def test_last_prohibited_substance_is_a_date_or_none_known(typed: str, allowed: bool) -> None:
    """The land's date may be the words 'none known'."""
    assert allowed == verdict("blocks", {**RECORDS["blocks"], "last_prohibited_substance": typed})


@pytest.mark.parametrize("typed", ["412 g", "14.5 oz", "14,5 oz", ".5 kg", "-3 °C", "\u22123 °C", "412"])
def test_quantity_pattern_leaves_the_explaining_to_the_reader(typed: str) -> None:
    """What begins with a number passes, so that the reader can explain a comma or a lost unit."""
    assert verdict("lots", {**RECORDS["lots"], "weight": typed})


@pytest.mark.parametrize("typed", ["about a pound", "", "g 412", 412, 4.5, None, True])
def test_what_is_no_quantity_is_refused(typed: object) -> None:
    """Words and bare numbers are not quantities."""
    assert not verdict("lots", {**RECORDS["lots"], "weight": typed})


def test_file_of_records_takes_every_table() -> None:
    """The schema an editor points at takes all tables at once, and no other name."""
    file = {name: RECORDS[name] if name == "season" else [RECORDS[name]] for name in TABLES}
    assert verdict("records", file)
    assert not verdict("records", {**file, "harvest": []})
    assert not verdict("records", {**file, "trees": RECORDS["trees"]})


def test_evidence_is_one_file_or_several() -> None:
    """A path alone or a list of paths."""
    tree = RECORDS["trees"]
    assert verdict("trees", {**tree, "evidence": "letters/a.txt"})
    assert verdict("trees", {**tree, "evidence": ["letters/a.txt", "letters/b.txt"]})
    assert not verdict("trees", {**tree, "evidence": []})
    assert not verdict("trees", {**tree, "evidence": [1]})


ODD: tuple[Any, ...] = (
    None,
    True,
    0,
    -1,
    1.0,
    2.5,
    10**20,
    "",
    " ",
    "\n",
    "x",
    "2026-02-30",
    "2026-02-03\n",
    "412 g",
    "none known",
    "Ω",
    "١٢ g",
    [],
    [None],
    ["x", 1],
    {},
    {"x": 1},
    [{}],
    "germination",
    "moisture",
)


def mutated_once(record: Any, path: tuple[Any, ...], value: Any) -> Any:
    """A copy of a record with the value at one path replaced."""
    copied = copy.deepcopy(record)
    spot = copied
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    return copied


def paths(value: Any, here: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every path in a record below its top."""
    if isinstance(value, dict):
        steps: Iterator[Any] = iter(value)
    elif isinstance(value, list):
        steps = iter(range(len(value)))
    else:
        return
    for step in steps:
        yield (*here, step)
        yield from paths(value[step], (*here, step))


@pytest.mark.parametrize("name", TABLES)
def test_engines_agree_on_every_single_fault(name: str) -> None:
    """Each value of a full record replaced by each odd value: both engines give one verdict."""
    refused = sum(
        not verdict(name, mutated_once(RECORDS[name], path, odd))
        for path in paths(RECORDS[name])
        for odd in ODD
    )
    assert refused > 0


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_engines_agree_on_many_faults(data: st.DataObject) -> None:
    """Fields dropped, added and replaced at random: both engines give one verdict."""
    name = data.draw(st.sampled_from(TABLES))
    fields = list(RECORDS[name])
    anything = st.one_of(
        st.sampled_from(ODD),
        st.text(max_size=12),
        st.integers(),
        st.floats(allow_nan=False, allow_infinity=False),
    )
    kept = data.draw(st.lists(st.sampled_from(fields), unique=True))
    record = {field: RECORDS[name][field] for field in kept}
    record.update(data.draw(st.dictionaries(st.sampled_from([*fields, "extra"]), anything, max_size=3)))
    verdict(name, record)
