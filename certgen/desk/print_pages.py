"""Print: what can be printed, what is being made, and the files that came of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final

from starlette.responses import FileResponse

from certgen.desk.answering import RefusedError, address, go_to, hand
from certgen.desk.print_jobs import BusyError, Source
from certgen.desk.print_kinds import find_kinds, list_kinds, read_day, read_order

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot
    from certgen.desk.print_jobs import PrintJob
    from certgen.desk.print_orders import PrintKind

#: What a file is served as, by its ending, and what a browser may do with it once it shows it: one that shows
#: is alone with itself, so that not even a script in it could ask the desk for anything.
_OF_PDF: Final = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
_OF_BINDER: Final = (
    "sandbox allow-scripts allow-modals allow-downloads; default-src 'none'; style-src 'unsafe-inline';"
    " script-src 'unsafe-inline'; font-src data:; img-src data:; base-uri 'none'; form-action 'none';"
    " frame-ancestors 'none'"
)
_SERVED: Final[Mapping[str, tuple[str, str]]] = {
    ".pdf": ("application/pdf", _OF_PDF),
    ".html": ("text/html; charset=utf-8", _OF_BINDER),
    ".ics": ("text/calendar; charset=utf-8", ""),
    ".csv": ("text/csv; charset=utf-8", ""),
    ".xlsx": ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", ""),
}


def show_kinds(desk: Desk, ask: Ask) -> Response:
    """What can be printed, and what was."""
    snapshot = desk.held.look()
    return desk.show(
        "print",
        snapshot,
        page="print",
        groups=list_kinds(snapshot),
        jobs=desk.prints.list(),
        ended=ask.query.get("ended", ""),
        is_shown=_is_shown,
    )


def show_kind(desk: Desk, ask: Ask) -> Response:
    """The form of one kind, and what was made of it."""
    snapshot = desk.held.look()
    kind = _find_kind(snapshot, ask)
    return _show_form(desk, snapshot, kind, {**_remember(desk, kind), **ask.query}, ended=ask.query)


def send_order(desk: Desk, ask: Ask) -> Response:
    """Begins to make what a form asks for, or shows what is wrong with it."""
    snapshot = desk.held.look()
    kind = _find_kind(snapshot, ask)
    order, faults = read_order(kind, ask.form, snapshot)
    if faults:
        return _show_form(desk, snapshot, kind, ask.form, faults)
    held = desk.held
    on = read_day(order.chosen.get("on", "")) or held.today()
    try:
        job = desk.prints.start(order, Source(held.folder, on, held.cache), snapshot.version)
    except BusyError as fault:
        return _show_form(desk, snapshot, kind, ask.form, says=str(fault))
    return go_to(f"{address('print', kind.slug)}#print-{job.number}")


def _find_kind(snapshot: Snapshot, ask: Ask) -> PrintKind:
    kind = find_kinds(snapshot).get(ask.path.get("kind", ""))
    if kind is None:
        raise RefusedError("There is nothing of that name to print in this season.")
    return kind


def _remember(desk: Desk, kind: PrintKind) -> dict[str, str]:
    """The paper that was chosen last, and the size of this kind's labels: they are what lies in the tray."""
    found: dict[str, str] = {}
    for job in reversed(desk.prints.list()):
        for name in ("page", "size") if job.order.kind.slug == kind.slug else ("page",):
            if name in job.order.chosen:
                found[name] = job.order.chosen[name]
    return found


def _show_form(
    desk: Desk,
    snapshot: Snapshot,
    kind: PrintKind,
    values: Mapping[str, str],
    faults: Mapping[str, str] | None = None,
    *,
    says: str = "",
    ended: Mapping[str, str] | None = None,
) -> Response:
    jobs = [job for job in desk.prints.list() if job.order.kind.slug == kind.slug]
    return desk.show(
        "print_kind",
        snapshot,
        status=409 if says else 422 if faults else 200,
        page="print",
        kind=kind,
        choices=[replace(one, value=values.get(one.name, one.value)) for one in kind.choices],
        faults=faults or {},
        says=says,
        jobs=jobs,
        ended=(ended or {}).get("ended", ""),
        is_shown=_is_shown,
    )


def _is_shown(job: PrintJob) -> bool:
    """Whether a browser shows such a file by itself."""
    return bool(_SERVED[PurePosixPath(job.name).suffix][1])


def tell_jobs(desk: Desk, ask: Ask) -> Response:  # noqa: ARG001 (every page is asked the same way)
    """How far each is, for a script."""
    return hand(
        [
            {"number": job.number, "going": job.is_going, "stage": say_stage(job), "seconds": job.seconds}
            for job in desk.prints.list()
        ]
    )


def say_stage(job: PrintJob) -> str:
    """What it is at: parts are counted where the work counts them, and nothing is guessed."""
    return f"{job.stage}: {job.done} of {job.whole} parts" if job.whole else job.stage


def cancel_job(desk: Desk, ask: Ask) -> Response:
    """Ends one that is being made."""
    job = _find_job(desk, ask)
    desk.prints.cancel(job)
    return go_to(f"{address('print', job.order.kind.slug)}#print-{job.number}")


def hand_file(desk: Desk, ask: Ask) -> Response:
    """A file that was made: to be shown, or with `save` to be kept under its name."""
    job = _find_job(desk, ask)
    path = job.file
    if job.state != "ready" or path is None:
        raise RefusedError("There is no file of it, or none any more; print it again.")
    media, policy = _SERVED[path.suffix]
    headers = {"cache-control": "no-store", **({"content-security-policy": policy} if policy else {})}
    return FileResponse(
        path,
        media_type=media,
        filename=path.name,
        content_disposition_type="inline" if policy and "save" not in ask.query else "attachment",
        headers=headers,
    )


def _find_job(desk: Desk, ask: Ask) -> PrintJob:
    job = desk.prints.find(ask.path.get("number", ""))
    if job is None:
        raise RefusedError("That isn’t printed here, or isn’t kept any more; print it again.")
    return job
