"""Which pieces a run's seed touched, where and how long it dried, and what was cleaned."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from second_engine.values import day, plain, silent

if TYPE_CHECKING:
    from second_engine.facts import Writer
    from second_engine.farm import Farm, Thing
    from second_engine.weights import Weights

#: Pieces on which nobody dries seed. Anything else may have been lain on.
_NO_DRYING = re.compile(
    r"\b(?:pulper|mixer|blender|liquidi[sz]er|crusher|extractor|machine|grinder|mill|spoon|knife|blade|scoop|tub|tank"
    r"|bucket|pail|basin|bowl|sink|vat|barrel|drum|hose|washer|sieve|colander|strainer|scale|balance)s?\b"
)


def write_equipment(farm: Farm, writer: Writer, weights: Weights) -> None:
    """The facts about equipment, by names without differences of case and spacing."""
    add = writer.facts.add
    packed: dict[int, int] = {}
    for lot, part, _ in writer.parts:
        named, _mg = weights.sources[part]
        if named is not None and named.table == "batches":
            packed[named.id] = max(packed.get(named.id, 0), day(lot.fields["packed"]))
    names = set()
    for thing in farm.things:
        if thing.table == "batches":
            pieces = _named(thing, "equipment")
            names |= pieces
            for piece in pieces:
                add("piece", thing.id, piece)
            drying = thing.fields.get("drying", {})
            for piece in drying.get("on", ()):
                add("dries_on", thing.id, plain(piece))
                # What seed dries on it lay on as on any other piece.
                names.add(plain(piece))
                add("piece", thing.id, plain(piece))
            # While seed dries: to the end of drying; where that isn't known, until it was packed.
            until = thing.day("drying", "to") or packed.get(thing.id)
            if until is not None:
                add("dries_until", thing.id, until)
        elif thing.table == "cleaning":
            for piece in _named(thing, "equipment"):
                add("cleans", thing.id, piece)
    for name in names:
        if _NO_DRYING.search(name) and not re.search(r"\b(?:dry|drying|dryer|tray|rack|screen)", name):
            add("no_drying_place", name)


def _named(thing: Thing, field: str) -> set[str]:
    return {plain(one) for one in thing.fields.get(field, ()) if not silent(one)}
