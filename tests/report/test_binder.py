"""The binder: nothing from outside, no record text as markup, and it works in a browser."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import shutil
import subprocess

import pytest
from markupsafe import escape

from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.odds_wording import tell_lot
from certgen.report.binder import compose_html

CHROMIUM = shutil.which("chromium")


@pytest.fixture(scope="session")
def binder(result) -> str:
    """The binder of the small season."""
    return compose_html(result)


def test_nothing_comes_from_outside(binder):
    """No address but those inside the file, and a policy that forbids every other."""
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', binder)[1]

    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    page = binder.split('id="data"')[0]
    for attribute, in_style in re.findall(r'(?:src|href|action)="?([^"\s>]+)|url\("?([^")]+)', page):
        address = attribute or in_style
        assert address.startswith(("data:", "#")) or "example.org" in address
    assert not re.findall(r"<(?:link|iframe|object|embed|form)\b", binder)


@pytest.mark.parametrize("kind", ["style", "script"])
def test_the_policy_names_our_own_text(binder, kind):
    """The hashes in the policy are those of the one style and the one script."""
    text = re.findall(rf"<{kind}>(.*?)</{kind}>", binder, re.DOTALL)

    assert 1 == len(text)
    digest = base64.b64encode(hashlib.sha256(text[0].encode()).digest()).decode()
    assert f"{kind}-src 'sha256-{digest}'" in binder


def test_each_lot_has_what_screening_leaves_open(result, binder):
    """The four lines, in the words of every other paper."""
    lots = weigh_lots(result)

    assert len(lots) == binder.count("<h4>What screening leaves open</h4>")
    for asked, answer in (line for lot in lots.values() for line in tell_lot(lot)):
        assert f"<dt>{escape(asked)}</dt><dd>{escape(answer)}</dd>" in binder


def test_hostile_text_is_no_markup(binder):
    """A script in a record is text in the page and text in the data."""
    assert "<script>alert" not in binder
    assert "<img" not in binder
    data = json.loads(re.search(r'id="data">(.*?)</script>', binder, re.DOTALL)[1])
    assert "<script>alert(1)</script>" in json.dumps(data, ensure_ascii=False)


def test_the_same_season_gives_the_same_binder(result, binder):
    """Twice the same text."""
    assert binder == compose_html(result)


def run_in_browser(binder: str, script: str, tmp_path, profile: str = "p") -> str:
    """What the page holds after `script` has run in it, in headless Chromium with the policy in force."""
    if CHROMIUM is None:
        pytest.skip("chromium is not installed")
    body = re.findall(r"<script>(.*?)</script>", binder, re.DOTALL)[0]
    changed = body + script
    digest = base64.b64encode(hashlib.sha256(changed.encode()).digest()).decode()
    page = binder.replace(f"<script>{body}</script>", f"<script>{changed}</script>")
    page = re.sub(r"script-src 'sha256-[^']+'", f"script-src 'sha256-{digest}'", page)
    file = tmp_path / "binder.html"
    file.write_text(page, encoding="utf-8")
    command = [
        CHROMIUM,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        f"--user-data-dir={tmp_path / profile}",
    ]
    ran = subprocess.run(
        [*command, "--virtual-time-budget=5000", "--dump-dom", file.as_uri()],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return ran.stdout


def test_a_tag_is_found_with_its_line(binder, tmp_path):
    """Typing a tag finds it; opening it shows its line back to the tree and forward to the sale."""
    script = """
    query.value = "b00"; query.dispatchEvent(new Event("input"));
    document.title = byId("found").textContent;
    open("bagging", "B001");
    """
    page = run_in_browser(binder, script, tmp_path)

    assert "<title>10 records</title>" in page
    record = page.partition('<div id="record"')[2].partition("</section>")[0]
    for name in ("T1", "S1", "P1", "East", "H1", "X1", "L1", "M1"):
        assert f">{name}</button>" in record
    assert html.escape("<script>alert(1)</script>", quote=False) in record


def test_gaps_are_filtered(binder, tmp_path, result):
    """Choosing a weight leaves that weight's gaps."""
    script = 'byId("by-weight").value = "unproven"; filter(); document.title = byId("gap-count").textContent;'
    page = run_in_browser(binder, script, tmp_path)

    assert f"<title>{result.summary.gaps['unproven']} of {len(result.gaps)} gaps shown</title>" in page


def test_ticks_survive_reload(binder, tmp_path):
    """A tick is there when the file is opened again by the same browser."""
    drawn = run_in_browser(binder, 'document.title = byId("spot-rows").rows.length;', tmp_path)
    number = int(drawn.split("<title>", 1)[1].split("<", 1)[0])
    tick = 'document.querySelector("#spot-rows input").click();'
    run_in_browser(binder, tick, tmp_path)
    page = run_in_browser(binder, 'document.title = byId("spot-count").textContent;', tmp_path)

    assert number > 1
    assert f"<title>1 of {number} seen</title>" in page


def test_tabs_follow_the_keyboard(binder, tmp_path):
    """An arrow moves to the next part, as a screen reader's user expects."""
    script = """
    tabs[0].focus();
    tabs[0].dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowRight", bubbles: true}));
    document.title = document.activeElement.id + " " + byId("lots").hidden + " " + byId("find").hidden;
    """

    assert "<title>tab-lots false true</title>" in run_in_browser(binder, script, tmp_path)
