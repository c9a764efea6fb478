"""The cautions that belong to what falls due and to what a sample takes, as the season's records have it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.treatment import Treatments

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.dossier.due import Due
    from certgen.dossier.spot_check import Kind
    from certgen.examination import Result
    from certgen.standards import Caution

_TREATED = "treated seed"


def cautions_of_due(result: Result, due: Iterable[Due]) -> dict[str, tuple[Caution, ...]]:
    """By subject of the list, in its order: those of the work that is due, and where a lot is to be taken in
    hand whose seed was treated, those of treated seed. Subjects without any are left out.
    """
    lots: dict[str, list[str]] = {}
    for one in due:
        lots.setdefault(one.subject, []).extend([one.identifier] if one.table == "lots" else [])
    cautions = result.profile.cautions
    found = {
        subject: (
            *cautions.of_due(subject),
            *(cautions.at(_TREATED) if subject != "keep" and _any_treated(result, named) else ()),
        )
        for subject, named in lots.items()
    }
    return {subject: some for subject, some in found.items() if some}


def cautions_of_draw(result: Result, kind: Kind) -> tuple[Caution, ...]:
    """Those of going to the bags or trees of a spot check, and of treated seed where a lot's was."""
    if kind == "lots":
        treated = _any_treated(result, list(result.lots))
        return result.profile.cautions.at(_TREATED) if treated else ()
    return result.profile.cautions.of_draw(kind)


def cautions_of_test(result: Result, lot: str) -> tuple[Caution, ...]:
    """Those of a laboratory that tests seed of a lot, and those of treated seed where the lot's was."""
    treated = _any_treated(result, [lot])
    return (
        *result.profile.cautions.of_draw("seed"),
        *(result.profile.cautions.at(_TREATED) if treated else ()),
    )


def _any_treated(result: Result, lots: Sequence[str]) -> bool:
    if not lots:
        return False
    treatments = Treatments(result.case)
    return any(treatments.of(lot).treated for lot in lots)
