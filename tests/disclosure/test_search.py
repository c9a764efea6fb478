"""Every output for somebody else is searched for every word that is withheld from them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from disclosure.tokened import find_leaks, write_tokened

from certgen import cli
from certgen.disclosure.choice import is_same_name, list_receivers
from certgen.disclosure.disclosing import disclose_lot, judge_lot
from certgen.examination import examine
from certgen.manifest import PacketOptions
from certgen.records.rows import plain_rows
from certgen.report.writing import set_html, set_pdf

COVERS = (
    "certgen.disclosure.choice",
    "certgen.disclosure.record_copies",
    "certgen.disclosure.season_copy",
    "certgen.report.chapters.disclosed",
    "certgen.exchange.interchange.transactions",
    "certgen.report.lot_page",
)
ON = date(2026, 11, 25)
LOTS = range(9)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The example with improbable words."""
    return write_tokened(tmp_path_factory.mktemp("tokened"))


@pytest.fixture(scope="module")
def whole(made):
    """The whole season's result."""
    return examine(made.folder, ON)


def may_see(made, whole, lot, party):
    """The tokens that a buyer of a lot knows or is told."""
    moves = plain_rows(whole.farm.table("movements"), "party", "document")
    documents = {document for who, document in moves if document and is_same_name(who, party)}
    return {*made.shown, party, *documents, lot, lot.rpartition("-")[0]}


def withheld(made, whole, lot, party):
    """The tokens that a buyer of a lot must not find."""
    # A number is withheld as a whole: its letters alone may be those of the reader's own lot or paper.
    numbers = {
        str(name)
        for table in whole.farm.tables.values()
        for column in table.columns[:1]
        for name in table[column].dropna().tolist()
        if str(name).startswith("Qz")
    }
    return ({*made.tokens.values()} | made.literals | numbers) - may_see(made, whole, lot, party)


def options_for(lot, party):
    """What is chosen for a packet of a lot for a buyer."""
    return PacketOptions("A4", "none", (lot,), "buyer", party, "0" * 64)


@pytest.mark.parametrize("number", LOTS)
def test_no_withheld_word_stands_in_the_records_made_anew(made, whole, number):
    """Of every lot, for its first buyer: no record, file name or note holds one of them, and the lot comes
    out the same."""
    lot = list(whole.lots)[number]
    party = list_receivers(whole, lot)[0]
    words = withheld(made, whole, lot, party)
    assert len(words) > 400
    with disclose_lot(whole, lot, party) as shown:
        assert judge_lot(whole, lot) == judge_lot(shown, lot)
        folder = shown.season.folder
        data = [
            str(path.relative_to(folder)).encode() + b"\0" + (path.read_bytes() if path.is_file() else b"")
            for path in sorted(folder.rglob("*"))
        ]
    assert find_leaks(b"\0".join(data), words) == []


@pytest.mark.parametrize("number", [3, 8])
def test_no_withheld_word_stands_in_a_page(made, whole, number):
    """The page for a browser holds none of them, drawings and data addresses included."""
    lot = list(whole.lots)[number]
    party = list_receivers(whole, lot)[-1]
    with disclose_lot(whole, lot, party) as shown:
        page = set_html(shown, options_for(lot, party))
    assert find_leaks(page, withheld(made, whole, lot, party)) == []


OUTPUTS = {
    **{
        form: ["export", "{season}", "--format", form]
        for form in ("xlsx", "csv", "json", "epcis", "prov", "sarif")
    },
    **{f"check {form}": ["check", "{season}", "--format", form] for form in ("json", "csv", "sarif")},
    **{f"trace {form}": ["trace", "{season}", "{lot}", "--format", form] for form in ("json", "svg")},
}


def run(arguments, out, capsys):
    """What a command writes, into a file or on standard output."""
    assert cli.run([*arguments, "--on", ON.isoformat(), *(["--out", str(out)] if out else [])]) in {0, 1}
    return out.read_bytes() if out else capsys.readouterr().out.encode()


@pytest.mark.parametrize("name", OUTPUTS)
def test_no_withheld_word_stands_in_an_export(made, whole, tmp_path, capsys, name):
    """What other programs are given for a buyer holds none of them, and no folder of this machine."""
    lot = list(whole.lots)[3]
    party = list_receivers(whole, lot)[0]
    command, *words = [word.format(season=made.folder, lot=lot) for word in OUTPUTS[name]]
    asked = [
        command,
        *words,
        "--for",
        "buyer",
        "--to",
        party,
        *(["--lot", lot] if command != "trace" else []),
    ]
    out = tmp_path / "out.file" if command == "export" else tmp_path / "out.svg" if "svg" in name else None
    data = run(asked, out, capsys)
    assert find_leaks(data, withheld(made, whole, lot, party)) == []
    assert b"certgen-disclosed" not in data


@pytest.mark.parametrize("form", ["json", "csv"])
def test_a_member_is_shown_the_shared_movements_alone(made, whole, tmp_path, capsys, form):
    """Lots that passed between the two keep their names; no other lot, party, paper or record is told."""
    party = list_receivers(whole, list(whole.lots)[3])[0]
    asked = ["export", str(made.folder), "--for", "member", "--to", party.lower(), "--format", form]
    data = run(asked, tmp_path / "out", capsys)
    moves = plain_rows(whole.farm.table("movements"), "party", "lot", "document")
    shared = {word for who, *words in moves if is_same_name(who, party) for word in words if word}
    letters = {word.rpartition("-")[0] for word in shared}
    words = withheld(made, whole, next(iter(shared)), party) - shared - letters
    assert find_leaks(data, words) == []
    assert find_leaks(data, shared)


def test_the_public_is_shown_what_stands_on_a_card(made, whole, tmp_path, capsys):
    """No name but the operation's, its certificate's and certifier's, and what the label says."""
    lot = list(whole.lots)[3]
    asked = ["export", str(made.folder), "--for", "public", "--lot", lot, "--format", "json"]
    data = run(asked, tmp_path / "out", capsys)
    assert find_leaks(data, withheld(made, whole, lot, "")) == []


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_no_withheld_word_stands_in_a_packet(made, whole, page):
    """Pages, metadata, bookmarks, links and files inside hold none of them."""
    lot = list(whole.lots)[3]
    party = list_receivers(whole, lot)[0]
    with disclose_lot(whole, lot, party) as shown:
        data = set_pdf(shown, replace(options_for(lot, party), page=page))
    assert find_leaks(data, withheld(made, whole, lot, party)) == []
    assert find_leaks(data, {lot, party}) == sorted({lot, party})


def test_the_search_finds_what_the_whole_packet_holds(made, whole):
    """The full binder holds nearly every number and name: the search would find them."""
    data = set_html(whole)
    lot = list(whole.lots)[3]
    party = list_receivers(whole, lot)[0]
    words = withheld(made, whole, lot, party)
    assert len(find_leaks(data, words)) > 0.6 * len(words)


@pytest.mark.parametrize("form", ["plain", "base64", "hexadecimal", "utf-16"])
def test_the_search_finds_a_word_in_any_form(form):
    """A word that somebody packed otherwise is found all the same."""
    import base64

    word = "Qzbcdfghjklmn"
    packed = {
        "plain": f"x{word.upper()}y".encode(),
        "base64": base64.b64encode(f"ab{word}cd".encode()),
        "hexadecimal": word.encode().hex().encode(),
        "utf-16": word.encode("utf-16-be"),
    }
    assert find_leaks(packed[form], {word}) == [word]
