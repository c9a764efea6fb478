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
from typing import TYPE_CHECKING, Any, Final

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
    from markupsafe import Markup

    from certgen.examination import Result

#: More lots than this get no drawing: the file must stay small enough for a tablet.
_DRAWN: Final = 80


def compose_html(result: Result) -> str:
    """The binder of a season as one HTML text. The same result gives the same text."""
    context = Context(result)
    jinja = environment()
    data = json.dumps(_data(context), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    # Inside a script element only these could end it or open a comment.
    data = data.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
    cover = build_cover(context)
    cards = build_cards(context)
    lots = [
        {
            "name": lot.lot,
            "variety": lot.variety or "variety not recorded",
            "standing": lot.standing,
            "words": f"{say_standing(lot)}.",
            "scope": result.scopes.of_lot(lot.lot).sentence,
            # Drawn by us, every text in it escaped.
            "svg": our_own(draw_line(gather_lot_picture(context, lot.lot, SHEETS["A4"].measure)))
            if number < _DRAWN
            else "",
        }
        for number, lot in enumerate(result.lots.values())
    ]
    gaps = [
        {
            "card": card,
            "lots": ", ".join(gap.lots),
            "table": gap.table,
            "id": gap.id,
            "known": gap.id in context.order.get(gap.table, {}),
        }
        for card, gap in zip(cards, result.gaps, strict=True)
    ]
    spot = _spot(context)
    letters = {letter for text in (data, repr(cover), repr(cards), repr(lots)) for letter in text}
    style = jinja.get_template("binder.css").render(
        faces=_embedded(letters | {chr(code) for code in range(32, 127)}),
        colour=COLOURS,
        sans=_families(SANS, letters),
        serif=_families(SERIF, letters),
    )
    script = (templates_dir() / "binder.js").read_text(encoding="utf-8")
    return jinja.get_template("binder.html").render(
        language="en",
        title=f"Binder, {result.season.details.operation.name}, season {result.season.details.label}",
        style=our_own(style),
        style_hash=_hash(style),
        script=our_own(script),
        script_hash=_hash(script),
        cover=cover,
        as_of=f"records as of {day(result.on)}",
        lots=lots,
        gaps=gaps,
        weights=WEIGHTS,
        spot={
            "words": spot["words"],
            "most": max(len(spot["items"]), 1),
            "size": max(len(spot["items"]), 1),
        },
        data=our_own(data),
    )


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _others(letters: set[str]) -> tuple[faces.Face, ...]:
    return faces.faces_for("".join(letters))


def _families(first: str, letters: set[str]) -> Markup:
    """The families as the style sheet lists them; a name that they lack is set as the device sets it."""
    names = dict.fromkeys((first, *(face.family for face in _others(letters))))
    return our_own(", ".join(f'"{name}"' for name in names))


def _embedded(letters: set[str]) -> list[dict[str, Any]]:
    """The upright faces and those of other scripts in use, cut down to `letters`, as data addresses."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    embedded = []
    for face in (*faces.own_faces(), *_others(letters)):
        if face.italic or face.weight == 700:
            continue
        out = io.BytesIO()
        with TTFont(face.path, recalcTimestamp=False) as font:
            cutter = Subsetter(Options(layout_features=["*"], hinting=False, notdef_outline=True))
            cutter.populate(unicodes=[ord(letter) for letter in letters])
            cutter.subset(font)
            font.flavor = "woff"
            font.save(out)
        address = base64.b64encode(out.getvalue()).decode()
        embedded.append(
            {"family": face.family, "weight": face.weight, "url": f"data:font/woff;base64,{address}"}
        )
    return embedded


def _data(context: Context) -> dict[str, Any]:
    tables = {}
    for name in context.tables:
        if not context.key_of(name) or len(context.season.table(name)) == 0:
            continue
        register = build_register(context, name)
        rows = []
        for anchor, cells in register.rows:
            identifier = anchor.removeprefix("row/").partition("/")[2]
            rows.append([identifier, *("".join(text for text, _ in cell) for cell in cells)])
        tables[name] = {
            "noun": NOUNS[name][0] if name in NOUNS else name,
            "columns": [column.title for column in register.columns],
            "rows": rows,
        }
    lineage = context.lineage
    number = {node: at for at, node in enumerate(lineage.nodes)}
    links = sorted({(number[link.source], number[link.target]) for link in lineage.links})
    spot = _spot(context)
    return {
        "tables": tables,
        "nouns": {name: list(NOUNS.get(name, (name, name))) for name in context.tables},
        "nodes": [[node.table, node.id, lineage.season_of(node)] for node in lineage.nodes],
        "places": {
            f"{node.table}/{node.id}": at for node, at in number.items() if not lineage.season_of(node)
        },
        "links": [list(link) for link in links],
        "gaps": {
            f"{node.table}/{node.id}": list(numbers)
            for node, numbers in context.result.numbers_by_record.items()
        },
        "spot": {"key": spot["key"], "table": "bagging", "items": spot["items"]},
    }


def _spot(context: Context) -> dict[str, Any]:
    """The packet's own spot check of bags, which anyone can draw again."""
    check = own_draw(context.result, "bags")
    items = [item.identifier for item in check.drawn] if check is not None else []
    digest = hashlib.sha256(
        "".join(source.sha256 for _, source in sorted(context.season.sources.items())).encode()
    )
    words = (
        f"{len(items)} of {check.population if check is not None else 0} bags, drawn by the text"
        f" “{own_text(context.result)}” as on the packet’s page: within each block the SHA-256 of the text, a"
        " vertical bar and the bag’s number, the smallest first. Anyone who draws again gets the same list."
        " Ticks and notes stay in this browser."
    )
    return {"key": f"certgen-spot-{digest.hexdigest()[:16]}", "items": items, "words": words}
