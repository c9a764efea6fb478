"""From a result to the packet: which parts there are, and in which order."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING, Final

from certgen.manifest import Maker, PacketOptions, build_manifest
from certgen.report.chapters.appendix import (
    MANIFEST_LEAD,
    build_identifiers,
    collect_attachments,
    list_attached,
    list_files,
)
from certgen.report.chapters.corrections import build_corrections
from certgen.report.chapters.cover import build_covers
from certgen.report.chapters.disclosed import build_disclosed_cover, build_lot_chapter
from certgen.report.chapters.figures.chapter import build_figures
from certgen.report.chapters.gaps import build_gaps
from certgen.report.chapters.glossary import build_glossary
from certgen.report.chapters.indexed_papers import index_papers
from certgen.report.chapters.land import build_cautions, build_land
from certgen.report.chapters.left_out import build_left_out, say_lots, tell_line
from certgen.report.chapters.lot.dossiers import build_dossiers
from certgen.report.chapters.method import build_declaration, build_method
from certgen.report.chapters.notices import build_notices, build_recalls
from certgen.report.chapters.orchard import build_orchard
from certgen.report.chapters.registers import build_registers
from certgen.report.chapters.season import build_season
from certgen.report.chapters.short import build_short, tell_short
from certgen.report.chapters.stock import build_conversion, build_stock
from certgen.report.chapters.trace import build_trace
from certgen.report.context import Context
from certgen.resources import code_digest
from certgen.typeset.design import Settings, find_sheet
from certgen.typeset.engines import list_engines
from certgen.typeset.parts import Chapter, Document, Index, RegisterSet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from certgen.examination import Result
    from certgen.manifest import Manifest
    from certgen.typeset.design import Sheet
    from certgen.typeset.parts import Attachment

#: The language that the packet is written in.
LANGUAGE: Final = "en"
#: What a screen reader says before the place that a link leads to.
GO_TO: Final = "Go to"
#: And before the name of an attached file.
OPENS: Final = "Open the attached file"
REGISTERS_LEAD: Final = (
    "Every record as it was written down, but for those of the land, which stand in the chapter before."
    " What all records of a table share is said once above them, what a group shares at its head, and an"
    " entry says where it differs, so nothing that was recorded is left out; a dash is nothing recorded. An"
    " identifier at the head of an entry leads to where the thing is used, the others to their own entries,"
    " and a paper clip stands where a click opens the paper itself."
)
INDEX_LEAD: Final = (
    "Where each tag, tree, lot or document stands in this packet. “B001 … B040” means every identifier of"
    " that table from the first to the last in the order of the register; a document has an entry of its own,"
    " and a paper clip where a click opens it."
)
#: How much of the registers a packet holds.
REGISTER_CHOICES = ("full", "lots", "none")


def run_on(first: Chapter, *others: Chapter) -> Chapter:
    """Chapters that follow on the page where the one before ended: short ones leave no page half empty."""
    sections = list(first.sections)
    for chapter in others:
        head, *rest = chapter.sections
        sections += [replace(head, style="follow"), *rest]
    return Chapter(first.name, tuple(sections))


def settings_of(result: Result, page: str = "A4") -> Settings:
    """How a season's packet is set on `page`. Raises ValueError for an unknown paper."""
    details = result.season.details
    title = f"Seed traceability report, {details.operation.name}, season {details.label}"
    return Settings(title, LANGUAGE, find_sheet(page), result.on, GO_TO, OPENS)


def find_maker(result: Result) -> Maker:
    """What sets pages here."""
    return Maker(result.version, code_digest(), list_engines())


def build_packet(
    result: Result,
    options: PacketOptions | None = None,
    *,
    manifest: Manifest | None = None,
    attachments: Sequence[Attachment] | None = None,
    begin: Callable[[RegisterSet, Iterable[str]], object] = lambda _registers, _names: None,
) -> Document:
    """The packet of a season, ready to be set.

    Of `options`, `registers` is `full`, `lots` (only what lots rest on) or `none`; `lots` names the lots that
    get a dossier (None: all). `manifest` is the packet's own, made with the same options (None: made here).
    `attachments` are the files that travel inside (None: records, evidence, manifest). `begin` is given the
    registers, if there are any, and the names of those files before the chapters are built.
    Raises ValueError for an unknown choice, KeyError for a lot that is not in the season, ManifestError when
    a file has changed meanwhile.
    """
    chosen = options or PacketOptions()
    if chosen.registers not in REGISTER_CHOICES:
        message = f"registers are {', '.join(REGISTER_CHOICES)}, not {chosen.registers!r}"
        raise ValueError(message)
    _hold_lots(result, chosen)
    own = manifest or build_manifest(result, find_maker(result), chosen)
    sheet = find_sheet(chosen.page)
    context = Context(result, list_attached(own))
    if chosen.withholds:
        return _build_disclosed(context, own, chosen, sheet.measure)
    operation, label = result.season.details.operation, result.season.details.label
    attached = collect_attachments(context, own) if attachments is None else tuple(attachments)
    if chosen.short:
        return _build_short(context, own, chosen, sheet.measure, attached)

    registers = RegisterSet("Registers", REGISTERS_LEAD, build_registers(context, chosen.registers))
    if registers.registers:
        begin(registers, [file.name for file in attached])
    cover, *shorter = (tell_line(one, chosen) for one in build_covers(context, own, sheet.measure))
    return Document(
        head=f"{operation.name} · Season {label}" + (f" · {say_lots(chosen)}" if chosen.left_out else ""),
        foot=f"{own.fingerprint} · certgen {result.version} · records as of {result.on.isoformat()}",
        producer=f"certgen {result.version}",
        cover=cover,
        shorter=tuple(shorter),
        summary=tuple(_close_up(_summary(context, sheet), chosen)),
        glossary=build_glossary(),
        front=tuple(_close_up(_front(context, sheet.measure, chosen.lots, own), chosen)),
        registers=registers,
        back=(_back(context, chosen),),
        index=Index("Index of identifiers", INDEX_LEAD, build_identifiers(context), index_papers(context)),
        manifest=RegisterSet("Manifest", MANIFEST_LEAD, (list_files(own),)),
        # In capitals it is the smallest of codes: twenty signs in 21 by 21 modules.
        code=own.sha256[:20].upper(),
        attachments=attached,
    )


def _hold_lots(result: Result, options: PacketOptions) -> None:
    unknown = [lot for lot in options.lots or () if lot not in result.lots]
    if unknown:
        raise KeyError(unknown[0])


def _build_short(
    context: Context,
    manifest: Manifest,
    options: PacketOptions,
    width: float,
    attachments: tuple[Attachment, ...],
) -> Document:
    """The short packet: cover, findings, lots, balance, signatures; with all the files of the other one.

    So few pages need no contents, no index and no printed list of files.
    """
    result = context.result
    operation, label = result.season.details.operation, result.season.details.label
    short = build_short(context, width)
    sections = list(short.sections)
    if options.left_out is not None:
        sections.insert(-1, build_left_out(context, options, options.left_out))
    chapter = Chapter(short.name, tuple(sections))
    cover, *shorter = (tell_short(tell_line(one, options)) for one in build_covers(context, manifest, width))
    return Document(
        head=f"{operation.name} · Season {label}" + (f" · {say_lots(options)}" if options.left_out else ""),
        foot=f"{manifest.fingerprint} · certgen {result.version} · records as of {result.on.isoformat()}",
        producer=f"certgen {result.version}",
        cover=cover,
        shorter=tuple(shorter),
        front=(chapter,),
        manifest=RegisterSet(),
        code=manifest.sha256[:20].upper(),
        attachments=attachments,
        unlisted=frozenset(section.title for section in chapter.sections),
    )


def _back(context: Context, options: PacketOptions) -> Chapter:
    """What stands behind the registers: the method and the clauses, or, of a packet of some lots' line, what
    isn't in it; those are in the full packet and the same for every lot."""
    if options.left_out is None:
        return run_on(*build_method(context))
    cautions = build_cautions(context)
    rest = build_left_out(context, options, options.left_out)
    sections = [replace(rest, style="chapter"), *([cautions] if cautions else []), build_declaration(context)]
    return Chapter("left-out", tuple(sections))


def _build_disclosed(context: Context, manifest: Manifest, options: PacketOptions, width: float) -> Document:
    """The packet of one lot for one party: its cover, the dossier, the findings, and what was withheld.

    `context` is that of the disclosed season, so no chapter has anything to leave out; these are those that
    speak to a buyer. Of no other lot, and for no other kind of reader, is there such a packet: ValueError.
    """
    if options.reader != "buyer" or len(options.lots or ()) != 1 or not options.party:
        message = "a packet that withholds anything is of one lot, for one buyer by name"
        raise ValueError(message)
    result = context.result
    (lot,) = options.lots or ()
    operation = result.season.details.operation
    return Document(
        head=f"{operation.name} · lot {lot}, for {options.party}",
        foot=f"{manifest.fingerprint} · certgen {result.version} · records as of {result.on.isoformat()}",
        producer=f"certgen {result.version}",
        cover=build_disclosed_cover(context, manifest, options),
        front=(build_lot_chapter(context, lot, options.party, width),),
        manifest=RegisterSet("Manifest", MANIFEST_LEAD, (list_files(manifest),)),
        code=manifest.sha256[:20].upper(),
        attachments=collect_attachments(context, manifest),
    )


def _close_up(chapters: Iterator[Chapter], options: PacketOptions) -> Iterator[Chapter]:
    """The chapters as they come, each on a page of its own; of some lots' line all are short and run on."""
    if options.left_out is None:
        yield from chapters
    else:
        yield run_on(*chapters)


def _summary(context: Context, sheet: Sheet) -> Iterator[Chapter]:
    """The pages between the first one and the contents: the mass balance, and the orchard."""
    yield build_stock(context, sheet.measure)
    orchard = build_orchard(context, sheet.measure, sheet.depth)
    if orchard is not None:
        yield orchard


def _front(
    context: Context, width: float, lots: Sequence[str] | None, manifest: Manifest
) -> Iterator[Chapter]:
    """The chapters between the contents and the registers, in reading order."""
    first = [build_corrections(manifest)] if manifest.replaced else []
    first += [chapter for chapter in (build_season(context),) if chapter]
    gaps, *more = build_gaps(context)
    *found, last = (run_on(*first, gaps), *more)
    yield from found
    told = [*build_notices(context), *build_recalls(context)]
    dossiers = build_dossiers(context, width, lots)
    held = run_on(last, *told, *islice(dossiers, 1))
    for chapter in dossiers:
        yield held
        held = chapter
    yield run_on(held, build_conversion(context), build_figures(context), build_trace(context))
    yield build_land(context, width)
