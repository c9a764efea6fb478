"""The index of identifiers: neighbours share an entry, and every page that is named is one that holds it."""

from __future__ import annotations

from pages import SETTINGS

from certgen.typeset import index as module
from certgen.typeset.index import set_index
from certgen.typeset.parts import Index

PLACES = {"bagging/1": (4, 700.0), "bagging/2": (4, 600.0), "bagging/3": (5, 700.0), "lots/1": (1, 500.0)}
FILES = ("evidence/a 1.txt", "evidence/100%.txt", "evidence/plan.txt")


def groups_of(monkeypatch, identifiers, before: int = 2, papers=()):
    """What the setter is given, its links by what they lead to."""
    told = []
    monkeypatch.setattr(
        module, "compile_typst", lambda _name, data, **_more: told.append(data["groups"]) or b""
    )
    links = set_index(Index("Index", "", identifiers, papers), PLACES, before, SETTINGS, FILES).links

    def lead(address: str) -> str:
        return f"packet:{links[int(address.removeprefix('packet:'))]}" if address else ""

    for group in told[0]:
        for entry in group["entries"]:
            entry["file"] = lead(entry["file"])
            entry["pages"] = tuple((page, lead(address)) for page, address in entry["pages"])
    return told[0]


def test_neighbours_share_an_entry(monkeypatch):
    """Identifiers that stand on the same page, one after the other, are named from the first to the last."""
    bags = [(f"B{n}", [f"bagging/{n}"]) for n in (1, 2, 3)]
    (group,) = groups_of(monkeypatch, [("Bags", bags)])

    assert [
        {"text": "B1 … B2", "file": "", "pages": (("7", "packet:bagging/1"),)},
        {"text": "B3", "file": "", "pages": (("8", "packet:bagging/3"),)},
    ] == group["entries"]


def test_a_page_is_named_once(monkeypatch):
    """Two places on one page are one number, which leads to the first; pages stand in order."""
    (group,) = groups_of(monkeypatch, [("Lots", [("L1", ["bagging/1", "bagging/2", "lots/1"])])])

    assert [
        {"text": "L1", "file": "", "pages": (("4", "packet:lots/1"), ("7", "packet:bagging/1"))}
    ] == group["entries"]


def test_what_has_no_place_is_left_out(monkeypatch):
    """An identifier that the packet does not hold is not in its index, nor is a table of such."""
    assert [] == groups_of(monkeypatch, [("Trees", [("T1", ["trees/1"])])])


def test_a_name_keeps_its_place_and_its_link(monkeypatch):
    """Names from right to left are set apart from each other, unknown letters are spelled; links stay."""
    names = [("מטע", ["lots/1"]), ("ምርት", ["lots/1"])]
    (group,) = groups_of(monkeypatch, [("Lots", names)])

    assert [
        {
            "text": "\u2068מטע\u2069 … [U+121D][U+122D][U+1275]",
            "file": "",
            "pages": (("4", "packet:lots/1"),),
        }
    ] == group["entries"]


def test_papers_have_an_entry_each(monkeypatch):
    """Neighbours on one page stay apart, each opens its own file, and one without a page is there as well."""
    papers = [
        ("BF-1", ("bagging/1",), "evidence/a 1.txt"),
        ("BF-2", ("bagging/1",), "evidence/100%.txt"),
        ("INV-3", ("lots/1",), ""),
        ("plan.txt", (), "evidence/plan.txt"),
    ]
    (group,) = groups_of(monkeypatch, [], papers=[("Papers", papers)])

    assert [
        {"text": "BF-1", "file": "packet:evidence/a 1.txt", "pages": (("7", "packet:bagging/1"),)},
        {"text": "BF-2", "file": "packet:evidence/100%.txt", "pages": (("7", "packet:bagging/1"),)},
        {"text": "INV-3", "file": "", "pages": (("4", "packet:lots/1"),)},
        {"text": "plan.txt", "file": "packet:evidence/plan.txt", "pages": ()},
    ] == group["entries"]
