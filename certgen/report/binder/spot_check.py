"""The packet's own spot check of bags, for ticks on a tablet."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.dossier.spot_check import own_text

if TYPE_CHECKING:
    from certgen.report.context import Context


@dataclass(frozen=True, slots=True)
class SpotCheck:
    """Bags to look at; a browser keeps its marks under `key`, which is that of these very records.

    `draw` says how they were chosen, as an inspection's record tells it.
    """

    key: str
    items: tuple[str, ...]
    draw: str
    words: str


def draw_spot_check(context: Context) -> SpotCheck:
    """The grower's own draw, which anyone can draw again."""
    check = context.draw("bags")
    items = tuple(bag.identifier for bag in check.drawn) if check else ()
    hashes = "".join(source.sha256 for _, source in sorted(context.season.sources.items()))
    text = own_text(context.result)
    words = (
        f"{len(items)} of {check.population if check else 0} bags on record, the grower’s own draw by the"
        f" text “{text}” as on the packet’s page: within each block the SHA-256 of the"
        " text, a vertical bar and the bag’s number, the smallest first. An inspection draws by a text of its"
        " own, with ‘certgen sample’."
    )
    key = f"certgen-marks-{hashlib.sha256(hashes.encode()).hexdigest()[:16]}"
    return SpotCheck(key, items, f"the grower’s own, by the text “{text}”", words)
