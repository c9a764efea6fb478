"""The co-op's report as PDF: whole, tagged, the same bytes for the same result."""

from __future__ import annotations

import io
import json
import re
from typing import TYPE_CHECKING

import pikepdf
import pypdfium2
import pytest
from pages import text_of

from certgen.coop.papers import report
from certgen.coop.papers.between_pages import link_numbers, list_numbered
from certgen.coop.papers.cover import print_of
from certgen.coop.papers.exports import as_json
from certgen.coop.papers.report import build_report, set_report, settings_of
from certgen.typeset.compose import compose

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult

COVERS = (
    "certgen.coop.papers.between_pages",
    "certgen.coop.papers.cover",
    "certgen.coop.papers.last_pages",
    "certgen.coop.papers.readiness",
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
        "What to chase first",
        "What disagrees between members",
        "The co-op’s own control",
        "The combined mass balance",
        "The members",
        "Whom to visit",
        "Manifest",
    ] == titles[2:]
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


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_all_of_it_is_on_paper(example_result: CoopResult, page: str) -> None:
    """Every disagreement, thing to chase, lot, gap and hash in print, on few pages that are full; no word of
    the records' forms is left with its marks, and nobody is sent to another form of the report.
    """
    pdf = set_report(example_result, page=page)
    shown = re.sub(r"\s", "", text_of(pdf))

    def told(text: str) -> bool:
        return re.sub(r"[\s`]", "", text) in shown

    assert [] == [one.message for one in example_result.disagreements
                  if one.weight != "control" and not told(one.message)]  # fmt: skip
    assert [] == [one.text for one in example_result.chase if one.about is None and not told(one.text)]
    for view in example_result.members:
        assert told(view.summary.fingerprint)
        assert [] == [line.fact.lot for line in view.lots if not told(line.fact.lot)]
        assert [] == [gap.message for gap in view.gaps if gap not in view.waiting and not told(gap.message)]
    for word in ("`", "JSON", "attacheddata", "more,which"):
        assert word not in shown
    assert len(pypdfium2.PdfDocument(pdf)) <= 9


def test_each_page_bears_the_fingerprint_of_what_was_handed_in(example_result: CoopResult) -> None:
    """The same that the terminal shows, so that a page of paper can be matched to its file."""
    foot = print_of(example_result)
    assert foot.replace(" ", "") == example_result.sample.key.fingerprint[: len(foot.replace(" ", ""))]
    for page in pypdfium2.PdfDocument(set_report(example_result)):
        assert foot in page.get_textpage().get_text_range()


def test_disagreements_are_named_by_number(example_result: CoopResult) -> None:
    """One number each, from 1; what the control has open stands in its own table and has none."""
    numbered = list_numbered(example_result)
    assert list(range(1, len(numbered) + 1)) == [number for number, _ in numbered]
    assert {"control"} == {one.weight for one in example_result.disagreements} - {
        one.weight for _, one in numbered
    }
    view = example_result.members[0]
    linked = [run.text for run in link_numbers(example_result, view.disagreements) if run.href]
    named = [str(number) for number, one in numbered if view.member.key in one.members]
    assert named == linked
