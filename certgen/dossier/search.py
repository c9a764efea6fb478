"""The records that an audit starts from: by their own number, a document's, a report's, a tag, a buyer.

A selection is the part of a result that was asked for: some rules' gaps, some lots and what mends them.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from typing import TYPE_CHECKING, Final

from certgen.dossier.abridging import OBLIGATIONS_TOLD, most_told
from certgen.dossier.notices import list_suspect
from certgen.lineage import Node
from certgen.records.names import Names
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables
from certgen.rules.wording import NOUNS, join, noun

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from certgen.dossier.notices import Suspect
    from certgen.examination import Result
    from certgen.lineage import LotStanding, Mend
    from certgen.records import Place, Season
    from certgen.rules import Gap

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
#: What a paper is called before a colon: `document:17`, where a record bears the same number.
_PAPERS: Final = {
    "document": ("movements", "document"),
    "invoice": ("movements", "document"),
    "report": ("screening", "report"),
    "tag": ("bagging", "tag"),
    "label": ("lots", "label.lot"),
    "mark": ("screening", "mark"),
    "certificate": ("plantings", "origin.certificate"),
    "party": ("movements", "party"),
    "buyer": ("movements", "party"),
}
#: Farm, season, table and number.
_PARTS_OF_NAME: Final = 4
#: The parts of a bag's tag, as they are read off it.
_TAG: Final = ("tag.date", "tag.variety", "tag.tree")


#: The table that each word before a colon stands for: `bag:B-3`.
_TABLES: Final = {word: table for table, words in NOUNS.items() for word in (*words, table)}


class UnknownRecordError(ValueError):
    """No record, or more than one, bears the name; says what to write instead."""


def find_records(result: Result, name: str) -> tuple[Node, ...]:
    """The records that a number means: one, or all that a document, tag or party's name stands in.

    `bag:B-3` says which table where several use the number, and `document:17` that a paper's is meant. What a
    label's code or a card says (`QR-2018-0147/2025/lots/AB-25-1`), below any address, names one record.
    Raises `UnknownRecordError`.
    """
    word, colon, number = name.partition(":")
    if colon and word in _PAPERS and (found := _find_written(result, word, number)):
        return found
    nodes = _find_by_number(result, name)
    nodes = nodes or _find_by_name(result, name)
    own = [node for node in nodes if not result.lineage.season_of(node)] or nodes[:1]
    if len(own) > 1:
        raise UnknownRecordError(_say_several(result, name, own))
    found = tuple(own) or find_by_paper(result, name)
    if not found:
        raise UnknownRecordError(_say_unknown(result, name))
    return found


def _say_several(result: Result, name: str, nodes: Sequence[Node]) -> str:
    asked = [f"{noun(node.table)}:{node.id}" for node in nodes]
    asked += list_other_papers(result, name, nodes)
    return f"Several records bear the number '{name}'. Say which one: {join(asked, 'or')}."


def _say_unknown(result: Result, name: str) -> str:
    known = [*(node.id for node in result.lineage.nodes), *list_papers(result)]
    near = " or ".join(dict.fromkeys(get_close_matches(name, known, n=3)))
    hint = f" Did you mean {near}?" if near else ""
    return f"No record bears the number '{name}', nor any document, report, tag or label.{hint}"


def _find_written(result: Result, word: str, number: str) -> tuple[Node, ...]:
    """The records in which a number stands as that of a paper of such a kind; this season's first."""
    wanted = _fold(number)
    columns = [_PAPERS[word], *([("tests", "report")] if word == "report" else [])]
    nodes = [node for table, column in columns for node in _bearing(result.farm, table, column, wanted)]
    own = [node for node in nodes if not result.lineage.season_of(node)]
    return tuple(dict.fromkeys(own or nodes)) if wanted else ()


def list_other_papers(result: Result, number: str, nodes: Sequence[Node]) -> list[str]:
    """How to ask for the papers, one a kind, that bear a number too and are of other records:
    `document:17`.
    """
    words = ("document", "report", "tag", "label")
    return [f"{word}:{number}" for word in words if set(_find_written(result, word, number)) - set(nodes)]


def _find_by_number(result: Result, name: str) -> list[Node]:
    word, colon, number = name.partition(":")
    table = _TABLES.get(word) if colon else None
    wanted = name if table is None else number
    return [node for node in result.lineage.nodes if node.id == wanted and table in {None, node.table}]


def _find_by_name(result: Result, text: str) -> list[Node]:
    """The record whose name ends what was written: the address before it may be any."""
    path = "/".join(text.strip().split("/")[-_PARTS_OF_NAME:])
    if path.count("/") < _PARTS_OF_NAME - 1:
        return []
    names = Names(result.farm, "")
    return [node for node in result.lineage.nodes if path == names.of(node.table, node.id)]


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


@dataclass(frozen=True, eq=False)
class Selection:
    """What is shown of a result. `numbers` are the gaps' own, as all of the result's are counted from 1."""

    result: Result
    gaps: tuple[Gap, ...]
    numbers: tuple[int, ...]
    lots: tuple[LotStanding, ...]
    mend: tuple[Mend, ...]
    narrowed: bool

    @property
    def exit_code(self) -> int:
        """As the whole result's, but only what is shown counts as a gap."""
        if not self.narrowed or self.result.exit_code >= 2:
            return self.result.exit_code
        return int(any(gap.weight != "advice" for gap in self.gaps))

    @cached_property
    def suspect(self) -> tuple[Suspect, ...]:
        """The deliveries of seed that isn't traced, of which a selected gap tells."""
        numbers = set(self.numbers)
        return tuple(delivery for delivery in list_suspect(self.result) if delivery.number in numbers)

    @cached_property
    def most_lots(self) -> int | None:
        """How many lots each selected gap may tell; None for all that it reaches."""
        return most_told(gap.lots for gap in self.gaps)

    @cached_property
    def most_mended(self) -> int | None:
        """How many lots each thing to do may tell; None for all in which it proves something."""
        return most_told(mend.lots for mend in self.mend)

    @cached_property
    def most_open(self) -> int | None:
        """How many records each obligation of a selected lot may tell as open; None for all."""
        return most_told(shown.open for lot in self.lots for shown in self.result.proof(lot.lot))

    @cached_property
    def most_shown(self) -> int | None:
        """How many obligations each selected lot may tell; None for all."""
        return most_told((self.result.proof(lot.lot) for lot in self.lots), OBLIGATIONS_TOLD)

    @cached_property
    def where(self) -> dict[Place, tuple[int, int]]:
        """Line and column of every place of every selected gap."""
        return self.result.locate(place for gap in self.gaps for place in (gap.place, *gap.others))


def select(result: Result, rules: Collection[str] = (), lots: Collection[str] = ()) -> Selection:
    """The gaps of some rules and the gaps and standing of some lots; everything if none are named."""
    numbers = tuple(
        number
        for number, gap in enumerate(result.gaps, start=1)
        if _is_wanted([gap.rule], rules) and _is_wanted(gap.lots, lots)
    )
    positions = {number - 1 for number in numbers}
    return Selection(
        result,
        tuple(map(result.gap, numbers)),
        numbers,
        tuple(lot for name, lot in result.lots.items() if _is_wanted([name], lots)),
        tuple(
            mend
            for mend in result.mend
            if not positions.isdisjoint(mend.gaps) and _is_wanted(mend.lots, lots)
        ),
        bool(rules or lots),
    )


def _is_wanted(names: Iterable[str], wanted: Collection[str]) -> bool:
    """Whether one of the names was asked for; who asks for none wants all."""
    return not wanted or any(name in wanted for name in names)
