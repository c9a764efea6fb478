"""From a result to the packet: which parts there are, and in which order."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING, Final

from certgen.report.chapters.appendix import (
    MANIFEST_LEAD,
    build_identifiers,
    build_manifest,
    collect_attachments,
)
from certgen.report.chapters.cover import build_cover
from certgen.report.chapters.figures.chapter import build_figures
from certgen.report.chapters.gaps import build_gaps
from certgen.report.chapters.land import build_land
from certgen.report.chapters.lot.dossiers import build_dossiers
from certgen.report.chapters.method import build_method
from certgen.report.chapters.notices import build_notices
from certgen.report.chapters.registers import build_registers
from certgen.report.chapters.season import build_season
from certgen.report.chapters.stock import build_stock
from certgen.report.chapters.trace import build_trace
from certgen.report.context import Context
from certgen.typeset.design import SHEETS
from certgen.typeset.legibility import make_legible, tell_unset, unset_letters
from certgen.typeset.parts import Chapter, Packet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from certgen.examination import Result
    from certgen.typeset.parts import Attached

#: The language that the packet is written in.
LANGUAGE: Final = "en"
#: How much of the registers a packet holds.
REGISTER_CHOICES = ("full", "lots", "none")


def run_on(first: Chapter, *others: Chapter) -> Chapter:
    """Chapters that follow on the page where the one before ended: short ones leave no page half empty."""
    sections = list(first.sections)
    for chapter in others:
        head, *rest = chapter.sections
        sections += [replace(head, style="follow"), *rest]
    return Chapter(first.name, tuple(sections))


def title_of(result: Result) -> str:
    """What the packet is called."""
    details = result.season.details
    return f"Seed traceability report, {details.operation.name}, season {details.label}"


def build_packet(
    result: Result,
    *,
    page: str = "A4",
    registers: str = "full",
    lots: Sequence[str] | None = None,
    attachments: Sequence[Attached] | None = None,
    ready: Callable[[Chapter], None] = lambda _chapter: None,
) -> Packet:
    """The packet of a season, ready to be set on `page`.

    `registers` is `full`, `lots` (only what lots rest on) or `none`. `lots` names the lots that get a dossier
    (None: all). `attachments` are the files that travel inside (None: records, evidence, manifest). `ready`
    is given each chapter as soon as it is built, while others aren't yet.
    Raises ValueError for an unknown choice, KeyError for a lot that is not in the season.
    """
    if registers not in REGISTER_CHOICES:
        message = f"registers are {', '.join(REGISTER_CHOICES)}, not {registers!r}"
        raise ValueError(message)
    unknown = [lot for lot in lots or () if lot not in result.lots]
    if unknown:
        raise KeyError(unknown[0])
    width = SHEETS[page].measure
    context = Context(result)
    unset: set[str] = set()

    def finish(chapter: Chapter) -> Chapter:
        unset.update(unset_letters(chapter))
        legible = make_legible(chapter)
        ready(legible)
        return legible

    front = [finish(chapter) for chapter in _front(context, width, lots)]
    back = [finish(run_on(*build_method(context)))]
    cover = build_cover(context)
    unset.update(unset_letters(cover))
    return Packet(
        title=title_of(result),
        language=LANGUAGE,
        running=f"{result.season.details.operation.name} · Season {result.season.details.label}",
        day=result.on.isoformat(),
        version=result.version,
        cover=tell_unset(make_legible(cover), unset),
        front=tuple(front),
        registers=build_registers(context, registers),
        back=tuple(back),
        identifiers=build_identifiers(context),
        manifest=build_manifest(context),
        manifest_lead=MANIFEST_LEAD,
        attached=collect_attachments(context) if attachments is None else tuple(attachments),
    )


def _front(context: Context, width: float, lots: Sequence[str] | None) -> Iterator[Chapter]:
    """The chapters before the registers, in reading order."""
    yield build_season(context, width)
    yield from build_notices(context)
    *gaps, last = build_gaps(context)
    yield from gaps
    dossiers = build_dossiers(context, width, lots)
    yield run_on(last, *islice(dossiers, 1))
    yield from dossiers
    yield run_on(build_stock(context, width), build_figures(context))
    yield run_on(build_trace(context), build_land(context))
