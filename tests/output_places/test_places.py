"""What a person's choice of a place may write over, and what stays whatever is asked for."""

from __future__ import annotations

import io
import os
import socket
import zipfile
from pathlib import Path
from typing import get_args

import pikepdf
import pytest
from killed import kill_at
from pikepdf import Array, Dictionary, Name, String

from certgen.exchange.interchange.layout import render_json
from certgen.output_places import places
from certgen.output_places.kinds import Kind, recognise
from certgen.output_places.places import Output, OutputRefusedError, check_places, mend_folder, write_outputs


def make_pdf(*, producer="certgen 0.1.0", attached="", keywords="", form=None, note="", more=None):
    """A PDF of one page, as `producer` would leave it; a note of a file opens `attached`, if given."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    if producer:
        pdf.docinfo["/Producer"] = String(producer)
    if keywords:
        pdf.docinfo["/Keywords"] = String(keywords)
    if attached:
        pdf.attachments[attached] = b"{}"
    if note:
        subject = Dictionary(Type=Name.Annot, Subtype=Name(note), Rect=[0, 0, 9, 9], **(more or {}))
        if note == "/FileAttachment":
            held = pdf.attachments[attached].obj if attached else Dictionary(Type=Name.Filespec)
            subject.FS = pdf.make_indirect(held)
        pdf.pages[0].Annots = Array([pdf.make_indirect(subject)])
    if form is not None:
        pdf.Root.AcroForm = Dictionary(form)
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def sign_pdf(pdf):
    """The PDF with a signature behind it, as far as its structure goes: a second revision with a field."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        field = Dictionary(FT=Name.Sig, T=String("Signature"), V=Dictionary(ByteRange=[0, 1, 2, 3]))
        opened.Root.AcroForm = Dictionary(Fields=[Dictionary(Kids=[opened.make_indirect(field)])])
        out = io.BytesIO()
        opened.save(out)
    return out.getvalue()


def add_revision(pdf):
    """The PDF with an empty second revision behind it, as an editor that appends leaves one."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        root, size = opened.Root.objgen[0], int(opened.trailer.Size)
    before = int(pdf.rsplit(b"startxref", 1)[1].split()[0])
    table = f"xref\n0 0\ntrailer\n<< /Size {size} /Root {root} 0 R /Prev {before} >>\n"
    return pdf + f"{table}startxref\n{len(pdf)}\n%%EOF\n".encode()


def make_archive(names, day=(2000, 1, 1, 0, 0, 0)):
    """An archive of empty files, packed on a day."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name in names:
            archive.writestr(zipfile.ZipInfo(name, day), b"")
    return out.getvalue()


def lay_out(content):
    """JSON as certgen lays it out."""
    return render_json(content).encode()


WORKBOOK = ("xl/workbook.xml", "docProps/core.xml")
PACKET = make_pdf()
#: What each kind is before it is marked.
SAMPLES = {
    "packet": PACKET,
    "co-op's report": make_pdf(attached="coop.json"),
    "field paper": make_pdf(producer="", keywords="certgen field paper"),
    "lot card": make_pdf(producer="", keywords="certgen lot card"),
    "binder": b"<!DOCTYPE html>\n<html></html>",
    "drawing": b"<svg/>\n",
    "letter": b"Dear member\n",
    "workbook": make_archive(WORKBOOK),
    "tables": make_archive(["season.csv", "data-dictionary.csv"]),
    "records as JSON": lay_out({"tool": "certgen", "tables": {}}),
    "EPCIS events": lay_out({"@context": ["", {"certgen": ""}]}),
    "PROV document": lay_out({"prefix": {"r": "", "voc": ""}}),
    "SARIF log": lay_out({"runs": [{"tool": {"driver": {"name": "certgen"}}}]}),
    "season file": b"season:\n",
    "column map": b"sheets:\n",
    "round form": b"round,kind,date,by\r\n",
    "key": b"secret",
    "certificate": b"public",
}
GIVING_WAY = sorted(set(SAMPLES) - {"season file", "column map", "round form", "key", "certificate"})


def put(path, kind, *, force=False, data=None):
    """Writes a sample of a kind to a place."""
    return write_outputs([Output(path, kind, SAMPLES[kind] if data is None else data)], force=force)


def state(folder):
    """Every file below a folder by path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_every_kind_has_a_sample():
    """A kind that is added is tried here."""
    assert set(get_args(Kind)) == set(SAMPLES)


@pytest.mark.parametrize("kind", GIVING_WAY)
def test_an_earlier_output_of_the_same_kind_gives_way(tmp_path, kind):
    """Unasked, and nothing is kept beside; what lies there is recognised by its content alone."""
    path = tmp_path / "anything"
    assert () == put(path, kind)
    assert kind == recognise(path.read_bytes())

    assert () == put(path, kind)
    assert ["anything"] == sorted(state(tmp_path))


@pytest.mark.parametrize("kind", sorted(SAMPLES))
@pytest.mark.parametrize("other", GIVING_WAY)
def test_an_output_of_another_kind_stays(tmp_path, kind, other):
    """Whoever names a packet for a workbook meant something else."""
    path = tmp_path / "anything"
    put(path, other)
    before = state(tmp_path)
    if kind != other:
        with pytest.raises(OutputRefusedError, match="anything"):
            put(path, kind)
    assert before == state(tmp_path)


@pytest.mark.parametrize("kind", ["season file", "column map", "round form", "key", "certificate"])
def test_what_a_person_works_on_or_cannot_make_again_never_gives_way(tmp_path, kind):
    """A looked-over map and a key stay, though the one that would be written is of the same kind."""
    path = tmp_path / "anything"
    put(path, kind)
    with pytest.raises(OutputRefusedError, match="is there already; nothing was written"):
        put(path, kind, data=b"another")
    assert {"anything": SAMPLES[kind]} == state(tmp_path)


@pytest.mark.parametrize(
    "kind", sorted({*GIVING_WAY} - {"packet", "lot card", "co-op's report", "field paper"})
)
@pytest.mark.parametrize(
    "change",
    [
        lambda data: data[:-1],
        lambda data: data[1:],
        lambda data: b"mine\n" + data,
        lambda data: data[:20] if data.startswith(b"PK") else data.replace(b"\n", b"\n\n", 1),
        lambda data: data + b"\nmine\n" if not data.startswith(b"PK") else data[:20],
    ],
)
def test_what_a_person_changed_is_theirs(tmp_path, kind, change):
    """A letter with a line added, a workbook that was cut short: it is no output of certgen's any more."""
    path = tmp_path / "anything"
    put(path, kind)
    changed = change(path.read_bytes())
    path.write_bytes(changed)
    with pytest.raises(OutputRefusedError, match="as certgen leaves it; nothing was written"):
        put(path, kind)
    assert {"anything": changed} == state(tmp_path)


@pytest.mark.parametrize(
    "theirs",
    [
        make_pdf(producer="A Scanner"),
        make_pdf(producer="certgenuine 1"),
        make_pdf(note="/Text"),
        make_pdf(note="/Stamp"),
        make_pdf(note="/FileAttachment"),
        make_pdf(note="/FileAttachment", attached="manifest.json", more={"T": String("K. Wren")}),
        make_pdf(form={"/Fields": Array([])}),
        add_revision(PACKET),
        PACKET[:-40],
        b"%PDF-1.7 nothing that can be read",
    ],
    ids=["scanned", "named alike", "remark", "stamp", "a file laid on it", "a remark with a file", "form",
         "second revision", "cut off", "broken"],
)  # fmt: skip
def test_a_pdf_that_somebody_made_or_worked_on_stays(tmp_path, theirs):
    """A scan, a packet with remarks on a page, one that was saved anew: kept unless forced, then beside."""
    path = tmp_path / "letter.pdf"
    path.write_bytes(theirs)
    with pytest.raises(OutputRefusedError, match="is no packet as certgen leaves it; nothing was written"):
        put(path, "packet")
    assert {"letter.pdf": theirs} == state(tmp_path)

    assert ((path, tmp_path / "letter.before-1.pdf"),) == put(path, "packet", force=True)
    assert {"letter.pdf": PACKET, "letter.before-1.pdf": theirs} == state(tmp_path)


def test_a_packet_whose_links_open_its_papers_gives_way(tmp_path):
    """What opens an attached file is a link of certgen's own, and no remark."""
    path = tmp_path / "packet.pdf"
    path.write_bytes(make_pdf(note="/FileAttachment", attached="manifest.json"))
    put(path, "packet")

    assert PACKET == path.read_bytes()


def test_a_packet_that_was_saved_anew_stays(tmp_path):
    """A program that rewrites the file gives its second name a new half."""
    path = tmp_path / "packet.pdf"
    path.write_bytes(PACKET)
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        pdf.pages[0].MediaBox = [0, 0, 100, 100]
        pdf.save()
    with pytest.raises(OutputRefusedError, match="is no packet"):
        put(path, "packet")


@pytest.mark.parametrize(
    "signed",
    [
        sign_pdf(PACKET),
        make_pdf(form={"/SigFlags": 3}),
        b"%PDF-1.7\n/ByteRange [0 1 2 3] and nothing that can be read",
    ],
    ids=["field", "flag", "unreadable"],
)
def test_a_signed_packet_stays(tmp_path, signed):
    """Forced, it is kept beside under the first name that is free."""
    path = tmp_path / "report.pdf"
    path.write_bytes(signed)
    (tmp_path / "report.before-1.pdf").write_bytes(b"kept once")
    with pytest.raises(OutputRefusedError, match=r"is signed; nothing.*--force.*as .*report\.before-2\.pdf"):
        put(path, "packet")

    kept = put(path, "packet", force=True)
    assert ((path, tmp_path / "report.before-2.pdf"),) == kept
    assert {
        "report.pdf": PACKET, "report.before-1.pdf": b"kept once", "report.before-2.pdf": signed
    } == state(tmp_path)  # fmt: skip


@pytest.mark.parametrize("name", ["trees.yaml", "trees.yml", "TREES.YAML"])
def test_a_record_stays_and_is_kept_under_no_records_name(tmp_path, name):
    """Even one that holds a packet: what a season reads is not written over. Kept, it isn't read twice."""
    path = tmp_path / name
    path.write_bytes(PACKET)
    with pytest.raises(OutputRefusedError, match="is a record file; nothing was written"):
        put(path, "packet", data=make_pdf(attached="x"))

    put(path, "packet", data=make_pdf(attached="x"), force=True)
    assert PACKET == (tmp_path / f"{name}.before-1").read_bytes()


def test_a_new_name_of_a_record_is_refused(tmp_path):
    """A packet under it would be read as records, and break the season."""
    with pytest.raises(OutputRefusedError, match="bears the name of a record file"):
        put(tmp_path / "new.yaml", "packet")
    assert {} == state(tmp_path)
    assert () == put(tmp_path / "new.yaml", "packet", force=True)


@pytest.mark.parametrize("below", ["evidence", "evidence/letters", "Evidence"])
def test_evidence_stays(tmp_path, below):
    """Even a packet of certgen's: there it shows something. A link to the folder doesn't hide it."""
    folder = tmp_path / below
    folder.mkdir(parents=True)
    (folder / "supplier.pdf").write_bytes(PACKET)
    (tmp_path / "papers").symlink_to(folder)
    for home in (folder, tmp_path / "papers"):
        with pytest.raises(OutputRefusedError, match="is evidence; nothing was written"):
            put(home / "supplier.pdf", "packet", data=make_pdf(attached="x"))
    assert () == put(folder / "new.pdf", "packet")
    put(folder / "supplier.pdf", "packet", data=make_pdf(attached="x"), force=True)
    assert PACKET == (folder / "supplier.before-1.pdf").read_bytes()


def make_obstacle(path, what):
    """Something at a place that is no ordinary file."""
    if what == "link":
        (path.parent / "aim").write_bytes(PACKET)
        path.symlink_to(path.parent / "aim")
    elif what == "dangling link":
        path.symlink_to(path.parent / "nowhere")
    elif what == "folder":
        path.mkdir()
    elif what == "pipe":
        os.mkfifo(path)
    else:
        os.chdir(path.parent)
        with socket.socket(socket.AF_UNIX) as held:
            held.bind(path.name)


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("what", ["link", "dangling link", "folder", "pipe", "socket"])
def test_what_is_no_file_is_never_written_over(tmp_path, monkeypatch, what, force):
    """Whatever is asked for; and the other file of the same command isn't written either."""
    monkeypatch.chdir(tmp_path)
    make_obstacle(tmp_path / "out.pdf", what)
    before = (tmp_path / "out.pdf").lstat()
    files = state(tmp_path)
    outputs = [
        Output(tmp_path / "b.html", "binder", b"<html>"),
        Output(tmp_path / "out.pdf", "packet", PACKET),
    ]
    with pytest.raises(
        OutputRefusedError, match=r"out\.pdf is a (link|folder|pipe|socket); nothing was written. Name a file"
    ):
        write_outputs(outputs, force=force)
    assert (files, before) == (state(tmp_path), (tmp_path / "out.pdf").lstat())


def test_a_device_is_never_written_over():
    """`--out /dev/null` as root would put a file in the place of the device."""
    with pytest.raises(
        OutputRefusedError, match=r"/dev/null is a device; nothing was written\. Name a file to write to"
    ):
        check_places({Path("/dev/null"): "packet"}, force=True)


def test_all_places_are_asked_before_any_is_written(tmp_path):
    """Of a packet and a binder that can't be written neither appears."""
    (tmp_path / "b.html").write_bytes(b"<p>mine</p>")
    outputs = [Output(tmp_path / "a.pdf", "packet", PACKET), Output(tmp_path / "b.html", "binder", b"<html>")]
    with pytest.raises(OutputRefusedError, match=r"b\.html is no binder as certgen leaves it"):
        write_outputs(outputs)
    assert {"b.html": b"<p>mine</p>"} == state(tmp_path)


@pytest.mark.parametrize("step", [1, 2])
def test_a_pair_killed_half_way_is_finished(tmp_path, step):
    """A packet and a binder of one command, over those of before: both are new after the next look."""
    packet, binder = tmp_path / "p.pdf", tmp_path / "b.html"
    put(packet, "packet")
    put(binder, "binder")
    after = [Output(packet, "packet", make_pdf(attached="x")), Output(binder, "binder", b"<html>new</html>")]
    assert kill_at(step, lambda: write_outputs(after))
    assert "is finished now: p.pdf, b.html." in mend_folder(tmp_path)
    found = state(tmp_path)
    assert (after[0].data, True) == (found.pop("p.pdf"), found.pop("b.html").startswith(b"<html>new"))
    assert {} == found


def test_a_pair_killed_half_way_is_never_finished_over_another_file(tmp_path):
    """What a person put there meanwhile stays, and so does a signed packet that was to give way by force."""
    packet, binder = tmp_path / "p.pdf", tmp_path / "b.html"
    packet.write_bytes(sign_pdf(PACKET))
    before = state(tmp_path)
    after = [Output(packet, "packet", PACKET), Output(binder, "binder", b"<html>")]
    assert kill_at(1, lambda: write_outputs(after, force=True))
    assert "it is undone" in mend_folder(tmp_path)
    assert {**before, "p.before-1.pdf": before["p.pdf"]} == state(tmp_path)


def test_a_failure_takes_the_kept_name_away_again(tmp_path, monkeypatch):
    """When the disk refuses, the folder is as it was."""
    path = tmp_path / "report.pdf"
    path.write_bytes(b"mine")

    def refuse(*_given, **_how):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(places, "write_all", refuse)
    with pytest.raises(OSError, match="No space left"):
        put(path, "packet", force=True)
    assert {"report.pdf": b"mine"} == state(tmp_path)


def test_where_files_have_one_name_only_the_old_one_is_copied(tmp_path, monkeypatch):
    """Some file systems know no second names; the copy has the same bytes and permissions."""

    def refuse(*_given, **_how):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", refuse)
    path = tmp_path / "report.pdf"
    path.write_bytes(b"mine")
    path.chmod(0o600)
    (tmp_path / "report.before-1.pdf").write_bytes(b"kept once")
    put(path, "packet", force=True)
    kept = tmp_path / "report.before-2.pdf"
    assert (b"mine", 0o600) == (kept.read_bytes(), kept.stat().st_mode & 0o777)


def test_the_same_bytes_again_lose_nothing(tmp_path):
    """Nothing is kept beside a file that holds already what would be written."""
    path = tmp_path / "key"
    put(path, "key")
    assert () == put(path, "key")
    assert {"key": b"secret"} == state(tmp_path)


def test_an_empty_file_gives_way(tmp_path):
    """There is nothing in it to lose."""
    (tmp_path / "r.pdf").touch()
    assert () == put(tmp_path / "r.pdf", "packet")


def test_two_files_of_one_name_are_refused(tmp_path):
    """However the name is spelled."""
    with pytest.raises(OutputRefusedError, match="is named for two files"):
        check_places({tmp_path / "a": "key", tmp_path / "x" / ".." / "a": "certificate"})


def test_a_place_below_a_file_is_refused_in_words(tmp_path):
    """Nobody writes below a letter."""
    (tmp_path / "letter").write_text("dear")
    with pytest.raises(OutputRefusedError, match="letter is no folder"):
        check_places({tmp_path / "letter" / "a.pdf": "packet"})


def test_what_is_private_is_so(tmp_path):
    """A key is for its owner's eyes; a certificate beside it isn't."""
    write_outputs(
        [
            Output(tmp_path / "k", "key", b"secret", private=True),
            Output(tmp_path / "k.cer", "certificate", b"public"),
        ]
    )
    assert [0o600, 0o644] == [(tmp_path / name).stat().st_mode & 0o777 for name in ("k", "k.cer")]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"{",
        b"[" * 100_000,
        b"{" + b'"a":[' * 100_000,
        b"PK\x03\x04",
        b"PK\x03\x04" + b"\0" * 100,
        b"%PDF-",
        b'{\n "@context": 5\n}\n',
        b'{\n "runs": []\n}\n',
        make_archive(WORKBOOK, (2026, 1, 1, 0, 0, 0)),
        make_archive(["season.csv"]),
        b"<svg/>\n<!-- certgen drawing 0123456789abcdef -->\n",
        b"\xff\xfe",
    ],
)
def test_anything_else_is_nobodys_output(data):
    """Hostile and broken files are only ever not recognised."""
    assert recognise(data) is None
