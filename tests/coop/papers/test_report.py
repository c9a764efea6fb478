"""The co-op's report as PDF: whole, tagged, the same bytes for the same result."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import pikepdf

from certgen.coop.papers import report
from certgen.coop.papers.exports import as_json
from certgen.coop.papers.report import build_report, set_report, settings_of
from certgen.typeset.compose import compose

if TYPE_CHECKING:
    import pytest

    from certgen.coop.between.result import CoopResult

COVERS = (
    "certgen.coop.papers.control_pages",
    "certgen.coop.papers.overview",
    "certgen.coop.papers.member_pages",
)


def test_the_report_has_a_page_a_member_and_its_data(example_result: CoopResult) -> None:
    """Cover, overview, a bookmark a member, and the result itself as an attachment; twice the same bytes."""
    data = set_report(example_result)
    assert compose(build_report(example_result), settings_of(example_result)) == data
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        content = json.loads(pdf.attachments["coop.json"].get_file().read_bytes())
        with pdf.open_outline() as outline:
            titles = [item.title for item in outline.root]
            members = [
                item.title for one in outline.root if one.title == "The members" for item in one.children
            ]
    assert as_json(example_result) == content
    assert [
        "The co-op on a page",
        "What disagrees between members",
        "The co-op’s own control",
        "The combined mass balance",
    ] == titles[2:6]
    assert [f"{view.member.name} ({view.member.key})" for view in example_result.members] == members


def test_a_large_coops_members_stay_out_of_the_contents(
    example_result: CoopResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They would fill pages of contents; the bookmarks name them all the same."""
    assert frozenset() == build_report(example_result).unlisted
    monkeypatch.setattr(report, "_IN_CONTENTS", 3)
    titles = {f"{view.member.name} ({view.member.key})" for view in example_result.members}
    document = build_report(example_result)
    assert titles == document.unlisted
    data = compose(document, settings_of(example_result))
    with pikepdf.open(io.BytesIO(data)) as pdf, pdf.open_outline() as outline:
        (members,) = [one for one in outline.root if one.title == "The members"]
        contents = [str(item.title) for item in members.children]
    assert titles == set(contents)
