"""A season's folder made by somebody who wants a page of the desk to do something else than show it."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from desk_client import hold, visit

COVERS = ("certgen.desk.answering",)
NASTY = "'\"><script src=//evil.example></script><img src=x onerror=alert(1)>{{7*7}}</textarea></option>"
#: The elements and attributes by which a page does something, or leads somewhere.
ACTIVE = frozenset({"script", "iframe", "object", "embed", "base", "meta", "link", "form", "style"})
PAGES = (
    "/today", "/enter", "/enter/bag-on", "/enter/check", "/enter/picked", "/enter/sold", "/findings",
    "/findings?weight=unproven", "/tables", "/tables/bagging", "/tables/trees?columns=all", "/tables/lots",
    "/tables/movements/new", "/orchard", "/lots", "/papers", "/history", "/phones", "/print",
)  # fmt: skip


class _Parts(HTMLParser):
    """The elements of a page that do something, and where it leads."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, ...]] = []
        self.leads: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Notes an element."""
        told = dict(attrs)
        if tag in ACTIVE:
            self.found.append((tag, told.get("src") or told.get("href") or told.get("action") or ""))
        self.found += [(tag, name) for name in told if name.startswith("on") or name == "style"]
        self.leads += [told[name] or "" for name in ("href", "src", "action", "formaction") if name in told]


def parts_of(page: str) -> _Parts:
    """What a page does."""
    parts = _Parts()
    parts.feed(page)
    return parts


@pytest.fixture(scope="module")
def season(tmp_path_factory) -> Path:
    """Every name and word of it is markup, and so is a paper's name."""
    folder = tmp_path_factory.mktemp("hostile") / "season"
    (folder / "evidence").mkdir(parents=True)
    (folder / "evidence" / "<img src=x onerror=alert(1)>.png").write_bytes(b"x")
    (folder / "evidence" / "{{7*7}}\"'&.html").write_bytes(b"<script>1</script>")
    quoted = "'" + NASTY.replace("'", "''") + "'"
    text = f"""\
season:
  label: "2026"
  from: 2025-11-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
  operation: {{name: {quoted}, certifier: {quoted}}}
blocks:
  - {{block: {quoted}, status: organic}}
plantings:
  - {{planting: {quoted}, block: {quoted}, variety: {quoted}, planted: 2025-02-10, material: seed}}
trees:
  - {{tree: {quoted}, planting: {quoted}, row: "1", position: "1", sex: hermaphrodite, note: {quoted}}}
  - {{tree: '../../phones', planting: {quoted}, row: "1", position: "2", sex: female}}
  - {{tree: 'javascript:alert(1)', planting: {quoted}, row: "1", position: "3", sex: female}}
bagging:
  - {{bag: {quoted}, tree: {quoted}, covered: 2026-01-12, note: {quoted}, evidence: {quoted}}}
  - {{bag: '//evil.example', tree: "none", covered: 2026-01-12}}
screening:
  - {{sample: {quoted}, tree: {quoted}, collected: 2025-12-08, result: positive, report: {quoted}}}
lots:
  - {{lot: {quoted}, variety: {quoted}, packed: 2026-09-01, weight: 20 g, status: organic}}
movements:
  - {{movement: {quoted}, date: 2026-10-01, kind: sold, lot: {quoted}, weight: 5 g, party: {quoted}}}
incidents:
  - {{incident: {quoted}, date: 2026-03-01, kind: {quoted}, what: {quoted}}}
"""
    (folder / "season.yaml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def hostile(season):
    """A browser at the desk that has it open."""
    return visit(hold(season))


def test_no_page_does_what_a_record_says(hostile):
    """No element and no attribute that does something comes from a record; every address stays here."""
    links = set()
    for path in PAGES:
        answer = hostile.get(path)
        links |= {lead for lead in parts_of(answer.text).leads if lead.startswith("/")}
        assert answer.status_code in {200, 404}, path
        assert [] == wrong_in(answer.text), path
    records = [link for link in sorted(links) if link.startswith(("/record/", "/enter/", "/lots/", "/paper"))]
    assert len(records) > 10
    for link in records[:60]:
        answer = hostile.get(link)
        if answer.headers["content-type"].startswith("text/html"):
            assert [] == wrong_in(answer.text), link


def wrong_in(page: str) -> list[object]:
    """What a page has that isn't the desk's own."""
    parts = parts_of(page)
    own = {("script", "/desk.js"), ("link", "/style.css"), ("link", "data:,")}
    plain = {"meta", "form", "style"}
    foreign: list[object] = [
        one for one in parts.found if one not in own and (one[0] not in plain or "style" in one[1:])
    ]
    foreign += [lead for lead in parts.leads if not re.match(r"/[^/\\]|/$|#|\?|data:,|$", lead)]
    return foreign + (["49"] if ">49<" in page else [])


def test_an_answer_to_a_script_is_no_page(hostile):
    """A browser that is led there shows its text and runs nothing of it."""
    answer = hostile.post("/enter/bag-on/try", data={"bag": NASTY, "tree": NASTY, "covered": NASTY})

    assert "application/json" == answer.headers["content-type"]
    assert "nosniff" == answer.headers["x-content-type-options"]


def test_a_refusal_shows_what_was_asked_for_as_text(hostile):
    """However an address was made."""
    for path in (f"/record/bagging/x{NASTY}", f"/tables/{NASTY}", f"/enter/{NASTY}", f"/paper/{NASTY}",
                 f"/tree?tree={NASTY}", f"/today?saved={NASTY}&in={NASTY}&same={NASTY}"):  # fmt: skip
        assert [] == wrong_in(hostile.get(path.replace("<", "%3C").replace("#", "%23")).text), path


def test_a_paper_of_any_name_is_handed_over_to_be_kept(hostile):
    """A page among the evidence runs nothing in the desk's name."""
    links = [lead for lead in parts_of(hostile.get("/papers").text).leads if lead.startswith("/paper/")]
    answers = [hostile.get(link) for link in links]

    assert 2 <= len(answers)
    assert {200} == {answer.status_code for answer in answers}
    kinds = {answer.headers["content-disposition"].partition(";")[0] for answer in answers}
    assert {"inline", "attachment"} == kinds
    for answer in answers:
        assert answer.headers["content-type"] in {"image/png", "application/octet-stream"}
        assert "sandbox" in answer.headers.get_list("content-security-policy")
