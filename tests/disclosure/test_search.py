"""Every output for somebody else is searched for every word that is withheld from them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from disclosure.tokened import find_leaks, write_tokened

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
    return ({*made.tokens.values()} | numbers) - may_see(made, whole, lot, party)


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
