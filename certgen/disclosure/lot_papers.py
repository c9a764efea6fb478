"""What is handed on about some lots and not about the season: their packet's records, one lot's card."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from certgen.disclosure.line_season import cut_to_lots
from certgen.exchange.lot_card.facts import gather_facts
from certgen.manifest import PacketOptions, build_manifest
from certgen.report.packet import find_maker

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.examination import Result
    from certgen.records.supplied import PacketReader


@contextmanager
def cut_packet(
    result: Result, options: PacketOptions, packets: PacketReader | None = None
) -> Iterator[tuple[Result, PacketOptions]]:
    """The season cut down to the line of the lots that a packet's options name, and the options that say so;
    its folder goes when the block ends.

    `packets` is as in `examine`. Raises `DisclosureError` where a lot can't be told by its own line alone.
    """
    lots = tuple(dict.fromkeys(options.lots or ()))
    full = build_manifest(result, find_maker(result), PacketOptions(options.page)).sha256
    with cut_to_lots(result, lots, packets=packets) as (shown, left_out):
        yield shown, replace(options, lots=lots, full=full, left_out=left_out)


def gather_own_card(result: Result, lot: str, page: str = "A4") -> dict[str, Any]:
    """The facts of a lot's card, which goes with the packet that `certgen report` writes of these records on
    a paper.

    Raises as `gather_facts` does.
    """
    maker = find_maker(result)
    packet = build_manifest(result, maker, PacketOptions(page)).sha256
    return gather_facts(result, lot, packet, maker, page)
