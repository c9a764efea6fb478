"""The binder as a file: nothing from outside, no record text as markup, and whole where no script runs."""

from __future__ import annotations

import html
import json
import re
from datetime import date

import pytest
from markupsafe import escape
from seasons import one_line, write_season

from certgen.dossier.balance import take_account
from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.odds_wording import tell_lot
from certgen.examination import examine
from certgen.manifest import PacketOptions, build_manifest, digest_records, write_fingerprint
from certgen.records.rows import plain_values
from certgen.report.binder import compose_html
from certgen.report.binder.style import DARK, hash_text
from certgen.report.packet import find_maker
from certgen.report.wording import weigh
from certgen.resources import templates_dir
from certgen.typeset.design import COLOURS

COVERS = (
    "certgen.report.binder",
    "certgen.report.binder.balance",
    "certgen.report.binder.evidence",
    "certgen.report.binder.orchard",
    "certgen.report.binder.registers",
    "certgen.report.binder.script_data",
    "certgen.report.binder.spot_check",
    "certgen.report.binder.style",
)


def body_of(binder: str) -> str:
    """The page without its scripts and its style: what is there where no script runs."""
    return re.sub(r"<(script|style)[^>]*>.*?</\1>", "", binder, flags=re.DOTALL)


def test_nothing_comes_from_outside(binder):
    """No address but those inside the file, and a policy that forbids every other."""
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', binder)[1]

    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert "require-trusted-types-for 'script'" in policy
    page = binder.split('id="data"')[0]
    for attribute, in_style in re.findall(r'(?:src|href|action)="?([^"\s>]+)|url\("?([^")]+)', page):
        address = attribute or in_style
        assert address.startswith(("data:", "#")) or "example.org" in address
    assert not re.findall(r"<(?:link|iframe|object|embed|form)\b", binder)


@pytest.mark.parametrize(("kind", "count"), [("style", 1), ("script", 2)])
def test_the_policy_names_our_own_text(binder, kind, count):
    """The hashes in the policy are those of the one style, and of the scripts that run first and last."""
    texts = re.findall(rf"<{kind}>(.*?)</{kind}>", binder, re.DOTALL)

    assert count == len(texts)
    hashes = " ".join(f"'sha256-{hash_text(text)}'" for text in texts)
    assert f"{kind}-src {hashes};" in binder


def test_no_script_makes_markup_of_text():
    """The scripts write text as text: none of the ways by which a string becomes markup or code is used."""
    for file in sorted((templates_dir() / "binder").glob("*.js")):
        for way in ("innerHTML", "outerHTML", "insertAdjacent", "document.write", "eval(", "new Function"):
            assert way not in file.read_text(encoding="utf-8"), file.name


def test_each_lot_has_what_screening_leaves_open(result, binder):
    """The four lines, in the words of every other paper."""
    lots = weigh_lots(result)

    assert len(lots) == binder.count("<h4>What screening leaves open</h4>")
    for asked, answer in (line for lot in lots.values() for line in tell_lot(lot)):
        assert f"<dt>{escape(asked)}</dt><dd>{escape(answer)}</dd>" in binder


def test_hostile_text_is_no_markup(binder):
    """A script in a record is text in the page, in its register and in the data."""
    assert "<script>alert" not in binder
    assert "<img" not in binder
    data = json.loads(re.search(r'id="data">(.*?)</script>', binder, re.DOTALL)[1])
    assert "<script>alert(1)</script>" in json.dumps(data, ensure_ascii=False)
    assert html.escape("<script>alert(1)</script>", quote=False) in body_of(binder)


def test_all_is_readable_without_a_script(result, binder):
    """Every record's row, every finding's card and every lot stand in the page, none of them hidden."""
    page = body_of(binder)

    assert not re.findall(r"<[a-z]+[^>]*\s(?:hidden|style)[\s=>]", page)
    for table in ("trees", "bagging", "harvests", "batches", "movements"):
        key = next(iter(result.season.table(table).columns))
        for name in plain_values(result.season.table(table)[key]):
            assert f"><th>{name}\n" in page
    for number in range(1, len(result.gaps) + 1):
        assert f'id="gap/{number}"' in page
    assert all(f'id="lots/{lot}"' in page for lot in result.lots)


def test_each_link_leads_somewhere(binder):
    """Of the page's own links none leads to a place that isn't there."""
    page = body_of(binder)
    there = set(re.findall(r'\sid="([^"]+)"', page))

    missing = {to for to in re.findall(r'<a[^>]*\shref="#([^"]*)"', page) if html.unescape(to) not in there}
    assert set() == missing


def test_no_two_places_have_one_name(binder):
    """Each id stands once."""
    names = re.findall(r'\sid="([^"]+)"', body_of(binder))

    assert len(set(names)) == len(names)


def test_the_balance_is_that_of_the_dossier(result, binder):
    """Book, count and difference of every count, in the words of every other paper."""
    account = take_account(result.season, on=result.on)
    section = binder.partition('<section id="balance"')[2].partition("</section>")[0]

    for one in account.counted:
        assert weigh(one.book_mg) in section
        assert weigh(one.counted_mg) in section
    for lot, masses in account.lines:
        assert lot in section
        assert weigh(masses["closing_mg"]) in section


def test_evidence_is_listed_with_its_hash_and_what_it_says(result, binder):
    """A small text stands in the page with its digest and where it is named; nothing names this one."""
    section = binder.partition('<section id="evidence"')[2].partition("</section>")[0]
    held = next(
        one for one in build_manifest(result, find_maker(result)).content["files"] if "letter" in one["path"]
    )

    assert f'id="{held["name"]}"' in section
    assert ">a letter</pre>" in section
    assert held["sha256"] in section
    assert "No record names it." in section


def test_the_fingerprints_are_those_of_the_packets(result, binder):
    """What stands at the foot of the packet on either paper, and the digest of the records."""
    for paper in ("A4", "Letter"):
        manifest = build_manifest(result, find_maker(result), PacketOptions(page=paper))
        assert write_fingerprint(manifest.sha256) in body_of(binder)
    assert digest_records(result.season) in body_of(binder)


def test_the_same_season_gives_the_same_binder(result, binder):
    """Twice the same text."""
    assert binder == compose_html(result)


@pytest.mark.parametrize("colours", [dict(COLOURS), dict(DARK)], ids=["day", "night"])
def test_colours_can_be_told_apart(colours):
    """Text has a contrast of 4.5:1 on its ground, and strokes that mean something 3:1."""

    def light(figure: str) -> float:
        parts = [int(figure[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    def contrast(one: str, other: str) -> float:
        low, high = sorted((light(colours[one]), light(colours[other])))
        return (high + 0.05) / (low + 0.05)

    for ground in ("paper", "wash"):
        assert all(contrast(text, ground) >= 4.5 for text in ("ink", "quiet", "rejected"))
        assert all(
            contrast(stroke, ground) >= 3
            for stroke in ("traced", "unproven", "rejected", "unaccounted", "accent", "quiet")
        )


ON = date(2026, 11, 25)
HOSTILE_NAMES = (
    "</script><b>x",
    "\u2028\u2029",
    "\u202egnp.exe",
    "'\"><svg onload=alert(1)>",
    "]]>&#0;{{7*7}}",
)


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_hostile_evidence_stays_text(tmp_path, name):
    """A file's text and its name, whatever they hold, are text; a picture that is none isn't shown as one."""
    folder = tmp_path / "season"
    folder.mkdir()
    write_season(folder, **one_line())
    (folder / "evidence").mkdir(exist_ok=True)
    safe = "x" + re.sub("[/\u2028\u2029]", "_", name)
    (folder / "evidence" / f"{safe}.txt").write_text(name, encoding="utf-8")
    (folder / "evidence" / f"{safe}.png").write_text("<script>alert(1)</script>", encoding="utf-8")
    page = compose_html(examine(folder, ON))

    assert "<svg onload" not in page
    assert "</script><b>" not in page
    assert "<img" not in page
    assert "isn’t the kind of picture that its name says" in page
