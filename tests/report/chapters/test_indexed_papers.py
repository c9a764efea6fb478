"""Links to papers in the example's packet: from registers, findings, dossiers and the index."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.examination import examine
from certgen.exchange.editing.evidence import named_evidence
from certgen.manifest import PacketOptions
from certgen.report.chapters.gaps import build_gaps
from certgen.report.context import Context
from certgen.report.packet import build_packet
from certgen.typeset.parts import GapCard, Run

COVERS = ("certgen.report.chapters.appendix",)


@pytest.fixture(scope="module")
def result(example_season):
    """The example as of the day of its packet."""
    return examine(example_season, date(2026, 11, 25))


@pytest.fixture(scope="module")
def packet(result):
    """Its packet, not set."""
    return build_packet(result)


def hrefs(value) -> set[str]:
    """Every href below a part, a register or an index."""
    if isinstance(value, Run):
        return {value.href}
    if isinstance(value, str):
        return {value} if value.startswith(("evidence/", "previous-1/evidence/")) else set()
    if isinstance(value, tuple):
        return set().union(*map(hrefs, value))
    names = getattr(value, "__dataclass_fields__", ())
    return set().union(*(hrefs(getattr(value, name)) for name in names))


def test_every_paper_that_a_record_names_is_linked(packet, result):
    """From a register, a dossier or a chapter, and from the index, by one entry each."""
    named = {f"evidence/{one.path}" for one in named_evidence(result.season) if one.there}
    attached = {one.name for one in packet.attachments}
    indexed = [href for _, papers in packet.index.papers for _, _, href in papers if href]

    assert len(named) > 20
    assert named <= attached
    assert named - {"evidence/certificates/operation-2026.txt"} <= hrefs(
        (packet.front, packet.back, packet.registers)
    )
    assert {one for one in attached if "evidence/" in one} == set(indexed)
    assert len(indexed) == len(set(indexed))


def test_a_document_has_one_entry(packet):
    """Letters and invoices each by their number, whether a copy is filed or not; no range, nothing twice."""
    names = [name for _, papers in packet.index.papers for name, _, _ in papers]
    kinds = {name: kind for kind, papers in packet.index.papers for name, _, _ in papers}

    assert len(names) == len(set(names))
    assert "Letters and reports" == kinds["BF-26-0031"]
    assert {"Invoices and documents"} == {kinds[f"INV-26-{number:03}"] for number in range(1, 18)}
    assert "Photos" == kinds["tags/b26-125.png"]
    assert not any("…" in name for name in names)


def test_nothing_is_linked_that_does_not_travel(packet):
    """Whatever a link opens is attached."""
    opened = {
        one
        for one in hrefs((packet.front, packet.back, packet.registers, packet.index))
        if "evidence/" in one
    }

    assert opened <= {one.name for one in packet.attachments}


def test_the_paper_stands_beside_the_finding(result):
    """The tag's photo is shown once, beside the first finding it belongs to; the other leads there."""
    sections = [section for chapter in build_gaps(Context(result)) for section in chapter.sections]
    cards = [part for section in sections for part in section.parts if isinstance(part, GapCard)]
    shown = {card.anchor: card.exhibits for card in cards if card.exhibits}

    assert {"gap/5", "gap/6"} == set(shown)
    assert {"evidence/tags/b26-125.png"} == {one.paper.href for ones in shown.values() for one in ones}
    assert [1, 0] == [len(shown[anchor][0].pictures) for anchor in ("gap/5", "gap/6")]
    assert "shown at gap 5" == shown["gap/6"][0].note


def test_every_gap_has_its_place(result):
    """Gathered on cards or in a row, each keeps its number, and what is gathered is one matter."""
    sections = [section for chapter in build_gaps(Context(result)) for section in chapter.sections]
    parts = [part for section in sections for part in section.parts]
    cards = [part for part in parts if isinstance(part, GapCard)]
    anchors = [entry.anchor for card in cards for entry in card.entries]
    anchors += [row.anchor for part in parts for row in getattr(part, "rows", ())]

    assert sorted(anchors) == sorted(f"gap/{number}" for number in range(1, len(result.gaps) + 1))
    assert ["Gaps 11 and 13", "Gaps 12 and 15"] == [card.number for card in cards if len(card.entries) > 1]
    assert len(cards) < 12


def test_a_packet_without_papers_links_none(result):
    """Where no file travels inside, papers are words."""
    context = Context(result, ())

    assert {} == context.evidence_names()
    assert "" == context.paper("tags/b26-125.png")
    assert "" == context.record_file("trees.yaml")


def test_a_mended_remedy_knows_that_the_seed_is_packed(result):
    """Nobody is told to keep seed out of every lot that is in one."""
    told = {gap.id: gap.remedy for gap in result.gaps if gap.rule == "bag-failed"}

    assert told["B26-064"].startswith("Hold what is left of the lot")
    assert "Keep this fruit's seed out of every lot." == told["B26-051"]


def test_registers_may_be_left_out(result):
    """Then the index and the findings still lead to papers."""
    packet = build_packet(result, PacketOptions(registers="none"), attachments=())

    assert packet.index.papers
