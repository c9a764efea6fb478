"""A season's folder to fill in: every table explained where it is written, and nothing in it that is wrong.

All explanations come from the schemas, so that they cannot say anything else than what is checked. The
schemas are copied into the folder, with the crop's own words filled in, so that an editor completes and
underlines without a network.
"""

from __future__ import annotations

import datetime as dt
import json
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.editing.editor_schemas import editor_schemas
from certgen.exchange.editing.history import Author, write_change
from certgen.exchange.editing.yaml_text import (
    WIDTH,
    Line,
    render_field,
    render_fields,
    render_flow,
    render_record,
)
from certgen.output_places.places import Output, write_outputs
from certgen.records.tables import Field, Table, load_season_table, load_tables
from certgen.rules.wording import capital
from certgen.standards import load_profile, load_rulebook
from certgen.whole_files import name_type

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from certgen.exchange.editing.next_season import Takeover
    from certgen.standards import Profile

#: Which tables share a file, in the order of the job.
FILES: Mapping[str, tuple[str, ...]] = {
    "land.yaml": ("blocks", "plantings"),
    "inputs.yaml": ("materials", "compost", "inputs", "scouting", "water_tests"),
    "trees.yaml": ("trees", "observations", "submissions", "letters", "screening"),
    "bagging.yaml": ("rounds", "bagging"),
    "harvests.yaml": ("harvests",),
    "seed.yaml": ("batches", "cleaning", "lots", "tests"),
    "stock.yaml": ("movements",),
    "follow-up.yaml": ("visits", "incidents", "recalls", "explanations"),
}
#: Where the copies of the schemas lie, below the season's folder.
SCHEMA_FOLDER = ".schemas"
#: For editors that take a setting rather than a line in each file; below the season's folder.
EDITOR_SETTINGS = f"{SCHEMA_FOLDER}/editor-settings.json"
#: The last year that a day in records can be of.
_LAST_YEAR = 2999
_MODELINE = f"# yaml-language-server: $schema={SCHEMA_FOLDER}/records.json"
_MODELINE_EXPLAINED = (
    "The line above, at the head of each file here, is for an editor that knows YAML schemas: with it the "
    "editor offers fields and words and underlines what is wrong, without a network. Nothing else reads it; "
    "leave it out if you like. An editor that wants a setting instead finds the same as `yaml.schemas` in "
    f"{EDITOR_SETTINGS}: copy it into the editor's own settings for this folder."
)


_AUTHOR: Final = Author("new")


@dataclass(frozen=True, slots=True)
class Beginning:
    """What a new season needs to know."""

    operation: str
    label: str
    start: dt.date
    end: dt.date
    crop: str
    standards: tuple[str, ...]


def check_beginning(beginning: Beginning) -> None:
    """Raise `ValueError` in words that say what to write instead."""
    load_profile(beginning.crop)
    if not beginning.standards:
        raise ValueError("name at least one standard")
    for key in beginning.standards:
        load_rulebook(key)
    if not beginning.operation.strip() or not beginning.label.strip():
        raise ValueError("the operation and the season need a name")
    check_span(beginning.start, beginning.end)


def check_span(first: dt.date, last: dt.date) -> None:
    """Raise `ValueError` unless a season's last day comes after its first."""
    if last < first:
        raise ValueError(f"the season ends before it begins, on {first}")
    if last.year > _LAST_YEAR:
        raise ValueError(f"the season ends on {last}, later than records can tell; give an earlier last day")


def lay_out(
    folder: Path,
    beginning: Beginning,
    *,
    before: Takeover | None = None,
    force: bool = False,
    author: Author = _AUTHOR,
) -> tuple[list[str], tuple[tuple[Path, Path], ...]]:
    """Write the season's files; returns their names, and each file that gave way with where it is kept.

    `before` is what is taken over from the season before. Without `force` a folder that holds anything but
    hidden files is left alone. The season's history begins with it, by `author`. Raises `ValueError`,
    `FileExistsError` and `OSError`.
    """
    check_beginning(beginning)
    hold_folder(folder, force=force)
    profile = load_profile(beginning.crop)
    words = profile.words
    contents = {"season.yaml": _season_text(beginning, before)}
    for name, tables in FILES.items():
        contents[name] = _file_text([load_tables()[table] for table in tables], profile, before)
    for name, text in editor_schemas(words).items():
        contents[f"{SCHEMA_FOLDER}/{name}"] = text
    contents[EDITOR_SETTINGS] = editor_settings()
    files = [Output(folder / name, "season file", text.encode()) for name, text in contents.items()]

    def write(contents: Mapping[Path, bytes], **_settings: object) -> None:
        named = {path.relative_to(folder).as_posix(): data for path, data in contents.items()}
        write_change(folder, named, author)

    kept = write_outputs(files, force=force, write=write)
    (folder / "evidence").mkdir(exist_ok=True)
    return [name for name in contents if not name.startswith(".")], kept


def hold_folder(folder: Path, *, force: bool) -> None:
    """Refuse what is no folder or lies inside a season, and without `force` a folder in use.

    Raises `FileExistsError`.
    """
    if folder.exists() and not folder.is_dir():
        kind = name_type(folder.stat().st_mode)
        raise FileExistsError(f"{folder} is {kind}, not a folder; name one that is not there yet")
    if not force and folder.is_dir() and any(not path.name.startswith(".") for path in folder.iterdir()):
        raise FileExistsError(
            f"{folder} is not empty; nothing was written. Name a folder that is not there yet, or lay the"
            " season out in this one with --force: a file that gives way is then kept beside the new one"
        )
    place = folder.resolve()
    for outer in place.parents:
        hidden = any(part.startswith(".") for part in place.relative_to(outer).parts)
        if is_seasons_folder(outer) and not hidden:
            raise FileExistsError(
                f"{folder} would lie inside the season in {outer}, and be read as part of it; name a folder"
                f" beside that one, such as {outer.parent / place.name}"
            )


def is_seasons_folder(folder: Path) -> bool:
    """Whether a folder holds a file of the name under which a season is laid out."""
    return (folder / "season.yaml").is_file()


def _season_text(beginning: Beginning, before: Takeover | None) -> str:
    known: dict[str, Any] = {
        "label": beginning.label,
        "from": beginning.start,
        "to": beginning.end,
        "crop": beginning.crop,
        "standards": list(beginning.standards),
    }
    operation: Mapping[str, Any] = {"name": beginning.operation}
    if before is not None:
        known |= before.details
        operation = before.operation
    table = load_season_table()
    lines = [_MODELINE, *write_comment(_MODELINE_EXPLAINED), ""]
    lines += [] if before is None else [*_explain_takeover(before), ""]
    lines += [*write_comment(table.description), "season:"]
    for name, field in table.fields.items():
        lines += write_comment(field.description, 2)
        if name == "operation":
            lines += ["  operation:", *_operation_lines(field, operation)]
        elif name in known:
            lines += [line.text for line in render_field(name, _as_typed(field, known[name]), 2)]
            lines += _lines_to_state(name, field, before, "write it above, in the place of what is there")
        else:
            lines += _lines_to_state(name, field, before) or [
                f"  # {line.text}" for line in render_field(name, write_example(field, {}), 0)
            ]
    return "\n".join(lines) + "\n"


def _operation_lines(field: Field, known: Mapping[str, Any]) -> list[str]:
    lines: list[str] = []
    for name, part in field.fields.items():
        lines += write_comment(part.description, 4)
        if name in known:
            lines += [line.text for line in render_field(name, known[name], 4)]
        else:
            lines.append(f"    # {name}: {_sample(part, {})}")
    return lines


def _lines_to_state(
    name: str, field: Field, before: Takeover | None, way: str = "take the signs # away"
) -> list[str]:
    """What the season before stated in a field and nobody has stated anew, as a comment."""
    asked = () if before is None else [one for one in before.restated if one.field == name]
    if before is None or not asked:
        return []
    value = _as_typed(field, asked[0].value)
    said = f"Not in force: season {before.label} had what follows, and {asked[0].why}"
    if name == "routine":
        said += " Whoever answers for it writes their name and the day, and takes the signs # away."
        # Neither is taken for a name or a day if only the signs go.
        value = {"stated_by": "?", "date": "year-month-day"} | {
            key: part for key, part in value.items() if key not in {"stated_by", "date"}
        }
    else:
        said += f" Where it is true, {way}, and have its grounds at hand."
    return [*write_comment(said, 2), *(f"  # {line.text}" for line in render_field(name, value, 0))]


def _explain_takeover(before: Takeover) -> list[str]:
    """What was taken over from the season before and what wasn't, as the head of the season's file."""
    lines = write_comment(f"Laid out after season {before.label}, in {before.path}. Taken over:")
    for said in before.taken:
        lines += write_comment(f"- {said}")
    lines += write_comment("Not taken over:")
    for said in before.left:
        lines += write_comment(f"- {said}")
    return lines


def _file_text(tables: Sequence[Table], profile: Profile, before: Takeover | None) -> str:
    words = profile.words
    lines = [_MODELINE]
    for table in tables:
        lines += ["", *write_comment(f"{table.title}. {table.description}"), "#"]
        for caution in profile.cautions.of_table(table.name):
            lines += write_comment(f"Caution. {caution.line}")
        if profile.cautions.of_table(table.name):
            lines.append("#")
        lines += _explain_fields(table, words)
        # The sample stands below the table's name, so that it is sound once its signs # are taken away.
        lines += [
            f"{table.name}:",
            "# A record looks like this. Write yours below it, without the # signs, all dashes in one",
            "# column; leave out what does not apply.",
        ]
        lines += [f"#  {line.text}" for line in _example_lines(table, words)]
        if before is not None:
            lines += _taken_records(table, before)
    return "\n".join(lines) + "\n"


def _taken_records(table: Table, before: Takeover) -> list[str]:
    """The records that the season begins with, and as comments those that somebody has to count first."""
    lines: list[str] = []
    for record in before.records.get(table.name, ()):
        line = f"  - {render_flow(record)}"
        short = table.name == "trees" and len(line) <= WIDTH
        lines += [line] if short else [line.text for line in render_record(record, 2)]
    if table.name == "movements" and before.uncounted:
        lines += write_comment(
            "Not in force, for nobody counted it: weigh each lot, write its weight and the day of the count "
            "in a note, and take the signs # away."
        )
        for one in before.uncounted:
            lines += [*write_comment(f"{capital(one.why)}."), *(f"#  {x.text}" for x in _dashed(one.entry))]
    return lines


def _dashed(record: Mapping[str, Any]) -> list[Line]:
    """A record as the samples show it, which become sound once the signs # are replaced by spaces."""
    return [line._replace(text=line.text[2:]) for line in render_record(record, 2)]


def _explain_fields(table: Table, words: Mapping[str, tuple[str, ...]]) -> list[str]:
    lines: list[str] = []
    for column in table.columns:
        field = column.field
        said = [field.description]
        allowed = words.get(field.words, ()) or field.enum
        if allowed:
            said.append(f"One of: {', '.join(allowed)}.")
        needed = " (always needed)" if column.required and len(column.path) == 1 else ""
        text = f"{column.name}{needed}: {' '.join(part for part in said if part)}"
        lines += textwrap.wrap(
            text, 96, initial_indent="#   ", subsequent_indent="#       ", break_on_hyphens=False
        )
    return lines


def _example_lines(table: Table, words: Mapping[str, tuple[str, ...]]) -> list[Any]:
    shown = {
        name: write_example(field, words)
        for name, field in table.fields.items()
        # A sample is of one tree or of several: the one is what is usual.
        if name not in {"note", "recorded_by", "evidence"}
        and not (name == "trees" and "tree" in table.fields)
    }
    fields = render_fields(shown, 2)
    return [fields[0]._replace(text="- " + fields[0].text[2:]), *fields[1:]]


def write_example(field: Field, words: Mapping[str, tuple[str, ...]]) -> Any:  # any kind of value
    """A value as a field may hold it: the schema's own example, as it would be typed, or one of its words."""
    allowed = words.get(field.words, ()) or field.enum
    if field.examples and (not allowed or field.examples[0] in allowed):
        return _as_typed(field, field.examples[0])
    if allowed:
        return allowed[0]
    if field.kind == "mapping":
        return {name: write_example(part, words) for name, part in field.fields.items()}
    if field.item is not None:
        return [write_example(field.item, words)]
    return "…"


def _as_typed(field: Field, value: Any) -> Any:  # an example out of a schema, where days are text
    if field.kind == "date":
        return dt.date.fromisoformat(value) if isinstance(value, str) else value
    if isinstance(value, dict):
        return {name: _as_typed(field.fields.get(name, field), part) for name, part in value.items()}
    if isinstance(value, list) and field.item is not None:
        return [_as_typed(field.item, part) for part in value]
    return value


def _sample(field: Field, words: Mapping[str, tuple[str, ...]]) -> str:
    return render_field("x", write_example(field, words), 0)[0].text[3:]


def write_comment(text: str, indent: int = 0) -> list[str]:
    """A text as the lines of a comment, whatever signs are in it."""
    lead = " " * indent + "# "
    # A name out of records may hold a sign that ends a line, and a comment with it.
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return textwrap.wrap(text, 100, initial_indent=lead, subsequent_indent=lead, break_on_hyphens=False)


def editor_settings() -> str:
    """The setting by which an editor finds the schema of a season's files, as JSON: `yaml.schemas` maps a
    schema's place, from the season's folder, to the names of the files that it describes.
    """
    settings = {"yaml.schemas": {f"./{SCHEMA_FOLDER}/records.json": ["*.yaml", "*.yml"]}}
    return json.dumps(settings, indent=2) + "\n"
