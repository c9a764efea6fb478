"""The binder: one file for a browser or tablet that opens without a network and fetches nothing.

Script and style are our own, named by their hashes in the content-security policy; record text enters the
page escaped, or as JSON that the script shows as text. The faces are cut down to the letters in use and lie
inside.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.odds_wording import tell_lot
from certgen.dossier.spot_check import own_draw, own_text
from certgen.report.chapters.cover import build_cover
from certgen.report.chapters.gaps import build_cards
from certgen.report.chapters.lot.line import gather_lot_picture
from certgen.report.chapters.registers import build_register
from certgen.report.chapters.season import say_standing
from certgen.report.context import Context
from certgen.report.drawings.line import draw_line
from certgen.resources import templates_dir
from certgen.rules.wording import NOUNS, day
from certgen.typeset import faces
from certgen.typeset.design import COLOURS, SANS, SERIF, SHEETS, WEIGHTS
from certgen.typeset.html_pages import environment, our_own

if TYPE_CHECKING:
    from collections.abc import Iterable

    from jinja2 import Environment
    from markupsafe import Markup

    from certgen.examination import Result
    from certgen.typeset.parts import GapCard

#: More lots than this get no drawing: the file must stay small enough for a tablet.
_DRAWN: Final = 80


@dataclass(frozen=True, slots=True)
class _Lot:
    """A lot as the page lists it, with what screening leaves open, and the drawing of its line or nothing."""

    name: str
    variety: str
    standing: str
    words: str
    scope: str
    odds: tuple[tuple[str, str], ...]
    svg: Markup | str


@dataclass(frozen=True, slots=True)
class _Gap:
    """A gap's card, and by what the page filters it; `known` says whether its record has a row to open."""

    card: GapCard
    lots: str
    table: str
    id: str
    known: bool


@dataclass(frozen=True, slots=True)
class _SpotCheck:
    """Bags to look at; a browser keeps its ticks under `key`, which is that of these very records."""

    key: str
    items: tuple[str, ...]
    words: str

    @property
    def most(self) -> int:
        """How many bags one may ask for; the field on the page takes no less than one."""
        return max(len(self.items), 1)


def compose_html(result: Result) -> str:
    """The binder of a season as one HTML text. The same result gives the same text."""
    context = Context(result)
    jinja = environment()
    spot = _draw_spot_check(context)
    data = _write_data(context, spot)
    cover = build_cover(context)
    cards = build_cards(context)
    lots = _list_lots(context)
    letters = {letter for text in (data, repr(cover), repr(cards), repr(lots)) for letter in text}
    style = write_style(jinja, letters)
    script = (templates_dir() / "binder.js").read_text(encoding="utf-8")
    details = result.season.details
    return jinja.get_template("binder.html").render(
        language="en",
        title=f"Binder, {details.operation.name}, season {details.label}",
        style=our_own(style),
        style_hash=_hash(style),
        script=our_own(script),
        script_hash=_hash(script),
        cover=cover,
        as_of=f"records as of {day(result.on)}",
        lots=lots,
        gaps=_list_gaps(context, cards),
        weights=WEIGHTS,
        spot=spot,
        data=our_own(data),
    )


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _list_lots(context: Context) -> list[_Lot]:
    result = context.result
    return [
        _Lot(
            lot.lot,
            lot.variety or "variety not recorded",
            lot.standing,
            f"{say_standing(lot)}.",
            result.scopes.of_lot(lot.lot).sentence,
            tell_lot(context.odds[lot.lot]),
            _draw_lot(context, lot.lot) if number < _DRAWN else "",
        )
        for number, lot in enumerate(result.lots.values())
    ]


def _draw_lot(context: Context, name: str) -> Markup:
    # Drawn by us, every text in it escaped.
    return our_own(draw_line(gather_lot_picture(context, name, SHEETS["A4"].measure)))


def _list_gaps(context: Context, cards: Iterable[GapCard]) -> list[_Gap]:
    return [
        _Gap(card, ", ".join(gap.lots), gap.table, gap.id, gap.id in context.order.get(gap.table, {}))
        for card, gap in zip(cards, context.result.gaps, strict=True)
    ]


def write_style(jinja: Environment, letters: set[str]) -> str:
    """The style sheet with its faces, cut down to these letters and those a reader may type."""
    others = faces.faces_for("".join(letters))
    typed = {chr(code) for code in range(32, 127)}
    upright = [face for face in (*faces.own_faces(), *others) if not face.italic and face.weight != 700]
    return jinja.get_template("binder.css").render(
        faces=[(face, _embed(face, letters | typed)) for face in upright],
        colour=COLOURS,
        sans=_families(SANS, others),
        serif=_families(SERIF, others),
    )


def _families(first: str, others: Iterable[faces.Face]) -> Markup:
    """The families as the style sheet lists them; a name that they lack is set as the device sets it."""
    names = dict.fromkeys((first, *(face.family for face in others)))
    return our_own(", ".join(f'"{name}"' for name in names))


def _embed(face: faces.Face, letters: set[str]) -> str:
    """A face cut down to `letters`, as a data address."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    out = io.BytesIO()
    with TTFont(face.path, recalcTimestamp=False) as font:
        cutter = Subsetter(Options(layout_features=["*"], hinting=False, notdef_outline=True))
        cutter.populate(unicodes=[ord(letter) for letter in letters])
        cutter.subset(font)
        font.flavor = "woff"
        font.save(out)
    return f"data:font/woff;base64,{base64.b64encode(out.getvalue()).decode()}"


def _write_data(context: Context, spot: _SpotCheck) -> str:
    """What the script works on, as JSON that may stand inside a script element."""
    lineage = context.lineage
    places = {node: place for place, node in enumerate(lineage.nodes)}
    data = {
        "tables": {
            name: _list_records(context, name)
            for name in context.tables
            if context.key_of(name) and len(context.season.table(name))
        },
        "nouns": {name: NOUNS.get(name, (name, name)) for name in context.tables},
        "nodes": [(node.table, node.id, lineage.season_of(node)) for node in lineage.nodes],
        "places": {
            f"{node.table}/{node.id}": place for node, place in places.items() if not lineage.season_of(node)
        },
        "links": sorted({(places[link.source], places[link.target]) for link in lineage.links}),
        "gaps": {
            f"{node.table}/{node.id}": numbers for node, numbers in context.result.numbers_by_record.items()
        },
        "spot": {"key": spot.key, "table": "bagging", "items": spot.items},
    }
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    # Only these could end a script element or open a comment in it.
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _list_records(context: Context, table: str) -> dict[str, object]:
    """A table's register as text: each row begins with what the record is called."""
    register = build_register(context, table)
    return {
        "noun": NOUNS[table][0] if table in NOUNS else table,
        "columns": [column.title for column in register.columns],
        "rows": [
            (
                anchor.removeprefix("row/").partition("/")[2],
                *("".join(text for text, _ in cell) for cell in cells),
            )
            for anchor, cells in register.rows
        ],
    }


def _draw_spot_check(context: Context) -> _SpotCheck:
    """The packet's own spot check of bags, which anyone can draw again."""
    check = own_draw(context.result, "bags")
    items = tuple(bag.identifier for bag in check.drawn) if check else ()
    hashes = "".join(source.sha256 for _, source in sorted(context.season.sources.items()))
    words = (
        f"{len(items)} of {check.population if check else 0} bags on record, the grower’s own draw by the"
        f" text “{own_text(context.result)}” as on the packet’s page: within each block the SHA-256 of the"
        " text, a vertical bar and the bag’s number, the smallest first. An inspection draws by a text of its"
        " own, with ‘certgen sample’. Ticks and notes stay in this browser."
    )
    return _SpotCheck(f"certgen-spot-{hashlib.sha256(hashes.encode()).hexdigest()[:16]}", items, words)
