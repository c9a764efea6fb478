"""The one page that a device of the network sees before it was let in: where the code is typed.

It tells nothing of the season, not even whose it is.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qsl

from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from certgen.desk.devices import CodeError
from certgen.resources import templates_dir
from certgen.typeset.html_pages import environment

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.types import Receive, Scope, Send

    from certgen.desk.devices import Devices

#: Where the code is sent, and the style of its page.
CODE: Final = "/let-in"
STYLE: Final = "/let-in.css"
#: More than a code and a name take, in bytes; and how long they may take to come, in seconds.
_BODY: Final = 4096
_SECONDS: Final = 10


class LettingIn:
    """Answers a device that wasn't let in. `hand_word` puts the word by which it is known into an answer."""

    def __init__(self, devices: Devices, hand_word: Callable[[Response, str], None]) -> None:
        self._devices = devices
        self._hand_word = hand_word
        self._jinja = environment()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Shows the page, or looks at the code that came."""
        request = Request(scope, receive)
        path = scope["path"]
        if path == STYLE and request.method in {"GET", "HEAD"}:
            answer: Response = PlainTextResponse(
                (templates_dir() / "desk" / "let_in.css").read_text(encoding="utf-8"),
                media_type="text/css",
                headers={"cache-control": "private, max-age=600"},
            )
        elif path == CODE and request.method == "POST":
            answer = await self._look_at_code(request)
        elif path == CODE:
            answer = self._show("/")
        else:
            query = scope["query_string"].decode("latin-1")
            sent = request.method == "POST"
            where = path if sent else path + (f"?{query}" if query else "")
            answer = self._show(hold_local(where), sent=sent)
        await answer(scope, receive, send)

    async def _look_at_code(self, request: Request) -> Response:
        try:
            form = await _read_form(request)
        except (ValueError, TimeoutError, ClientDisconnect):
            return self._show("/", "That is no code. Type the eight digits on the screen.")
        where = hold_local(form.get("to", "/"))
        address = request.client.host if request.client else ""
        try:
            word = self._devices.try_code(form.get("code", ""), form.get("name", ""), address)
        except CodeError as fault:
            return self._show(where, str(fault), name=form.get("name", ""))
        answer = RedirectResponse(where, 303, {"cache-control": "no-store"})
        self._hand_word(answer, word)
        return answer

    def _show(self, where: str, fault: str = "", *, name: str = "", sent: bool = False) -> Response:
        page = self._jinja.get_template("desk/let_in.html").render(
            where=where, fault=fault, name=name, sent=sent, code=CODE, style=STYLE
        )
        return HTMLResponse(page, 403, {"cache-control": "no-store"})


async def _read_form(request: Request) -> dict[str, str]:
    """What the page's form sent. Raises `ValueError` for anything else and `TimeoutError` where it never
    ends.
    """
    kind = request.headers.get("content-type", "").split(";")[0].strip()
    if kind != "application/x-www-form-urlencoded":
        raise ValueError(kind)
    body = bytearray()
    async with asyncio.timeout(_SECONDS):
        async for part in request.stream():
            body += part
            if len(body) > _BODY:
                raise ValueError("too long")
    return dict(parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=8))


def hold_local(where: str) -> str:
    """An address of this desk, whatever was given: one that begins with two strokes would be another
    machine's, and a browser takes a backslash for a stroke.
    """
    plain = "".join(sign for sign in where if sign.isprintable())
    return "/" + plain.lstrip("/\\ ").replace("\\", "%5C")
