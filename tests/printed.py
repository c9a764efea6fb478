"""What commands print: checked against the published schemas, and read without what only a page needs."""

from __future__ import annotations

import io
import json
from contextlib import redirect_stderr, redirect_stdout
from typing import TYPE_CHECKING, Any

import jsonschema

from certgen import cli
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    import pytest

    from certgen.typeset.parts import Cell


def json_of(capsys: pytest.CaptureFixture[str], name: str) -> Any:
    """What was printed as JSON, checked against the published schema of that name, and that by its own."""
    shown = json.loads(capsys.readouterr().out)
    schema = json.loads((schemas_dir() / "output" / f"{name}.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(shown)
    return shown


def cell_text(cell: Cell) -> str:
    """What a cell of the report says, wherever its parts lead."""
    return "".join(run.text for run in cell.runs)


def plain(text: str) -> str:
    """A text with ordinary spaces where narrow or unbroken ones hold a figure and its unit together."""
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def call(name: str, *arguments: object) -> tuple[int, str]:
    """The exit code of a command and everything it said."""
    said = io.StringIO()
    with redirect_stdout(said), redirect_stderr(said):
        code = cli.run([name, *map(str, arguments)])
    return code, said.getvalue()


def offer(*words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """What certgen offers a shell for the last of the words, without their kinds."""
    monkeypatch.setenv("_CERTGEN_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", " ".join(words))
    monkeypatch.setenv("COMP_CWORD", str(len(words) - 1))
    assert 0 == cli.run([])
    return [line.partition(",")[2] for line in capsys.readouterr().out.splitlines()]
