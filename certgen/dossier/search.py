"""The records that an audit starts from: by their own number, a document's, a report's, a tag, a buyer."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables
from certgen.rules.wording import NOUNS, noun

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.examination import Result
    from certgen.records import Season

#: Where text stands that is written on paper, the surest first. Those of one group are looked through
#: together, for a laboratory's report may be named by a test and by the seed sent for it.
_WRITTEN: Final = (
    (("movements", "document"), ("screening", "report"), ("tests", "report")),
    (("bagging", "tag"),),
    (("lots", "label.lot"),),
    (("screening", "mark"),),
    (("plantings", "origin.certificate"),),
    (("movements", "party"),),
)
#: The parts of a bag's tag, as they are read off it.
_TAG: Final = ("tag.date", "tag.variety", "tag.tree")


#: The table that each word before a colon stands for: `bag:B-3`.
_TABLES: Final = {word: table for table, words in NOUNS.items() for word in (*words, table)}


class UnknownRecordError(ValueError):
    """No record, or more than one, bears the name; says what to write instead."""


def find_records(result: Result, name: str) -> tuple[Node, ...]:
    """The records that a number means: one, or all that a document, tag or party's name stands in.

    `bag:B-3` says which table where several use the number. Raises `UnknownRecordError`.
    """
    nodes = _find_by_number(result, name)
    own = [node for node in nodes if not result.lineage.season_of(node)] or nodes[:1]
    if len(own) > 1:
        choices = " or ".join(f"{noun(node.table)}:{node.id}" for node in own)
        message = f"Several records bear the number '{name}'. Say which one: {choices}."
        raise UnknownRecordError(message)
    if not own and not (own := list(find_by_paper(result, name))):
        known = [*(node.id for node in result.lineage.nodes), *list_papers(result)]
        near = " or ".join(dict.fromkeys(get_close_matches(name, known, n=3)))
        hint = f" Did you mean {near}?" if near else ""
        message = f"No record bears the number '{name}', nor any document, report, tag or label.{hint}"
        raise UnknownRecordError(message)
    return tuple(own)


def _find_by_number(result: Result, name: str) -> list[Node]:
    word, colon, number = name.partition(":")
    table = _TABLES.get(word) if colon else None
    wanted = name if table is None else number
    return [node for node in result.lineage.nodes if node.id == wanted and table in {None, node.table}]


def find_by_paper(result: Result, text: str) -> tuple[Node, ...]:
    """The records that a document's number, a report's, a tag's text, a label or a party's name stands in.

    Letter case, spaces and commas make no difference. This season's records go before earlier ones'.
    """
    wanted = _fold(text)
    if not wanted:
        return ()
    for group in _WRITTEN:
        nodes = [node for table, column in group for node in _bearing(result.farm, table, column, wanted)]
        own = [node for node in nodes if not result.lineage.season_of(node)]
        if nodes:
            return tuple(dict.fromkeys(own or nodes))
    return ()


def _bearing(season: Season, table: str, column: str, wanted: str) -> Iterator[Node]:
    key = load_tables()[table].key
    if not key:
        return
    names = plain_values(season.table(table)[key])
    for name, written in zip(names, _texts(season, table, column), strict=True):
        if name is not None and _fold(written) == wanted:
            yield Node(table, name)


def list_papers(result: Result) -> Iterator[str]:
    """The numbers of this season's documents and reports, for a hint at what was meant."""
    for table, column in _WRITTEN[0]:
        yield from (text for text in plain_values(result.season.table(table)[column]) if text)


def _texts(season: Season, table: str, column: str) -> list[str]:
    frame = season.table(table)
    if column != "tag":
        return [text or "" for text in plain_values(frame[column])]
    parts = [plain_values(frame[name]) for name in _TAG]
    return [" ".join(str(part) for part in tag if part is not None) for tag in zip(*parts, strict=True)]


def _fold(text: str) -> str:
    return " ".join(text.replace(",", " ").split()).casefold()
