"""The grower's own spot check: bags by their papers, then parent trees and lots that are there.

It is drawn so that anybody can repeat it, with room for what is found.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.spot_check import CONFIDENCE, DETECT, own_text, say_population
from certgen.report.chapters.figures.odds import percent
from certgen.report.wording import whole
from certgen.typeset.entries import CompactRegister, Entries, Entry, EntryGroup
from certgen.typeset.parts import Prose, Run, Section

if TYPE_CHECKING:
    from certgen.dossier.spot_check import Drawn, Kind, SpotCheck
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

_KINDS: Final[tuple[tuple[Kind, str], ...]] = (
    ("bags", "Bags to look at"),
    ("trees", "Parent trees to look at"),
    ("lots", "Lots to look at"),
)
_TABLES: Final[dict[Kind, str]] = {"bags": "bagging", "trees": "trees", "lots": "lots"}
#: Where a tick or a word is written by hand.
_BLANK: Final = " ______"
_WHOSE: Final = (
    "This is the grower’s own draw, for going through one’s own papers, and no inspection’s: whoever writes"
    " the records can try them until such a draw spares what it should. An inspection decides by a text of"
    " the inspector’s own, told only after the records were frozen: ‘certgen sample --freeze’ prints a"
    " fingerprint of them, the inspector notes it and then tells the text, and ‘certgen sample --frozen’"
    " draws from what hangs, stands or lies in store that day. Each line tells what the records say (a tag"
    " reads like the log unless it is told); on its rule goes what was found: of bags in the papers, of trees"
    " and lots on the spot."
)


def build_spot_check(context: Context) -> Section:
    """The section of the spot check."""
    sheets = [_show_sheet(context, kind, title) for kind, title in _KINDS]
    drawn = tuple(sheet for sheet in sheets if sheet is not None)
    parts: tuple[Part, ...] = (Prose((_WHOSE,), width="measure"), Entries(drawn, small=True))
    if not drawn:
        parts = (Prose(("No bag, parent tree or lot is recorded, so there is nothing to draw from.",)),)
    return Section("spot-check", "A spot check", 2, parts, style="part")


def build_draw_ground(context: Context) -> Section | None:
    """For the appendix: by what the sheets were drawn, and what such a sample can miss."""
    checks = [(title, check) for kind, title in _KINDS if (check := context.draw(kind)) is not None]
    if not checks:
        return None
    drawing = (
        f"The text of the draw is “{own_text(context.result)}”. Whoever takes the SHA-256 of the text, a"
        " vertical bar and each identifier, and sorts by it within each group, draws the same."
    )
    size = (
        f"The size is such that {percent(DETECT)} of faulty items or more are found with a confidence of"
        f" {percent(CONFIDENCE)}, wherever they are; each block or variety has one at least. Computed,"
        " hypergeometric: a plan, no standard."
    )
    misses = "; ".join(
        f"{title.partition(' to ')[0].lower()}: {_say_misses(check)}" for title, check in checks
    )
    missed = f"The chance, at worst, that a sample holds none of so many faulty ones: {misses}."
    return Section("draw", "How the spot check was drawn", 2, (Prose((drawing, size, missed)),), style="part")


def _say_misses(check: SpotCheck) -> str:
    return ", ".join(f"{faults}: {percent(chance)}" for faults, chance in check.misses)


def _show_sheet(context: Context, kind: Kind, title: str) -> CompactRegister | None:
    check = context.draw(kind)
    if check is None:
        return None
    name = _TABLES[kind]
    entries = tuple(
        Entry(
            "", (Run(item.identifier, f"{name}/{item.identifier}"), Run(f" {_say_item(item, kind)}{_BLANK}"))
        )
        for item in check.drawn
    )
    # The title has said already what they are.
    which = say_population(check.asked, check.on).removeprefix(title.partition(" to ")[0].lower())
    of = f"{whole(check.size)} of {whole(check.population)}{which}"
    return CompactRegister(kind, f"{title}: {of}", "", (), (EntryGroup((), entries),))


#: What a field is called on the sheet; these values say what they are.
_FIELDS: Final = {"sex": "", "screening": "", "taken off": "off", "in store": ""}


def _say_item(item: Drawn, kind: Kind) -> str:
    """Where an item is, and what the records say of it; a tag that says what the log says is no news."""
    said = {field: text for field, text in item.says if text and field != "hangs"}
    if kind == "bags" and said.get("tag") == f"{said.get('covered')} {item.variety} {item.tree}":
        del said["tag"]
    row, place = (f"{name} {at}" if at else "" for name, at in (("row", item.row), ("place", item.position)))
    where = {
        "lots": (item.variety,),
        "bags": (item.block, item.tree),
        "trees": (item.block, row, place),
    }[kind]
    says = (f"{_FIELDS.get(field, field)} {text}".strip() for field, text in said.items())
    return ", ".join(part for part in (*where, *says) if part)
