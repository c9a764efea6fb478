"""The binder in a browser: addresses, search, filters, the map, and marks that come back as a visit."""

from __future__ import annotations

from datetime import date

import pytest
from browser import run_in_browser
from seasons import one_line, sale, tree, write_season

from certgen.cli import run as certgen
from certgen.dossier.supposed import suppose_positive
from certgen.dossier.visits import list_open
from certgen.examination import examine
from certgen.manifest import PacketOptions, build_manifest, write_fingerprint
from certgen.records.quantities import format_mass
from certgen.report.binder import compose_html
from certgen.report.packet import find_maker

COVERS = ("certgen.report.binder.page", "certgen.exchange.importing.record_files")
ON = date(2026, 11, 25)

LOOK = """
query.value = "b00"; query.dispatchEvent(new Event("input"));
told.found = byId("found").textContent;
await show("#bagging/B001");
told.title = document.title;
told.focus = document.activeElement.id;
told.record = byId("record").innerText;
told.shown = parts.filter((part) => part.classList.contains("shown")).map((part) => part.id);
await show("#lots/L1");
told.lot = byId("record").innerText;
await show("#gap/2");
told.gap = document.activeElement.closest("article").id;
gapBox.querySelector(".weight").value = "unproven"; filterGaps();
told.gaps = byId("gap-count").textContent;
await show("#gap/1");
told.revealed = getComputedStyle(byId("gap/1")).display;
history.back(); await settle();
told.back = location.hash;
history.forward(); await settle();
told.forward = location.hash;
await show("#no/such");
told.unknown = byId("found").textContent;
await show("#registers/bagging");
rowBox.querySelector(".words").value = "b040"; filterRows();
told.rows = byId("row-count").textContent;
rowBox.querySelector(".words").value = ""; rowBox.querySelector(".standing").value = "traced"; filterRows();
told.traced = byId("row-count").textContent;
await show("#evidence/letter.txt");
told.paper = parts.find((part) => part.classList.contains("shown")).id;
await show("#map/T2");
told.tree = byId("chosen").innerText;
treeKnown.get("T2").dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft", bubbles: true }));
told.left = document.activeElement.id;
told.headings = parts.filter((part) => byId(part.getAttribute("aria-labelledby")).tagName !== "H2").length;
const named = (field) => field.textContent || field.labels.length || field.getAttribute("aria-label");
const fields = [...document.querySelectorAll("input, select, textarea, button")];
told.unnamed = fields.filter((one) => !named(one)).length;
told.grams = [grams(0), grams(1), grams(116300), grams(1234567)];
"""


@pytest.fixture(scope="module")
def seen(binder, tmp_path_factory) -> dict:
    """What one walk through the binder told."""
    return run_in_browser(binder, LOOK, tmp_path_factory.mktemp("walk"))


def test_a_tag_is_found_with_its_line(seen):
    """Typing a tag finds it; opened by its address it shows its line both ways, and hostile text as text."""
    assert "10 records" == seen["found"]
    assert ["record"] == seen["shown"]
    assert seen["title"].startswith("Bag B001 · ")
    assert "record-title" == seen["focus"]
    for name in ("T1", "S1", "P1", "East", "H1", "X1", "L1", "M1", "<script>alert(1)</script>"):
        assert name in seen["record"]


def test_a_record_says_first_what_it_is_worth(seen, result):
    """A lot's standing, grams and findings stand before its fields, whose status says organic."""
    lot = result.lots["L1"]
    words = seen["lot"]

    assert words.startswith(f"Lot L1: {lot.standing}")
    assert words.index(lot.standing) < words.index("Findings") < words.index("As it was recorded")
    assert words.index("As it was recorded") < words.index("\norganic\n")


def test_addresses_change_and_lead_back(seen):
    """Back and Forward go to what was there; what nothing is called is said; a file and a tree have one."""
    assert "gap/2" == seen["gap"]
    assert ("#gap/2", "#gap/1") == (seen["back"], seen["forward"])
    assert "Nothing in this binder is called no/such." == seen["unknown"]
    assert "evidence" == seen["paper"]
    assert seen["tree"].startswith("Tree T2")


def test_filters(seen, result):
    """A weight leaves its findings, and an address shows one that a filter hid; rows go by words and lots."""
    assert f"{result.summary.gaps['unproven']} of {len(result.gaps)} findings shown" == seen["gaps"]
    assert "none" != seen["revealed"]
    assert "1–1 of 1 that fit, of 40." == seen["rows"]
    assert "0–0 of 0 that fit, of 40." == seen["traced"]


def test_it_works_by_keyboard_with_names(seen):
    """Arrows go from tree to tree; every part has its heading, every field its name."""
    assert "map/T1" == seen["left"]
    assert (0, 0) == (seen["headings"], seen["unnamed"])


def test_grams_are_written_as_everywhere(seen):
    """The page's own grams read as those of the papers."""
    assert [format_mass(mg).replace(" ", "\u00a0") for mg in (0, 1, 116300, 1234567)] == [
        text.replace(" ", "\u00a0") for text in seen["grams"]
    ]


def test_what_codes_say_is_told(binder, result, tmp_path):
    """The codes at a packet's foot and cover, on a card and on a label, of this binder and of another."""
    sha256 = build_manifest(result, find_maker(result), PacketOptions(page="Letter")).sha256
    print_ = write_fingerprint(sha256)
    head = "Seed lot card: lot L1 | Amber Kestrel, Carica papaya | unproven | X"
    card = f"{head} | Packet {print_} | Card {print_}"
    other = "0123 4567 89ab cdef 0123"
    script = f"""
    const ask = (text) => {{
      query.value = text;
      search();
      const hits = [...byId("hits").querySelectorAll("a")];
      return [byId("found").textContent, ...hits.map((one) => one.getAttribute("href"))];
    }};
    told.foot = ask("{sha256[:20].upper()}");
    told.cover = ask("certgen packet {print_} | SHA-256 {sha256}");
    told.card = ask("{card}");
    told.other = ask("{other}");
    told.label = ask("B007");
    const paste = new DataTransfer();
    paste.setData("text/plain", "Seed lot card: lot L1\\nAmber\\nPacket {other}\\nCard {other}");
    query.dispatchEvent(new ClipboardEvent("paste", {{ clipboardData: paste, cancelable: true }}));
    told.pasted = byId("found").textContent;
    """
    told = run_in_browser(binder, script, tmp_path)

    own = "Its fingerprint is that of this binder’s own packet (Letter)."
    assert [f"The code of a packet. {own}", "#verdict"] == told["foot"] == told["cover"]
    assert [f"The card of lot L1. {own}", "#lots/L1"] == told["card"]
    assert "is not that of this binder’s packet" in told["other"][0]
    assert "#bagging/B007" == told["label"][1]
    assert told["pasted"].startswith("The card of lot L1. Its fingerprint is not that of")


def test_marks_survive_reload(binder, tmp_path):
    """A mark and a note are there when the file is opened again by the same browser."""
    made = run_in_browser(binder, 'setMark("gap/1", { state: "seen", note: "looked" });', tmp_path)
    again = run_in_browser(binder, "told.marks = marks; told.unsaved = unsaved;", tmp_path)

    assert {} == made
    assert ("seen", "looked", True) == (
        again["marks"]["gap/1"]["state"],
        again["marks"]["gap/1"]["note"],
        again["unsaved"],
    )


def test_supposing_shows_what_was_worked_out(tmp_path):
    """A tree supposed positive: each lot with its grams now and then, and whom to call."""
    lines = one_line()
    lines["movements"] = [sale("M1", "L1", 3)]
    lines["trees"].append(tree("constructor"))
    write_season(tmp_path, **lines)
    result = examine(tmp_path, ON)
    supposed = suppose_positive(result)["T1"]
    told = run_in_browser(
        compose_html(result),
        'await show("#map/T1"); byId("tree-line").querySelector("button").click();'
        'told.says = byId("tree-line").innerText;'
        'await show("#map/constructor"); byId("tree-line").querySelector("button").click();'
        'told.other = byId("tree-line").innerText;',
        tmp_path,
    )

    assert ("traced", "rejected") == (result.lots["L1"].standing, supposed.lots[0].standing)
    assert ("M1",) == supposed.deliveries
    words = " ".join(told["says"].split())
    assert "8 g would no longer be traced, in 1 lot" in words
    assert "L1 traced: 8 g traced rejected: 8 g rejected 8 g" in words
    assert "3 g of lot L1, sold" in words
    assert "No lot’s standing would change if tree constructor were positive." in told["other"]


HOSTILE_NOTE = 'a: b # c\\n- \\u2028\\u202e \\u0007 \\"x\\" {{y}} \' مزرعة'


def test_an_inspection_comes_back_next_year(tmp_path):
    """Marks made in the binder are imported as a visit, lift no standing, and next year's season opens with
    what they left open."""
    season, after = tmp_path / "2026", tmp_path / "2027"
    season.mkdir()
    after.mkdir()
    lines = one_line()
    lines["trees"].append(tree("T9"))
    lines["bagging"].append({**lines["bagging"][0], "bag": "B2", "tree": "T9", "tag": {"tree": "T9"}})
    write_season(season, **lines)
    before = examine(season, ON)
    script = f"""
    visit = Object.assign(visit, {{ number: "V26-7", from: "2026-11-25", inspector: "R. Tamsin" }});
    visit.present = "A, B,, ";
    setMark("gap/1", {{ state: "open", by: "2027-02-01", note: "{HOSTILE_NOTE}" }});
    setMark("record/bagging/B1", {{ state: "accepted", note: "as it hangs" }});
    setMark("record/lots/L1", {{ state: "open", kind: "label", note: "no date" }});
    if (data.spot.items.length) setMark("spot/" + data.spot.items[0], {{ state: "agrees" }});
    told.fault = undefined; told.says = faultOf(); told.text = writeVisit();
    told.plain = plain("\\ud800a\\ude00 \\ud83c\\udf31");
    """
    told = run_in_browser(compose_html(before), script, tmp_path)
    file = tmp_path / "visit.yaml"
    file.write_text(told["text"], encoding="utf-8")

    assert ("", "\ufffda\ufffd \U0001f331") == (told["says"], told["plain"])
    assert 0 == certgen(["import", str(season), str(file)])
    marked = examine(season, ON)
    assert before.lots == marked.lots
    assert () == marked.errors
    entries = list_open(marked.case)
    assert ["V26-7-1", "V26-7-2"] == [one.number for one in entries]
    assert date(2027, 2, 1) == entries[0].last
    assert "مزرعة" in entries[0].says
    write_season(
        after, label="2027", details={"from": "2026-12-01", "to": "2027-10-31", "previous": "../2026"}
    )
    later = examine(after, date(2027, 3, 1))
    assert [True, True] == [one.earlier for one in list_open(later.case)]
    assert "V26-7" in compose_html(later).partition('<section id="inspection"')[2]
