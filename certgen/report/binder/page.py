"""The binder's page, put together: what stands in each part, as the templates show it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from html import escape, unescape
from typing import TYPE_CHECKING, Final
from urllib.parse import quote, unquote

from certgen.dossier.notices import list_suspect
from certgen.dossier.odds_wording import tell_lot
from certgen.dossier.papers import list_unpapered
from certgen.dossier.visits import list_open, say_deadline
from certgen.manifest import PacketOptions, build_manifest, digest_records, write_fingerprint
from certgen.records.nouns import noun
from certgen.report.binder.balance import build_balance
from certgen.report.binder.evidence import list_papers
from certgen.report.binder.orchard import SHAPES, draw_map
from certgen.report.binder.registers import write_registers
from certgen.report.binder.script_data import write_data
from certgen.report.binder.spot_check import draw_spot_check
from certgen.report.binder.style import follow_colours, hash_text, write_style
from certgen.report.chapters.cover import build_cover
from certgen.report.chapters.gaps import build_cards
from certgen.report.chapters.lot.line import gather_lot_picture
from certgen.report.chapters.papers_beside import Papers
from certgen.report.chapters.season import say_standing
from certgen.report.context import Context
from certgen.report.drawings.line import draw_line
from certgen.report.packet import find_maker
from certgen.report.wording import plain, weigh
from certgen.resources import templates_dir
from certgen.rules.wording import day
from certgen.typeset.design import SHEETS, WEIGHTS
from certgen.typeset.html_pages import environment, our_own
from certgen.typeset.marks import MARKS, draw_mark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from markupsafe import Markup

    from certgen.examination import Result
    from certgen.manifest import Manifest
    from certgen.report.binder.spot_check import SpotCheck
    from certgen.typeset.parts import Exhibit, GapCard, GapEntry, Run

#: More lots than this get no drawing: the file must stay small enough for a tablet.
_DRAWN: Final = 80
#: What a link may lead to, and the links that templates write from the records.
_PLACES: Final = re.compile(r'\sid="([^"]+)"')
_LED_TO: Final = re.compile(r'<a\s[^>]*href="#([^"]*)"')
_ROW_NAMES: Final = re.compile(r'<tr id="([^"]*)">')
_LINKS: Final = re.compile(r'<a href="#([^"]*)">([^<]*)</a>')
_IS_TEXT: Final = (
    "What this season's records show: from which screened trees each lot of seed comes, what is missing or"
    " contradicts itself, and where every gram went. It supports a certifier's decision. Every record stands"
    " under Registers, every file of evidence with its hash under Evidence; the packet of the same records"
    " holds the files themselves."
)
#: What the packet calls its parts, and what stands here in their place.
_PARTS: Final = {"gaps": "findings", "inspections": "inspection", "season": "verdict", "stock": "balance"}
#: Our own scripts, in the order in which they build on each other.
SCRIPTS: Final = (
    "records.js",
    "marks.js",
    "record_view.js",
    "search.js",
    "filters.js",
    "orchard.js",
    "inspection.js",
    "addresses.js",
)


@dataclass(frozen=True, slots=True)
class _Lot:
    """A lot as the page lists it: its grams and findings first, then what screening leaves open and the
    drawing of its line, or nothing."""

    name: str
    address: str
    variety: str
    standing: str
    words: str
    findings: tuple[tuple[int, str, str], ...]
    buyers: str
    scope: str
    odds: tuple[tuple[str, str], ...]
    svg: Markup | str


@dataclass(frozen=True, slots=True)
class _Exhibit:
    """A paper beside a finding: its file's entry, and what of it speaks, in lines or as pictures."""

    paper: tuple[Run, ...]
    shown: Exhibit


@dataclass(frozen=True, slots=True)
class _Gap:
    """A gap's card, by what the page filters it, and the papers beside it; `record` leads to where it
    stands."""

    card: GapCard
    number: int
    lots: str
    record: tuple[Run, ...]
    entry: GapEntry
    affects: tuple[Run, ...]
    exhibits: tuple[_Exhibit, ...]
    without: str


@dataclass(frozen=True, slots=True)
class _Delivery:
    """Suspect seed that has left: what, to whom, on which paper, and the finding that says so."""

    lot: tuple[Run, ...]
    standing: str
    weight: str
    party: str
    document: tuple[Run, ...]
    day: str
    finding: tuple[Run, ...]


def compose_html(result: Result) -> str:
    """The binder of a season as one HTML text. The same result gives the same text.

    Raises `ManifestError` when an evidence file cannot be read.
    """
    context = Context(result)
    jinja = environment()
    manifest = build_manifest(result, find_maker(result))
    spot = draw_spot_check(context)
    prints = _take_fingerprints(manifest)
    details = result.season.details
    body = _drop_dead_links(
        jinja.get_template("binder/body.html").render(_tell(context, manifest, prints, spot))
    )
    data = write_data(context, spot, prints)
    style = write_style(jinja, set(body) | set(data))
    first = _read_script("first.js")
    script = '"use strict";\n' + "".join(map(_read_script, SCRIPTS))
    return jinja.get_template("binder.html").render(
        language="en",
        title=f"Binder, {details.operation.name}, season {details.label}",
        style=our_own(style),
        style_hash=hash_text(style),
        first=our_own(first),
        first_hash=hash_text(first),
        script=our_own(script),
        script_hash=hash_text(script),
        sprites=[(name, follow_colours(draw_mark(name))) for name in MARKS],
        trees=tuple(SHAPES.values()),
        body=our_own(body),
        data=data,
    )


def _read_script(name: str) -> str:
    return (templates_dir() / "binder" / name).read_text(encoding="utf-8")


def _tell(
    context: Context, manifest: Manifest, prints: Mapping[str, str], spot: SpotCheck
) -> Mapping[str, object]:
    """What each part of the page shows."""
    result = context.result
    cover = build_cover(context, manifest)
    lots, papers = _list_lots(context), list_papers(context, manifest)
    details = result.season.details
    return {
        "operation": details.operation.name,
        "season": details.label,
        "as_of": day(result.on),
        "counts": {
            "gaps": len(result.gaps),
            "lots": len(lots),
            "papers": len(papers),
            "spot": len(spot.items),
        },
        "cover": cover,
        "is_text": _IS_TEXT,
        "file_facts": [item for item in cover.file if item.label not in {"Fingerprint", "Replaces"}],
        "prints": [(paper, write_fingerprint(sha256)) for paper, sha256 in prints.items()],
        "records": digest_records(result.season),
        "suspect": list(_list_deliveries(context)),
        "lots": lots,
        "gaps": _list_gaps(context, build_cards(context)),
        "weights": WEIGHTS,
        "balance": build_balance(context),
        "orchard": draw_map(context),
        "papers": papers,
        "unpapered": [
            _name_records(kind.records, f"{kind.title}: {len(kind.records)} of {kind.of}")
            for kind in list_unpapered(result.case)
        ],
        "registers": write_registers(context),
        "left_open": [
            (f"{one.visit.visit}, {one.kind} {one.number}", one.says, say_deadline(one), one.state)
            for one in list_open(result.case)
        ],
        "spot": spot,
        "spot_links": [plain(bag, f"bagging/{bag}") for bag in spot.items],
    }


def _drop_dead_links(body: str) -> str:
    """The page without links to what has no place here (an earlier season's record, a page of the packet),
    and without the names of rows that no link asks for."""
    there = set(_PLACES.findall(body))

    def keep(link: re.Match[str]) -> str:
        place = escape(unquote(unescape(link[1])))
        to = link[1] if place in there else _PARTS.get(place, "")
        return f'<a href="#{to}">{link[2]}</a>' if to else link[2]

    linked = _LINKS.sub(keep, body)
    asked = {escape(unquote(unescape(to))) for to in _LED_TO.findall(linked)}
    # The script knows a row by its first cell; a season of 20,000 bags has as many names too many.
    return _ROW_NAMES.sub(lambda row: row[0] if row[1] in asked else "<tr>", linked)


def _take_fingerprints(manifest: Manifest) -> Mapping[str, str]:
    """The SHA-256 of the whole packet of these records, by the paper that it is set for."""
    told = dict(manifest.content)
    return {
        paper: replace(manifest, content={**told, "options": {**told["options"], "page": paper}}).sha256
        for paper in (PacketOptions().page, *(name for name in SHEETS if name != PacketOptions().page))
    }


def _list_deliveries(context: Context) -> Iterator[_Delivery]:
    for one in list_suspect(context.result):
        yield _Delivery(
            plain(one.lot, f"lots/{one.lot}"),
            one.standing,
            weigh(one.weight_mg),
            one.party or "nobody named",
            plain(one.document or "no paper named", f"movements/{one.movement}"),
            day(one.day),
            plain(str(one.number), f"gap/{one.number}"),
        )


def _list_lots(context: Context) -> list[_Lot]:
    result = context.result
    titles = [card.title for card in build_cards(context)]
    return [
        _Lot(
            lot.lot,
            quote(lot.lot),
            lot.variety or "variety not recorded",
            lot.standing,
            f"{say_standing(lot)}.",
            tuple((number, titles[number - 1], gap.weight) for number, gap in context.gaps_of_lot(lot.lot)),
            "\n".join(_name_buyers(context, lot.lot)),
            result.scopes.of_lot(lot.lot).sentence,
            tell_lot(context.odds[lot.lot]),
            _draw_lot(context, lot.lot) if number < _DRAWN else "",
        )
        for number, lot in enumerate(result.lots.values())
    ]


def _name_buyers(context: Context, lot: str) -> list[str]:
    """Who had seed of a lot, each once."""
    moves = context.rows_by("movements", "lot").get(lot, [])
    return list(dict.fromkeys(str(row["party"]) for row in moves if row["party"]))


def _draw_lot(context: Context, name: str) -> Markup:
    # Drawn by us, every text in it escaped.
    return follow_colours(draw_line(gather_lot_picture(context, name, SHEETS["A4"].measure, "#")))


def _list_gaps(context: Context, cards: Iterable[GapCard]) -> list[_Gap]:
    beside = Papers(context)
    return [
        _Gap(
            card,
            number,
            "\n".join(gap.lots),
            (card.record,),
            card.entries[0],
            (*card.lots, *plain(card.reaches)) if card.lots or card.reaches else (),
            tuple(_Exhibit((one.paper,), one) for one in beside.show(number, (gap,))),
            beside.say_without((gap,)),
        )
        for number, (card, gap) in enumerate(zip(cards, context.result.gaps, strict=True), start=1)
    ]


def _name_records(
    records: Iterable[tuple[str, str]], title: str
) -> tuple[str, tuple[tuple[tuple[Run, ...], str], ...]]:
    """Records that lack a paper, each with where it stands here: `screening S-1` is sample S-1."""
    told = []
    for named, says in records:
        table, _, name = named.partition(" ")
        told.append((plain(f"{noun(table)} {name}", f"{table}/{name}"), says))
    return title, tuple(told)
