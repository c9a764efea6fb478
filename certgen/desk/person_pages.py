"""Who is at the desk: asked once, and kept by the browser."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.desk.answering import go_to, own_path
from certgen.desk.visits import NAME_LETTERS, NameRefusedError, keep_name, read_name

if TYPE_CHECKING:
    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk


def show_person(desk: Desk, ask: Ask) -> Response:
    """Who is at the desk: a name that stands in the history and in new records."""
    return _show_person(desk, ask)


def _show_person(desk: Desk, ask: Ask, fault: str = "", typed: str | None = None) -> Response:
    return desk.show(
        "person",
        desk.held.look(),
        status=422 if fault else 200,
        page="",
        fault=fault,
        typed=typed,
        most=NAME_LETTERS,
        back=ask.form.get("back", "") or ask.query.get("back", ""),
        said={},
    )


def send_person(desk: Desk, ask: Ask) -> Response:
    """Keeps the name with the browser, or that it has none."""
    typed = "" if ask.form.get("nobody") else ask.form.get("person", "")
    try:
        name = read_name(typed)
    except NameRefusedError as fault:
        return _show_person(desk, ask, str(fault), typed[:1_000])
    back = ask.form.get("back", "")
    answer = go_to(own_path(back, "/today"))
    keep_name(answer, name)
    return answer
