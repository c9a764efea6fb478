"""The page of the orchard: every tree in its place, with the findings at it and at its bags."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.report.drawings.orchard import (
    OrchardBlock,
    OrchardFinding,
    OrchardPicture,
    OrchardTree,
    draw_orchard,
    find_spots,
    measure_cell,
    share_out,
)
from certgen.report.drawings.tree_places import neighbours_of_positive
from certgen.report.wording import count_of, say_thing, whole
from certgen.rules.growing.land_map import map_details
from certgen.rules.wording import join
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Chapter, Note, Picture, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: What stands above and below the first drawing, in points.
_AROUND: Final = 92.0
#: Findings that the line below the drawing names.
_NAMED: Final = 24
_LEAD: Final = (
    "Every tree in its row and place: its sex, its screening, whether it is a parent. Where something was"
    " found, at the tree or at its bag, the number of the finding stands."
)


def build_orchard(context: Context, width: float, depth: float) -> Chapter | None:
    """The orchard on pages `depth` points high; None where no tree is on record."""
    findings = _find_at_trees(context)
    blocks = _blocks(context, findings)
    if not blocks:
        return None
    parts: list[Part] = []
    cell = measure_cell(blocks, width)
    for number, group in enumerate(share_out(blocks, width, depth - _AROUND)):
        said = _say_blocks(group)
        picture = OrchardPicture("The orchard", said, group, width, cell)
        spots = find_spots(picture)
        parts.append(Picture(f"orchard-{number}", draw_orchard(picture), f"The orchard. {said}", spots=spots))
    parts.append(Note((*_say_findings(findings), Run(_say_scale(context)))))
    return Chapter(
        "orchard", (Section("orchard", "The orchard", 1, tuple(parts), lead=_LEAD, style="chapter"),)
    )


def _find_at_trees(context: Context) -> dict[str, tuple[OrchardFinding, ...]]:
    """The findings at each tree, its bags and its samples, in the order of their numbers."""
    found: defaultdict[str, list[OrchardFinding]] = defaultdict(list)
    for number, gap in enumerate(context.result.gaps, start=1):
        for tree in _trees_of(context, gap.table, gap.id):
            thing = "" if gap.table == "trees" else say_thing(gap)
            bare = gap.table == "trees" and context.verdicts.get(tree, "not screened") == "not screened"
            one = OrchardFinding(number, WEIGHT_MARKS[gap.weight], "not screened" if bare else thing)
            found[tree].append(one)
    return {tree: tuple(listed) for tree, listed in found.items()}


def _trees_of(context: Context, table: str, name: str) -> tuple[str, ...]:
    """The trees that a record is of: a tree's own, a bag's, a sample's."""
    if table == "trees":
        return (name,)
    if table not in {"bagging", "screening", "observations"}:
        return ()
    rows = context.rows_by(table, context.key_of(table)).get(name, [])
    row: Mapping[str, Any] = rows[0] if rows else {}
    single = row.get("tree")
    return (single,) if single else tuple(row.get("trees") or ())


def _blocks(context: Context, findings: Mapping[str, tuple[OrchardFinding, ...]]) -> list[OrchardBlock]:
    """The trees of each block, under the block's name and status."""
    about = {row["block"]: row for row in reversed(context.all_rows("blocks"))}
    plantings = {row["planting"]: row for row in reversed(context.all_rows("plantings"))}
    trees: defaultdict[str, list[OrchardTree]] = defaultdict(list)
    planted: defaultdict[str, list[str]] = defaultdict(list)
    for row in context.own_rows("trees"):
        planting = plantings.get(row["planting"], {})
        block = planting.get("block") or ""
        trees[block].append(_draw_tree(context, row, findings))
        if planting:
            planted[block].append(f"{planting['planting']} {planting['variety'] or ''}".strip())
    return [_block(about.get(name, {}), name, tuple(listed), planted[name]) for name, listed in trees.items()]


def _block(
    row: Mapping[str, Any], name: str, trees: tuple[OrchardTree, ...], planted: Sequence[str]
) -> OrchardBlock:
    """A block with what is on record of it: its plantings, and how far off other land and papaya is."""
    title = [f"Block {name}" if name else "No block", row.get("name"), row.get("status")]
    said = [
        join(dict.fromkeys(planted)),
        f"buffer {row['buffer']}" if row.get("buffer") else "buffer not recorded",
        f"nearest other planting {row['nearest_same_crop']} off" if row.get("nearest_same_crop") else "",
    ]
    return OrchardBlock(
        " · ".join(str(part) for part in title if part),
        trees,
        "; ".join(part for part in said if part),
        neighbours_of_positive(trees),
    )


def _draw_tree(
    context: Context, row: Mapping[str, Any], findings: Mapping[str, tuple[OrchardFinding, ...]]
) -> OrchardTree:
    return OrchardTree(
        row["tree"] or "",
        row["row"] or "",
        row["position"] or "",
        row["sex"] or "unknown",
        context.verdicts.get(row["tree"], "not screened"),
        row["tree"] in context.parents,
        row["removed"] is not None,
        findings.get(row["tree"], ()),
    )


def _say_blocks(blocks: Sequence[OrchardBlock]) -> str:
    """What the drawing shows, in words: a block’s trees by screening, positives and findings by name."""
    return " ".join(map(_say_block, blocks))


def _say_block(block: OrchardBlock) -> str:
    counts = Counter(tree.screening for tree in block.trees)
    told = [", ".join(f"{whole(count)} {word}" for word, count in sorted(counts.items()))]
    named = (
        ("positive", [tree.tree for tree in block.trees if tree.screening == "positive"]),
        ("parents not screened", [tree.tree for tree in block.trees if _is_bare(tree)]),
        ("findings", [f"{one.number} at {tree.tree}" for tree in block.trees for one in tree.findings]),
    )
    told += [f"{what}: {', '.join(names)}" for what, names in named if names]
    return f"{block.name}: {count_of('trees', len(block.trees))}, {'; '.join(told)}."


def _is_bare(tree: OrchardTree) -> bool:
    return tree.parent and tree.screening == "not screened"


def _say_findings(findings: Mapping[str, tuple[OrchardFinding, ...]]) -> Iterator[Run]:
    """The findings in the drawing, each leading to its card."""
    listed = sorted((one.number, one.thing, tree) for tree, found in findings.items() for one in found)
    if not listed:
        return
    yield Run("Findings here: " if len(listed) > 1 else "Finding here: ")
    for at, (number, thing, tree) in enumerate(listed[:_NAMED]):
        yield Run(f"{', ' if at else ''}{number}", f"gap/{number}")
        yield Run(f" (tree {tree}{f', {thing}' if thing else ''})")
    yield Run(f" and {whole(len(listed) - _NAMED)} more. " if len(listed) > _NAMED else ". ")


def _say_scale(context: Context) -> str:
    """What the drawing can't show, for it isn't on record: distances, and where north is."""
    said = "Rows and places stand one apart: how far trees stand from one another is not recorded"
    north = map_details(context.result.case).get("north")
    if north is None:
        return f"{said}, and neither is north."
    return f"{said}, nor which way rows run. The map of the land shows the blocks to scale, with north."
