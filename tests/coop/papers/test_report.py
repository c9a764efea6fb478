"""The co-op's report as PDF: whole, tagged, the same bytes for the same result."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pikepdf

from certgen.coop.papers import report
from certgen.coop.papers.exports import as_json
from certgen.coop.papers.report import build_packet, write_pdf
from certgen.typeset.compose import compose_pdf

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from certgen.coop.between.result import CoopResult

COVERS = (
    "certgen.coop.papers.last_chapters",
    "certgen.coop.papers.member_pages",
    "certgen.coop.papers.overview",
)


def test_the_report_has_a_page_a_member_and_its_data(example_result: CoopResult, tmp_path: Path) -> None:
    """Cover, overview, a bookmark a member, and the result itself as an attachment; twice the same bytes."""
    out = tmp_path / "coop.pdf"
    write_pdf(example_result, out)
    assert compose_pdf(build_packet(example_result)) == out.read_bytes()
    with pikepdf.open(io.BytesIO(out.read_bytes())) as pdf:
        assert pdf.Root.MarkInfo.Marked
        content = json.loads(pdf.attachments["coop.json"].get_file().read_bytes())
        with pdf.open_outline() as outline:
            titles = [item.title for item in outline.root]
            members = [
                item.title for one in outline.root if one.title == "The members" for item in one.children
            ]
    assert as_json(example_result) == content
    assert ["The co-op on a page", "What disagrees between members", "The combined mass balance"] == titles[
        2:5
    ]
    assert [f"{view.member.name} ({view.member.key})" for view in example_result.members] == members


def test_names_of_every_script_stay_in_their_place(example_result: CoopResult) -> None:
    """A name from right to left is set apart, a letter without a face spelled out, and the cover says so."""
    coop = replace(example_result.coop, name="جمعية \U000130b8")
    cover = build_packet(replace(example_result, coop=coop)).cover
    assert "\u2068جمعية\u2069" in cover.operation
    assert "U+130B8" in cover.operation
    assert ["Letters"] == [fact.label for fact in cover.facts if "U+130B8" in fact.runs[0].text]


def test_a_large_coops_members_stay_out_of_the_contents(
    example_result: CoopResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They would fill pages of contents; the bookmarks name them all the same."""
    assert frozenset() == build_packet(example_result).unlisted
    monkeypatch.setattr(report, "_IN_CONTENTS", 3)
    titles = {f"{view.member.name} ({view.member.key})" for view in example_result.members}
    packet = build_packet(example_result)
    assert titles == packet.unlisted
    with pikepdf.open(io.BytesIO(compose_pdf(packet))) as pdf, pdf.open_outline() as outline:
        (members,) = [one for one in outline.root if one.title == "The members"]
        contents = [str(item.title) for item in members.children]
    assert titles == set(contents)
