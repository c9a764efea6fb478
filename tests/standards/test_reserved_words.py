"""Words that law keeps for others stand in nothing that is printed.

Seed is called certified only under a seed certifying agency's label (7 USC 1562). Short forms of organic are
kept for goods that meet the rules of the Union (Regulation (EU) 2018/848 article 30(1)). A kind without a
standard is never below it (7 USC 1571(b)).
"""

from __future__ import annotations

import ast
import re

import pytest

from certgen.resources import schemas_dir, templates_dir
from certgen.standards.reading import DATA

COVERS = ("certgen.standards",)
ROOM = DATA.parents[1]
RESERVED = re.compile(r"\bcertified[\s-]+seeds?\b|\b(?:bio|eco)\b|\bbelow[\s-]+standard\b", re.IGNORECASE)
SUFFIXES = {".html", ".typ", ".css", ".js", ".yaml", ".json", ".md", ".txt"}
#: What is printed: data, templates, schemas, rule pages, and what printers left in golden files.
FILES = sorted(
    path
    for root in (ROOM, schemas_dir(), templates_dir(), *(ROOM.parent / "tests").rglob("golden"))
    for path in root.rglob("*")
    if path.is_file() and path.suffix in SUFFIXES
)
MODULES = sorted(ROOM.rglob("*.py"))


def texts(source: str) -> list[str]:
    """Every text in a module: what it prints, its docstrings too, for rules print theirs."""
    return [
        node.value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(ROOM.parent).as_posix())
def test_no_file_that_is_printed_holds_a_reserved_word(path) -> None:
    """Words broken over two lines count as well."""
    assert [] == RESERVED.findall(" ".join(path.read_text(encoding="utf-8").split()))


def test_no_text_in_the_code_holds_a_reserved_word() -> None:
    """A sentence put together of two literals is one constant to the parser."""
    found = {
        path.name: words
        for path in MODULES
        if (words := RESERVED.findall("\n".join(texts(path.read_text(encoding="utf-8")))))
    }

    assert {} == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Certified seed of Amber Kestrel", True),
        ("certified-seed", True),
        ("sold as bio", True),
        ("Eco seed", True),
        ("Below Standard", True),
        ("certified organic seed", False),
        ("a seed certifying agency certified it", False),
        ("biology, economy, below its standard", False),
    ],
)
def test_the_search_knows_the_words(text, found) -> None:
    """And leaves those alone that only look like them."""
    assert found == bool(RESERVED.search(text))
    assert found == any(RESERVED.search(one) for one in texts(f"x = ({text[:5]!r}\n{text[5:]!r})"))
