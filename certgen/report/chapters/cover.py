"""The first page: whose season this is, what the records show, and what the file is and is not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.corrections import read_replaced
from certgen.manifest import write_fingerprint
from certgen.report.chapters.inspections import open_lines
from certgen.report.chapters.notices import cover_lines
from certgen.report.chapters.season import grams_of
from certgen.report.chapters.verdict import build_bands, tell_grounds, tell_verdict
from certgen.report.wording import cell, count_of, fact, weigh, whole
from certgen.rules.wording import day
from certgen.typeset.design import COLOURS
from certgen.typeset.first_page import Cover
from certgen.typeset.parts import Cell, Fact, Picture
from certgen.typeset.svg import qr_code

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.manifest import Manifest
    from certgen.report.context import Context

IS_TEXT = (
    "What this season’s records show: from which screened trees each lot comes, what is missing or"
    " contradicts itself, where every gram went. It supports a certifier’s decision. The record files are"
    " inside."
)
IS_NOT_TEXT = (
    "No certificate, no test report and no decision. It checks records against records and these standards;"
    " it has not seen a tree, a bag or a seed. What a record leaves out, it can’t know."
)
#: How many deliveries, findings and lots the first page shows, longest first; what fits is printed.
LENGTHS: Final = ((8, 16, 12), (8, 16, 0), (8, 12, 0), (6, 9, 0), (4, 6, 0), (2, 3, 0), (1, 1, 0))


def _tell_equivalence(context: Context) -> Iterator[Fact]:
    """Until when seed of other countries is let in as equivalent, where a standard says so."""
    for book, demand in context.result.case.demand("equivalent_until"):
        last = date.fromisoformat(str(demand.value))
        ends = "ended on" if context.result.on > last else "ends on"
        number = demand.clause.partition(":")[2]
        yield fact(
            "Equivalence",
            f"{book.title}: recognition of seed of the United States and Canada as equivalent {ends}"
            f" {day(last)} ({number}); whether the day was moved is to be looked up.",
        )


def build_covers(context: Context, manifest: Manifest, width: float) -> tuple[Cover, ...]:
    """The first page of a season's packet, the longest first: the first that fits a page is to be printed."""
    cover = build_cover(context, manifest)
    claim, grounds = tell_verdict(context), tell_grounds(context)
    covers = (
        replace(cover, claim=claim, grounds=grounds, bands=build_bands(context, length, width))
        for length in LENGTHS
    )
    return tuple(dict.fromkeys(covers))


def build_cover(context: Context, manifest: Manifest | None = None) -> Cover:
    """The cover of a season, its verdict in lines; without a manifest it has no fingerprint."""
    result = context.result
    details = context.season.details
    operation = details.operation
    facts = [
        fact("Crop", f"{context.profile.title} ({context.profile.botanical})"),
        fact(
            "Checked against", "; ".join(f"{book.title}, {book.edition}" for book in result.rulebooks) or "–"
        ),
        *_tell_equivalence(context),
        fact("Certificate", operation.certificate or "not recorded"),
        fact("Certifier", operation.certifier or "not recorded"),
        fact("Address", operation.address or "not recorded"),
        fact("Responsible", operation.responsible or "not recorded"),
        fact("Records as of", day(result.on)),
    ]
    return Cover(
        title="Seed traceability report",
        operation=operation.name,
        season=f"Season {details.label} · {day(details.start)} to {day(details.end)}",
        facts=tuple(facts),
        verdict=tuple(_verdict(context)),
        is_text=IS_TEXT,
        is_not_text=IS_NOT_TEXT,
        file=(*(_identify(manifest) if manifest else ()), *_count_records(context)),
        code=draw_fingerprint(manifest) if manifest else None,
    )


def _verdict(context: Context) -> Iterator[Cell]:
    """What the records come to, a line a standing, and what must be known beside it."""
    result = context.result
    if result.errors:
        places = "One place" if len(result.errors) == 1 else f"{whole(len(result.errors))} places"
        words = f"{places} in the records could not be read, and may speak against what is said here"
        yield cell(words, "gaps", mark="rejected")
    for standing, milligrams in grams_of(result.summary):
        if milligrams or standing != "unaccounted":
            count = result.summary.lots.get(standing, 0)
            words = f"{weigh(milligrams)} {standing}"
            words += f"; {count_of('lots', count)} {standing}" if count else ""
            words += " to the last gram" if count and standing == "traced" else ""
            yield cell(words, mark=standing)
    for run in cover_lines(context):
        yield Cell((run,), mark="rejected")
    yield from open_lines(context)
    for number, gap in enumerate(result.gaps, start=1):
        if gap.rule == "own-figure-loosens":
            yield cell("Figures of the operation’s own let findings pass", f"gap/{number}", mark="advice")


def _identify(manifest: Manifest) -> Iterator[Fact]:
    """What a printed page is matched to its file by, and which packet this one takes the place of."""
    yield fact("Fingerprint", manifest.fingerprint)
    if manifest.replaced:
        old = read_replaced(manifest)
        when = day(date.fromisoformat(old["on"]))
        replaced = write_fingerprint(manifest.content["replaces"])
        yield fact("Replaces", f"{replaced}, records as of {when}")


def draw_fingerprint(manifest: Manifest) -> Picture:
    """The fingerprint as a QR code, for a telephone: the whole SHA-256 behind the digits printed."""
    text = f"certgen packet {manifest.fingerprint}\nSHA-256 {manifest.sha256}"
    alt = f"QR code of the fingerprint {manifest.fingerprint}"
    return Picture("fingerprint", qr_code(text, colour=COLOURS["ink"]), alt)


def _count_records(context: Context) -> tuple[Fact, ...]:
    summary = context.result.summary
    count = sum(summary.records.values())
    files = len(context.season.sources)
    facts = [fact("Records", f"{count_of('record', count)} in {count_of('file', files)}")]
    if summary.left_out:
        facts.append(
            fact("Left out", f"{whole(summary.left_out)} records could not be read and are named under Gaps")
        )
    gaps = sum(summary.gaps.values())
    facts.append(
        fact(
            "Findings",
            f"{whole(gaps)}: {summary.gaps['rejects']} against the claim,"
            f" {summary.gaps['unproven']} of missing evidence, {summary.gaps['advice']} of advice",
        )
    )
    facts.append(fact("Made by", f"certgen {context.result.version}; the same records give the same file"))
    return tuple(facts)
