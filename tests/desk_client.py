"""The desk as its browser sees it, without a network: requests go straight to what would answer them."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from certgen.desk.access import Gate
from certgen.desk.application import build_application
from certgen.desk.held_season import HeldSeason

PORT, TOKEN, DAY = 8017, "a-token-of-the-tests", date(2026, 11, 25)
ORIGIN = f"http://127.0.0.1:{PORT}"


def hold(folder: Path, today: Callable[[], date] = lambda: DAY) -> HeldSeason:
    """The season of a folder, held as the desk holds it."""
    return HeldSeason(folder, today)


def visit(held: HeldSeason) -> TestClient:
    """A browser that was let in; it says where its requests come from, as browsers do."""
    app = Gate(build_application(held), TOKEN, PORT)
    client = TestClient(app, base_url=ORIGIN, headers={"origin": ORIGIN})
    client.get(f"/?token={TOKEN}")
    return client


def said(page: str) -> str:
    """The words of a page, one blank between any two."""
    bare = re.sub(r"<(script|style|svg|datalist)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())


def faults(page: str) -> dict[str, str]:
    """What a form's page objects to, by field."""
    found = re.findall(r'<span class="fault" id="([^"]+)-fault"[^>]*>([^<]+)</span>', page)
    return {name: html.unescape(text) for name, text in found}


def form_of(page: str, action: str) -> dict[str, Any]:
    """The form of an address as it stands on a page, with the values that a browser would send."""
    (body,) = re.findall(
        rf'<form method="post" action="{re.escape(action)}"[^>]*>(.*?)</form>', page, re.DOTALL
    )
    sent: dict[str, str] = {}
    for tag in re.findall(r"<input\b[^>]*>", body):
        told = dict(re.findall(r'([a-z-]+)="([^"]*)"', tag))
        if told.get("type") in {"radio", "checkbox"} and " checked" not in tag:
            continue
        if "name" in told:
            sent[told["name"]] = html.unescape(told.get("value", ""))
    for name, text in re.findall(r'<textarea\b[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', body, re.DOTALL):
        sent[name] = html.unescape(text)
    for name, options in re.findall(r'<select\b[^>]*name="([^"]+)"[^>]*>(.*?)</select>', body, re.DOTALL):
        chosen = re.findall(r"<option selected>([^<]*)</option>", options)
        first = re.findall(r"<option(?: value=\"\")?>([^<]*)</option>", options)
        sent[name] = chosen[0] if chosen else "" if "not said" in options else first[0]
    return sent
