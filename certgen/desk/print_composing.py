"""A paper made of a season's folder, by the same writers as the commands'; done in a process of its own.

Each stage is told when it begins. What can't be made is refused in the words that the command would use.
"""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING, Final

from certgen.desk.print_jobs import Printed, RefusedOrderError
from certgen.disclosure.disclosing import DisclosureError
from certgen.disclosure.lot_papers import cut_packet, gather_own_card
from certgen.dossier.due import list_due
from certgen.dossier.recall import follow_recall
from certgen.dossier.search import UnknownRecordError
from certgen.dossier.visit_papers import gather_papers
from certgen.examination import ReadFailure, examine_season
from certgen.exchange.field_paper.field_sheets import write_round_form
from certgen.exchange.field_paper.label_sheets import SheetError
from certgen.exchange.field_paper.labels import LabelError
from certgen.exchange.field_paper.paper_kinds import (
    KINDS,
    FieldPaper,
    say_missing,
    set_calibration_page,
    set_field_paper,
)
from certgen.exchange.field_paper.recall_notices import set_recall_notices
from certgen.exchange.field_paper.visit_sheets import set_visit_sheets
from certgen.exchange.interchange.calendar import build_calendar
from certgen.exchange.lot_card.facts import CardError
from certgen.exchange.lot_card.page import set_card
from certgen.exchange.spreadsheets.workbook import build_workbook
from certgen.manifest import ManifestError, PacketOptions, digest_records
from certgen.output_places.places import Output, write_outputs
from certgen.report.writing import set_html, set_pdf
from certgen.standards.season_reading import read_case
from certgen.typeset.pango import PangoMissingError
from certgen.typeset.typst_pages import SettingError
from certgen.verification.supplied import LIMITS, PacketVerifier

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.desk.print_jobs import Source, Tell
    from certgen.desk.print_orders import PrintOrder
    from certgen.dossier.visit_papers import VisitPapers
    from certgen.examination import Result
    from certgen.output_places.kinds import Kind

#: What the writers refuse with.
_REFUSALS: Final = (
    CardError, DisclosureError, LabelError, ManifestError, PangoMissingError, SettingError, SheetError,
    UnknownRecordError,
)  # fmt: skip
#: So many lines of what couldn't be read are told.
_LINES: Final = 8


def print_order(order: PrintOrder, source: Source, place: Path, tell: Tell) -> Printed:
    """Makes what was asked for and leaves it in a folder under the name that it is told by.

    Raises `RefusedOrderError` for what can't be made, `OSError` where it can't be put down.
    """
    try:
        return _make(order, source, place, tell)
    except ReadFailure as failure:
        lines = [error.text() for error in failure.errors]
        raise RefusedOrderError("\n".join(_cut(lines))) from failure
    except _REFUSALS as fault:
        raise RefusedOrderError(_sentence(str(fault))) from fault


def _sentence(text: str) -> str:
    said = text[:1].upper() + text[1:]
    return said if said.endswith((".", "?", "!")) else f"{said}."


def _cut(lines: list[str]) -> list[str]:
    more = len(lines) - _LINES
    return [*lines[:_LINES], f"And {more} more."] if more > 0 else lines


def _make(order: PrintOrder, source: Source, place: Path, tell: Tell) -> Printed:
    slug = order.kind.slug
    if slug == "calibration":
        tell("Setting pages", 0, 0)
        return _put_down(place, "calibration.pdf", "field paper", set_calibration_page(_paper(order)), tell)
    result = _examine(order, source, tell)
    _hold_lot(order, result)
    label = _plain(result.season.details.label)
    printed = _compose(order, result, label, place, tell)
    lines = _cut([error.text() for error in result.errors])
    return Printed(printed.name, (*printed.notes, *lines))


def _examine(order: PrintOrder, source: Source, tell: Tell) -> Result:
    # What is handed over is read afresh.
    cache = None if order.kind.handed_on else source.cache
    tell("Reading the records", 0, 0)
    season, errors = read_case(source.folder, cache=cache)
    if season is None:
        raise ReadFailure(errors)
    tell("Checking the records", 0, 0)
    return examine_season(season, source.on, errors, packets=PacketVerifier(cache, LIMITS))


def _hold_lot(order: PrintOrder, result: Result) -> None:
    """A lot may be gone since it was chosen."""
    lot = order.chosen.get("lot", "")
    if lot and lot not in result.lots:
        raise RefusedOrderError(f"There is no '{lot}'. The records were changed since it was chosen.")


def _compose(order: PrintOrder, result: Result, label: str, place: Path, tell: Tell) -> Printed:
    match order.kind.slug:
        case "report" | "binder":
            return _compose_report(order, result, label, place, tell)
        case "card":
            tell("Setting pages", 0, 0)
            data = set_card(gather_own_card(result, order["lot"], order["page"]))
            return _put_down(place, f"card-{_plain(order['lot'])}.pdf", "lot card", data, tell)
        case "visit":
            tell("Drawing bags, trees and lots", 0, 0)
            papers = _gather_papers(result, order["seed"])
            tell("Setting pages", 0, 0)
            data = set_visit_sheets(result, papers, order["page"])
            return _put_down(place, f"visit-{label}.pdf", "field paper", data, tell)
        case "recall":
            tell("Following the seed", 0, 0)
            recall = follow_recall(result, [f"recall:{order['recall']}"])
            tell("Setting pages", 0, 0)
            data = set_recall_notices(recall, order["page"])
            return _put_down(place, f"recall-{_plain(order['recall'])}.pdf", "field paper", data, tell)
        case "workbook":
            tell("Writing the workbook", 0, 0)
            data = _build_workbook(result)
            return _put_down(place, f"season-{label}.xlsx", "workbook", data, tell)
        case "calendar":
            tell("Writing the file", 0, 0)
            name = f"due-{label}.ics"
            (place / name).write_bytes(build_calendar(result, list_due(result)).encode())
            return Printed(name)
    return _compose_field_paper(order, result, label, place, tell)


def _gather_papers(result: Result, seed: str) -> VisitPapers:
    """The inspector's papers, drawn by her text where she gave one."""
    if not seed:
        return gather_papers(result)
    records = digest_records(result.season)
    try:
        return gather_papers(result, seed, records)
    except ValueError as fault:
        raise RefusedOrderError(str(fault)) from fault


def _build_workbook(result: Result) -> bytes:
    try:
        return build_workbook(result.season, result.profile)
    except ValueError as fault:
        raise RefusedOrderError(_sentence(str(fault))) from fault


def _compose_report(order: PrintOrder, result: Result, label: str, place: Path, tell: Tell) -> Printed:
    lot = order["lot"]
    name = f"{order.kind.slug}-{label}{f'-{_plain(lot)}' if lot else ''}"
    is_short = order.chosen.get("length") == "short"
    options = PacketOptions(
        order.chosen.get("page", "A4"),
        "none" if is_short else "full",
        (lot,) if lot else None,
        short=is_short,
    )
    with ExitStack() as stack:
        if lot:
            tell("Leaving out what isn’t of the lot’s line", 0, 0)
            packets = PacketVerifier(limits=LIMITS)
            result, options = stack.enter_context(cut_packet(result, options, packets))
        if order.kind.slug == "binder":
            tell("Writing the binder", 0, 0)
            return _put_down(place, f"{name}.html", "binder", set_html(result, options), tell)
        tell("Setting pages", 0, 0)
        data = set_pdf(
            result, options, progress=lambda _part, done, whole: tell("Setting pages", done, whole)
        )
        return _put_down(place, f"{name}{'-short' if is_short else ''}.pdf", "packet", data, tell)


def _paper(order: PrintOrder) -> FieldPaper:
    chosen, names = order.chosen, order.names
    return FieldPaper(
        order.kind.slug,
        chosen.get("page", "A4"),
        only=names.get("only", ()),
        bags=names.get("bags", ()),
        each=int(chosen.get("each", "1")),
        blank=int(chosen.get("blank", "0")),
        size=chosen.get("size", ""),
        skip=int(chosen.get("skip", "0")),
    )


def _compose_field_paper(order: PrintOrder, result: Result, label: str, place: Path, tell: Tell) -> Printed:
    kind = order.kind.slug
    if order.chosen.get("form") == "spreadsheet":
        tell("Writing the spreadsheet", 0, 0)
        data = write_round_form(result, kind)
        return _put_down(place, f"{kind}-{label}.csv", "round form", data, tell)
    tell("Setting pages", 0, 0)
    paper = _paper(order)
    data = set_field_paper(result, paper)
    notes = (say_missing(result, paper), "Print it at 100 %, not fitted to the page." if KINDS[kind] else "")
    return _put_down(place, f"{kind}-{label}.pdf", "field paper", data, tell, *notes)


def _put_down(place: Path, name: str, kind: Kind, data: bytes, tell: Tell, *notes: str) -> Printed:
    tell("Writing the file", 0, 0)
    write_outputs([Output(place / name, kind, data)])
    return Printed(name, tuple(filter(None, notes)))


def _plain(text: str) -> str:
    """A season's or a lot's name as a part of a file's."""
    return "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in text)[:28]
