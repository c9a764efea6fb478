"""Links that open attached files: which file each opens, and how a screen reader finds it."""

from __future__ import annotations

import io

import pikepdf
import pytest
from pages import SETTINGS

from certgen.typeset.addresses import opens_file
from certgen.typeset.compose import compose
from certgen.typeset.first_page import Cover
from certgen.typeset.parts import (
    Attachment,
    Cell,
    Chapter,
    Document,
    Fact,
    Facts,
    Grid,
    Head,
    Listing,
    Register,
    RegisterColumn,
    RegisterSet,
    Row,
    Run,
    Section,
)
from certgen.typeset.structure import walk

COVERS = ("certgen.typeset.addresses", "certgen.typeset.conformance", "certgen.typeset.marks")

#: Names that look like the syntax of the file, of an address, or of another name.
NAMES = (
    "evidence/a%20b.txt",
    "evidence/a b.txt",
    "evidence/letters/50 %#?&.txt",
    "evidence/l/FS 7 0 R (1.txt",
    "evidence/بذور.pdf",
    "previous-1/evidence/a b.txt",
    "records/trees.yaml",
)
GONE = "evidence/gone.txt"


def document(names: tuple[str, ...], attached: tuple[str, ...]) -> Document:
    """Every name in a table, a list, a fact and a register; those that are `attached` are inside."""
    runs = [Run(f"file {number}", name) for number, name in enumerate(names)]
    grid = Grid("Papers", (Head("Paper"),), tuple(Row((Cell((run,)),)) for run in runs))
    parts = (
        grid,
        Listing(tuple((run,) for run in runs)),
        Facts(tuple(Fact("Paper", (run,)) for run in runs)),
    )
    rows = tuple((f"papers/{name}", (((f"row {name}", name),),)) for name in names)
    register = Register("papers", "Papers", "", (RegisterColumn("Paper", 1),), rows)
    files = Register("files", "", "", (RegisterColumn("File", 1),), (("file/a", ((("a", ""),),)),))
    data = b"the same bytes"
    return Document(
        head="Larkfold",
        foot="the foot",
        producer="certgen 0",
        cover=Cover("Report", "Larkfold", "2026", (), (), "is", "is not", ()),
        front=(Chapter("one", (Section("one", "One", 1, parts, style="chapter"),)),),
        manifest=RegisterSet("Manifest", "What it rests on.", (files,)),
        registers=RegisterSet("Registers", "", (register,)),
        attachments=tuple(Attachment(name, data, "text/plain", "Supplement", "A paper") for name in attached),
    )


@pytest.fixture(scope="module")
def file() -> bytes:
    """Every name but one is inside."""
    return compose(document((*NAMES, GONE), NAMES), SETTINGS)


@pytest.fixture
def pdf(file):
    """It opened."""
    with pikepdf.open(io.BytesIO(file)) as opened:
        yield opened


def openers(pdf: pikepdf.Pdf) -> list[pikepdf.Object]:
    """Every place that opens a file."""
    placed = [one for page in pdf.pages for one in page.get("/Annots", ())]
    return [one for one in placed if one.Subtype == "/FileAttachment"]


def test_each_opens_its_own_file(pdf):
    """A table, a list, a fact and a register have one each, and it points at the attached file itself."""
    attached = {
        str(name): spec.objgen for name, spec in pikepdf.NameTree(pdf.Root.Names.EmbeddedFiles).items()
    }
    opened = sorted((str(one.FS.UF), one.FS.objgen) for one in openers(pdf))

    assert sorted(NAMES) == sorted(attached)
    assert opened == sorted((name, attached[name]) for name in NAMES for _ in range(4))
    streams = [one for one in pdf.objects if isinstance(one, pikepdf.Stream)]
    assert len(NAMES) == sum(one.get("/Type") == "/EmbeddedFile" for one in streams)
    assert [] == pdf.check_pdf_syntax()


def test_each_is_tagged_and_said_aloud(pdf):
    """It prints, has a look of its own and words, and its element is an Annot in the tree of the page."""
    parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())
    tree = {element.objgen for element in walk(pdf.Root.StructTreeRoot)}
    looks = {one.AP.N.objgen for one in openers(pdf)}

    assert 1 == len(looks)
    for one in openers(pdf):
        element = parents[int(one.StructParent)]
        low, high = list(one.Rect)[1::2]
        assert SETTINGS.say_link(str(one.FS.UF)) == str(one.Contents)
        assert ["/N"] == list(one.AP.keys())
        assert 4 == one.F
        assert "/A" not in one
        assert low < high
        assert "/Annot" == element.S
        assert element.objgen in tree
        assert one.objgen in {
            kid.Obj.objgen for kid in element.K if isinstance(kid, pikepdf.Dictionary) and "/Obj" in kid
        }


def test_a_file_that_is_not_inside_is_plain_text(pdf):
    """Nothing is said to open it."""
    assert GONE not in {str(one.FS.UF) for one in openers(pdf)}
    placed = [one for page in pdf.pages for one in page.get("/Annots", ())]
    assert set() == {str(one.get("/A")) for one in placed if "/A" in one}
    assert {"/Link", "/FileAttachment"} == {str(one.Subtype) for one in placed}
    assert not any("gone" in str(one.get("/Dest", "")) for one in placed)


def test_a_document_without_files_opens_none():
    """Its places are text, and it has no list of files."""
    with pikepdf.open(io.BytesIO(compose(document(NAMES, ()), SETTINGS))) as pdf:
        assert [] == openers(pdf)
        assert "/EmbeddedFiles" not in pdf.Root.Names
        assert "/NumberedAhead" not in pdf.Root


def test_no_anchor_is_taken_for_a_file():
    """Anchors of records and chapters go on leading to pages."""
    assert [True, True, True] == [
        opens_file(name) for name in ("evidence/a", "records/a", "previous-1/evidence/a")
    ]
    assert not any(map(opens_file, ("lots/evidence", "gap/1", "registers", "row/lots/records/a", "")))
