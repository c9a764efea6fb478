"""Long registers: no row is lost or split between chunks, and text stays text."""

from __future__ import annotations

import io

import pikepdf
import pytest

from certgen.report import registers as setter
from certgen.report.faces import text_width
from certgen.report.joining import Binding
from certgen.report.packet import Register, RegisterColumn
from certgen.report.registers import breakable, compile_typst, design_of, rows_on_last_page, set_registers
from certgen.report.structure import kids, walk

SETTINGS = {
    "heading": "Registers",
    "lead": "Words.",
    "title": "t",
    "language": "en",
    "sheet_name": "A4",
    "epoch": 1_700_000_000,
}


def register(count: int, note: str = "") -> Register:
    """A register of bags whose rows lead to their trees."""
    columns = (RegisterColumn("Bag", 1), RegisterColumn("Tree", 1), RegisterColumn("Note", 3))
    rows = tuple(
        (f"bagging/B{n:05}", (((f"B{n:05}", f"lots/L{n % 3}"),), ((f"T{n}", f"trees/T{n}"),), ((note, ""),)))
        for n in range(count)
    )
    return Register("bagging", "Bags", "", columns, rows)


def bind(*registers: Register) -> Binding:
    """The registers, set and joined."""
    binding = Binding()
    for file, drop_last in set_registers(registers, **SETTINGS):
        binding.append(file, drop_last=drop_last)
    binding.finish(language="en", spoken=str)
    return binding


def body_rows(binding: Binding) -> list:
    """The rows of all tables, without the heads."""
    return [
        row
        for body in walk(binding.pdf.Root.StructTreeRoot)
        if body.S == "/TBody"
        for row in kids(body)
        if row.S == "/TR"
    ]


@pytest.mark.parametrize("count", [0, 1, 99, 100, 101, 250, 333])
def test_chunks_keep_every_row(count, monkeypatch):
    """However a register falls into chunks, each row is there once, and each has its place."""
    monkeypatch.setattr(setter, "REGISTER_CHUNK", 120)
    binding = bind(register(2), register(count))

    assert count + 2 == len(body_rows(binding))
    # Three short rows a page of the first register bear the same names: a row's first place counts.
    assert max(count, 2) == sum(name.startswith("bagging/") for name in binding.places)


def test_no_page_between_chunks_is_left_empty(monkeypatch):
    """A chunk's unfilled last page opens the next chunk: pages are as many as in one run."""
    whole = bind(register(400)).pages
    monkeypatch.setattr(setter, "REGISTER_CHUNK", 100)

    assert whole == bind(register(400)).pages


def test_places_lie_in_the_order_of_the_rows():
    """A later row stands further down or on a later page."""
    places = bind(register(300)).places
    listed = [places[f"bagging/B{n:05}"] for n in range(300)]

    assert listed == sorted(listed, key=lambda place: (place[0], -place[1]))


def test_setter_code_in_a_record_is_text():
    """A note that looks like code of the setter is shown, not run."""
    hostile = '#panic("run") $x^2$ \\ *bold* @ref <label> `raw` // comment'
    binding = bind(register(3, hostile))

    assert 3 == len(body_rows(binding))


@pytest.mark.parametrize("word", ["x" * 300, "B-2026/" * 40, "short"])
def test_a_long_word_breaks_inside_its_column(word):
    """A word that is wider than its column gets places to break, and loses no letter."""
    broken = breakable(f"before {word} after", 80, 7)

    assert f"before {word} after" == broken.replace("\u200b", "")
    assert all(text_width(piece, 7) <= 80 for piece in broken.replace("\u200b", " ").split())


def test_rows_on_the_last_page():
    """A file of one page has nothing to hand on; a longer one says how many rows its last page holds."""
    ((one, _),) = list(set_registers((register(3),), **SETTINGS))
    ((many, _),) = list(set_registers((register(300),), **SETTINGS))
    with pikepdf.open(io.BytesIO(many)) as pdf:
        pages = len(pdf.pages)

    assert 0 == rows_on_last_page(one)
    assert pages > 2
    assert 0 < rows_on_last_page(many) < 300 / (pages - 1)


def test_faces_are_our_own():
    """Registers are set in the two families of the packet, all embedded."""
    ((file, _),) = list(set_registers((register(3),), **SETTINGS))
    with pikepdf.open(io.BytesIO(file)) as pdf:
        names = {
            str(item.FontName).partition("+")[2]
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor"
        }

    assert names
    assert all(name.startswith(("SourceSansPro", "SourceSerifPro")) for name in names)


def test_the_running_heads_are_untagged():
    """Running heads are laid over as artifacts, so they bring no structure of their own."""
    data = {
        **design_of("A4", "en", "t"),
        "running": "r",
        "foot": "f",
        "pages": [{"head": "h", "foot": "Page 1 of 1"}],
    }
    with pikepdf.open(io.BytesIO(compile_typst("running.typ", data, epoch=1, tagged=False))) as pdf:
        assert 1 == len(pdf.pages)
        assert "/StructTreeRoot" not in pdf.Root
