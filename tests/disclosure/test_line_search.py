"""Every output about one lot's line is searched for every word that isn't of it."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from disclosure.tokened import TokenedSeason, find_leaks, write_tokened

from certgen.disclosure.line_season import cut_to_lots
from certgen.examination import Result, examine
from certgen.lineage import Node
from certgen.manifest import PacketOptions
from certgen.records.rows import plain_rows, plain_values
from certgen.records.tables import load_tables
from certgen.report.writing import set_html, set_pdf

if TYPE_CHECKING:
    from collections.abc import Iterator

COVERS = ("certgen.disclosure.line_season", "certgen.disclosure.file_cuts")
ON = date(2026, 11, 25)
#: Tables whose records are of a lot's line or of another's: a number stands for one of them.
NUMBERED = ("trees", "screening", "bagging", "harvests", "batches", "lots", "tests", "movements")
#: Clean; blended from last year's; unproven, from own seed of last year; carried over.
CLEAN, BLENDED, UNPROVEN, CARRIED = 1, 4, 5, 8


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> TokenedSeason:
    """The example with improbable words."""
    return write_tokened(tmp_path_factory.mktemp("tokened"))


@pytest.fixture(scope="module")
def whole(made: TokenedSeason) -> Result:
    """The whole season's result."""
    return examine(made.folder, ON)


def of_line(whole: Result, lot: str) -> set[Node]:
    """What the lot came out of, with whoever shares a pool with a parent, and its movements."""
    farm, lineage = whole.farm, whole.lineage
    line = {Node("lots", lot), *lineage.back(Node("lots", lot))}
    inside = {node.id for node in line}
    for sample, trees in plain_rows(farm.table("screening"), "sample", "trees"):
        if inside & {*trees}:
            line |= {Node("screening", sample), *(Node("trees", tree) for tree in trees)}
    pooled = {node.id for node in line if node.table == "trees"}
    for sample, tree in plain_rows(farm.table("screening"), "sample", "tree"):
        line |= {Node("screening", sample)} if tree in pooled else set()
    lots = {node.id for node in line if node.table == "lots"}
    moves = plain_rows(farm.table("movements"), "movement", "lot")
    # Where a part of its seed went is told: the lot that was filled with it, and not to whom that went.
    filled = plain_rows(farm.table("lots"), "lot", "sources")
    names = lots | {node.id for node in line if node.table == "batches"}
    parts = {into for into, sources in filled if any(names & {*one.values()} for one in map(_ids, sources))}
    line |= {Node("lots", into) for into in parts}
    return line | {Node("movements", move) for move, of in moves if of in lots}


def _ids(source: Any) -> dict[str, str]:
    return {key: source[key] for key in ("lot", "batch") if source.get(key)}


def others(made: TokenedSeason, whole: Result, lot: str) -> set[str]:
    """The words of other lines: numbers, buyers, documents, and what papers of their own say."""
    line = of_line(whole, lot)
    farm = whole.farm
    words: set[str] = set()
    for table in NUMBERED:
        names = plain_values(farm.table(table)[load_tables()[table].key])
        words |= {name for name in names if name and Node(table, name) not in line}
    moves = list(plain_rows(farm.table("movements"), "movement", "party", "document", "evidence"))
    for column in (1, 2):
        own = {row[column] for row in moves if Node("movements", row[0]) in line}
        words |= {row[column] for row in moves if row[column]} - own
    for table in ("bagging", "movements", "tests"):
        key = load_tables()[table].key
        for name, files in plain_rows(farm.table(table), key, "evidence"):
            if files and Node(table, name) not in line:
                words |= set(words_of(made, files))
    # Of a year's two numbers the later is told with its year; words that the line has too are no leaks.
    return {word for word in words if " " not in word and word.startswith("Qz")} - told_of(whole, line)


def words_of(made: TokenedSeason, files: Any) -> Iterator[str]:
    """A paper's name, and the word inside it."""
    for file in files:
        yield file.rpartition("/")[2].partition(".")[0]
        place = made.folder / "evidence" / file
        if place.suffix == ".txt" and place.is_file():
            yield place.read_text(encoding="utf-8").strip()


def told_of(whole: Result, line: set[Node]) -> set[str]:
    """Every text in the line's own records."""
    found: set[str] = set()
    for node in line:
        record = whole.farm.record(node.table, node.id) or {}
        found |= set(texts_in(record))
    return found


def texts_in(value: Any) -> Iterator[str]:
    """Every text inside a value."""
    if isinstance(value, dict):
        for part in value.values():
            yield from texts_in(part)
    elif isinstance(value, (list, tuple)):
        for part in value:
            yield from texts_in(part)
    elif isinstance(value, str):
        yield value


def options_for(lot: str, left_out: Any) -> PacketOptions:
    """What is chosen for the packet of a lot's line."""
    return PacketOptions(lots=(lot,), full="0" * 64, left_out=left_out)


@pytest.mark.parametrize("number", [CLEAN, BLENDED, UNPROVEN, CARRIED])
def test_no_word_of_another_line_stands_in_the_cut_files(
    made: TokenedSeason, whole: Result, number: int
) -> None:
    """No record, file name or paper of the cut season holds one; the operation's own files hold all."""
    lot = list(whole.lots)[number]
    words = others(made, whole, lot)
    assert len(words) > 200
    with cut_to_lots(whole, [lot]) as (cut, _):
        root = cut.season.folder
        data = [
            str(path.relative_to(root)).encode() + b"\0" + (path.read_bytes() if path.is_file() else b"")
            for path in sorted(root.rglob("*"))
        ]
    assert find_leaks(b"\0".join(data), words) == []
    own = b"\0".join(source.text.encode() for source in whole.farm.sources.values())
    assert len(find_leaks(own, words)) > 0.8 * len(words)


def test_no_word_of_another_line_stands_in_the_packet(made: TokenedSeason, whole: Result) -> None:
    """Pages, metadata, bookmarks, links and files inside hold none; the lot's own number they do."""
    lot = list(whole.lots)[CLEAN]
    with cut_to_lots(whole, [lot]) as (cut, left_out):
        data = set_pdf(cut, options_for(lot, left_out))
    assert find_leaks(data, others(made, whole, lot)) == []
    assert find_leaks(data, {lot}) == [lot]


def test_no_word_of_another_line_stands_in_the_binder(made: TokenedSeason, whole: Result) -> None:
    """The file for a tablet is of the line alone; the whole season's holds nearly every word."""
    lot = list(whole.lots)[UNPROVEN]
    words = others(made, whole, lot)
    with cut_to_lots(whole, [lot]) as (cut, left_out):
        page = set_html(cut, options_for(lot, left_out))
    assert find_leaks(page, words) == []
    assert len(find_leaks(set_html(whole), words)) > 0.6 * len(words)
