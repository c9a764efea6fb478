"""The land's history and neighbours, and other land of the same operation."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.figures.validity import months_later
from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in
from certgen.rules.clauses import KEPT_APART, LAND
from certgen.rules.findings import Finding, Weight
from certgen.rules.ranges import outside
from certgen.rules.registry import rule
from certgen.rules.wording import capital, count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case
    from certgen.standards import Demand


def _organic_pickings(case: Case) -> Columns:
    """What was picked as organic of a known block: `harvest`, `block` and its row, `date`, and the day on
    which its trees were `planted`."""
    picked, blocks = case.joined("picked"), case.columns("blocks")
    block_row = blocks.find("block", picked["block"])
    claimed = case.columns("harvests").at("status", picked["harvest_row"]) == "organic"
    planted = case.joined("trees").look_up("tree", picked["tree"], "planted")
    picked = picked.adding(block_row=block_row, planted=planted)
    return picked.where(claimed & (block_row >= 0), "harvest", "block", "block_row", "date", "planted")


@rule(
    weight="rejects",
    clauses=LAND,
    remedy="If the day of the last prohibited substance is wrong, correct it. Otherwise this fruit can't be "
    "called organic.",
    after=("block-not-organic",),
)
def land_too_recent(case: Case) -> Iterator[Finding]:
    """Fruit was picked as organic too soon after a prohibited substance was last put on its land.

    Each standard counts years back from the harvest, or for annual crops from the sowing. A certificate
    doesn't shorten them.
    """
    told = case.columns("blocks").values("last_prohibited_substance")
    history = [_day_told(text) for text in told]
    if not any(history):
        return
    picked = _organic_pickings(case)
    wrong: dict[str, list[tuple[str, str, int]]] = {}
    found: dict[str, list[int]] = {}
    for demand, column, word in _land_years(case):
        years = int(demand.value)  # type: ignore[arg-type]
        over = [None if last is None else months_later(last, 12 * years) for last in history]
        soon = picked[column] < np.array(over, dtype="datetime64[s]")[picked["block_row"]]
        for block, rows in sorted(group_rows(picked["block"], where=soon).items()):
            wrong.setdefault(block, []).append((demand.clause, word, years))
            found.setdefault(block, []).extend(rows)
    for block, reasons in wrong.items():
        harvests = list(dict.fromkeys(picked["harvest"][found[block]].tolist()))
        row = case.columns("blocks").first("block")[block]
        word = reasons[0][1]
        yield Finding(
            "blocks",
            block,
            row,
            ("last_prohibited_substance",),
            f"A prohibited substance was last put on block {block} on {day(date.fromisoformat(told[row]))}."
            f" {capital(name('harvests', harvests))} {'was' if len(harvests) == 1 else 'were'} {word} as"
            f" organic less than {count(max(years for *_, years in reasons), 'year')} later.",
            reaches=tuple(Node("harvests", harvest) for harvest in harvests),
            clauses=tuple(dict.fromkeys(clause for clause, *_ in reasons)),
        )


def _day_told(text: str | None) -> date | None:
    """The day of a block's history; None where it has none, or one that no calendar knows."""
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        return None


def _land_years(case: Case) -> list[tuple[Demand, str, str]]:
    """The years that each standard asks for, up to which day they count, and what was done on it.

    Of annual crops some count up to the sowing, and then not up to the harvest as well.
    """
    annual = case.profile.life == "annual"
    sowing = case.demand("land_years_before_sowing") if annual else []
    books = {book.key for book, _ in sowing}
    return [
        *((demand, "date", "picked") for book, demand in case.demand("land_years") if book.key not in books),
        *((demand, "planted", "sown") for _, demand in sowing),
    ]


@rule(
    weight="unproven",
    clauses=LAND,
    remedy="Write under `last_prohibited_substance` the day, or 'none known', and under `organic_since` the "
    "day of certification.",
    after=("block-not-organic",),
)
def land_history_missing(case: Case) -> Iterator[Finding]:
    """Nothing says when a prohibited substance was last put on the land, or since when it is certified.

    The years of conversion can't be counted from nothing, and a status has a day from which it holds.
    """
    if not case.demand("land_years"):
        return
    blocks = case.columns("blocks")
    bare = blocks.absent("last_prohibited_substance") | blocks.absent("organic_since")
    if not bare.any():
        return
    picked = _organic_pickings(case)
    for block, rows in sorted(group_rows(picked["block"], where=bare[picked["block_row"]]).items()):
        harvests = list(dict.fromkeys(picked["harvest"][rows].tolist()))
        row = blocks.first("block")[block]
        told, since = blocks["last_prohibited_substance"][row], blocks.known("organic_since")[row]
        lacks = [
            words
            for words, there in (
                (f"when a prohibited substance was last put on block {block}", told),
                ("since when it is organic" if not told else f"since when block {block} is organic", since),
            )
            if not there
        ]
        yield Finding(
            "blocks",
            block,
            row,
            ("last_prohibited_substance",) if not told else ("organic_since",),
            f"Nothing says {join(lacks, 'or')}.",
            reaches=tuple(Node("harvests", harvest) for harvest in harvests),
            supply=f"the history of block {block}",
        )


#: A neighbour told of in words, and words that turn them round.
_ORGANIC_NEIGHBOUR: Final = re.compile(
    r"neighbou?r\w*\b[^.;]*\borganic\b|\borganic\b[^.;]*\bneighbou?r|"
    r"organic (?:land|fields?|farms?|orchards?)\b",
    re.IGNORECASE,
)
_OTHER_NEIGHBOUR: Final = re.compile(
    r"\b(?:non|not|isn't|aren't|no longer|never|un)[\s-]*(?:certified\s+)?organic|conventional|sprayed",
    re.IGNORECASE,
)


#: What a block's edges are told by, and the demand of a standard that asks for it.
_EDGES: Final = {"boundary": "boundary_described", "buffer": "buffer_described"}


def lacking_edges(case: Case) -> dict[str, Array]:
    """Which blocks don't tell of an edge, by its field, of those that a standard asks for."""
    blocks = case.columns("blocks")
    # Where the neighbours are organic there is nothing to keep a strip from.
    friendly = np.array([_has_organic_neighbours(words) for words in blocks["boundary"]], dtype=bool)
    bare = blocks.absent("buffer") | (blocks["buffer_mm"] == 0)
    lacks = {"boundary": blocks.absent("boundary"), "buffer": bare & ~friendly}
    return {field: lacks[field] for field, key in _EDGES.items() if case.demand(key)}


def _has_organic_neighbours(words: str | None) -> bool:
    return bool(words and _ORGANIC_NEIGHBOUR.search(words) and not _OTHER_NEIGHBOUR.search(words))


@rule(
    weight="unproven",
    clauses=("us-nop:205.202(c)", "us-nop:205.2 buffer zone", "codex:annex 3 A unit", "canada:5.2"),
    remedy="Write under `boundary` what marks the edge on each side, and under `buffer` how wide the strip "
    "to land that isn't organic is.",
)
def boundary_undescribed(case: Case) -> Iterator[Finding]:
    """Nothing says where organic land ends, or what lies between it and land that isn't.

    What a neighbour sprays drifts. The boundary and its buffer are what the land's status rests on.
    """
    blocks, missing = case.columns("blocks"), lacking_edges(case)
    clauses = tuple(dict.fromkeys(demand.clause for key in _EDGES.values() for _, demand in case.demand(key)))
    for row, block in blocks.rows("block", where=blocks["status"] == "organic"):
        told = [field for field, lacks in missing.items() if lacks[row]]
        if told:
            yield Finding(
                "blocks",
                block,
                row,
                (told[0],),
                f"Block {block} has no entry of its {join(told, 'or')}.",
                supply=f"the {join(told)} of block {block}",
                clauses=clauses,
            )


@rule(
    weight="unproven",
    clauses=("canada:5.2",),
    remedy="If the strip was measured wrongly, correct it. Otherwise say what else keeps drift off, and ask "
    "the certifier.",
    after=("boundary-undescribed",),
)
def buffer_narrow(case: Case) -> Iterator[Finding]:
    """The strip towards land that isn't organic is narrower than a standard asks.

    Most standards fix no width; this one does where contact with something prohibited is possible.
    """
    blocks = case.columns("blocks")
    for book, demand in case.demand("buffer_m"):
        metres = float(demand.value)  # type: ignore[arg-type]
        narrow = (blocks["status"] == "organic") & (blocks["buffer_mm"] < metres * 1000)
        for row, block, typed in blocks.rows("block", "buffer", where=narrow):
            yield Finding(
                "blocks",
                block,
                row,
                ("buffer",),
                f"The buffer of block {block} is {typed} wide, and {book.title} asks for {metres:g} m.",
                cause=block,
                supply=f"the width of the buffer of block {block}, or what else protects it",
                clauses=(demand.clause,),
            )


@rule(
    weight="advice",
    clauses=(*KEPT_APART, "us-nop:memo 11-13", "practice:isolation_m"),
    remedy="Keep every parent flower covered, and write down how you look for trees that came up by "
    "themselves.",
)
def isolation_short(case: Case) -> Iterator[Finding]:
    """The same crop grows nearer than the usual distance, on land that these records don't cover.

    Covered flowers don't depend on the distance. It tells how much a torn bag matters, and how often to look.
    """
    practice = case.practice("isolation_m")
    if practice is None:
        return
    blocks = case.columns("blocks")
    near = (blocks["status"] == "organic") & outside(blocks["nearest_same_crop_mm"] / 1000, practice)
    for row, block, typed in blocks.rows("block", "nearest_same_crop", where=near):
        yield Finding(
            "blocks",
            block,
            row,
            ("nearest_same_crop",),
            f"The same crop grows {typed} from block {block}, where practice is {practice.told()}.",
            weight="advice",
        )


@rule(
    weight="advice",
    clauses=(
        "us-nop:205.201(a)(5)",
        "us-nop:205.2 split operation",
        "eu:2018/848 9(7)",
        "eu:2018/848 9(9)",
        "eu:2018/848 9(10)(b),(c)",
        "canada:5.1",
    ),
    remedy="Show how the fruit of the two is kept apart: enter the pickings of the other block too, with "
    "their own status. Where the standard asks for varieties that are told apart at sight, ask the control "
    "body whether it excepts you as a grower of seed; else grow another one there.",
)
def split_operation_unseparated(case: Case) -> Iterator[Finding]:
    """One variety stands both on organic land and on land that isn't.

    Nobody can tell the two by looking. What was picked on the other land must be on record as well, or an
    inspector can't see that none of it went into the organic lots. Standards that ask for varieties told
    apart at sight may except growers of seed: that is asked, and fails nothing.
    """
    asked = case.demand("split_separation")
    if not asked:
        return
    distinct = case.demand("split_varieties_distinct")
    told = (*asked, *distinct, *case.demand("split_records"), *case.demand("split_exception"))
    plantings, status_of = case.joined("plantings"), case.joined("plantings")["block_status"]
    organic = status_of == "organic"
    varieties = set(plantings["variety"][organic])
    other = plantings.known("block_status") & ~organic & is_in(plantings["variety"], varieties)
    if not other.any():
        return
    trees, fruit = case.joined("trees"), case.joined("picked")
    bearing = set(trees["planting"])
    planting_of = trees.look_up("tree", fruit["tree"], "planting")
    picked = set(planting_of)
    columns = ("planting", "variety", "block", "block_status", "planted")
    for row, planting, variety, block, status, since in plantings.rows(*columns, where=other):
        if planting not in bearing:
            continue
        same = plantings["planting"][organic & (plantings["variety"] == variety)].tolist()
        # What was picked before it was planted can't be of it.
        mine = is_in(planting_of, set(same))
        if since is not None:
            mine &= ~(fruit["date"] < np.datetime64(since))
        reached = tuple(Node("harvests", one) for one in dict.fromkeys(fruit["harvest"][mine].tolist()))
        weight: Weight = "advice"
        if case.lineage.lots_of(reached) and planting not in picked:
            weight = "unproven"
        silent = "" if planting in picked else f" No picking of planting {planting} is on record."
        if distinct:
            silent += " Ask the control body whether you are excepted as a grower of seed."
        yield Finding(
            "plantings",
            planting,
            row,
            ("block",),
            f"{variety} stands on block {block}, which is {status}, and on organic land "
            f"({name('plantings', same)}).{silent}",
            weight=weight,
            cause=(variety, block),
            reaches=reached,
            supply=f"what became of the fruit of planting {planting}",
            clauses=tuple(dict.fromkeys(demand.clause for _, demand in told)),
        )
