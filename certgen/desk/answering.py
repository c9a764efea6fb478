"""What an answer of the desk is made from: the request as plain text, the season, and the page's frame."""

from __future__ import annotations

import asyncio
import json
import re
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import parse_qsl, quote, urlencode

from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from certgen.desk.devices import ASKING
from certgen.desk.field_words import say_fields
from certgen.desk.print_composing import print_order
from certgen.desk.print_jobs import PrintJobs
from certgen.desk.visits import this_visit
from certgen.records.nouns import noun
from certgen.records.tables import load_tables
from certgen.report.binder.orchard import SHAPES
from certgen.report.binder.style import follow_colours, write_style
from certgen.report.wording import count_of, whole
from certgen.resources import templates_dir
from certgen.rules.wording import day
from certgen.typeset.html_pages import environment
from certgen.typeset.marks import MARKS, draw_mark

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Mapping, Sized

    from starlette.requests import Request

    from certgen.desk.devices import Devices
    from certgen.desk.held_season import HeldSeason, Snapshot
    from certgen.desk.saving import Outcome

#: The most that a form or a paste may send, in bytes: a few thousand rows.
BODY_BYTES: Final = 2 << 20
#: The largest paper: a scan of many pages.
PAPER_BYTES: Final = 64 << 20
_BYTES: Final = "application/octet-stream"
#: How long a form and a paper may take to come, in seconds.
_FORM_SECONDS: Final = 60
_PAPER_SECONDS: Final = 10 * 60
#: More fields than any form has, unless somebody sends it to keep the desk busy.
_FIELDS: Final = 20_000
#: The letters that a page may show: those of the languages whose faces are at hand besides the records' own.
_LETTERS: Final = frozenset(map(chr, (*range(32, 127), *range(160, 384), *range(0x2010, 0x2040)))) | set(
    "−×≥≤→←↑↓✓●□☐"
)
PARTS: Final = (
    ("today", "Today"),
    ("enter", "Enter"),
    ("findings", "Findings"),
    ("tables", "Tables"),
    ("orchard", "Orchard"),
    ("lots", "Lots"),
    ("papers", "Papers"),
    ("print", "Print"),
    ("season", "Season"),
    ("history", "History"),
)
#: Parts that are for a browser of this machine only (see `access`).
MACHINE_ONLY: Final = frozenset({"print", "phones", "season"})


class RefusedError(Exception):
    """A request that can't be answered; `status` is what HTTP calls it."""

    def __init__(self, says: str, status: int = 404) -> None:
        super().__init__(says)
        self.status = status


@dataclass(frozen=True, slots=True)
class Ask:
    """One request: the names in its path, its query, its form (the last of two fields), its JSON."""

    path: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    form: Mapping[str, str] = field(default_factory=dict)
    data: Any = None


async def read_request(request: Request) -> Ask:
    """The request as plain text. Raises `RefusedError` for more than a form can hold, what takes too long to
    come, or no form at all.
    """
    kind = request.headers.get("content-type", "").split(";")[0].strip()
    most = PAPER_BYTES if kind == _BYTES else BODY_BYTES
    body = await _read_body(request, most) if request.method == "POST" else bytearray()
    form: dict[str, str] = {}
    data: Any = None
    try:
        if kind == "application/json":
            data = json.loads(body)
        elif kind == _BYTES:
            data = bytes(body)
        elif body:
            text = body.decode("utf-8")
            form = dict(parse_qsl(text, keep_blank_values=True, max_num_fields=_FIELDS))
    except (ValueError, RecursionError):
        raise RefusedError("The browser sent something that is no form of the desk's.", 400) from None
    # A form's line feeds come as two signs; nothing else that a keyboard doesn't make is let through.
    form = {name: text.replace("\r\n", "\n") for name, text in form.items()}
    return Ask(dict(request.path_params), dict(request.query_params), form, data)


async def _read_body(request: Request, most: int) -> bytearray:
    """What was sent. What says beforehand that it is too much isn't waited for."""
    told = request.headers.get("content-length", "0")
    body = bytearray()
    try:
        async with asyncio.timeout(_FORM_SECONDS if most == BODY_BYTES else _PAPER_SECONDS):
            if not told.isdigit() or len(told) > 12 or int(told) > most:
                raise RefusedError("That is more than can be sent at once; send it in parts.", 413)
            async for part in request.stream():
                body += part
                if len(body) > most:
                    raise RefusedError("That is more than can be sent at once; send it in parts.", 413)
    except TimeoutError:
        raise RefusedError("That took too long to come; try again nearer to the network.", 408) from None
    return body


class Desk:
    """The season, and the frame in which its pages are shown."""

    def __init__(self, held: HeldSeason, devices: Devices | None = None) -> None:
        self.held = held
        self.devices = devices
        self.prints = PrintJobs(print_order)
        self._jinja = environment()

    def _list_parts(self) -> tuple[tuple[str, str], ...]:
        """The parts that whoever asks may go to."""
        if ASKING.get() is not None:
            return tuple(part for part in PARTS if part[0] not in MACHINE_ONLY)
        return (*PARTS, *((("phones", "Phones"),) if self.devices else ()))

    def show(self, template: str, snapshot: Snapshot, *, status: int = 200, **told: object) -> Response:
        """A page of the desk from its template."""
        details = snapshot.season.details
        page = self._jinja.get_template(f"desk/{template}.html").render(
            operation=details.operation.name,
            season=details.label,
            as_of=day(snapshot.result.on),
            parts=self._list_parts(),
            snapshot=snapshot,
            broken=[error.text() for error in snapshot.broken],
            unread=[error.text() for error in snapshot.result.errors],
            counts={"findings": len(snapshot.result.gaps), "lots": len(snapshot.result.lots)},
            sprites=[(name, follow_colours(draw_mark(name))) for name in MARKS],
            trees=tuple(SHAPES.values()),
            address=address,
            visit=this_visit(),
            noun=noun,
            count_of=count_of,
            say_fields=say_fields,
            say_more=say_more,
            **{"said": {}, **told},
        )
        # What is held is the season's; no copy of it stays in the browser's cache.
        return HTMLResponse(page, status, {"cache-control": "no-store"})

    @asynccontextmanager
    async def keep_prints(self, app: object) -> AsyncIterator[None]:  # noqa: ARG002 (Starlette's signature)
        """Ends with the desk whatever is still being printed, and takes its files away."""
        try:
            yield
        finally:
            self.prints.close()

    @cached_property
    def style(self) -> str:
        """The binder's style sheet, and what only the desk has."""
        own = (templates_dir() / "desk" / "desk.css").read_text(encoding="utf-8")
        return write_style(self._jinja, set(_LETTERS)) + own

    @cached_property
    def script(self) -> str:
        """The desk's scripts, which its pages can do without."""
        folder = templates_dir() / "desk"
        return '"use strict";\n' + "".join(
            (folder / name).read_text(encoding="utf-8")
            for name in ("form.js", "grid.js", "papers.js", "phones.js", "print.js", "page.js")
        )


def address(*parts: str, **query: str) -> str:
    """The address of a page by the names in its path, each escaped: `address("record", "bagging", "B-1")`."""
    path = "/" + "/".join(quote(part, safe="") for part in parts)
    return f"{path}?{urlencode(query)}" if query else path


def go_to(where: str) -> RedirectResponse:
    """Sends the browser on to a page, so that a form isn't sent a second time when the page is shown anew."""
    return RedirectResponse(where, 303, {"cache-control": "no-store"})


#: A path of this machine's: one stroke in front, nothing that a browser would take for another host's.
_OWN: Final = re.compile(r"/[A-Za-z0-9][A-Za-z0-9/%._~-]{0,400}")


def own_path(typed: str, otherwise: str) -> str:
    """The path of a page that a form says to go back to, if it is one of the desk's."""
    return typed if _OWN.fullmatch(typed) else otherwise


def say_more(things: Sized, told: int) -> str:
    """How many of them aren't among the first so many that a page tells: " and 3 more"; else nothing."""
    left = len(things) - told
    return f" and {whole(left)} more" if left > 0 else ""


def say_shown(start: int, stop: int, total: int) -> str:
    """Which of a long list stand on this page, from `start` up to `stop`: ", 201 to 400 shown"."""
    return f", {whole(start + 1)} to {whole(stop)} shown" if 0 < stop - start < total else ""


def hand(content: object, status: int = 200) -> JSONResponse:
    """An answer to a script."""
    return JSONResponse(content, status, {"cache-control": "no-store"})


def find_table(ask: Ask) -> str:
    """The table that a path names. Raises `RefusedError`."""
    name = ask.path.get("table", "")
    if name not in load_tables():
        raise RefusedError(f"There is no table '{name}'.")
    return name


def say_saved(outcome: Outcome) -> dict[str, str]:
    """What an address tells of a change, for the page that it leads to."""
    told = {
        "saved": ", ".join(outcome.done[:3])
        + (f" and {len(outcome.done) - 3} more" if len(outcome.done) > 3 else "")
    }
    if outcome.files:
        told["in"] = ", ".join(outcome.files[:3])
    if outcome.change:
        told["change"] = str(outcome.change)
    if outcome.same and not outcome.done:
        told = {"same": ", ".join(outcome.same[:3])}
    return told
