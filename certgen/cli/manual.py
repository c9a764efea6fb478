"""Writes the manual page out of what the commands say of themselves: `python -m certgen.cli.manual`.

The page stands beside this file, and the wheel lays it where `man` looks. With `--check` nothing is written,
and a page that is stale is an error.
"""

from __future__ import annotations

import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from certgen import RELEASED, __version__
from certgen.cli import COMMANDS
from certgen.cli.group import CERTGEN

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

PAGE: Final = Path(__file__).with_name("certgen.1")
_HEAD: Final = '.\\" Written by `make docs`. Change what the commands say of themselves instead.'
_WHAT: Final = "check an organic papaya-seed season's records and print its traceability report"
_ABOUT: Final = (
    "certgen reads the records of a season, which are plain text files, finds what is missing or contradicts"
    " itself, works out what the claim needs, and prints the traceability report. SEASON is the folder with"
    " the season's records; without it, the folder you are in. What is written never takes the place of"
    " anything that certgen didn't write itself."
)
_CODES: Final = (
    ("0", "Nothing is missing."),
    ("1", "Something is missing or speaks against the claim."),
    ("2", "Something couldn't be read, or was typed wrong."),
    ("3", "certgen itself failed; please report it."),
    ("129, 143", "It was told to end."),
)
_ENVIRONMENT: Final = (
    ("CERTGEN_CACHE", "`off` keeps nothing between runs."),
    ("CERTGEN_DEBUG", "`1` says where in the code certgen failed."),
    ("CERTGEN_PASSPHRASE", "The passphrase of a key to sign with."),
    ("FORCE_COLOR", "Colours, where output goes to a file or a pipe too."),
    ("NO_COLOR", "No colours; it beats FORCE_COLOR. Empty, either says nothing."),
)


def render_manual() -> str:
    """The page in the macros of man(7)."""
    return "\n".join(
        [
            _HEAD,
            f'.TH CERTGEN 1 {RELEASED} "certgen {__version__}" "User Commands"',
            ".SH NAME",
            f"certgen \\- {_escape(_WHAT)}",
            ".SH SYNOPSIS",
            ".B certgen",
            ".I COMMAND",
            "[\\fISEASON\\fR] [\\fIOPTIONS\\fR]",
            ".SH DESCRIPTION",
            *_lines(_ABOUT),
            ".SH COMMANDS",
            *_terms(COMMANDS.items()),
            *(line for name in COMMANDS for line in _describe(name)),
            ".SH EXIT STATUS",
            *_terms(_CODES),
            ".SH ENVIRONMENT",
            *_terms(_ENVIRONMENT),
            "",
        ]
    )


def _describe(name: str) -> Iterator[str]:
    """A command's section: how it is called, what it does, what it takes, and an example."""
    with CERTGEN.make_context("certgen", [name]) as group:
        command = CERTGEN.get_command(group, name)
        if command is None:
            message = f"certgen has no command {name}"
            raise LookupError(message)
        with click.Context(command, group, info_name=name) as context:
            usage = " ".join(command.collect_usage_pieces(context))
            records = [
                record for one in command.get_params(context) if (record := one.get_help_record(context))
            ]
    yield f".SH CERTGEN {name.upper()}"
    yield f"\\fBcertgen {_escape(name)}\\fR {_escape(usage)}"
    said, examples = _part(command.help or "")
    yield from _paragraphs(said)
    yield from _terms(records)
    for example in examples:
        yield from (".PP", "Example:", ".PP", ".nf", *map(_escape, example), ".fi")


def _part(text: str) -> tuple[list[str], list[list[str]]]:
    """A help's paragraphs, and the lines of its examples, which are marked to stand as they are."""
    said, examples = [], []
    for block in text.split("\n\n"):
        first, *lines = block.splitlines()
        if first == "\b":
            examples.append([line.strip() for line in lines if line.strip() != "Example:"])
        else:
            said.append(" ".join(block.split()))
    return said, examples


def _paragraphs(texts: Iterable[str]) -> Iterator[str]:
    for text in texts:
        yield from (".PP", *_lines(text))


def _terms(pairs: Iterable[tuple[str, str]]) -> Iterator[str]:
    for term, text in pairs:
        yield from (".TP", f"\\fB{_escape(term)}\\fR", *_lines(text))


def _lines(text: str) -> Iterator[str]:
    """A paragraph's lines; how they break here means nothing."""
    return map(_escape, textwrap.wrap(text, 72, break_long_words=False, break_on_hyphens=False))


def _escape(text: str) -> str:
    """Text as text: no sign of it steers the setting, and a hyphen can be copied."""
    plain = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{plain}" if plain[:1] in {".", "'"} else plain


def main(arguments: Sequence[str]) -> int:
    """Writes the page, or with `--check` only says whether it is as it should be."""
    page = render_manual()
    if "--check" in arguments:
        if not PAGE.exists() or PAGE.read_text(encoding="utf-8") != page:
            sys.stderr.write(f"{PAGE.name} is stale; run make docs\n")
            return 1
        return 0
    PAGE.write_text(page, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
