"""Every record as a row of its table: the script searches the page's own text, so it stands there once."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from certgen.report.chapters.registers import build_register
from certgen.report.wording import count_of
from certgen.typeset.html_pages import our_own

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from certgen.report.context import Context
    from certgen.typeset.parts import Register


def write_registers(context: Context) -> Markup:
    """The registers of all tables, a table each.

    Every cell ends in a line break, so that the words of two never run together for who searches them.
    """
    pieces: list[str] = []
    for name in context.tables:
        if len(context.season.columns(name)):
            pieces += _write_register(build_register(context, name), context.key_of(name))
    return our_own("".join(pieces))


def _write_register(register: Register, key: str) -> Iterator[str]:
    title = escape(register.title)
    heads = "".join(f"<th scope=col>{escape(column.title)}" for column in register.columns)
    # The identifier leads the row where the table has one.
    keyed = " data-keyed" if key else ""
    counted = escape(count_of(register.table, len(register.rows)))
    yield (
        f'<section class="register" id="registers/{register.table}" data-table="{register.table}"{keyed}'
        f' aria-labelledby="h-{register.table}"><h3 id="h-{register.table}">{title}: {counted}</h3>'
        f"<p>{escape(register.lead)}</p>"
        f'<div class="scroll" tabindex="0" role="group" aria-label="{title}, all columns"><table>'
        f"<thead><tr>{heads}</thead><tbody>\n"
    )
    known: set[str] = set()
    for anchor, cells in register.rows:
        first, *rest = ("".join(text for text, _ in cell) for cell in cells)
        # Of two records with one identifier the first is the one meant.
        name = "" if anchor in known else f' id="{escape(anchor)}"'
        known.add(anchor)
        told = "".join(f"<td>{escape(text, quote=False)}\n" for text in rest)
        yield f"<tr{name}><th>{escape(first, quote=False)}\n{told}"
    yield "</tbody></table></div></section>\n"
