"""A page in headless Chromium, with the policy of the page in force."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import shutil
import subprocess
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pathlib import Path

CHROMIUM = shutil.which("chromium")
#: What a script may use: `go` opens an address as a link does, `told` is what it hands back.
_BEFORE = """
const told = {};
const settle = () => new Promise((done) => setTimeout(done, 200));
const show = async (hash) => { location.hash = hash; await settle(); };
(async () => {
"""
_AFTER = """
})().catch((fault) => { told.fault = String(fault); }).finally(() => {
  const said = document.createElement("pre");
  said.id = "told";
  said.textContent = JSON.stringify(told);
  document.body.append(said);
});
"""


def run_in_browser(page: str, script: str, folder: Path, profile: str = "p") -> dict[str, Any]:
    """What `script` wrote into `told` after it ran behind the page's own script, in whose scope it stands.

    The tests that ask are skipped where Chromium is absent. `profile` is the browser's own folder: with the
    same one it remembers what it kept.
    """
    if CHROMIUM is None:
        pytest.skip("chromium is not installed")
    body = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)[-1]
    changed = body + _BEFORE + script + _AFTER
    own = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
    digest = base64.b64encode(hashlib.sha256(changed.encode()).digest()).decode()
    page = page.replace(f"<script>{body}</script>", f"<script>{changed}</script>")
    page = page.replace(f"'sha256-{own}'", f"'sha256-{digest}'")
    file = folder / "page.html"
    file.write_text(page, encoding="utf-8")
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / profile}"]
    ran = subprocess.run(
        [*command, "--virtual-time-budget=20000", "--dump-dom", file.as_uri()],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    said = re.search(r'<pre id="told">(.*?)</pre>', ran.stdout, re.DOTALL)
    assert said is not None, ran.stderr[-2000:]
    told: dict[str, Any] = json.loads(html.unescape(said[1]))
    assert "fault" not in told, told["fault"]
    return told
