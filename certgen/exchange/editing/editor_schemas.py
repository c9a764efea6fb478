"""The schemas of the records as an editor wants them: no narrower than the reader.

The program reads `tree: 17` and `fruit_marked: yes` as the field asks, by its schema; an editor knows no
field when it reads, and takes the one for a number and the other for text. A field without a value is an
entry not made yet, and a table without a record no mistake. What the program reads by stands in `schemas/`;
what is written here stands in `schemas/editor/` for all crops (`make docs` writes it) and in a new season's
`.schemas/` with its own crop's words.
"""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Any, Final

from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: Where they stand among the schemas.
FOLDER: Final = "editor"
_YES_NO: Final = {
    "anyOf": [
        {"type": "boolean"},
        {"enum": ["yes", "no"]},
        {"type": "string", "pattern": "^(Yes|YES|No|NO|true|True|TRUE|false|False|FALSE)$"},
    ]
}
#: What a scalar may be to an editor, by the kind of its field. A number in quotes is read as the number.
_SCALARS: Final[Mapping[str, Sequence[str]]] = {
    "identifier": ("string", "number", "boolean"),
    "text": ("string", "number", "boolean"),
    "word": ("string", "number", "boolean"),
    "evidence": ("string", "number", "boolean", "array"),
    "whole": ("integer", "string"),
    "number": ("number", "string"),
}
_QUOTED: Final = {"whole": "^[+-]?[0-9]{1,15}$", "number": "^[+-]?[0-9]{1,15}([.][0-9]{1,15})?$"}


def editor_schemas(words: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """The schemas by file name, with the crops' `words` as lists to choose from.

    None has an `$id`, so that others are looked for beside it, wherever it lies, and not on a network.
    """
    schemas = {}
    for path in sorted(schemas_dir().glob("*.json")):
        schema = _loosen(json.loads(path.read_text(encoding="utf-8")), words)
        if path.name == "records.json":
            # A file of comments alone holds nothing, and that is nothing wrong.
            schema["type"] = ["object", "null"]
        schemas[path.name] = json.dumps(schema, ensure_ascii=False, indent=1) + "\n"
    return schemas


def _loosen(part: Any, words: Mapping[str, Sequence[str]]) -> Any:  # parsed JSON
    if isinstance(part, list):
        return [_loosen(inner, words) for inner in part]
    if not isinstance(part, dict):
        return part
    schema = {name: _loosen(inner, words) for name, inner in part.items()}
    _widen(schema, str(schema.get("x-kind", "")))
    listed = words.get(str(part.get("x-words", "")))
    if listed:
        schema["enum"] = list(listed)
    if isinstance(part.get("properties"), dict):
        needed = part.get("required", ())
        schema["properties"] = {
            name: inner if name in needed else _or_empty(inner)
            for name, inner in schema["properties"].items()
        }
    return schema


def _widen(schema: dict[str, Any], kind: str) -> None:
    """Let a field's value be what an editor may take it for."""
    if kind == "yes_no":
        schema.pop("type", None)
        schema |= _YES_NO
    elif kind in _SCALARS and "type" in schema:
        schema["type"] = list(_SCALARS[kind])
    if kind in _QUOTED:
        schema["pattern"] = _QUOTED[kind]
    elif kind == "evidence" and "items" in schema:
        schema["items"]["type"] = list(_SCALARS["text"])


def _or_empty(schema: dict[str, Any]) -> dict[str, Any]:
    """A field's schema that takes no value as well; what an editor shows of it stays in its place.

    What is no field says what one has to be where another is so, as after `then`.
    """
    if "x-kind" not in schema and "$ref" not in schema:
        return schema
    shown: dict[str, Any] = {
        name: schema[name] for name in ("title", "description", "examples") if name in schema
    }
    return {**shown, "anyOf": [schema, {"type": "null"}]}


def published_schemas() -> dict[str, str]:
    """The schemas for every crop: a word of any of them will do."""
    from certgen.standards import PROFILES, load_profile

    words: dict[str, dict[str, None]] = {}
    for name in PROFILES:
        for listed, of_crop in load_profile(name).words.items():
            words.setdefault(listed, {}).update(dict.fromkeys(of_crop))
    return editor_schemas({listed: tuple(found) for listed, found in words.items()})


def main(arguments: Sequence[str]) -> int:
    """Write the published schemas, or with `--check` say which are stale; returns the exit code."""
    folder = schemas_dir() / FOLDER
    wanted = published_schemas()
    there = {path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.json")}
    stale = sorted(name for name in wanted.keys() | there.keys() if wanted.get(name) != there.get(name))
    if "--check" in arguments:
        sys.stdout.writelines(f"{folder / name} is stale: make docs\n" for name in stale)
        return 1 if stale else 0
    folder.mkdir(exist_ok=True)
    for name in stale:
        if name in wanted:
            (folder / name).write_text(wanted[name], encoding="utf-8")
        else:
            (folder / name).unlink()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
