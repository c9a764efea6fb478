"""A new season's files explain themselves, and its schemas suit an editor."""

from __future__ import annotations

import datetime as dt
import json
import re
from fnmatch import fnmatch
from typing import TYPE_CHECKING

import jsonschema
import pytest
import yaml
from referencing import Registry, Resource

from certgen.exchange.editing.skeleton import Beginning, lay_out
from certgen.records.tables import load_tables
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from pathlib import Path

BEGINNING = Beginning(
    "Gully: 1 & co", "NO", dt.date(2027, 1, 1), dt.date(2027, 12, 31), "papaya", ("us-nop", "eu")
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A season laid out."""
    lay_out(tmp_path / "s", BEGINNING)
    return tmp_path / "s"


def test_it_is_read_without_a_fault(folder: Path) -> None:
    """Whatever the operation is called."""
    season, errors = read_case(folder)

    assert [] == [error.text() for error in errors]
    assert season is not None
    assert ("Gully: 1 & co", "NO", ("us-nop", "eu")) == (
        season.details.operation.name, season.details.label, season.details.standards
    )  # fmt: skip


def test_every_table_and_field_is_explained(folder: Path) -> None:
    """Each table's name stands in one file, and each of its columns in a comment there."""
    texts = [path.read_text() for path in folder.glob("*.yaml")]

    for name, table in load_tables().items():
        (text,) = (one for one in texts if f"\n{name}:\n" in one)
        assert [] == [column.name for column in table.columns if f"#   {column.name}" not in text]


def test_the_examples_are_records(folder: Path) -> None:
    """Taking the signs off each example where it stands leaves every file sound, with one record a table."""
    found = {}
    for path in sorted(folder.glob("*.yaml")):
        if path.name == "season.yaml":
            continue
        parts = path.read_text().split("\n\n")[1:]
        for part in parts:
            before, name, after = re.split(r"^(\w+):\n", part, maxsplit=1, flags=re.MULTILINE)
            found |= yaml.safe_load(f"{before}{name}:\n" + re.sub("^#  ", "  ", after, flags=re.MULTILINE))
    assert set(load_tables()) == set(found)
    assert {1} == {len(records) for records in found.values()}


def test_editors_find_schemas_beside_the_records(folder: Path) -> None:
    """Every file points at the copy in the season's own folder, and no copy at a network."""
    for path in folder.glob("*.yaml"):
        assert "# yaml-language-server: $schema=.schemas/records.json" == path.read_text().splitlines()[0]
    assert [] == [
        path.name for path in (folder / ".schemas").glob("*.json") if "$id" in json.loads(path.read_text())
    ]


def test_the_line_for_editors_is_explained_once(folder: Path) -> None:
    """In the season's own file, where a newcomer looks first, and nowhere else."""
    said = [path.name for path in folder.glob("*.yaml") if "The line above" in path.read_text()]

    assert ["season.yaml"] == said
    assert (
        "# The line above, at the head of each file" in (folder / "season.yaml").read_text().splitlines()[1]
    )


def test_the_settings_lead_from_each_file_to_its_schema(folder: Path) -> None:
    """Read as an editor does: a file's name finds a schema in the folder, which holds for what is in the file
    and finds fault with what is wrong in it.
    """
    settings = json.loads((folder / ".schemas" / "editor-settings.json").read_text(encoding="utf-8"))
    assert ["yaml.schemas"] == list(settings)
    (folder / "harvests").mkdir()
    (folder / "harvests" / "2027-06.yml").write_text(
        "harvests: [{harvest: H1, date: 2027-06-01, fruits: 2, status: organic}]\n"
    )
    registry = Registry().with_resources(
        (path.name, Resource.from_contents(json.loads(path.read_text(encoding="utf-8"))))
        for path in (folder / ".schemas").glob("*.json") if path.name != "editor-settings.json"
    )  # fmt: skip
    files = [*folder.rglob("*.yaml"), *folder.rglob("*.yml")]
    assert 10 == len(files)
    for file in files:
        (place,) = (
            place for place, names in settings["yaml.schemas"].items()
            if any(fnmatch(file.name, name) for name in names)
        )  # fmt: skip
        schema = json.loads((folder / place).read_text(encoding="utf-8"))
        check = jsonschema.Draft202012Validator(schema, registry=registry)
        held = json.loads(json.dumps(yaml.safe_load(file.read_text(encoding="utf-8")), default=str))
        assert [] == [fault.message for fault in check.iter_errors(held)], file.name
        assert not check.is_valid({**held, "harvest": []}), file.name


def test_a_folder_in_use_is_left_alone(tmp_path: Path) -> None:
    """One file in it is enough."""
    (tmp_path / "notes.txt").write_text("mine")

    with pytest.raises(FileExistsError, match="is not empty"):
        lay_out(tmp_path, BEGINNING)
    assert ["notes.txt"] == [path.name for path in tmp_path.iterdir()]
