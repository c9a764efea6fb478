"""A spot check of bags, trees or lots that anybody can draw again.

Drawn is from what the records say is there on the day: bags and marked fruit that hang, parent trees that
stand, lots that lie in store. A check of papers draws from everything on record.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from certgen.dossier.due import may_hang
from certgen.figures.draws import (
    allot,
    count_in_strata,
    digest_json,
    draw_in_strata,
    freeze,
    mix_key,
    worst_miss,
)
from certgen.records.quantities import format_mass
from certgen.records.rows import look_up, plain_rows, plain_values
from certgen.records.tables import load_tables
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    from pandas import DataFrame

    from certgen.examination import Result

Kind = Literal["bags", "trees", "lots"]
By = Literal["block", "variety", "all"]

#: The packet's own draw: so sure to find so large a share of faulty items.
DETECT: Final = 0.1
CONFIDENCE: Final = 0.95
#: How anybody draws the same again.
REPEAT: Final = (
    "To draw it again: write the 64 digits of the fingerprint in small letters without blanks, a bar, the "
    "text as it was hashed, a bar and the identifier; take the SHA-256 of it, sort by it within each group, "
    "and take the first ones."
)
#: What is there of each kind on a day, and what is on record.
_THERE: Final[dict[Kind, str]] = {
    "bags": "bags or fruit of bags that hang",
    "trees": "parent trees that stand",
    "lots": "lots that lie in store",
}
_ON_RECORD: Final[dict[Kind, str]] = {
    "bags": "bags of the season on record",
    "trees": "parent trees on record",
    "lots": "lots on record",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What a draw is asked for: the kind of item, the groups, and whether from everything `on_record`."""

    kind: Kind
    by: By = "block"
    on_record: bool = False

    def __post_init__(self) -> None:
        """Raises ValueError for lots by block: a lot comes out of many."""
        if self.kind == "lots" and self.by == "block":
            raise ValueError("A lot comes out of several blocks: group lots by variety, or draw from all.")


@dataclass(frozen=True, slots=True)
class DrawKey:
    """What decides a draw: a `text`, and the `fingerprint` of what was frozen before it (empty: nothing was).

    `noted` says that the fingerprint was known before the text was given: what whoever inspects has to know.
    """

    text: str
    fingerprint: str = ""
    noted: bool = False

    @property
    def hashed(self) -> str:
        """What stands before the bar and the identifier. Raises ValueError as `plain_text` does."""
        return mix_key(self.fingerprint, self.text) if self.fingerprint else self.text


@dataclass(frozen=True, slots=True)
class Drawn:
    """One item to look at, with what the records say of it: on the spot it should be found so."""

    identifier: str
    stratum: str
    tree: str
    block: str
    row: str
    position: str
    variety: str
    says: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SpotCheck:
    """A draw: what it was drawn from on what day, by what key, what it found, and what it can miss.

    `strata` and `taken` count the items and those drawn in each group. `misses` gives for numbers of faulty
    items the chance, at worst, that the sample holds none of them. `doubled` are identifiers that several
    records bear: each is drawn from once.
    """

    asked: Asked
    key: DrawKey
    on: date
    strata: Mapping[str, int]
    taken: Mapping[str, int]
    drawn: tuple[Drawn, ...]
    misses: tuple[tuple[int, float], ...]
    doubled: tuple[str, ...] = ()

    @property
    def kind(self) -> Kind:
        """What was drawn."""
        return self.asked.kind

    @property
    def population(self) -> int:
        """How many items there were to draw from."""
        return sum(self.strata.values())

    @property
    def size(self) -> int:
        """How many were drawn."""
        return sum(self.taken.values())


def say_population(asked: Asked, on: date) -> str:
    """What is drawn from, in words: "bags or fruit of bags that hang on 4 March 2026"."""
    return _ON_RECORD[asked.kind] if asked.on_record else f"{_THERE[asked.kind]} on {day(on)}"


def say_draw(check: SpotCheck) -> str:
    """What was drawn from what: "Spot check of 7 of 58 bags or fruit of bags that hang on …"."""
    what = "Check of papers" if check.asked.on_record else "Spot check"
    return f"{what}: {check.size} of {check.population} {say_population(check.asked, check.on)}."


def say_chance(chance: float) -> str:
    """A chance to one decimal; one that would round to nothing isn't called nothing."""
    return "less than 0.1 %" if 0 < chance < 0.0005 else f"{100 * chance:.1f} %"


def say_order(check: SpotCheck) -> str:
    """Whether the records were fixed before the text was known, and what that is worth."""
    if check.key.noted:
        return (
            "The records were frozen before the text was told. That holds if whoever inspects noted this "
            "very fingerprint, and told the text after it."
        )
    return (
        "Nothing shows that the records were frozen before the text was known: they may have been written to "
        "suit it. An inspection begins with --freeze."
    )


def list_strata(result: Result, asked: Asked) -> dict[str, list[str]]:
    """The items to draw from, by the groups asked for, groups in order of their names."""
    return _group(_list_items(result, asked), asked.by)


def _group(items: DataFrame, by: By) -> dict[str, list[str]]:
    names = plain_values(items["id"])
    groups = (
        ["all"] * len(names) if by == "all" else [one or "not recorded" for one in plain_values(items[by])]
    )
    strata: dict[str, list[str]] = {}
    for name, group in zip(names, groups, strict=True):
        strata.setdefault(group, []).append(name)
    return dict(sorted(strata.items()))


def freeze_draw(result: Result, asked: Asked, records: str) -> str:
    """The fingerprint of what a draw rests on before its text is known: the digest of the `records`, what is
    asked, the day, and the items that were found to draw from, so that no other version of certgen finds
    others under it.

    The items are told by the SHA-256 of a JSON object: each group with its items in order, keys sorted.
    """
    strata = {name: sorted(group) for name, group in list_strata(result, asked).items()}
    return freeze(
        records,
        kind=asked.kind,
        by=asked.by,
        basis="on record" if asked.on_record else "there",
        on=result.on.isoformat(),
        items=digest_json(strata),
    )


def plan_size(sizes: Iterable[int], share: float, confidence: float) -> int:
    """How many of groups of these sizes to look at, so that a share of faulty ones is found wherever it is.

    The share is of whole items, rounded up: 5 % of 143 bags are 8. Raises ValueError outside (0, 1).
    """
    return count_in_strata({str(at): size for at, size in enumerate(sizes)}, share, confidence)


def draw_check(result: Result, asked: Asked, key: DrawKey, size: int) -> SpotCheck:
    """Draw `size` items, at least one of each group and the rest in proportion.

    Raises ValueError for a text that decides nothing, a size beyond what there is, or one below the number of
    groups.
    """
    return _draw(result, asked, _list_items(result, asked), key, size)


def _draw(result: Result, asked: Asked, items: DataFrame, key: DrawKey, size: int) -> SpotCheck:
    strata = _group(items, asked.by)
    sizes = {name: len(group) for name, group in strata.items()}
    chosen = draw_in_strata(key.hashed, strata, size)
    where = {name: group for group, picked in chosen.items() for name in picked}
    describe = {"bags": _describe_bags, "trees": _describe_trees, "lots": _describe_lots}[asked.kind]
    drawn = describe(items[items["id"].isin(list(where))], where)
    taken = allot(sizes, size)
    faults = [number for number in (1, 2, 3, 5, 10, 20) if number <= sum(sizes.values())]
    return SpotCheck(
        asked=asked,
        key=key,
        on=result.on,
        strata=sizes,
        taken=taken,
        drawn=tuple(
            sorted(
                drawn, key=lambda item: (item.stratum, _walk(item.row), _walk(item.position), item.identifier)
            )
        ),
        misses=tuple((number, float(worst_miss(sizes, taken, number))) for number in faults),
        doubled=find_doubled(result, asked),
    )


def own_text(result: Result) -> str:
    """The text that every output of the packet draws with: label, operation and day of the examination.

    All of it is the grower's to choose: such a draw is for going through one's own papers.
    """
    details = result.season.details
    return f"{details.label} {details.operation.name} {result.on.isoformat()}"


def own_asked(kind: Kind) -> Asked:
    """What the packet's own draw asks for: bags by their papers, trees and lots that are there on its day."""
    return Asked(kind, "variety" if kind == "lots" else "block", on_record=kind == "bags")


def own_draw(result: Result, kind: Kind) -> SpotCheck | None:
    """The packet's own spot check, the same in every output; None where there is nothing to draw from."""
    asked = own_asked(kind)
    items = _list_items(result, asked)
    sizes = [len(group) for group in _group(items, asked.by).values()]
    if not sizes:
        return None
    return _draw(result, asked, items, DrawKey(own_text(result)), plan_size(sizes, DETECT, CONFIDENCE))


def _list_items(result: Result, asked: Asked) -> DataFrame:
    """Bags, trees or lots under `id`, with what `_describe_…` tells of them."""
    list_kind = {"bags": _list_bags, "trees": _list_trees, "lots": _list_lots}[asked.kind]
    items = list_kind(result, asked.on_record)
    return items[items["id"].notna() & ~items["id"].duplicated()]


def find_doubled(result: Result, asked: Asked) -> tuple[str, ...]:
    """The identifiers that stand on more than one record of the season and kind, each once, in order."""
    table = {"bags": "bagging", "trees": "trees", "lots": "lots"}[asked.kind]
    names = result.season.table(table)[load_tables()[table].key]
    return tuple(sorted(set(names[names.duplicated() & names.notna()].tolist())))


def _list_bags(result: Result, on_record: bool) -> DataFrame:
    import pandas as pd

    case = result.case
    bags, trees = case.bags, case.tree_of
    bags = bags.assign(
        id=bags["bag"],
        row=look_up(bags["tree"], trees["row"]),
        position=look_up(bags["tree"], trees["position"]),
    )
    if on_record:
        # What hung in an earlier year was drawn from then.
        return bags.assign(hangs=pd.Series("", bags.index, dtype="str"))[case.own("bagging")]

    on = pd.Timestamp(result.on)
    picked = case.picked
    off = bags["uncovered"] <= on
    lost = bags["outcome"].isin(["dropped", "lost"]) & (bags["uncovered"].isna() | off)
    gone = bags["bag"].isin(picked.loc[picked["date"] <= on, "bag"])
    # Nor may a day left out take a bag from the draw: one that nothing says is gone, or yet to come, hangs.
    hangs = ~(bags["covered"] > on) & ~lost & ~gone & (case.own("bagging") | may_hang(result, bags))
    what = pd.Series("the bag", bags.index, dtype="str").mask(off, "the fruit, its bag is off")
    return bags.assign(hangs=what)[hangs]


def _list_trees(result: Result, on_record: bool) -> DataFrame:
    """Trees that stand behind any bag or picking of the season."""
    case = result.case
    trees, picked = case.trees, case.picked
    bagging = result.season.table("bagging")
    own = picked["harvest_row"] < result.farm.own("harvests")
    used = [bagging["tree"], picked["tree"][own], bagging["pollen_parent"]]
    behind = trees["tree"].isin({name for column in used for name in plain_values(column) if name})
    if not on_record:
        import pandas as pd

        on = pd.Timestamp(result.on)
        behind &= ~(trees["removed"] <= on) & ~(trees["planted"] > on)
    # Columns first: to a table without rows a column would bring all of its own.
    return trees.assign(id=trees["tree"])[behind]


def _list_lots(result: Result, on_record: bool) -> DataFrame:
    import pandas as pd

    case = result.case
    lots = case.season.table("lots")
    stock = {lot: book.stock_on(result.on) for lot, book in case.books.items()}
    held = lots["lot"].map(stock).astype("Int64")
    empty = pd.Series("", lots.index, dtype="str")
    lots = lots.assign(id=lots["lot"], held_mg=held, block=empty, row=empty, position=empty)
    chosen = lots["lot"].isin(case.lots_told)
    # Of a lot that no book holds nobody knows that it is gone.
    return lots[chosen] if on_record else lots[chosen & (held > case.scale_step_mg).fillna(True)]


def _walk(text: str) -> tuple[int, str]:
    """Rows and positions in the order one walks them: 2 before 10."""
    digits = "".join(sign for sign in text if sign.isdigit())
    return (int(digits) if digits else 0, text)


def _describe_bags(bags: DataFrame, where: Mapping[str, str]) -> list[Drawn]:
    """Bags drawn, with what the records say of each; `where` gives the stratum."""
    found = []
    names = ("bag", "tree", "block", "row", "position", "variety")
    told = ("covered", "tag.date", "tag.variety", "tag.tree", "uncovered", "hangs")
    for (
        bag,
        tree,
        block,
        row,
        at,
        variety,
        covered,
        tag_date,
        tag_variety,
        tag_tree,
        off,
        hangs,
    ) in plain_rows(bags, *names, *told):
        tag = " ".join(str(part) for part in (tag_date, tag_variety, tag_tree) if part)
        says = (
            ("tag", tag),
            ("covered", str(covered or "")),
            ("taken off", str(off or "")),
            ("hangs", hangs or ""),
        )
        placed = (tree or "", block or "", row or "", at or "", variety or "")
        found.append(Drawn(bag, where[bag], *placed, says))
    return found


def _describe_trees(trees: DataFrame, where: Mapping[str, str]) -> list[Drawn]:
    found = []
    names = ("tree", "block", "row", "position", "variety", "sex", "clearing_sample", "verdict", "removed")
    for tree, block, row, at, variety, sex, sample, verdict, removed in plain_rows(trees, *names):
        says = (
            ("sex", sex or ""),
            ("screening", f"{verdict or ''}{f', sample {sample}' if sample else ''}"),
            ("removed", str(removed or "")),
        )
        placed = (tree, block or "", row or "", at or "", variety or "")
        found.append(Drawn(tree, where[tree], *placed, says))
    return found


def _describe_lots(lots: DataFrame, where: Mapping[str, str]) -> list[Drawn]:
    found = []
    names = ("lot", "variety", "packed", "held_mg", "containers")
    for lot, variety, packed, held, containers in plain_rows(lots, *names):
        says = (
            ("packed", str(packed or "")),
            ("in store", "" if held is None else format_mass(int(held))),
            ("containers", str(containers or "")),
        )
        found.append(Drawn(lot, where[lot], "", "", "", "", variety or "", says))
    return found
