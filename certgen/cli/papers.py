"""What else than a record's number an audit can start from: a document, a report, a tag, a label, a buyer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables

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


def find_by_paper(result: Result, text: str) -> tuple[Node, ...]:
    """The records that a document's number, a report's, a tag's text, a label or a party's name stands in.

    Letter case, spaces and commas make no difference. This season's records go before earlier ones'.
    """
    wanted = _fold(text)
    if not wanted:
        return ()
    for group in _WRITTEN:
        found = [node for table, column in group for node in _bearing(result.farm, table, column, wanted)]
        own = [node for node in found if not result.lineage.season_of(node)]
        if found:
            return tuple(dict.fromkeys(own or found))
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


#: Of each table the fields of its day, its document and its quantity, first come first served.
_FACTS: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]]] = {
    "plantings": (("planted",), ("origin.certificate",), ()),
    "trees": (("removed",), (), ()),
    "screening": (("collected",), ("report",), ()),
    "bagging": (("covered",), (), ()),
    "harvests": (("date",), (), ("weight", "fruits")),
    "batches": (("date",), (), ("dry_weight", "wet_weight")),
    "cleaning": (("date",), (), ()),
    "lots": (("packed",), (), ("weight",)),
    "tests": (("date",), ("report",), ()),
    "movements": (("date",), ("document",), ("weight",)),
    "inputs": (("date",), (), ("rate",)),
    "incidents": (("date",), (), ()),
}


def tell_facts(table: str, record: dict[str, Any] | None) -> dict[str, str]:
    """A record's `date`, `document`, `quantity`, `party` and `by` (who entered it); empty if absent."""
    dates, documents, quantities = _FACTS.get(table, ((), (), ()))
    told = {
        "date": dates,
        "document": documents,
        "quantity": quantities,
        "party": ("party", "origin.supplier"),
    }
    return {name: _first(record, fields) for name, fields in {**told, "by": ("recorded_by",)}.items()}


def _first(record: dict[str, Any] | None, fields: tuple[str, ...]) -> str:
    for field in fields:
        value: Any = record
        for step in field.split("."):
            value = value.get(step) if isinstance(value, dict) else None
        if value is not None:
            return str(value)
    return ""
