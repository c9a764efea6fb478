"""What the page's script knows beside the page itself, as JSON that may stand in a script element."""

from __future__ import annotations

import json
from collections import defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.supposed import suppose_positive
from certgen.records.quantities import format_mass
from certgen.records.rows import plain_rows
from certgen.rules.seed.departures import LEAVING
from certgen.rules.wording import NOUNS
from certgen.typeset.html_pages import our_own

if TYPE_CHECKING:
    from collections.abc import Mapping

    from markupsafe import Markup

    from certgen.report.binder.spot_check import SpotCheck
    from certgen.report.context import Context

#: The tables whose records an inspection's exercise or finding may name, by the contract of `visits`.
ABOUT: Final = "findings"


def write_data(context: Context, spot: SpotCheck, prints: Mapping[str, str]) -> Markup:
    """The lineage, what each lot is worth, what left it and to whom, what a positive tree would change.

    `prints` are the SHA-256 of the packets of these records, by their paper. The JSON is compact: a season
    of 20,000 bags must open on a tablet.
    """
    nodes, places = _number_nodes(context)
    data = {
        "nouns": {name: NOUNS.get(name, (name, name)) for name in context.tables},
        "nodes": nodes,
        "links": _write_links(context, places),
        "findings": {
            f"{node.table}/{node.id}": numbers for node, numbers in context.result.numbers_by_record.items()
        },
        "lots": _tell_lots(context),
        "left": _tell_departures(context),
        "trees": {tree: verdict for tree, verdict in context.verdicts.items() if verdict != "negative"},
        "supposed": _tell_supposed(context),
        "prints": prints,
        "spot": {"key": spot.key, "items": spot.items, "draw": spot.draw},
        "visit": _plan_visit(context),
        "about": _list_about(context),
    }
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    # Only these could end a script element or open a comment in it.
    return our_own(text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029"))


def _number_nodes(context: Context) -> tuple[list[tuple[str, str, list[str]]], dict[Any, int]]:
    """The records of the lineage in groups of one table and season, and the place of each among all."""
    groups: defaultdict[tuple[str, str], list[Any]] = defaultdict(list)
    for node in context.lineage.nodes:
        groups[context.lineage.season_of(node), node.table].append(node)
    told: list[tuple[str, str, list[str]]] = []
    places: dict[Any, int] = {}
    for (season, table), nodes in groups.items():
        for node in nodes:
            places[node] = len(places)
        told.append((table, season, [node.id for node in nodes]))
    return told, places


def _write_links(context: Context, places: Mapping[Any, int]) -> list[int]:
    """The links in order, two numbers each: how far the source lies behind the last one's, and the target."""
    told, last = [], 0
    for source, target in sorted({(places[one.source], places[one.target]) for one in context.lineage.links}):
        told += [source - last, target]
        last = source
    return told


def _tell_lots(context: Context) -> dict[str, Any]:
    """By lot its standing, its variety and its grams in milligrams: traced, unproven, rejected,
    unaccounted."""
    return {
        name: [
            lot.standing,
            lot.variety,
            [lot.traced_mg, lot.unproven_mg, lot.rejected_mg, lot.unaccounted_mg],
            context.result.numbers_by_lot.get(name, ()),
        ]
        for name, lot in context.result.lots.items()
    }


def _tell_departures(context: Context) -> dict[str, Any]:
    """By movement the seed that left in any year: lot, kind, mass, to whom, on which paper, when."""
    frame = context.result.farm.table("movements")
    frame = frame[frame["kind"].isin(LEAVING)]
    columns = ("movement", "lot", "kind", "weight_mg", "party", "document", "date")
    return {
        movement: [
            lot or "",
            kind,
            format_mass(weight or 0),
            party or "",
            document or "",
            when.isoformat() if when else "",
        ]
        for movement, lot, kind, weight, party, document, when in plain_rows(frame, *columns)
        if movement
    }


def _tell_supposed(context: Context) -> dict[str, Any]:
    """What each parent tree would change if it were positive: for each tree the numbers of its outcomes.

    An outcome is a lot as it would be (nothing but its number for an earlier season's), with the movements
    that would be worse. Many trees share one.
    """
    lot_of = dict(plain_rows(context.result.farm.table("movements"), "movement", "lot"))
    outcomes: dict[str, int] = {}
    told: list[Any] = []
    trees: dict[str, list[int]] = {}
    for tree, change in suppose_positive(context.result).items():
        worse: defaultdict[str, list[str]] = defaultdict(list)
        for movement in change.deliveries:
            worse[lot_of[movement]].append(movement)
        entries: list[list[Any]] = [
            [
                one.lot,
                worse.pop(one.lot, []),
                one.standing,
                [one.traced_mg, one.unproven_mg, one.rejected_mg, one.unaccounted_mg],
            ]
            for one in change.lots
        ]
        entries += [[lot, movements] for lot, movements in worse.items()]
        numbers = trees.setdefault(tree, [])
        for entry in entries:
            key = json.dumps(entry)
            if key not in outcomes:
                outcomes[key] = len(told)
                told.append(entry)
            numbers.append(outcomes[key])
    return {"told": not context.result.errors, "outcomes": told, "trees": trees}


def _plan_visit(context: Context) -> dict[str, str]:
    """What is known of the visit that the marks are made at, before the inspector says it."""
    taken = set(context.result.farm.table("visits")["visit"].tolist())
    year = context.result.on.year % 100
    number = next(name for at in range(1, 10_000) if (name := f"V{year:02}-{at}") not in taken)
    operation = context.season.details.operation
    return {
        "visit": number,
        "certifier": operation.certifier or "",
        "present": operation.responsible or "",
        "on": context.result.on.isoformat(),
    }


def _list_about(context: Context) -> list[str]:
    """The tables whose records an inspector's finding may name, as the contract says."""
    item = context.tables["visits"].column(ABOUT).field.item
    about = item.fields["about"].item if item is not None else None
    return list(about.refers_to) if about is not None else []
