"""Whatever stands in a name, a note or a path is shown as text: none of it is run, nothing is fetched."""

from __future__ import annotations

import io
import json
import sys
import zipfile
from datetime import date
from html.parser import HTMLParser

import pikepdf
import pytest
import yaml

from certgen import cli
from certgen.rules.example_seasons import EXAMPLES

COVERS = ("certgen.cli", "certgen.report")
ON = ["--on", "2026-10-31"]
CANARY = "hostile.invalid"
TEXTS = (
    "<script>alert(document.cookie)</script>",
    '<img src="http://hostile.invalid/a.png" onerror="alert(1)">',
    "</style><style>@import url(http://hostile.invalid/x.css); body{display:none}</style>",
    '"; background: url("file:///etc/hostname"); "',
    "<link rel=stylesheet href=file:///etc/hostname>",
    "{{ 7 * 191 }}{% for x in ().__class__.__mro__ %}{{ x }}{% endfor %}{# gone #}",
    '<svg onload="alert(1)"><image href="file:///etc/hostname"/></svg>',
    "</script><script>alert(2)</script>",
    "]]><!-- --><iframe src='http://hostile.invalid'></iframe>",
    '=HYPERLINK("http://hostile.invalid","x")',
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "#link(\"http://hostile.invalid\")[x] #read(\"/etc/hostname\") $x$ *b* _i_ `r` <label> @ref",
    "\\textbf{x} [red]bold[/red] [link=http://hostile.invalid]x[/link]",
    "\u202egnp.exe\u202c \u2066left\u2069 \u200f\u200b",
    "名前 种子 씨앗 \U00010380",
    "بذور عضوية זרעים",
    "Zoë O'Brien & Søn <farm@hostile.invalid>",
    "javascript:alert(3)",
    "&lt;b&gt; &amp;amp; &#x3c;script&#x3e;",
    "../../etc/passwd",
)  # fmt: skip
#: Every text field of a record that a person fills in freely.
FREE = {
    "note", "recorded_by", "boundary", "laboratory", "report", "packaging", "party", "document",
    "substrate", "supplier", "certificate", "certifier", "address", "responsible", "name",
    "carrier", "tissue", "reagent_lot",
}  # fmt: skip

opened: list[str] = []
watching: list[bool] = []


def watch(event, arguments):
    """Notes every connection, and every opening of a file that a text names."""
    if watching and (event.startswith(("socket.connect", "socket.getaddrinfo", "urllib")) or (
        event == "open" and "hostname" in str(arguments[0])
    )):  # fmt: skip
        opened.append(f"{event} {arguments}")


sys.addaudithook(watch)


class Page(HTMLParser):
    """A page's tags, its attributes, and what a reader sees."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.addresses, self.handlers, self.seen = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Every element with what it would load or run."""
        self.tags.append(tag)
        self.addresses += [
            value or "" for name, value in attrs if name in {"src", "href", "xlink:href", "action"}
        ]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]

    def handle_data(self, data):
        """What is shown, and what stands in scripts and styles."""
        self.seen.append(data)

    @property
    def text(self):
        """All of it."""
        return "".join(self.seen)


def hostile(texts=TEXTS):
    """The clean base season with every free field filled from the texts in turn, and notes."""
    base = yaml.safe_load((EXAMPLES / "base.yaml").read_text(encoding="utf-8"))
    turn = iter(range(10**6))

    def fill(value):
        if isinstance(value, dict):
            return {
                key: texts[next(turn) % len(texts)] if key in FREE and isinstance(inner, str) else fill(inner)
                for key, inner in value.items()
            }
        if isinstance(value, list):
            return [fill(one) for one in value]
        return value.isoformat() if isinstance(value, date) else value

    made = fill(base)
    # The label names the operation, and both are hostile.
    for table, rows in made.items():
        for one in rows if isinstance(rows, list) else [rows]:
            one["note"] = texts[next(turn) % len(texts)]
            if table == "plantings":
                one["origin"]["supplier"] = texts[1 % len(texts)]
    name = made["season"]["operation"]["name"]
    for lot in made["lots"]:
        lot["label"]["last_certified_operation"] = name
        lot["label"]["variety"] = lot["variety"] = texts[0]
    made["plantings"][0]["variety"] = texts[0]
    for bag in made["bagging"]:
        bag["tag"]["variety"] = texts[0]
    made["inputs"] = [
        {
            "input": f"I{at}",
            "date": "2026-01-02",
            "block": "East",
            "material": text,
            "allowed_by": text,
            "note": text,
        }
        for at, text in enumerate(texts)
    ]
    made["incidents"] = [
        {"incident": f"Q{at}", "date": "2026-01-02", "kind": "other", "about": ["East"], "note": text}
        for at, text in enumerate(texts)
    ]
    return made


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The hostile season's folder."""
    place = tmp_path_factory.mktemp("hostile") / "season"
    place.mkdir()
    (place / "season.yaml").write_text(json.dumps(hostile(), ensure_ascii=False), encoding="utf-8")
    return place


@pytest.fixture
def watched():
    """Fails if anything was fetched while the test ran."""
    opened.clear()
    watching.append(True)
    yield
    watching.clear()
    assert [] == opened


@pytest.fixture(scope="module")
def report(folder, tmp_path_factory):
    """The season's packet as PDF and HTML."""
    out = tmp_path_factory.mktemp("out")
    opened.clear()
    watching.append(True)
    code = cli.run(["report", str(folder), "--out", str(out / "r.pdf"), "--html", str(out / "r.html"), *ON])
    watching.clear()
    assert code in {0, 1}
    assert [] == opened
    return out


@pytest.mark.usefixtures("watched")
@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_check_shows_the_text(folder, capsys, form):
    """Gaps that quote a hostile material or name print it; control characters never reach the terminal."""
    assert 0 == cli.run(["check", str(folder), "--format", form, *ON])

    shown = capsys.readouterr().out
    assert "Traceback" not in shown
    assert "\x1b" not in shown
    if form == "json":
        json.loads(shown)


@pytest.mark.usefixtures("watched")
@pytest.mark.parametrize(("form", "what"), [("text", "L1"), ("text", "M1"), ("json", "L1")])
def test_trace_shows_the_text(folder, capsys, form, what):
    """The line of a lot, a tree and a sale, whose buyer's name is hostile."""
    assert cli.run(["trace", str(folder), what, "--format", form, *ON]) in {0, 1}

    shown = capsys.readouterr().out
    assert "\x1b" not in shown
    if form == "json":
        assert json.loads(shown)["lots"][0]["custody"]["left"][0]["party"] in TEXTS
    else:
        assert "<script>" in shown


def test_the_html_page_shows_the_text_and_runs_none_of_it(report):
    """The texts are there to read; no element, address or handler has come of them."""
    page = Page((report / "r.html").read_text(encoding="utf-8"))

    assert [] == [one for one in page.addresses if CANARY in one or one.startswith(("file:", "javascript:"))]
    assert [] == page.handlers
    assert {"iframe", "link", "object", "embed"} & set(page.tags) == set()
    assert "1337" not in page.text
    for text in ("<script>alert(document.cookie)</script>", "{{ 7 * 191 }}", "名前 种子 씨앗", "بذور عضوية"):
        assert text in page.text


def test_a_hostile_page_has_no_more_scripts_than_a_plain_one(report, tmp_path):
    """No text ends a script of ours or begins one of its own."""
    plain = tmp_path / "plain"
    plain.mkdir()
    harmless = [f"plain words {at}" for at in range(len(TEXTS))]
    (plain / "season.yaml").write_text(json.dumps(hostile(harmless)), encoding="utf-8")
    cli.run(["report", str(plain), "--html", str(tmp_path / "p.html"), *ON])
    mine, theirs = (Page(path.read_text("utf-8")).tags for path in (tmp_path / "p.html", report / "r.html"))

    assert [mine.count(tag) for tag in ("script", "style", "img", "meta")] == [
        theirs.count(tag) for tag in ("script", "style", "img", "meta")
    ]


def test_the_pdf_holds_no_link_script_or_file_of_theirs(report):
    """Nothing in the packet leads out of it."""
    with pikepdf.open(report / "r.pdf") as packet:
        held = [one for one in packet.objects if isinstance(one, pikepdf.Dictionary)]
        loose = [one for one in held if {"/JS", "/JavaScript", "/Launch", "/URI"} & set(one.keys())]
        actions = [str(one.get("/URI", "")) for one in loose]

    assert [] == [one for one in actions if CANARY in one or one.startswith(("file:", "javascript:"))]
    assert all("/JS" not in one and "/Launch" not in one for one in loose)


@pytest.mark.usefixtures("watched")
@pytest.mark.parametrize("form", ["xlsx", "csv", "json", "epcis", "prov", "sarif"])
def test_exports_hold_the_text_and_no_formula(folder, tmp_path, form):
    """In another program, too, the text is a text."""
    out = tmp_path / f"out.{form}"
    assert cli.run(["export", str(folder), "--format", form, "--out", str(out), *ON]) in {0, 1}
    if form == "xlsx":
        import openpyxl

        book = openpyxl.load_workbook(out)
        cells = [
            cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None
        ]
        records = [cell for cell in cells if "hostile" in str(cell.value)]
        assert records
        assert {"s"} == {cell.data_type for cell in records}
        assert all(cell.hyperlink is None for cell in cells)
    elif form == "csv":
        with zipfile.ZipFile(out) as held:
            for name in held.namelist():
                assert "\x00" not in io.TextIOWrapper(held.open(name), "utf-8").read()
    else:
        json.loads(out.read_text(encoding="utf-8"))


@pytest.mark.usefixtures("watched")
@pytest.mark.parametrize("kind", ["tags", "lots", "bagging-round"])
def test_labels_print_the_text(folder, tmp_path, kind):
    """A variety of angle brackets is set as it stands."""
    out = tmp_path / "labels.pdf"

    assert cli.run(["labels", str(folder), "--kind", kind, "--out", str(out), *ON]) in {0, 1}
    assert out.read_bytes().startswith(b"%PDF")


def test_a_letter_that_no_face_has_is_told_by_its_code():
    """A name is never left out of the packet, and never stops it."""
    from certgen.typeset.faces import spell_out

    assert "Zoë [U+10380] [U+202E]x" == spell_out("Zoë \U00010380 \u202ex")


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x1b[31m", "\x7f", "\x85", "\ufeff", "\ufffe"])
def test_control_characters_never_reach_the_terminal(tmp_path, capsys, character):
    """They are refused with their place, or shown as what they are; never written through."""
    made = hostile([f"a{character}b"])
    (tmp_path / "season.yaml").write_text(json.dumps(made), encoding="utf-8")

    assert cli.run(["check", str(tmp_path), *ON]) in {0, 1, 2}
    shown = "".join(capsys.readouterr())
    assert "Traceback" not in shown
    assert not {"\x00", "\x07", "\x1b", "\x7f", "\x85"} & set(shown)


def test_a_note_of_a_megabyte_is_read_or_refused_in_words(tmp_path, capsys):
    """Neither the check nor the page breaks."""
    made = hostile(["plain words"])
    made["bagging"][0]["note"] = "long " * 200_000
    (tmp_path / "season.yaml").write_text(json.dumps(made), encoding="utf-8")

    assert cli.run(["check", str(tmp_path), *ON]) in {0, 1, 2}
    assert "Traceback" not in "".join(capsys.readouterr())
    assert cli.run(["report", str(tmp_path), "--html", str(tmp_path / "r.html"), *ON]) in {0, 1, 2}
    assert "Traceback" not in "".join(capsys.readouterr())


@pytest.mark.parametrize(
    "path",
    [
        "../secret.txt",
        "../../etc/hostname",
        "/etc/hostname",
        "link.txt",
        "sub/../../secret.txt",
        "folder/x.txt",
    ],
)
def test_evidence_never_leads_out_of_the_folder(tmp_path, capsys, path):
    """By no `..`, absolute path or link: the file counts as absent, and its bytes are nowhere."""
    season = tmp_path / "season"
    (season / "evidence").mkdir(parents=True)
    (tmp_path / "secret.txt").write_text("THE SECRET", encoding="utf-8")
    (tmp_path / "x.txt").write_text("THE SECRET", encoding="utf-8")
    (season / "evidence" / "link.txt").symlink_to(tmp_path / "secret.txt")
    (season / "evidence" / "folder").symlink_to(tmp_path)
    made = hostile(["plain words"])
    made["lots"][0]["evidence"] = [path]
    (season / "season.yaml").write_text(json.dumps(made), encoding="utf-8")

    assert cli.run(["check", str(season), "--format", "json", *ON]) in {1, 2}
    shown = json.loads(capsys.readouterr().out)
    assert any(gap["rule"] == "evidence-absent" for gap in shown["gaps"]) or shown["errors"]
    cli.run(["export", str(season), "--format", "json", "--out", str(tmp_path / "all.json"), *ON])
    if path in {"link.txt", "folder/x.txt"}:
        cli.run(["report", str(season), "--html", str(tmp_path / "r.html"), *ON])
    for name in ("all.json", "r.html"):
        if (tmp_path / name).exists():
            assert "THE SECRET" not in (tmp_path / name).read_text(encoding="utf-8")
