"""Names that a shell is offered at the Tab key: a season's lots and other records, and the rules.

A key is pressed and waited for, so nothing is examined: the season's files are looked through for the lines
at which records begin. A record that begins in another way isn't offered, and can be typed all the same.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    import click

    Offer = Callable[[click.Context, click.Parameter, str], list[str]]

#: More than this nobody reads in a list, and a larger file is no record file that somebody typed.
_MOST: Final = 500
_FILE_BYTES: Final = 8 * 2**20
_ITEM: Final = re.compile(r"^( *)-", re.MULTILINE)
_TABLE: Final = re.compile(r"^([a-z_]+):", re.MULTILINE)
_IDENTIFIER: Final = r"[\"']?([A-Za-z0-9._/-]{1,40})[\"']?\s*(?:[,}#\n]|$)"


def offer_lots(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """The lots of the season that stands in the command."""
    return _offer(ctx, param, incomplete, ("lots",))


def offer_bags(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """Its bags."""
    return _offer(ctx, param, incomplete, ("bagging",))


def offer_trees_or_lots(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """What a label can be of: a lot where lots are asked for, else a tree."""
    return _offer(ctx, param, incomplete, ("lots",) if ctx.params.get("kind") == "lots" else ("trees",))


def offer_records(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[Any]:
    """Any record of the season; before the first one, and of a command whose season may be left out, folders
    too.
    """
    from click.shell_completion import CompletionItem

    found: list[Any] = _offer(ctx, param, incomplete, ())
    if param.name == "words" and not ctx.params.get("words"):
        found.append(CompletionItem(incomplete, type="dir"))
    return found


def offer_rules(_ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[str]:
    """The rules' names, each of which has a folder of examples."""
    import certgen

    before, last = _cut(incomplete)
    folder = Path(certgen.__file__).parent / "rules" / "examples"
    names = sorted(path.parent.name for path in folder.glob("*/bad.yaml"))
    return [before + name for name in names if name.startswith(last)]


def _cut(incomplete: str) -> tuple[str, str]:
    """What was typed up to the last comma, and the name begun behind it."""
    before, comma, last = incomplete.rpartition(",")
    return before + comma, last


def _offer(ctx: click.Context, param: click.Parameter, incomplete: str, tables: tuple[str, ...]) -> list[str]:
    before, last = _cut(incomplete) if param.name != "words" else ("", incomplete)
    found = sorted({name for name in list_numbers(_find_season(ctx), tables) if name.startswith(last)})
    return [before + name for name in found[:_MOST]]


def _find_season(ctx: click.Context) -> Path:
    """The season's folder as far as it is typed; else the one that somebody is in."""
    words = ctx.params.get("words") or ()
    typed = ctx.params.get("season") or (words[0] if words else "")
    return Path(typed) if typed and Path(typed).is_dir() else Path()


def list_numbers(season: Path, tables: Iterable[str] = ()) -> Iterator[str]:
    """The numbers of the records in a season's files, of some tables or of all, as far as each record begins
    with it. What can't be read is passed over.
    """
    from certgen.records.tables import load_tables

    known = {name: load_tables()[name].key for name in tables or load_tables()}
    begins = {
        name: re.compile(rf"^( *)-\s*(?:\{{\s*)?{key}:\s*{_IDENTIFIER}", re.MULTILINE)
        for name, key in known.items()
        if key
    }
    for text in _read_files(season):
        parts = _TABLE.split(text)
        for table, records in zip(parts[1::2], parts[2::2], strict=True):
            if table in begins and (first := _ITEM.search(records)):
                # What stands further in is an entry of a record's own list.
                yield from (name for indent, name in begins[table].findall(records) if indent == first[1])


def _read_files(season: Path) -> Iterator[str]:
    for folder, folders, files in os.walk(season):
        folders[:] = sorted(one for one in folders if not one.startswith(".") and one != "evidence")
        for name in sorted(files):
            path = Path(folder, name)
            if path.suffix.lower() not in {".yaml", ".yml"} or name.startswith("."):
                continue
            try:
                if path.is_file() and path.stat().st_size <= _FILE_BYTES:
                    yield path.read_text(encoding="utf-8", errors="replace")
            except OSError:
                continue
