"""How each table is told in its register: what stands at every record, by what records are grouped, which
values need no name beside them, and which are known before they are told."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.report.context import Context

#: What is expected of each row: a value as the records have it (None: nothing).
Expectation = Callable[["Context"], Sequence[Any]]


@dataclass(frozen=True, slots=True)
class Expected:
    """A field that a reader knows of each record before it is told: the words that say so, and the values."""

    words: str
    find: Expectation


@dataclass(frozen=True, slots=True)
class TellingPlan:
    """How a table is told.

    `each` are the fields that stand at every record, without a name; `groups` those by which records are
    grouped; `plain` those whose values say what they are; `joined` those that are told as one, under the
    name of the first.
    """

    each: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    plain: tuple[str, ...] = ()
    joined: tuple[tuple[str, ...], ...] = ()
    expected: Mapping[str, Expected] = field(default_factory=lambda: MappingProxyType({}))


def _as_field(table: str, name: str) -> Expectation:
    """What stands in another field of the same record."""
    return lambda context: context.season.columns(table).values(name)


def _variety_of_the_tree(context: Context) -> list[str | None]:
    """The variety that the register of plantings gives each bag's tree."""
    trees, plantings = context.season.columns("trees"), context.season.columns("plantings")
    variety = dict(zip(plantings.values("planting"), plantings.values("variety"), strict=True))
    planting = dict(zip(trees.values("tree"), trees.values("planting"), strict=True))
    bagged = context.season.columns("bagging").values("tree")
    return [variety.get(planting.get(tree)) for tree in bagged]


#: A tree's number that says where it stands: its row, and its place in two digits.
_PLACED: Final = re.compile(r"\D*(\d+?)(\d\d)")


def _read_off_number(part: int) -> Expectation:
    """A row or place as a tree's own number says it."""

    def find(context: Context) -> list[str | None]:
        found = [_PLACED.fullmatch(str(name)) for name in context.season.columns("trees").values("tree")]
        return [str(int(match[part])) if match else None for match in found]

    return find


_BAG_CARE: Final = (
    "flower", "stage", "other_buds_cleared", "secured", "bag_use", "outcome", "fruit_marked"
)  # fmt: skip
#: What goes with what: a fruit is marked where a flower has set, a bag that held something was cleaned.
_BAG_JOINED: Final = (
    ("flower", "stage"),
    ("bag_use", "previous_contents", "bag_cleaned"),
    ("outcome", "fruit_marked"),
)
_METHOD: Final = ("method", "targets", "incubation", "temperature")

#: By table. One that isn't here is told with the name of each field.
PLANS: Final[dict[str, TellingPlan]] = {
    "blocks": TellingPlan(plain=("name", "status", "area", "boundary")),
    "plantings": TellingPlan(each=("block", "variety", "planted"), plain=("material_status", "material")),
    "trees": TellingPlan(
        groups=("planting",),
        plain=("sex",),
        expected={
            "row": Expected("row as in the number, before its last two digits", _read_off_number(1)),
            "position": Expected("place in the row as in its last two digits", _read_off_number(2)),
        },
    ),
    "observations": TellingPlan(each=("date",), plain=("trees", "kind", "seen", "sex", "decision")),
    "rounds": TellingPlan(
        each=("date", "by"),
        groups=("kind",),
        plain=(
            "blocks",
            "trees",
            "bags",
            "samples",
            "harvests",
            "condition",
            *_BAG_CARE,
            "stage",
            "fruit_marked",
        ),
        joined=(("flower", "stage"), ("outcome", "fruit_marked")),
    ),
    "submissions": TellingPlan(each=("date",), plain=("kind", "laboratory", "samples")),
    "letters": TellingPlan(
        plain=("laboratory", "method", "targets", "incubation", "temperature", "samples", "result"),
        joined=(_METHOD,),
    ),
    "screening": TellingPlan(
        each=("tree", "petiole"),
        groups=("report",),
        plain=("trees", "method", "targets", "incubation", "temperature", "laboratory", "result"),
        joined=(_METHOD,),
        expected={
            "mark": Expected("mark on the leaf stalk as the tree’s number", _as_field("screening", "tree"))
        },
    ),
    "bagging": TellingPlan(
        each=("tree",),
        groups=("covered",),
        plain=_BAG_CARE,
        joined=_BAG_JOINED,
        expected={
            "tag.date": Expected("date on the tag as the day of covering", _as_field("bagging", "covered")),
            "tag.variety": Expected("variety on the tag as the tree’s", _variety_of_the_tree),
            "tag.tree": Expected("tree on the tag as in the log", _as_field("bagging", "tree")),
            "tag.bag": Expected("bag on the tag as in the log", _as_field("bagging", "bag")),
        },
    ),
    "harvests": TellingPlan(each=("date", "weight", "fruits"), plain=("bags", "trees", "stage", "status")),
    "batches": TellingPlan(each=("date", "harvests"), plain=("status", "equipment", "blade")),
    "cleaning": TellingPlan(each=("date",), plain=("equipment", "containers", "method")),
    "lots": TellingPlan(
        each=("variety", "packed", "weight"),
        plain=("status", "packaging", "container_use", "storage", "storage_temperature"),
        expected={
            "label.lot": Expected("lot on the label as here", _as_field("lots", "lot")),
            "label.variety": Expected("variety on the label as here", _as_field("lots", "variety")),
            "label.status": Expected("status on the label as here", _as_field("lots", "status")),
        },
    ),
    "tests": TellingPlan(each=("lot", "date"), groups=("kind",), plain=("method", "substrate", "laboratory")),
    "movements": TellingPlan(
        each=("date", "lot", "weight"), groups=("kind",), plain=("kind", "party", "document", "status")
    ),
    "materials": TellingPlan(each=("name", "kind"), plain=("approved_by", "paper")),
    "compost": TellingPlan(each=("begun",)),
    "inputs": TellingPlan(each=("date", "block", "material"), plain=("purpose", "rate", "heap")),
    "scouting": TellingPlan(each=("date", "block"), plain=("pest", "found")),
    "water_tests": TellingPlan(each=("date",), plain=("source",)),
    "visits": TellingPlan(plain=("kind", "inspector", "certifier")),
    "incidents": TellingPlan(each=("date",), plain=("kind", "about", "action")),
    "recalls": TellingPlan(each=("opened",), plain=("kind", "about", "reason")),
    "explanations": TellingPlan(each=("about",), plain=("reason",)),
}
