"""Who may ask the desk for anything: a browser on this machine that was handed the token, a device of the
network that was let in, and no other page.

A page from elsewhere that the same browser shows can send requests to this machine. What it sends bears
another origin, or no token, or names this machine by a name of its own (DNS rebinding); each of these is
refused before any of the season is looked at.

A device of the network comes in by another address of this machine, and there the token counts for nothing:
it was let in by a code (`devices`), and may enter, see and mend what a person in the rows enters, sees and
mends. What takes back others' work (undo), keeps the machine busy (printing) or lets further devices in is
left to whoever sits at the machine: a phone is lost more easily, and its requests can be read on their way.
Pages that aren't named here are the machine's alone, so that a new one is nobody's by oversight.
"""

from __future__ import annotations

import hmac
import secrets
from types import MappingProxyType
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs, urlencode

from starlette.responses import PlainTextResponse, RedirectResponse, Response

from certgen.desk.devices import ASKING
from certgen.desk.letting_in import CODE, LettingIn, hold_local
from certgen.desk.network import LOOPBACK, write_host

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from certgen.desk.devices import Device, Devices

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
    # The camera takes photographs by the system's own program; no page of the desk needs to look through it.
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), usb=(), payment=()"),
)
#: What changes nothing.
_READS: Final = frozenset({"GET", "HEAD"})
#: What a device of the network may ask for, by the first name in its path.
_SEEN: Final = frozenset(
    ("", "today", "enter", "bag", "findings", "tables", "record", "orchard", "tree", "lots", "papers",
     "paper", "history", "version", "style.css", "desk.js")
)  # fmt: skip
_ENTERED: Final = frozenset({"enter", "tables", "record", "papers"})
#: What is said once only; said twice, it may be read in two ways.
_SINGLE: Final = frozenset({"host", "origin", "sec-fetch-site", "content-type"})


def make_token() -> str:
    """A token that nobody can guess."""
    return secrets.token_urlsafe(24)


class Gate:
    """Lets requests through to an app that name this machine and port and bring the token.

    The token comes once in the address; then the browser keeps it in a cookie that no other site's page can
    have sent, and the address is shown without it. At `addresses`, the machine's own in the farm's network,
    `devices` knows who may ask.
    """

    def __init__(
        self,
        app: ASGIApp,
        token: str,
        port: int,
        devices: Devices | None = None,
        addresses: Collection[str] = (),
    ) -> None:
        self._app = app
        self._token = token
        self._devices = devices
        self._cookie = f"certgen-desk-{port}"
        # Each address answers to its own name only: a name that a page chose for it is another's.
        self._hosts = {address: _name_hosts(port, address) for address in addresses}
        self._own_hosts = _name_hosts(port, LOOPBACK, "localhost")
        self._letting_in = LettingIn(devices, self._keep) if devices is not None else None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers a request, or hands it on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            # The desk has no sockets that stay open.
            await send({"type": "websocket.close", "code": 1008})
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _guard(message.get("headers", ()))
            await send(message)

        ASKING.set(None)
        answer = self._refuse(scope)
        await (answer or self._app)(scope, receive, send_guarded)

    def _refuse(self, scope: Scope) -> ASGIApp | None:
        """What to answer instead of the app, None to let it answer."""
        headers = _read_headers(scope)
        if headers is None:
            return PlainTextResponse("Something is said twice in this request.\n", 400)
        address = (scope.get("server") or ("", 0))[0]
        hosts = self._hosts.get(address, self._own_hosts)
        host = headers.get("host", "")
        if host not in hosts:
            return PlainTextResponse("This desk answers only to the address that it printed.\n", 421)
        if scope["method"] not in _READS and not _is_from(headers, f"http://{host}"):
            return PlainTextResponse("This came from a page that isn't the desk's own.\n", 403)
        word = self._find_cookie(headers)
        if address in self._hosts:
            return self._refuse_device(scope, word)
        if self._is_token(word):
            return None
        query = parse_qs(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        if scope["method"] in _READS and self._is_token(query.pop("token", [""])[0]):
            return self._hand_token(scope["path"], urlencode(query, doseq=True))
        return PlainTextResponse(
            "Open the desk by the address that `certgen desk` printed; it holds the token.\n",
            403,
        )

    def _refuse_device(self, scope: Scope, word: str) -> ASGIApp | None:
        client = (scope.get("client") or ("", 0))[0]
        device: Device | None = self._devices.find(word, client) if self._devices else None
        if device is None:
            return self._letting_in
        if scope["path"] == CODE:
            return RedirectResponse("/today", 303)
        if not may_ask(scope["method"], scope["path"]):
            return PlainTextResponse(
                "That is done at the desk's computer only: undoing, printing, and letting devices in.\n", 403
            )
        ASKING.set(device)
        return None

    def _hand_token(self, path: str, query: str) -> RedirectResponse:
        answer = RedirectResponse(hold_local(path) + (f"?{query}" if query else ""), 303)
        self._keep(answer, self._token)
        return answer

    def _keep(self, answer: Response, word: str) -> None:
        answer.set_cookie(self._cookie, word, httponly=True, samesite="strict", path="/")

    def _find_cookie(self, headers: Mapping[str, str]) -> str:
        """Our own cookie as it came. It needs no unquoting, which takes long for a value made to do so."""
        pairs = (pair.strip().partition("=") for pair in headers.get("cookie", "").split(";"))
        return next((value for name, _, value in pairs if name == self._cookie), "")

    def _is_token(self, given: str) -> bool:
        return hmac.compare_digest(given.encode("utf-8", "replace"), self._token.encode())


def may_ask(method: str, path: str) -> bool:
    """Whether a device of the network may ask for a path."""
    first = path.split("/")[1] if path.startswith("/") else path
    if method in _READS:
        return first in _SEEN and (first != "" or path == "/")
    return method == "POST" and first in _ENTERED


def _name_hosts(port: int, *names: str) -> frozenset[str]:
    """How a browser names an address and port; the usual port it leaves out."""
    hosts = [write_host(name) for name in names]
    return frozenset([*(f"{host}:{port}" for host in hosts), *(hosts if port == _USUAL_PORT else ())])


_USUAL_PORT: Final = 80


def _read_headers(scope: Scope) -> Mapping[str, str] | None:
    """The headers by their names, those of several cookies joined; None where one is twice there that mustn't
    be.
    """
    found: dict[str, str] = {}
    for raw, value in scope["headers"]:
        name = raw.decode("latin-1").lower()
        if name in found and name in _SINGLE:
            return None
        text = value.decode("latin-1")
        found[name] = f"{found[name]}; {text}" if name == "cookie" and name in found else text
    return MappingProxyType(found)


def _guard(headers: Collection[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """An answer's headers with what holds for every answer; none is kept unless it says so."""
    kept = any(name.lower() == b"cache-control" for name, _ in headers)
    # A file that was printed has a policy of its own.
    named = {name.lower() for name, _ in headers}
    ours = (one for one in _HEADERS if one[0] not in named)
    return [*headers, *ours, *(() if kept else ((b"cache-control", b"no-store"),))]


def _is_from(headers: Mapping[str, str], own: str) -> bool:
    """Whether a page of the desk's own sent this. A browser says so of every request that may change
    anything.
    """
    origin = headers.get("origin")
    if origin is not None:
        return origin == own
    return headers.get("sec-fetch-site") == "same-origin"
