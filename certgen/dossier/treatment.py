"""What the records say of a lot's treatment against disease or pests: its own, and of all that went into it.

A lot is treated when any record on its way says so, whatever others say. That it is not treated is said by
the lot itself or by all that it was packed from; silence says neither. Bought seed is treated where its
supplier's packet says so, whoever signed that, and untreated where a packet that counts does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.records.rows import plain_rows
from certgen.records.supplied import Treatment

if TYPE_CHECKING:
    from certgen.rules.case import Case
    from certgen.rules.seed.purchases import Judged

_FIELDS: Final = ("treatment.treated", "treatment.with", "treatment.harmful")


class Treatments:
    """The treatments on a farm's records, looked up by lot."""

    def __init__(self, case: Case) -> None:
        self._said: dict[tuple[str, str], Treatment] = {}
        for table, key in (("lots", "lot"), ("batches", "batch")):
            for identifier, treated, substance, harmful in plain_rows(case.keyed(table), key, *_FIELDS):
                substances = (substance,) if substance else ()
                self._said[table, identifier] = Treatment(treated, substances, bool(substance), harmful)
        self._sources: dict[str, list[tuple[str, str]]] = {}
        self._bought: dict[tuple[str, str], Treatment] = {}
        for one in case.purchases:
            if one.purchase.table == "lots" and one.packet is not None:
                part = f"{one.purchase.id}/{one.purchase.position}"
                self._bought["supplier", part] = _of_packet(one)
        for lot, position, batch, earlier, supplier, packet in plain_rows(
            case.packed, "lot", "position", "batch", "source_lot", "supplier", "packet"
        ):
            bought = f"{lot}/{position}" if supplier or packet else None
            named = ("batches", batch), ("lots", earlier), ("supplier", bought)
            self._sources.setdefault(lot, []).extend((kind, name) for kind, name in named if name)

    def of(self, lot: str) -> Treatment:
        """What is known of a lot; one that no record bears is one of which nothing is said."""
        told, silent = self._ask(lot)
        if not told:
            return Treatment(None if silent else False)
        harms = {one.harmful for one in told}
        return Treatment(
            True,
            tuple(sorted({text for one in told for text in one.substances})),
            all(one.named for one in told),
            True if True in harms else None if None in harms else False,
        )

    def _ask(self, lot: str) -> tuple[list[Treatment], bool]:
        """Each treatment on the lot's way, and whether some way ends with nobody having said none."""
        # A blend may go round in circles in faulty records: nothing is looked at twice.
        seen: set[tuple[str, str, bool]] = set()
        waiting = [("lots", lot, False)]
        told: list[Treatment] = []
        silent = False
        while waiting:
            table, name, denied = step = waiting.pop()
            if step in seen:
                continue
            seen.add(step)
            here = self._said.get((table, name)) or self._bought.get((table, name)) or Treatment()
            if here.treated:
                told.append(here)
            denied = denied or here.treated is False
            above = self._sources.get(name, ()) if table == "lots" else ()
            waiting += [(kind, one, denied) for kind, one in above]
            silent = silent or not (above or denied)
        return told, silent


def _of_packet(one: Judged) -> Treatment:
    """What a supplier's packet says of the lot that was bought; that it is untreated only where it counts."""
    lot = one.packet.lots.get(one.purchase.lot) if one.packet is not None else None
    if lot is None or not (lot.treatment.treated or one.shown):
        return Treatment()
    return lot.treatment
