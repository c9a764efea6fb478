"""Print at the desk: asked for, waited for, cancelled, opened and saved; by scripts or without."""

from __future__ import annotations

import http.cookiejar
import os
import re
import signal
import subprocess
import sys
import urllib.parse
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from desk_client import form_of, hold, said, served, visit
from desk_prints import make_when_told
from live_browser import browse
from waiting import wait_until

from certgen.desk.access import may_ask

if TYPE_CHECKING:
    from certgen.desk.print_jobs import PrintJobs

pytestmark = pytest.mark.all_cores


@pytest.fixture
def go(monkeypatch, folder) -> Path:
    """Papers are made once this file is there."""
    monkeypatch.setattr("certgen.desk.answering.print_order", make_when_told)
    return folder.parent / "go"


@pytest.fixture
def browser(go, held) -> Iterator:  # noqa: ARG001 (what is made is decided before the desk opens)
    """A browser that was let in; what its desk prints ends with the test."""
    client = visit(held)
    yield client
    jobs_of(client).close()


def jobs_of(client) -> PrintJobs:
    """The papers of the desk that a browser is at."""
    return client.app._app.state.prints


def press(client, slug: str, **form: str):
    """The button of a kind's form."""
    return client.post(f"/print/{slug}", data=form, follow_redirects=False)


def wait_for_all(client) -> None:
    """Until nothing is being made."""
    wait_until(lambda: not any(job.is_going for job in jobs_of(client).list()))


def test_what_can_be_printed_is_shown(browser):
    """Each kind leads to its form, whose values a press would send."""
    page = browser.get("/print").text
    kinds = re.findall(r'href="/print/([a-z-]+)"', page)

    assert {"report", "binder", "card", "tags", "check-round", "visit", "workbook"} <= set(kinds)
    for kind in kinds:
        assert 200 == browser.get(f"/print/{kind}").status_code
    sent = form_of(browser.get("/print/tags").text, "/print/tags")
    assert {"page": "A4", "size": "66x35", "each": "1", "blank": "0", "skip": "0"} == {
        name: text for name, text in sent.items() if text
    }
    assert 404 == browser.get("/print/recall").status_code
    assert 404 == browser.get("/print/..%2F..%2Fetc").status_code


def test_a_paper_is_waited_for_without_scripts(browser, go):
    """The page says how far it is and comes anew by itself; then it says what is there."""
    answer = press(browser, "tags")
    wait_until(lambda: jobs_of(browser).list()[0].done == 2)
    going = browser.get("/print/tags").text
    go.touch()
    wait_for_all(browser)
    ready = browser.get("/print/tags").text

    assert (303, "/print/tags#print-1") == (answer.status_code, answer.headers["location"])
    assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in going
    assert "Bag tags: Setting pages: 2 of 6 parts" in said(going)
    assert '<form method="post" action="/print/tags"' not in going
    assert "http-equiv" not in ready
    assert "Bag tags is ready. made.pdf, 0 kB, made in" in said(ready)
    assert '<form method="post" action="/print/tags"' in ready


def test_how_far_it_is_is_told_to_scripts(browser, go):
    """Stage and seconds, and no share that nobody counted."""
    press(browser, "tags")
    wait_until(lambda: jobs_of(browser).list()[0].done == 2)
    told = browser.get("/prints").json()
    go.touch()
    wait_for_all(browser)

    assert [{"number": 1, "going": True, "stage": "Setting pages: 2 of 6 parts"}] == [
        {name: one[name] for name in ("number", "going", "stage")} for one in told
    ]
    assert [False] == [one["going"] for one in browser.get("/prints").json()]


def test_a_file_is_opened_or_saved_as_what_it_is(browser, go):
    """Type, name and policy; it isn't kept by the browser, and can be fetched again."""
    go.touch()
    for kind in ("tags", "binder", "workbook"):
        press(browser, kind)
    wait_for_all(browser)
    told = [browser.get(f"/prints/{number}/file").headers for number in (1, 2, 3)]
    saved = browser.get("/prints/2/file?save=yes").headers

    assert ["application/pdf", "text/html; charset=utf-8",
            "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"] == [
        one["content-type"] for one in told
    ]  # fmt: skip
    assert ['inline; filename="made.pdf"', 'inline; filename="made.html"',
            'attachment; filename="made.xlsx"'] == [one["content-disposition"] for one in told]  # fmt: skip
    assert 'attachment; filename="made.html"' == saved["content-disposition"]
    assert {"no-store"} == {one["cache-control"] for one in told}
    policies = [one.get_list("content-security-policy") for one in told]
    assert [1, 1, 1] == [len(one) for one in policies]
    assert policies[1][0].startswith("sandbox allow-scripts allow-modals allow-downloads; default-src 'none'")
    assert "allow-same-origin" not in policies[1][0]


def test_nobody_else_gets_it(browser, go):
    """Without the token, from another page, or from a phone in the network."""
    go.touch()
    press(browser, "tags")
    wait_for_all(browser)
    elsewhere = {"origin": "http://elsewhere.example"}
    foreign = [
        browser.post("/print/tags", headers=elsewhere),
        browser.post("/prints/1/cancel", headers=elsewhere),
    ]
    browser.cookies.clear()

    assert [403, 403] == [one.status_code for one in foreign]
    assert 403 == browser.get("/prints/1/file").status_code
    assert 403 == browser.get("/prints").status_code
    assert not may_ask("GET", "/print")
    assert not may_ask("GET", "/prints/1/file")
    assert not may_ask("POST", "/print/tags")


def test_foreign_numbers_name_nothing(browser, go):
    """Nor does a paper that isn't ready have a file."""
    press(browser, "tags")
    answers = [
        browser.get(f"/prints/{number}/file") for number in ("1", "2", "0", "-1", "1e0", "%2e%2e", "١")
    ]
    cancelled = [browser.post(f"/prints/{number}/cancel") for number in ("2", "x")]
    go.touch()
    wait_for_all(browser)

    assert {404} == {one.status_code for one in (*answers, *cancelled)}
    assert 405 == browser.get("/prints/1/cancel").status_code


def test_a_form_that_asks_for_what_isn_t_there_begins_nothing(browser):
    """Each choice says what is wrong with it; what was typed is still there."""
    answer = press(browser, "tags", only="01, T-<b>9", each="many", page="../x")

    assert 422 == answer.status_code
    assert "Not begun. 3 fields need another look." in said(answer.text)
    assert "No tree is called T-<b>9." in said(answer.text)
    assert "01, T-&lt;b&gt;9</textarea>" in answer.text
    assert [] == jobs_of(browser).list()


def test_pressed_again_it_is_the_same_one(browser, go):
    """However often; with another choice it is refused as long as the first is made."""
    places = {press(browser, "tags").headers["location"] for _ in range(100)}
    other = press(browser, "tags", each="4")
    go.touch()
    wait_for_all(browser)
    again = press(browser, "tags", each="4")
    wait_for_all(browser)

    assert {"/print/tags#print-1"} == places
    assert 409 == other.status_code
    assert "Bag tags: one is being made already. Wait for it, or cancel it first." in said(other.text)
    assert "/print/tags#print-2" == again.headers["location"]


def test_too_many_at_once_are_refused(browser, go):
    """A few wait for their turn, and no more."""
    kinds = re.findall(r'href="/print/([a-z-]+)"', browser.get("/print").text)
    form = {"lot": "AK-26-1"}
    statuses = [press(browser, kind, **(form if kind == "card" else {})).status_code for kind in kinds[:9]]
    page = said(browser.get("/print").text)
    go.touch()
    wait_for_all(browser)

    assert [303] * 8 + [409] == statuses
    assert 6 == page.count("Waiting for its turn")


def test_it_is_cancelled_from_the_page(browser):
    """Then it can be asked for again."""
    press(browser, "tags")
    wait_until(lambda: jobs_of(browser).list()[0].stage == "Setting pages")
    page = browser.get("/print/tags").text
    form_of(page, "/prints/1/cancel")
    answer = browser.post("/prints/1/cancel", follow_redirects=False)
    after = browser.get("/print/tags").text

    assert "/print/tags#print-1" == answer.headers["location"]
    assert "Bag tags was cancelled" in said(after)
    assert '<form method="post" action="/print/tags"' in after
    assert 404 == browser.get("/prints/1/file").status_code


def test_the_tray_s_paper_is_remembered(browser, go):
    """For every kind; a label's size for its own."""
    go.touch()
    press(browser, "samples", page="Letter", size="2.625x1in")
    wait_for_all(browser)
    tags, samples = (
        form_of(browser.get(f"/print/{kind}").text, f"/print/{kind}") for kind in ("tags", "samples")
    )

    assert ("Letter", "66x35") == (tags["page"], tags["size"])
    assert ("Letter", "2.625x1in") == (samples["page"], samples["size"])


def test_a_sheet_is_printed_for_another_day(browser, go):
    """The one that was chosen; other papers are of the desk's own day."""
    go.touch()
    press(browser, "picking-list", on="2026-12-02")
    press(browser, "tags")
    wait_for_all(browser)

    assert ["2026-11-25", "2026-12-02"] == [str(job.source.on) for job in jobs_of(browser).list()]


def test_a_paper_of_older_records_says_so(browser, go, folder):
    """Once anything in the season has changed since."""
    go.touch()
    press(browser, "tags")
    wait_for_all(browser)
    before = said(browser.get("/print").text)
    with (folder / "bags.yaml").open("a") as bags:
        bags.write("  - {bag: B-3, tree: '02', covered: 2026-01-14}\n")
    after = said(browser.get("/print").text)

    changed = "The records have changed since; this shows them as they were."
    assert (False, True) == (changed in before, changed in after)


def test_a_real_paper_and_a_season_that_broke_after_the_press(folder):
    """Made in its own process; what can't be read is said with its line, and the desk goes on."""
    client = visit(hold(folder))
    try:
        press(client, "samples", only="01")
        wait_for_all(client)
        sound = jobs_of(client).list()[0]
        data = client.get("/prints/1/file").content
        client.get("/print")
        press(client, "check-round")
        (folder / "season.yaml").write_text("season: [\n", encoding="utf-8")
        wait_for_all(client)
        page = said(client.get("/print").text)
    finally:
        jobs_of(client).close()

    assert "ready" == sound.state
    assert data.startswith(b"%PDF-")
    assert "samples-2026.pdf" == sound.name
    assert "Check round can’t be made: season.yaml:" in page


def test_it_is_printed_by_keyboard(go, held, tmp_path):
    """Scripts tell how far it is; once it is ready the focus is on it, and Open is the next stop."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("/?")[0] + "/print/samples")
        page.ask("document.getElementById('only').focus()")
        page.type("01")
        page.ask("document.querySelector('button.main').focus()")
        page.press("Enter")
        page.wait("document.querySelector('.stage')?.textContent === 'Setting pages: 2 of 6 parts'")
        page.wait("document.querySelector('.seconds').textContent !== '0 s'")
        wide = {}
        for size, zoom in (((390, 844), 1), ((1280, 900), 2)):
            page.resize(*size, zoom)
            over = page.ask("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            wide[size] = max(0, over)
        go.touch()
        page.wait("document.querySelector('.got') !== null")
        page.wait("document.activeElement.id === 'print-1'")
        page.press("Tab")
        focused = page.ask("document.activeElement.textContent")
        file = page.ask(
            "fetch(document.activeElement.href).then(async (a) => [a.status, (await a.blob()).type])"
        )
        complaints = page.complaints

    assert ("Open", [200, "application/pdf"]) == (focused, file)
    assert {0} == set(wide.values())
    assert [] == complaints


def children_of(pid: int) -> set[int]:
    """A process's children and theirs."""
    try:
        told = [(one / "children").read_text() for one in Path(f"/proc/{pid}/task").iterdir()]
    except OSError:
        return set()
    own = {int(number) for text in told for number in text.split()}
    return own.union(*map(children_of, own))


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="no list of processes")
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_nothing_runs_on_when_the_desk_ends(folder, tmp_path, sign):
    """Stopped, told to end or killed: all processes end. Unless it was killed no file or word is left."""
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    command = [sys.executable, "-m", "certgen", "desk", str(folder), "--no-browser"]
    environment = {**os.environ, "TMPDIR": str(scratch)}
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdout=pipe, stderr=pipe, text=True, env=environment) as desk:
        assert desk.stdout is not None
        address = re.findall(r"http://127\.0\.0\.1:[0-9]+/\?token=\S+", desk.stdout.readline())[0]
        jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        browser = urllib.request.build_opener(urllib.request.ProxyHandler({}), jar)
        browser.open(address).close()
        origin = address.split("/?")[0]
        form = urllib.parse.urlencode({"length": "short"}).encode()
        asked = urllib.request.Request(f"{origin}/print/report", form, {"origin": origin})
        browser.open(asked).close()
        # The paper's own process, and those among which it shares its pages out.
        wait_until(lambda: any(children_of(pid) for pid in children_of(desk.pid)))
        began = children_of(desk.pid)
        desk.send_signal(sign)
        _, said_last = desk.communicate()

    wait_until(lambda: not any(Path(f"/proc/{pid}/exe").exists() for pid in began))
    if sign != signal.SIGKILL:
        assert ([], "") == (list(scratch.iterdir()), said_last)
