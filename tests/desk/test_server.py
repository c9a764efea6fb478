"""The desk in a real browser, by keyboard alone, on a screen of any size."""

from __future__ import annotations

import base64
import http.client
import json
import re
import socket

import pytest
from desk_client import DAY, hold, served
from live_browser import browse

from certgen.desk.network import LOOPBACK
from certgen.desk.saving import Addition, save
from certgen.desk.server import open_desk

PAGES = ("/today", "/enter", "/enter/bag-on", "/enter/packed", "/findings", "/tables", "/tables/bagging",
         "/orchard", "/lots", "/lots/AK-26-1", "/papers", "/print", "/print/tags", "/history", "/season",
         "/person", "/record/bagging/B-1", "/tables/lots/new", "/nowhere")  # fmt: skip

#: A picture of one point.
DOT = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAQAAAC1HAwCAAAAC0lEQVR42mNkYAAAAAYAAjCB0C8AAAAASUVORK5CYII="
#: What a page lacks for somebody who doesn't see it, or has big thumbs.
LOOKED_OVER = """(() => {
  const found = [], seen = new Set(), shown = (one) => one.checkVisibility() && one.getClientRects().length;
  for (const one of document.querySelectorAll("main [id]")) {
    if (seen.has(one.id)) found.push("id twice: " + one.id);
    seen.add(one.id);
  }
  for (const one of document.querySelectorAll("[aria-describedby], [for]"))
    for (const id of (one.getAttribute("aria-describedby") || one.htmlFor || "").split(" "))
      if (id && !document.getElementById(id)) found.push("leads nowhere: " + id);
  const controls = "a, button, input:not([type=hidden]), select, textarea, summary";
  for (const one of document.querySelectorAll(controls)) {
    if (!shown(one)) continue;
    const name = one.ariaLabel || (one.labels && [...one.labels].map((label) => label.textContent).join(" "));
    const picture = one.querySelector("img");
    if (!(name || one.textContent || (picture && picture.alt) || "").trim())
      found.push("no name: " + one.outerHTML);
    const box = one.getBoundingClientRect();
    const free = one.matches("button, select, textarea, summary, .button, nav a");
    if (free && box.height < 43.5) found.push(box.height + " pixels: " + one.outerHTML.slice(0, 80));
  }
  let level = 1;
  for (const one of document.querySelectorAll("h1, h2, h3, h4")) {
    if (+one.tagName[1] > level + 1) found.push("heading out of order: " + one.textContent);
    level = +one.tagName[1];
  }
  const one = document.querySelectorAll("h1").length === 1 && document.documentElement.lang === "en";
  if (!one || !document.title) found.push("no title, heading or language");
  return found.join("; ");
})()"""


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


def test_the_tenth_bag_in_a_row_takes_a_number_and_a_key(held, tmp_path):
    """The tree's number is taken for its name, and said to be; again says what the last bag said."""
    first = {"tree": "01", "covered": DAY, "flower": "hermaphrodite", "stage": "closed bud", "secured": True}
    save(held, [Addition("bagging", {"bag": f"B-{number}", **first}) for number in range(3, 12)])
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "enter/bag-on")
        page.wait("document.activeElement && document.activeElement.name === 'tree'")
        page.type("2")
        page.wait("document.getElementById('tree-hint').textContent === 'Taken for 02'")
        page.press("F8")
        page.wait("document.querySelector('#saved b').textContent === 'bag B-12 on tree 02'")
        complaints = page.complaints

    assert [] == complaints
    assert {**first, "tree": "02"}.items() <= held.look().season.record("bagging", "B-12").items()


def test_a_fault_is_told_while_somebody_types(held, tmp_path):
    """Beside its field, to those who don't see it too; mended, it goes."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "enter/bag-on")
        page.wait("document.activeElement && document.activeElement.name === 'tree'")
        page.type("x02")
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


def test_a_paste_with_faults_waits_until_they_are_mended(held, tmp_path):
    """Fifty rows, three cells wrong: all faults are told at once and at their cells, nothing pasted is lost;
    the cells mended by keys, all is saved together.
    """
    rows = [f"P-{at:02}\t{'02' if at else '01'}\t2026-01-20\thermaphrodite" for at in range(50)]
    rows[3] = rows[3].replace("2026-01-20", "someday")
    rows[7] = rows[7].replace("hermaphrodite", "rose")
    rows[40] = rows[40].replace("P-40", "P 40")
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "tables/bagging")
        page.ask(
            f"""(() => {{
              const data = new DataTransfer();
              data.setData("text/plain", {json.dumps(chr(10).join(rows))});
              const told = {{ clipboardData: data, bubbles: true, cancelable: true }};
              const cell = document.querySelector("tr.fresh th");
              cell.focus();
              cell.dispatchEvent(new ClipboardEvent("paste", told));
            }})()"""
        )
        page.wait("document.getElementById('grid-says').textContent.includes('Nothing was saved')")
        faulty = page.ask("[...document.querySelectorAll('.faulty')].map((one) => one.textContent)")
        before = len(held.look().season.tables["bagging"])
        wrong_cells = "[...document.querySelectorAll('.faulty')]"
        for wrong, right in (("someday", "2026-01-20"), ("rose", "female"), ("P 40", "P-40")):
            page.ask(f"{wrong_cells}.find((one) => one.textContent === '{wrong}').focus()")
            page.press("F2")
            page.ask("document.activeElement.select()")
            page.type(right)
            page.press("Enter")
            page.wait(f"!{wrong_cells}.some((one) => one.textContent === '{wrong}')")
        page.press("Enter", ctrl=True)
        page.wait("document.getElementById('saved') !== null")
        title, complaints = page.ask("document.title"), page.complaints

    assert (["P 40", "rose", "someday"], 2) == (sorted(faulty), before)
    assert 52 == len(held.look().season.tables["bagging"])
    assert ("Saved · ", []) == (title[:8], complaints)


def test_a_cell_that_an_editor_changed_meanwhile_shows_both(held, folder, tmp_path):
    """What was typed stays in the cell, what the file says is told; saved again by one who has seen both, it
    takes its place.
    """
    bags = folder / "bags.yaml"
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "tables/bagging?columns=all")
        page.ask("document.querySelector(\"[data-name='B-1'] [data-column=note]\").focus()")
        page.press("F2")
        page.type("mine")
        bags.write_text(
            bags.read_text(encoding="utf-8").replace("stage:", "note: theirs\n    stage:"), "utf-8"
        )
        page.press("Enter")
        page.wait("!document.getElementById('conflict').classList.contains('off')")
        told = page.ask("document.getElementById('conflict').textContent")
        between = bags.read_text(encoding="utf-8")
        page.press("Enter", ctrl=True)
        page.wait("document.getElementById('saved') !== null")
        complaints = page.complaints

    assert "it showed “”, the file says “theirs” now, and you typed “mine”" in told
    assert "note: theirs" in between
    assert "note: mine" in bags.read_text(encoding="utf-8")
    assert [] == complaints


def test_a_photo_is_taken_in_and_shown(held, folder, tmp_path):
    """Chosen as a person chooses it, named to several records at once; a different file of its name is not
    put over it.
    """
    photo = tmp_path / "IMG 0001 (2).png"
    photo.write_bytes(base64.b64decode(DOT))
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.visit(address.split("?")[0] + "papers?table=bagging&records=B-1+to+B-2")
        page.choose("#file", photo)
        page.ask("document.querySelector('form.paper').requestSubmit()")
        page.wait("document.getElementById('saved') !== null")
        page.visit(address.split("?")[0] + "record/bagging/B-2")
        page.wait("document.querySelector('.papers img').naturalWidth === 1")
        photo.write_bytes(b"another")
        page.visit(address.split("?")[0] + "papers?table=bagging&records=B-1")
        page.choose("#file", photo)
        page.ask("document.querySelector('form.paper').requestSubmit()")
        page.wait("document.getElementById('paper-says').textContent.includes('another file')")
        complaints = page.complaints

    assert base64.b64decode(DOT) == (folder / "evidence" / "letters" / photo.name).read_bytes()
    assert [] == complaints


def test_every_control_of_every_page_has_a_name_and_room(held, tmp_path):
    """For those who hear it and those who wear gloves: a name, an id that nothing shares, headings in order,
    and 44 pixels on the phone for whatever isn't a word in a sentence.
    """
    faults = {}
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.resize(390, 844)
        for path in PAGES:
            page.visit(address.split("/?")[0] + path)
            if found := page.ask(LOOKED_OVER):
                faults[path] = found

    assert {} == faults


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
