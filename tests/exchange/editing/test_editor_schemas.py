"""An editor underlines nothing that the program takes, and still underlines what is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from validators import judge_by_schema

from certgen.exchange.editing.editor_schemas import FOLDER, editor_schemas, main, published_schemas
from certgen.resources import schemas_dir
from certgen.rules import RULES
from certgen.rules.example_seasons import load_example
from certgen.standards import load_profile
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from pathlib import Path

FIRST = sorted(RULES)[:2]
PUBLISHED = {name: json.loads(text) for name, text in published_schemas().items()}


@pytest.fixture(scope="module")
def files(example_season: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Every file of the examples, and of the rules' examples that the program reads without a fault."""
    coop = example_season.parent / "example_coop" / "members"
    found = [*sorted(example_season.rglob("*.yaml")), *sorted(coop.rglob("*.yaml"))]
    folder = tmp_path_factory.mktemp("examples")
    for slug in RULES:
        for kind in ("bad", "good"):
            season = load_example(slug, kind).write(folder / slug / kind)
            read, errors = read_case(season)
            if read is not None and not errors:
                own = sorted((folder / slug / kind).rglob("*.yaml"))
                # What each example lies over is nearly the same for all: once will do.
                found += [
                    file for file in own if file.name not in {"base.yaml", "before.yaml"} or slug in FIRST
                ]
    return found


def as_an_editor_reads(path: Path) -> Any:
    """A file as YAML 1.2 has it, which editors read: `yes` is text, a day is text."""
    yaml = pytest.importorskip("ruamel.yaml")
    return json.loads(json.dumps(yaml.YAML(typ="safe", pure=True).load(path), default=str))


def checker(schemas: dict[str, Any], name: str = "records.json") -> Any:
    """A validator of one schema, the others beside it."""
    registry = jsonschema_rs.Registry(list(schemas.items()))
    return jsonschema_rs.Draft202012Validator(schemas[name], registry=registry)


def test_the_published_ones_are_fresh() -> None:
    """`make docs` writes them; a change of a schema shows in both."""
    assert 0 == main(["--check"])


def test_check_jsonschema_takes_every_file(files: list[Path]) -> None:
    """As a hook or an editor does it: the schema's file and the records', nothing else, from any folder."""
    schema = schemas_dir() / FOLDER / "records.json"
    ran = subprocess.run(
        [sys.executable, "-m", "check_jsonschema", "--schemafile", str(schema), *map(str, files)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip

    assert len(files) > 400
    assert (0, "") == (ran.returncode, ran.stderr), ran.stdout[-3000:]


def test_ajv_takes_every_file(files: list[Path]) -> None:
    """The library behind most editors, with formats checked."""
    named = [{"$id": name, **schema} for name, schema in PUBLISHED.items()]
    (schema,) = (one for one in named if one["$id"] == "records.json")
    documents = {str(path): as_an_editor_reads(path) for path in files}

    told = judge_by_schema(schema, documents, [one for one in named if one is not schema])
    assert {} == {name: faults for name, faults in told.items() if faults}


@pytest.mark.parametrize("name", ["coop", "control"])
def test_a_coops_own_files_are_taken(name: str, example_season: Path) -> None:
    """The list of members and what the office's control wrote down."""
    file = example_season.parent / "example_coop" / f"{name}.yaml"

    assert [] == [
        str(one) for one in checker(PUBLISHED, f"{name}.json").iter_errors(as_an_editor_reads(file))
    ]


@pytest.mark.parametrize(
    "bag",
    [
        {"bag": 17, "tree": 17.5, "covered": "2026-02-11", "secured": "yes"},
        {"bag": True, "tree": "T1", "covered": "2026-02-11", "secured": "TRUE", "note": 5},
        {"bag": "B1", "tree": "T1", "covered": "2026-02-11", "secured": None, "note": None, "evidence": None},
        {"bag": "B1", "tree": "T1", "covered": "2026-02-11", "evidence": ["a.txt", 17]},
    ],
)
def test_what_the_reader_takes_is_not_underlined(bag: dict[str, Any]) -> None:
    """Numbers where text is asked for, `yes` as text, a field without a value."""
    assert checker(PUBLISHED).is_valid({"bagging": [bag]})


@pytest.mark.parametrize(
    "change",
    [
        {"secured": "maybe"},
        {"secured": 1},
        {"covered": "yesterday"},
        {"stage": "bud"},
        {"flowers": "hermaphrodite"},
        {"bag": None},
    ],
)
def test_what_is_wrong_is_underlined_still(change: dict[str, Any]) -> None:
    """A word that isn't one, a day that is none, a field that nobody knows, a number that lacks."""
    bag = {"bag": "B1", "tree": "T1", "covered": "2026-02-11"}

    assert checker(PUBLISHED).is_valid({"bagging": [bag]})
    assert not checker(PUBLISHED).is_valid({"bagging": [{**bag, **change}]})


@pytest.mark.parametrize(
    ("fruits", "valid"), [(2, True), ("2", True), ("two", False), (-1, False), (2.5, False)]
)
def test_a_count_is_a_number_in_quotes_or_without(fruits: Any, valid: bool) -> None:
    """As the reader has it."""
    harvest = {"harvest": "H1", "date": "2026-07-01", "fruits": fruits, "status": "organic"}

    assert valid == checker(PUBLISHED).is_valid({"harvests": [harvest]})


def test_tables_and_files_may_be_empty() -> None:
    """A heading that nothing stands under yet, a file of comments."""
    check = checker(PUBLISHED)

    assert [True, True, False] == [check.is_valid(one) for one in (None, {"bagging": None}, {"bag": []})]


def test_a_crops_own_words_are_the_ones_to_choose_from() -> None:
    """A new season's copy offers its crop's; the published one takes those of every crop."""
    own = {name: json.loads(text) for name, text in editor_schemas(load_profile("squash").words).items()}
    words = {crop: load_profile(crop).words["sexes"] for crop in ("papaya", "squash")}
    tree = {"tree": "T1", "planting": "P1", "row": 1, "position": 1}

    assert set(words["papaya"]) != set(words["squash"])
    for word in {*words["papaya"], *words["squash"]}:
        assert checker(PUBLISHED).is_valid({"trees": [{**tree, "sex": word}]})
        assert (word in words["squash"]) == checker(own).is_valid({"trees": [{**tree, "sex": word}]})
