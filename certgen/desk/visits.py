"""Who is at the desk, and at which page: known to everything that answers one request."""

from __future__ import annotations

from contextvars import ContextVar
from typing import TYPE_CHECKING, Final, NamedTuple
from urllib.parse import quote, unquote

from certgen.desk.devices import ASKING
from certgen.exchange.editing.history import Author, name_account

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.responses import Response

#: The cookie that holds the name, and for how long: a season and a winter.
COOKIE: Final = "certgen-person"
_SECONDS: Final = 400 * 86_400
#: A person's name is no longer than this.
NAME_LETTERS: Final = 80
#: What the cookie holds for somebody who was asked and gave no name.
_NOBODY: Final = "-"


class NameRefusedError(ValueError):
    """A name that can't stand in a record; the message says why."""


class Visit(NamedTuple):
    """One request: the `person` who makes it, empty if nobody gave a name, whether anybody was `asked` for
    it, the `path` of the page, and whether it comes `near`, from a browser of this machine.
    """

    person: str = ""
    asked: bool = False
    path: str = ""
    near: bool = True


_CURRENT: ContextVar[Visit] = ContextVar("visit", default=Visit())  # noqa: B039 (a tuple never changes)


def begin_visit(path: str, cookies: Mapping[str, str]) -> None:
    """Notes whose request is answered from here on: a device's by the name that it was let in with, a
    browser's of this machine as far as its cookies tell.
    """
    device = ASKING.get()
    if device is not None:
        _CURRENT.set(Visit(device.person, asked=True, path=path, near=False))
        return
    written = unquote(cookies.get(COOKIE, ""), errors="replace")
    try:
        person = "" if written == _NOBODY else read_name(written)
    except NameRefusedError:
        person = written = ""
    _CURRENT.set(Visit(person, bool(written), path))


def this_visit() -> Visit:
    """The request that is being answered."""
    return _CURRENT.get()


def name_author() -> Author:
    """Who changes something at the desk: the name that was given, else on this machine the account that runs
    the desk; a device is named beside.
    """
    device = ASKING.get()
    if device is not None:
        return Author(f"certgen desk, {device.name} at {device.address}", device.person)
    return Author("certgen desk", this_visit().person or name_account())


def read_name(typed: str) -> str:
    """A person's name as a record holds it. Raises `NameRefusedError`."""
    name = " ".join(typed.split())
    if len(name) > NAME_LETTERS:
        raise NameRefusedError(f"This name has {len(name):,} letters; {NAME_LETTERS} fit.")
    if not name.isprintable():
        raise NameRefusedError("This name holds a sign that can't be printed.")
    if name == _NOBODY:
        raise NameRefusedError("Write a name or initials.")
    return name


def keep_name(answer: Response, name: str) -> None:
    """Has the browser keep a name, or that there is none."""
    written = quote(name or _NOBODY, safe="")
    answer.set_cookie(COOKIE, written, max_age=_SECONDS, httponly=True, samesite="strict", path="/")
