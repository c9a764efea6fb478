"""What the records say of a lot's treatment against disease or pests: its own, and of all that went into it.

A lot is treated when any record on its way says so, whatever others say. That it is not treated is said by
the lot itself or by all that it was packed from; silence says neither.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from certgen.rules.case import Case

_FIELDS: Final = ("treatment.treated", "treatment.with", "treatment.harmful")


@dataclass(frozen=True, slots=True)
class Treatment:
    """Whether a lot is `treated` (None: no record says), with which `substances` as written, `named` whether
    every treatment says with what, and whether one of them is `harmful` (False only when that is said of
    each; None: not said).
    """

    treated: bool | None
    substances: tuple[str, ...] = ()
    named: bool = True
    harmful: bool | None = None


class Treatments:
    """The treatments on a farm's records, looked up by lot."""

    def __init__(self, case: Case) -> None:
        self._said: dict[tuple[str, str], tuple[Any, ...]] = {}
        for table, key in (("lots", "lot"), ("batches", "batch")):
            for identifier, *said in plain_rows(case.keyed(table), key, *_FIELDS):
                self._said[table, identifier] = tuple(said)
        self._sources: dict[str, list[tuple[str, str]]] = {}
        for lot, batch, earlier, supplier in plain_rows(
            case.packed, "lot", "batch", "source_lot", "supplier"
        ):
            named = ("batches", batch), ("lots", earlier), ("supplier", supplier)
            self._sources.setdefault(lot, []).extend((kind, name) for kind, name in named if name)

    def of(self, lot: str) -> Treatment:
        """What is known of a lot; one that no record bears is one of which nothing is said."""
        told, silent = self._ask(lot)
        if not told:
            return Treatment(None if silent else False)
        harms = {harmful for _, harmful in told}
        return Treatment(
            True,
            tuple(sorted({text for text, _ in told if text})),
            all(text for text, _ in told),
            True if True in harms else None if None in harms else False,
        )

    def _ask(self, lot: str) -> tuple[list[tuple[Any, ...]], bool]:
        """Each treatment on the lot's way, and whether some way ends with nobody having said none."""
        # A blend may go round in circles in faulty records: nothing is looked at twice.
        seen: set[tuple[str, str, bool]] = set()
        waiting = [("lots", lot, False)]
        told: list[tuple[Any, ...]] = []
        silent = False
        while waiting:
            table, name, denied = step = waiting.pop()
            if step in seen:
                continue
            seen.add(step)
            treated, *rest = self._said.get((table, name), (None, None, None))
            if treated:
                told.append(tuple(rest))
            denied = denied or treated is False
            above = self._sources.get(name, ()) if table == "lots" else ()
            waiting += [(kind, one, denied) for kind, one in above]
            silent = silent or not (above or denied)
        return told, silent
