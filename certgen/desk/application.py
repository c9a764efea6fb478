"""The desk's pages under their addresses. Each is a function of the desk and what was asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from certgen.desk import (
    entry_pages,
    findings_pages,
    history_pages,
    lot_pages,
    overview_pages,
    paper_pages,
    person_pages,
    phone_pages,
    print_pages,
    season_pages,
    table_pages,
)
from certgen.desk.answering import Ask, Desk, RefusedError, hand, read_request
from certgen.desk.visits import begin_visit

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from starlette.requests import Request

    from certgen.desk.devices import Devices
    from certgen.desk.held_season import HeldSeason

    Handler = Callable[[Desk, Ask], Response]

#: Address, method, and what answers.
_PAGES: Final[tuple[tuple[str, str, Handler], ...]] = (
    ("/today", "GET", overview_pages.show_today),
    ("/enter", "GET", entry_pages.show_kinds),
    ("/enter/{kind}", "GET", entry_pages.show_entry),
    ("/enter/{kind}", "POST", entry_pages.send_entry),
    ("/enter/{kind}/try", "POST", entry_pages.try_entry),
    ("/findings", "GET", findings_pages.show_findings),
    ("/tables", "GET", table_pages.show_tables),
    ("/tables/{table}", "GET", table_pages.show_grid),
    ("/tables/{table}/cells", "POST", table_pages.send_cells),
    ("/tables/{table}/new", "GET", entry_pages.show_new),
    ("/tables/{table}/new", "POST", entry_pages.send_new),
    ("/record/{table}/{name:path}", "GET", entry_pages.show_record),
    ("/record/{table}/{name:path}", "POST", entry_pages.send_record),
    ("/orchard", "GET", overview_pages.show_orchard),
    ("/tree", "GET", overview_pages.go_to_tree),
    ("/lots", "GET", lot_pages.show_lots),
    ("/lots/{name:path}", "GET", lot_pages.show_lot),
    ("/papers", "GET", paper_pages.show_papers),
    ("/papers", "POST", paper_pages.send_paper),
    ("/paper/{name:path}", "GET", paper_pages.show_paper),
    ("/bag", "GET", phone_pages.go_to_bag),
    ("/phones", "GET", phone_pages.show_phones),
    ("/phones", "POST", phone_pages.send_phones),
    ("/phones/state", "GET", phone_pages.tell_state),
    ("/print", "GET", print_pages.show_kinds),
    ("/print/{kind}", "GET", print_pages.show_kind),
    ("/print/{kind}", "POST", print_pages.send_order),
    ("/prints", "GET", print_pages.tell_jobs),
    ("/prints/{number}/cancel", "POST", print_pages.cancel_job),
    ("/prints/{number}/file", "GET", print_pages.hand_file),
    ("/history", "GET", history_pages.show_history),
    ("/history/by-hand", "GET", history_pages.show_edits),
    ("/history/{number}", "GET", history_pages.show_change),
    ("/history/{number}/undo", "GET", history_pages.show_undo),
    ("/history/{number}/undo", "POST", history_pages.send_undo),
    ("/season", "GET", season_pages.show_season),
    ("/season", "POST", season_pages.send_season),
    ("/person", "GET", person_pages.show_person),
    ("/person", "POST", person_pages.send_person),
)


def build_application(held: HeldSeason, devices: Devices | None = None) -> Starlette:
    """All that the desk answers; `access.Gate` decides who may ask."""
    desk = Desk(held, devices)
    routes = [Route(path, _answer(desk, handler), methods=[method]) for path, method, handler in _PAGES]
    routes += [
        Route("/", _go_to_today, methods=["GET"]),
        Route("/version", _answer(desk, _tell_version), methods=["GET"]),
        Route("/style.css", _answer(desk, _hand_style), methods=["GET"]),
        Route("/desk.js", _answer(desk, _hand_script), methods=["GET"]),
    ]

    def refuse(request: Request, fault: Exception) -> Response:  # noqa: ARG001 (Starlette's signature)
        says = (
            str(fault)
            if isinstance(fault, RefusedError)
            else _SAYINGS.get(_status(fault), "That can't be done.")
        )
        return desk.show("refused", desk.held.look(), status=_status(fault), page="", says=says, said={})

    def tell_disk(request: Request, fault: Exception) -> Response:  # noqa: ARG001 (Starlette's signature)
        where = getattr(fault, "filename", None)
        reason = getattr(fault, "strerror", None) or str(fault)
        says = f"Nothing was saved: {reason}{f' ({where})' if where else ''}."
        return desk.show("refused", desk.held.look(), status=507, page="", says=says, said={})

    def tell_fault(request: Request, fault: Exception) -> Response:  # noqa: ARG001
        says = (
            f"certgen failed: {type(fault).__name__}: {fault}. This is a fault of certgen, not of your"
            " records; nothing was saved. Please report it with this line."
        )
        return PlainTextResponse(says, 500)

    application = Starlette(
        routes=routes,
        lifespan=desk.keep_prints,
        exception_handlers={
            RefusedError: refuse,
            HTTPException: refuse,
            OSError: tell_disk,
            Exception: tell_fault,
        },
    )
    application.state.prints = desk.prints
    # An address that is nearly one of ours is none; nobody is sent elsewhere by what he typed.
    application.router.redirect_slashes = False
    return application


_SAYINGS: Final = {
    404: "There is no such page at this desk.",
    405: "That address takes no such request.",
}


def _status(fault: Exception) -> int:
    if isinstance(fault, RefusedError):
        return fault.status
    return fault.status_code if isinstance(fault, HTTPException) else 500


def _answer(desk: Desk, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """The handler, run beside the loop that listens: another browser needn't wait while a season is
    examined.
    """

    async def answer(request: Request) -> Response:
        begin_visit(request.url.path, request.cookies)
        ask = await read_request(request)
        return await run_in_threadpool(handler, desk, ask)

    return answer


async def _go_to_today(request: Request) -> Response:  # noqa: ARG001 (Starlette's signature)
    return RedirectResponse("/today", 303, {"cache-control": "no-store"})


def _tell_version(desk: Desk, ask: Ask) -> Response:  # noqa: ARG001 (every page is asked the same way)
    return hand({"version": desk.held.look().version})


def _hand_style(desk: Desk, ask: Ask) -> Response:  # noqa: ARG001
    return PlainTextResponse(
        desk.style, media_type="text/css", headers={"cache-control": "private, max-age=600"}
    )


def _hand_script(desk: Desk, ask: Ask) -> Response:  # noqa: ARG001
    return PlainTextResponse(desk.script, media_type="text/javascript", headers={"cache-control": "no-cache"})
