"""The desk in a real browser, by keyboard alone, on a screen of any size."""

from __future__ import annotations

import http.client
import re
import socket

import pytest
from desk_client import hold, served
from live_browser import browse

from certgen.desk.server import LOOPBACK, open_desk

PAGES = ("/today", "/enter", "/enter/bag-on", "/enter/packed", "/findings", "/tables", "/tables/bagging",
         "/orchard", "/lots", "/record/bagging/B-1", "/tables/lots/new", "/nowhere")  # fmt: skip


def test_it_listens_on_this_machine_only(held):
    """At no other address of the machine is anything heard; the token is in the address and nowhere else."""
    with served(held) as address:
        port = int(re.findall(r":(\d+)/", address)[0])
        connection = http.client.HTTPConnection(LOOPBACK, port)
        connection.request("GET", "/today")
        answer = connection.getresponse()
        told = answer.read().decode()
        connection.close()

    assert (403, None) == (answer.status, answer.getheader("server"))
    assert re.findall("token=(.+)", address)[0] not in told


def test_a_port_that_is_taken_is_refused(held):
    """As the system says it."""
    with socket.create_server((LOOPBACK, 0)) as taken, pytest.raises(OSError, match="in use"):
        open_desk(held, taken.getsockname()[1])


def test_a_day_s_work_is_done_without_a_mouse(held, tmp_path):
    """A bag on, sent by a key; the number, the day and the flower are there for the next."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "enter/bag-on")
        page.wait("document.activeElement && document.activeElement.name === 'tree'")
        page.type("02")
        page.ask("document.querySelector('[name=flower][value=female]').click()")
        page.press("Enter", ctrl=True)
        page.wait("document.getElementById('saved') !== null")
        page.wait("document.activeElement.name === 'tree'")
        form = page.ask("[...new FormData(document.querySelector('form.entry'))].filter(([n, v]) => v)")
        complaints = page.complaints

    assert "02" == held.look().season.record("bagging", "B-3")["tree"]
    assert ["bag", "B-4"] in form
    assert ["flower", "female"] in form
    assert [] == complaints


def test_a_fault_is_told_while_somebody_types(held, tmp_path):
    """Beside its field, to those who don't see it too; mended, it goes."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "enter/bag-on")
        page.wait("document.activeElement && document.activeElement.name === 'tree'")
        page.type("2")
        page.wait("document.getElementById('tree-fault').textContent.includes('Did you mean 02?')")
        invalid = page.ask("document.activeElement.getAttribute('aria-invalid')")
        page.ask("document.activeElement.select()")
        page.type("02")
        page.wait("document.getElementById('tree-fault').textContent === ''")

    assert "true" == invalid


def test_a_grid_is_gone_through_and_changed_by_keys(held, tmp_path):
    """Arrows to a cell, typing changes it, Enter keeps it; Escape leaves it; a fault stands at the cell."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "tables/bagging")
        page.ask("document.querySelector('tbody th').focus()")
        at = page.ask(
            "[...document.querySelectorAll('thead th')].findIndex((one) => one.dataset.column === 'stage')"
        )
        for _ in range(at):
            page.press("ArrowRight")
        page.press("F2")
        page.ask("document.activeElement.select()")
        page.type("asleep")
        page.wait("document.querySelector('.faulty') !== null")
        page.press("Escape")
        page.wait("document.activeElement.textContent === 'closed bud'")
        page.press("F2")
        page.ask("document.activeElement.select()")
        page.type("open")
        page.press("Enter")
        page.wait("document.querySelector('.kept') !== null")
        said = page.ask("document.getElementById('grid-says').textContent")
        complaints = page.complaints

    assert "Saved: bag B-1." == said
    assert "open" == held.look().season.record("bagging", "B-1")["stage"]
    assert [] == complaints


def test_rows_are_pasted_from_a_spreadsheet(held, tmp_path):
    """Tabs and line feeds, a quoted cell with a line feed inside; an empty cell erases nothing."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "tables/bagging?columns=all")
        page.ask(
            """(() => {
              const data = new DataTransfer();
              const rows = ["B-2\\t\\t2026-01-15", "B-8\\t01\\t2026-01-16", "B-9\\t02\\t2026-01-17"];
              data.setData("text/plain", rows.join("\\r\\n"));
              const cell = document.querySelector("tr[data-name='B-2'] th");
              cell.focus();
              const told = { clipboardData: data, bubbles: true, cancelable: true };
              cell.dispatchEvent(new ClipboardEvent("paste", told));
            })()"""
        )
        page.wait("document.querySelector(\"tr[data-name='B-9']\") !== null")

    there = held.look().season
    assert ["B-1", "B-2", "B-8", "B-9"] == there.tables["bagging"]["bag"].tolist()
    assert ("02", "2026-01-15") == (
        there.record("bagging", "B-2")["tree"],
        str(there.record("bagging", "B-2")["covered"]),
    )


def test_no_page_needs_a_wide_screen_or_complains(held, tmp_path):
    """At 390 pixels and at 200 % nothing runs out sideways; no script fails, the policy forbids nothing."""
    wide = {}
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        for size, zoom in (((390, 844), 1), ((1280, 900), 2)):
            page.resize(*size, zoom)
            for path in PAGES:
                page.visit(address.split("/?")[0] + path)
                over = page.ask("document.documentElement.scrollWidth - document.documentElement.clientWidth")
                if over > 0:
                    wide[path, size] = over
        complaints = page.complaints

    assert ({}, []) == (wide, complaints)


def test_the_example_can_be_opened_in_full(example_copy, tmp_path):
    """The pages of a season with hundreds of records."""
    held = hold(example_copy)
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        for path in ("/tables/bagging", "/findings", "/orchard"):
            page.visit(address.split("/?")[0] + path)
            page.wait("document.querySelector('h1') !== null")
        trees = page.ask("document.querySelectorAll('.map a').length")
        complaints = page.complaints

    assert (len(held.look().season.tables["trees"]), []) == (trees, complaints)
