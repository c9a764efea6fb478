"""The desk as its browser sees it, without a network: requests go straight to what would answer them."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

from starlette.testclient import TestClient
from waiting import wait_until

from certgen.desk.access import Gate
from certgen.desk.application import build_application
from certgen.desk.held_season import HeldSeason
from certgen.desk.server import open_desk

if TYPE_CHECKING:
    from certgen.desk.devices import Devices

PORT, TOKEN, DAY = 8017, "a-token-of-the-tests", date(2026, 11, 25)
ORIGIN = f"http://127.0.0.1:{PORT}"
#: With comments and a layout of its own, which nobody but its grower may change.
BAGS = """\
# Bags of the north rows. The string is drawn tight.
bagging:
  # The first of the year.
  - bag: B-1
    tree: "01"
    covered: 2026-01-12   # dry, no wind
    flower: hermaphrodite
    stage: closed bud

  - {bag: B-2, tree: "02", covered: 2026-01-13}
"""
SEASON = """\
season:
  label: "2026"
  from: 2025-11-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
  scale_step: 0.1 g
  operation: {name: Larkfold Seed Orchard}
blocks:
  - {block: East, status: organic}
plantings:
  - planting: P1
    block: East
    variety: Amber Kestrel
    planted: 2025-02-10
    material: seed
    material_status: organic
trees:
  - {tree: "01", planting: P1, row: "1", position: "1", sex: hermaphrodite}
  - {tree: "02", planting: P1, row: "1", position: "2", sex: female}
lots:
  - lot: AK-26-1
    variety: Amber Kestrel
    packed: 2026-09-01
    sources: [{batch: X1, weight: 20 g}]
    weight: 20 g
    status: organic
"""


def hold(folder: Path, today: Callable[[], date] = lambda: DAY) -> HeldSeason:
    """The season of a folder, held as the desk holds it."""
    return HeldSeason(folder, today)


def visit(held: HeldSeason) -> TestClient:
    """A browser that was let in; it says where its requests come from, as browsers do."""
    app = Gate(build_application(held), TOKEN, PORT)
    client = TestClient(app, base_url=ORIGIN, headers={"origin": ORIGIN})
    client.get(f"/?token={TOKEN}")
    return client


@contextmanager
def served(held: HeldSeason) -> Iterator[str]:
    """The desk at its address, answering from a thread until the block ends."""
    desk = open_desk(held)
    server = desk.build_server()
    thread = Thread(target=server.run, kwargs={"sockets": [desk.listening]})
    thread.start()
    wait_until(lambda: server.started)
    try:
        yield desk.address
    finally:
        server.should_exit = True
        thread.join()
        desk.listening.close()


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


#: A machine's address in its farm's network, and a phone's.
FARM, PHONE = "192.168.1.20", "192.168.1.31"
FARM_ORIGIN = f"http://{FARM}:{PORT}"


def open_to_phones(held: HeldSeason, devices: Devices) -> Gate:
    """What answers on this machine and in the farm's network."""
    return Gate(build_application(held, devices), TOKEN, PORT, devices, (FARM,))


def come_by_network(app: Gate, at: str = PHONE) -> TestClient:
    """A phone's browser in the farm's network, not let in yet."""
    return TestClient(app, base_url=FARM_ORIGIN, headers={"origin": FARM_ORIGIN}, client=(at, 40000))
