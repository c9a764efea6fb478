"""What stands on each label.

Only trees that the screening clears get tags: a bag on an unscreened tree is work for nothing. That seed is
treated stands on a lot's label where a record says so, and nowhere else.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.treatment import Treatments
from certgen.figures.distributions import round_half_up
from certgen.records.names import Names, check_base
from certgen.records.quantities import parse_quantity
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.examination import Result
    from certgen.records.supplied import Treatment

#: A value that is written in by hand.
BLANK: Final = ""
#: What the label of seed treated with a harmful substance says: 7 USC 1571(i), as read.
NO_FOOD: Final = "Do not use for food or feed or oil purposes."


#: Seed treated with these has a sign of its own: 7 USC 1571(i), as read.
_MERCURIAL: Final = re.compile("mercur", re.IGNORECASE)


class LabelError(ValueError):
    """Nothing to print, or an identifier that no record bears."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label: a large word, where the thing is, lines of (name, value; an empty value leaves a line to
    write on), a code, a hole. `treated` are such lines too and `cautions` sentences, neither of them ever
    set smaller than 8 point.
    """

    title: str
    lines: tuple[tuple[str, str], ...]
    code: str = ""
    hole: bool = False
    place: str = ""
    foot: str = ""
    treated: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()
    #: Of a tag: the bag and the tree that it names.
    bag: str = ""
    tree: str = ""


@dataclass(frozen=True, slots=True)
class ClearedTree:
    """A tree that may be bagged: where it stands, what it is, and which sample clears it."""

    tree: str
    variety: str
    sex: str
    block: str
    row: str
    position: str
    sample: str
    cleared: str


def cleared_trees(result: Result) -> tuple[ClearedTree, ...]:
    """The trees that `certgen due` calls cleared for bagging and whose flowers a bag alone makes into seed,
    in the order in which one walks past them.

    Flowers that need pollen from elsewhere are covered where somebody pollinates by hand: where a bag of the
    farm is on such a tree already, or where no tree of the variety does without.
    """
    ready = ready_trees(result)
    trees = result.case.trees
    by_hand = set(result.profile.role("needs_pollen_parent"))
    selfing = trees[trees["sex"].isin(result.profile.role("seed_parents"))]
    selfed = set(selfing[selfing["removed"].isna()]["variety"].dropna().tolist())
    if by_hand & set(result.case.bags["sex"].dropna().tolist()):
        return ready
    return tuple(one for one in ready if one.sex not in by_hand or one.variety not in selfed)


def ready_trees(result: Result) -> tuple[ClearedTree, ...]:
    """All trees that `certgen due` calls cleared for bagging, in the order in which one walks past them."""
    from certgen.dossier.due import list_due

    ready = {one.identifier: one.first for one in list_due(result) if one.subject == "cleared for bagging"}
    trees = result.case.trees[result.case.own("trees")]
    chosen = trees[trees["tree"].isin(list(ready))].drop_duplicates("tree")
    names = ("tree", "variety", "sex", "block", "row", "position", "clearing_sample")
    days = [str(ready[tree]) for tree in chosen["tree"].tolist()]
    found = [
        ClearedTree(*(_text(value) for value in values))
        for values in zip(*(chosen[name].tolist() for name in names), days, strict=True)
    ]
    return tuple(sorted(found, key=lambda one: walking_order(one.block, one.row, one.position, one.tree)))


def _text(value: object) -> str:
    """A table's cell as text; pandas gives a float that is no number where there is nothing."""
    return value if isinstance(value, str) else ""


def walking_order(block: str, row: str, position: str, tree: str) -> tuple[object, ...]:
    """Sorts what stands in an orchard as one walks past it: block by block, row by row."""
    return block, _walk(row), _walk(position), tree


def _walk(text: str) -> tuple[int, int, str]:
    """Numbers in their order, other names after them."""
    return (0, int(text), "") if text.isdecimal() else (1, 0, text)


def bag_tags(
    result: Result, *, each: int = 1, trees: Sequence[str] = (), bags: Sequence[str] = (), blank: int = 0
) -> tuple[Label, ...]:
    """Tags for bags: for cleared trees with date and bag to write in, for bags on record, or all blank."""
    if blank:
        lines = (("Bag", BLANK), ("Date", BLANK), ("Variety", BLANK), ("Tree", BLANK))
        return tuple(Label("Bag tag", lines, hole=True) for _ in range(blank))
    if bags:
        return tuple(_tag_of_bag(result, bag) for bag in bags)
    return tuple(_tag_of_tree(tree) for tree in _choose_cleared(result, trees) for _ in range(each))


def _choose_cleared(result: Result, trees: Sequence[str]) -> list[ClearedTree]:
    # Asked for by its number, a tree that is pollinated by hand gets a tag too.
    cleared = {one.tree: one for one in (ready_trees if trees else cleared_trees)(result)}
    unknown = [tree for tree in trees if tree not in cleared]
    if unknown:
        raise LabelError(
            f"not cleared for bagging: {', '.join(unknown)}; see what is missing with: certgen check"
        )
    chosen = [cleared[tree] for tree in trees] if trees else list(cleared.values())
    if not chosen:
        raise LabelError("no tree is cleared for bagging; --blank 20 prints tags to write on")
    return chosen


def _tag_of_tree(tree: ClearedTree) -> Label:
    return Label(
        f"Tree {tree.tree}",
        (("Variety", tree.variety), ("Bag", BLANK), ("Date", BLANK)),
        code=tree.tree,
        hole=True,
        place=_where(tree),
        tree=tree.tree,
    )


def _where(tree: ClearedTree) -> str:
    parts = [("block", tree.block), ("row", tree.row), ("place", tree.position)]
    told = [f"{name} {value}" for name, value in parts if value]
    return ", ".join([*told, tree.sex] if tree.sex else told)


def _tag_of_bag(result: Result, bag: str) -> Label:
    record = result.season.record("bagging", bag)
    if record is None:
        raise LabelError(f"no record bears the bag number {bag}")
    tree = str(record["tree"])
    row = result.season.row("trees", tree)
    planting = (
        result.season.record("plantings", str(result.season.record_at("trees", row)["planting"]))
        if row is not None
        else None
    )
    variety = str(planting["variety"]) if planting else BLANK
    lines = (("Tree", tree), ("Variety", variety), ("Date", str(record["covered"])))
    return Label(f"Bag {bag}", lines, code=bag, hole=True, bag=bag, tree=tree)


def sample_labels(result: Result, trees: Sequence[str] = (), base: str = "") -> tuple[Label, ...]:
    """Labels for leaf samples: the tree's number to be pressed on the petiole, and room for the sample's
    own. The code is the tree's name, below `base` if there is one: a laboratory has other farms' tree 17 too.
    """
    frame = result.season.tables["trees"]
    standing = frame[frame["removed"].isna()]["tree"].tolist()
    unknown = [tree for tree in trees if tree not in standing]
    if unknown:
        raise LabelError(f"no standing tree bears the number {', '.join(unknown)}")
    chosen = list(trees) or standing
    if not chosen:
        raise LabelError("the tree register is empty")
    return tuple(
        Label(
            f"Tree {tree}",
            (("Sample", BLANK), ("Date", BLANK), ("By", BLANK)),
            code=_write_code(result, "trees", tree, base),
        )
        for tree in chosen
    )


def _write_code(result: Result, table: str, number: str, base: str) -> str:
    """What the code of a label that leaves the farm says: the record's name, below `base` if there is one."""
    names = Names(result.farm, check_base(base) if base else "")
    return names.address(names.of(table, number))


def lot_labels(result: Result, lots: Sequence[str] = (), base: str = "") -> tuple[Label, ...]:
    """Labels for seed containers: the status word, the lot, and what else the season's standards ask for. The
    code is the lot's name, below `base` if there is one.

    Only lots that are traced say `organic`. For others the standing stands where the word would: a label
    must not claim what the records do not bear. Which clause asks for a line, and whether it was read, is for
    the packet to say and not for whoever buys the seed.
    """
    chosen = _choose_lots(result, lots)
    treatments = Treatments(result.case)
    signed = [lot for lot in chosen if any(map(_MERCURIAL.search, treatments.of(lot).substances))]
    if signed:
        raise LabelError(
            f"the seed of lot {', '.join(signed)} was treated with a mercurial: its label needs the skull and"
            " crossbones and the words of 7 USC 1571(i) in red, which isn't drawn here; leave the lot out and"
            " take a label made for it"
        )
    return tuple(
        label
        for lot in chosen
        for label in [_lot_label(result, lot, treatments.of(lot), base)] * _containers(result, lot)
    )


def untold_lots(result: Result, lots: Sequence[str] = ()) -> tuple[str, ...]:
    """Those of the lots of which no record says whether their seed was treated."""
    treatments = Treatments(result.case)
    return tuple(lot for lot in _choose_lots(result, lots) if treatments.of(lot).treated is None)


def _choose_lots(result: Result, lots: Sequence[str]) -> list[str]:
    known = result.season.tables["lots"]["lot"].tolist()
    unknown = [lot for lot in lots if lot not in known]
    if unknown:
        raise LabelError(f"no record bears the lot number {', '.join(unknown)}")
    chosen = list(lots) or known
    if not chosen:
        raise LabelError("there is no lot on record")
    return chosen


def _containers(result: Result, lot: str) -> int:
    record = result.season.record("lots", lot) or {}
    return max(1, min(int(record.get("containers", 1)), 500))


def _lot_label(result: Result, lot: str, treatment: Treatment, base: str) -> Label:
    record = result.season.record("lots", lot) or {}
    lines = (
        ("Status", _say_status(result, lot, record)),
        ("Variety", str(record.get("variety", ""))),
        ("Packed", str(record.get("packed", ""))),
        *_lines_asked_for(result, lot, record),
        ("Net weight", _net_weight(record)),
    )
    return Label(
        f"Lot {lot}",
        lines,
        code=_write_code(result, "lots", lot, base),
        foot=result.profile.botanical,
        treated=_treated_lines(treatment),
        cautions=_cautions(result, treatment),
    )


def _treated_lines(treatment: Treatment) -> tuple[tuple[str, str], ...]:
    """`Treated with` what the records name; where they don't name all of it, a line to write it on."""
    if not treatment.treated:
        return ()
    named = ("Treated with", join(treatment.substances))
    blank = ("and with" if treatment.substances else "Treated with", BLANK)
    return (*([named] if treatment.substances else []), *([] if treatment.named else [blank]))


def _cautions(result: Result, treatment: Treatment) -> tuple[str, ...]:
    """What stands below `Treated with`; nothing where each treatment is recorded as harmless."""
    if not treatment.treated or treatment.harmful is False:
        return ()
    handling = (one.line.partition(": ")[2] for one in result.profile.cautions.at("treated seed"))
    return (*([NO_FOOD] if treatment.harmful else []), *handling)


def _net_weight(record: Mapping[str, Any]) -> str:
    """What one container holds as far as the record says; a line to write on where it doesn't, or where so
    many containers would hold more than the lot weighs.
    """
    whole, each, containers = record.get("weight"), record.get("net_weight"), record.get("containers", 0)
    if each is not None:
        held = parse_quantity(str(each), "mass").si * max(1, int(containers))
        fits = whole is None or held <= parse_quantity(str(whole), "mass").si
        return str(each) if fits else BLANK
    return str(whole) if containers == 1 and whole is not None else BLANK


def _say_status(result: Result, lot: str, record: Mapping[str, Any]) -> str:
    standing = result.lots[lot].standing if lot in result.lots else "unproven"
    status = str(record.get("status", ""))
    return status if standing == "traced" else f"{status}: {standing}, not to be sold as such"


def _lines_asked_for(result: Result, lot: str, record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Who certified, and how the seed germinated, as far as the season and its standards know of it."""
    operation = result.season.details.operation
    if any(_asks(rulebook, "last_certified_operation") for rulebook in result.rulebooks):
        last = str((record.get("label") or {}).get("last_certified_operation", ""))
        yield "Last certified operation", last or operation.name
    if operation.certifier:
        yield "Certified by", operation.certifier
    if germination := _germination(result, lot):
        yield "Germination", germination


def _asks(rulebook: Any, key: str) -> bool:
    return key in rulebook.demands and bool(rulebook.demands[key].value)


def _germination(result: Result, lot: str) -> str:
    """The latest germination test, as its own replicates have it."""
    tests = result.season.tables["tests"]
    rows = tests[(tests["lot"] == lot) & (tests["kind"] == "germination")].sort_values("date")
    if rows.empty:
        return ""
    record = result.season.record_at("tests", int(rows.index[-1]))
    normal, of = (
        sum(record.get("replicates", ())),
        int(record.get("per_replicate", 0)) * len(record.get("replicates", ())),
    )
    return f"{round_half_up(Fraction(100 * normal, of))} % (test of {record['date']})" if of else ""
