"""The orchard as a map: every tree in its row and place, as a link that a keyboard reaches too."""

from __future__ import annotations

from collections import defaultdict
from html import escape
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from certgen.lineage import Node
from certgen.records.rows import plain_rows
from certgen.report.drawings.tree_places import natural
from certgen.report.wording import count_of
from certgen.rules.wording import join
from certgen.typeset.html_pages import our_own

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from markupsafe import Markup

    from certgen.report.context import Context

#: What a tree's screening says -> the shape it wears, as the page's sprites are called.
SHAPES: Final = {
    "negative": "traced",
    "inconclusive": "unproven",
    "positive": "rejected",
    "not screened": "unaccounted",
}
_LETTERS: Final = {"hermaphrodite": "H", "female": "F", "male": "M"}
#: The letter of a sex that isn't recorded.
_UNKNOWN: Final = "x"
#: In pixels: a tree's cell, the room for a row's name, and how many trees a line holds.
_CELL: Final = 46
_DEPTH: Final = 54
_NAMES: Final = 62
_MOST: Final = 60


def draw_map(context: Context) -> Markup:
    """A drawing a block; a row of more trees than a line holds goes on in the next."""
    block_of = dict(plain_rows(context.season.table("plantings"), "planting", "block"))
    blocks: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in context.own_rows("trees"):
        if row["tree"]:
            blocks[block_of.get(row["planting"]) or ""].append(row)
    return our_own("".join(_draw_block(context, name, trees) for name, trees in blocks.items()))


def _draw_block(context: Context, name: str, trees: Sequence[Mapping[str, Any]]) -> str:
    title = f"Block {name}" if name else "No block"
    lines = list(_lay_out(trees))
    width = _NAMES + _CELL * max(len(line) for _, line in lines) + 4
    drawn = "".join(
        f'<text class="row" x="0" y="{number * _DEPTH + 22}">{escape(row)}</text>'
        + "".join(
            _draw_tree(context, tree, _NAMES + place * _CELL + _CELL // 2, number * _DEPTH + 18)
            for place, tree in enumerate(line)
        )
        for number, (row, line) in enumerate(lines)
    )
    words = escape(f"{title}: {count_of('trees', len(trees))}")
    return (
        f'<h3>{words}</h3><div class="scroll"><svg class="map" role="group" aria-label="{words}"'
        f' width="{width}" height="{len(lines) * _DEPTH}" viewBox="0 0 {width} {len(lines) * _DEPTH}">'
        f"{drawn}</svg></div>\n"
    )


def _lay_out(trees: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, list[Mapping[str, Any]]]]:
    """The lines of a block, each with the name of its row, which only the first line of a row has."""
    rows: defaultdict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for tree in trees:
        rows[tree["row"] or ""].append(tree)
    for name in sorted(rows, key=natural):
        row = sorted(rows[name], key=lambda tree: (natural(tree["position"] or ""), natural(tree["tree"])))
        for start in range(0, len(row), _MOST):
            title = f"Row {name}" if name else "No row"
            yield "" if start else title, row[start : start + _MOST]


def _draw_tree(context: Context, row: Mapping[str, Any], x: int, y: int) -> str:
    tree, sex = row["tree"], row["sex"] or "sex not recorded"
    screening = context.verdicts.get(tree, "not screened")
    findings = len(context.result.numbers_of(Node("trees", tree)))
    told = [sex, screening]
    told += ["parent of a lot"] if tree in context.parents else []
    told += ["removed"] if row["removed"] is not None else []
    told += [f"{findings} {'finding' if findings == 1 else 'findings'}"] if findings else []
    name = escape(tree)
    kind = "p" if tree in context.parents else "t"
    return (
        f'<a id="map/{name}" href="#map/{escape(quote(tree))}" transform="translate({x} {y})"'
        f' aria-label="{escape(f"Tree {tree}: {join(told)}")}"><use href="#{kind}-{SHAPES[screening]}"/>'
        f"{''.join(_draw_more(row, screening, findings))}"
        f'<text y="26">{name if len(name) < 8 else escape(tree[:6]) + "…"}</text></a>'
    )


def _draw_more(row: Mapping[str, Any], screening: str, findings: int) -> Iterator[str]:
    """What a tree's shape alone doesn't say."""
    letter = _LETTERS.get(row["sex"], _UNKNOWN)
    if screening != "positive":
        yield f'<use href="#s-{letter}{"-on" if screening == "negative" else ""}"/>'
    if findings:
        yield '<use href="#s-flag"/>'
    if row["removed"] is not None:
        yield '<path class="gone" d="M-14 13L14 -13"/>'
