"""Who may ask the desk for anything: a browser on this machine that was handed the token, and no other
page.

A page from elsewhere that the same browser shows can send requests to this machine. What it sends bears
another origin, or no token, or names this machine by a name of its own (DNS rebinding); each of these is
refused before any of the season is looked at.
"""

from __future__ import annotations

import hmac
import secrets
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs, urlencode

from starlette.responses import PlainTextResponse, RedirectResponse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: What the browser may do with a page of the desk: show it, with our own style and script, and send its forms
#: back.
POLICY: Final = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:;"
    " font-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none';"
    " require-trusted-types-for 'script'; trusted-types 'none'"
)
_HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    # Without any referrer a browser says of a form that it comes from nowhere, and it would be refused.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
#: What changes nothing.
_READS: Final = frozenset({"GET", "HEAD"})


def make_token() -> str:
    """A token that nobody can guess."""
    return secrets.token_urlsafe(24)


class Gate:
    """Lets requests through to an app that name this machine and port and bring the token.

    The token comes once in the address; then the browser keeps it in a cookie that no other site's page can
    have sent, and the address is shown without it.
    """

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self._app = app
        self._token = token
        self._hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))
        self._cookie = f"certgen-desk-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers a request, or hands it on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            # The desk has no sockets that stay open.
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *_HEADERS]
            await send(message)

        answer = self._refuse(scope)
        await (answer or self._app)(scope, receive, send_guarded)

    def _refuse(self, scope: Scope) -> ASGIApp | None:
        """What to answer instead of the app, None to let it answer."""
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        host = headers.get("host", "")
        if host not in self._hosts:
            return PlainTextResponse("This desk answers only to the address that it printed.\n", 421)
        if scope["method"] not in _READS and not _is_from(headers, f"http://{host}"):
            return PlainTextResponse("This came from a page that isn't the desk's own.\n", 403)
        if self._is_token(self._find_cookie(headers)):
            return None
        query = parse_qs(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        if scope["method"] in _READS and self._is_token(query.pop("token", [""])[0]):
            return self._hand_cookie(scope["path"], urlencode(query, doseq=True))
        return PlainTextResponse(
            "Open the desk by the address that `certgen desk` printed; it holds the token.\n",
            403,
        )

    def _hand_cookie(self, path: str, query: str) -> RedirectResponse:
        # A path with two strokes in front would be another machine's.
        address = "/" + path.lstrip("/\\") + (f"?{query}" if query else "")
        answer = RedirectResponse(address, 303)
        answer.set_cookie(self._cookie, self._token, httponly=True, samesite="strict", path="/")
        answer.headers["cache-control"] = "no-store"
        return answer

    def _find_cookie(self, headers: dict[str, str]) -> str:
        try:
            found = SimpleCookie(headers.get("cookie", "")).get(self._cookie)
        except CookieError:
            return ""
        return found.value if found is not None else ""

    def _is_token(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self._token.encode())


def _is_from(headers: dict[str, str], own: str) -> bool:
    """Whether a page of the desk's own sent this. A browser says so of every request that may change
    anything.
    """
    origin = headers.get("origin")
    if origin is not None:
        return origin == own
    return headers.get("sec-fetch-site") == "same-origin"
