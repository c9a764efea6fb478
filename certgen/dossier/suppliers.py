"""Through whose packets a lot's seed is traced: which grams, by which supplier's report, signed by whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.records.quantities import format_mass
from certgen.rules.wording import capital, day

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from certgen.examination import Result
    from certgen.rules.seed.purchases import Judged, KnownSigner


@dataclass(frozen=True, slots=True)
class Through:
    """Seed on a lot's line that is traced through a supplier's packet.

    `table` and `id` name the lot or planting that was bought, `weight_mg` its milligrams (None for a
    planting, whose seed nobody weighs here). `theirs` is the lot at the supplier, `on` the day of the packet,
    `signer` the key that signed it, as this operation states it to be the supplier's.
    """

    table: str
    id: str
    weight_mg: int | None
    supplier: str
    certificate: str
    theirs: str
    file: str
    on: date
    fingerprint: str
    signer: KnownSigner

    def text(self) -> str:
        """All of it in words, and whose word the key is."""
        what = (
            f"{format_mass(self.weight_mg)} of lot {self.id} are"
            if self.weight_mg is not None
            else f"The seed of planting {self.id} is"
        )
        fingerprint = f", fingerprint {self.fingerprint}" if self.fingerprint else ""
        signer = self.signer
        return (
            f"{what} traced through the packet of {self.supplier}, of {day(self.on)}{fingerprint}, which "
            f"traces lot {self.theirs}; it is signed with the key {signer.fingerprint}. That this is the key "
            f"of {signer.party} is the operation’s own statement, as told by {signer.told_by} on "
            f"{day(signer.date)}."
        )


def list_through(result: Result, lot: str) -> tuple[Through, ...]:
    """The packets that a lot's claim rests on, its blended lots' and its plantings' among them."""
    if not result.shown_by_packet:
        return ()
    found = (one for node in result.lineage.line_of_lot(lot) for one in result.shown_by_packet.get(node, ()))
    return tuple(through for one in found if (through := _tell(one)) is not None)


def _tell(one: Judged) -> Through | None:
    bought, packet, signer = one.purchase, one.packet, one.signer
    if packet is None or not one.shown or signer is None or packet.on is None:
        return None
    return Through(
        bought.table,
        bought.id,
        bought.weight_mg,
        packet.operation.name,
        packet.operation.certificate,
        bought.lot,
        bought.file,
        packet.on,
        packet.fingerprint,
        signer,
    )


def say_through(through: Sequence[Through]) -> str:
    """The sentences of all of them; empty where a lot rests on no packet."""
    return " ".join(capital(one.text()) for one in through)
