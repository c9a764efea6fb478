"""The notices of a recall, drafted: one to each holder, with an answer to tear off, and one to the certifier.

They say what the records say, and where seed of other lots is mixed in, at least and at most how much. Of a
drill they say first that it is one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.notices import KEPT_BACK, NOT_OURS, ask_to_keep, sign_off
from certgen.records.quantities import format_mass
from certgen.records.rows import is_absent
from certgen.rules.seed.deliveries import UNNAMED
from certgen.rules.wording import day

if TYPE_CHECKING:
    from certgen.dossier.recall import Holder, Place, Recall, RecalledLot
    from certgen.dossier.recall_shares import Span

#: The heads of a holder's table, and of the certifier's.
HOLDER_HEADS: Final = ("Lot", "Variety", "Weight", "Called back", "Delivered", "Document")
CERTIFIER_HEADS: Final = ("Notice", "Party", "Weight", "Called back", "Told on")
_DRILL: Final = (
    "This is a drill. Nothing is known against this seed and you need keep none of it apart: we try out how "
    "soon we find everybody who has had seed of a lot. Please answer as if it were earnest."
)


@dataclass(frozen=True, slots=True)
class RecallNotice:
    """A draft: its number, whom it goes to, paragraphs before and after a table, and whether an answer is to
    be torn off.
    """

    number: str
    party: str
    contact: str
    before: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    after: tuple[str, ...]
    asks: bool


def draft_recall(recall: Recall) -> tuple[RecallNotice, ...]:
    """A notice to each who still has seed of the lots, and one to the certifier about all of them."""
    numbered = number_holders(recall)
    notices = [_to_holder(recall, number, holder) for number, holder in numbered]
    return (*notices, _to_certifier(recall, numbered))


def number_holders(recall: Recall) -> tuple[tuple[str, Holder], ...]:
    """Those who still have some, each with the number of its notice: the one on record, or the next free."""
    called = recall.called
    stem = called.name if called is not None else f"{recall.result.on:%Y%m%d}"
    used = {holder.number for holder in recall.holders}
    free = (
        name for at in range(1, len(used) + len(recall.holders) + 1) if (name := f"{stem}/{at}") not in used
    )
    return tuple((holder.number or next(free), holder) for holder in recall.holders if holder.weight_mg)


def say_span(weight_mg: int, span: Span) -> str:
    """How much of some grams is called back: "all of it", "at least 3 g and at most 25 g of it"."""
    low, high = format_mass(span.low_mg), format_mass(span.high_mg)
    if span.low_mg >= weight_mg:
        return "all of it"
    if span.low_mg == span.high_mg:
        return f"{low} of it" if span.low_mg else "none of it"
    if span.high_mg >= weight_mg:
        return f"at least {low} of it, perhaps all" if span.low_mg else "nobody can tell how much of it"
    return f"at least {low} and at most {high} of it" if span.low_mg else f"at most {high} of it"


def say_reason(recall: Recall) -> str:
    """Why, by the record, with a stop behind it; nothing where nobody wrote it."""
    if recall.called is None:
        return ""
    reason = recall.result.case.season.table("recalls")["reason"].loc[recall.called.row]
    return "" if is_absent(reason) else f"{str(reason).strip().rstrip('.')}."


def _is_drill(recall: Recall) -> bool:
    return recall.called is not None and recall.called.kind == "drill"


def _to_holder(recall: Recall, number: str, holder: Holder) -> RecallNotice:
    lots = {lot.lot: lot for lot in recall.lots}
    places = [place for place in holder.places if place.held_mg]
    mine = dict.fromkeys(place.lot for place in places)
    words = "this lot" if len(mine) == 1 else "these lots"
    after = [_say_mixed(holder, lots[lot]) for lot in mine if not lots[lot].is_whole]
    if not _is_drill(recall):
        after.append(f"{ask_to_keep(words)} {_say_told(recall)} {NOT_OURS}")
    after.append(sign_off(recall.result))
    return RecallNotice(
        number,
        holder.party or UNNAMED,
        holder.contact,
        _open(recall),
        HOLDER_HEADS,
        tuple(_row(place, lots[place.lot]) for place in places),
        tuple(after),
        True,
    )


def _open(recall: Recall) -> tuple[str, ...]:
    """How a holder's notice begins."""
    on = day(recall.result.on)
    if _is_drill(recall):
        return _DRILL, f"By our records you have had, as of {on}:"
    reason = say_reason(recall)
    why = f" The reason: {reason}" if reason else ""
    return (f"We call back seed that you had of us.{why} By our records, as of {on}:",)


def _say_mixed(holder: Holder, lot: RecalledLot) -> str:
    return (
        f"Lot {lot.lot} was put together of more than one source. Of your part {_say_mine(holder, lot)} is "
        "called back; nobody can tell which grams, so this is about the whole of it."
    )


def _say_mine(holder: Holder, lot: RecalledLot) -> str:
    mass = sum(place.held_mg or 0 for place in holder.places if place.lot == lot.lot)
    low = max(0, min(mass, lot.weight_mg) - (lot.weight_mg - lot.span.low_mg))
    high = min(mass, lot.span.high_mg)
    return f"at least {format_mass(low)} and at most {format_mass(high)}"


def _say_told(recall: Recall) -> str:
    called = recall.called
    if called is not None:
        told = recall.result.case.season.table("recalls")["certifier_notified"].loc[called.row]
        if not is_absent(told):
            return f"We told our certifier on {day(told.date())}."
    return "Our certifier gets a notice of all of it as well."


def _row(place: Place, lot: RecalledLot) -> tuple[str, ...]:
    held = place.held_mg or 0
    share = "all of it" if lot.is_whole else say_span(held, place.span)
    when = "" if place.day is None else day(place.day)
    return (place.lot, lot.variety, format_mass(held), share, when, place.document or "none")


def _to_certifier(recall: Recall, numbered: tuple[tuple[str, Holder], ...]) -> RecallNotice:
    result = recall.result
    operation, sums = result.season.details.operation, recall.sums
    certificate = operation.certificate or "no certificate number in the records"
    reason = say_reason(recall)
    verb = "runs a drill on" if _is_drill(recall) else "calls back"
    before = [
        f"{operation.name} ({certificate}) {verb} seed of {recall.title}. {reason}".strip(),
        *(_say_lot(lot) for lot in recall.lots),
        f"To be told, as of {day(result.on)}:" if numbered else "Nobody else has had any of it.",
    ]
    rows = tuple(
        (
            number,
            holder.party or UNNAMED,
            format_mass(holder.weight_mg),
            say_span(holder.weight_mg, holder.span),
            day(holder.told_on) if holder.told_on and not holder.untold_mg else "not yet",
        )
        for number, holder in numbered
    )
    after = [
        (
            f"Of {format_mass(sums['all'])} in all {format_mass(sums['out'])} is with others, "
            f"{format_mass(sums['on_hand'])} is here, {format_mass(sums['used'])} was used up here and "
            f"{format_mass(sums['unaccounted'])} is nowhere."
        )
    ]
    if not _is_drill(recall):
        after.append(KEPT_BACK)
    after.append(sign_off(result))
    return RecallNotice(
        "",
        operation.certifier or "the certifier",
        "",
        tuple(before),
        CERTIFIER_HEADS,
        rows,
        tuple(after),
        False,
    )


def _say_lot(lot: RecalledLot) -> str:
    variety = f" ({lot.variety})" if lot.variety else ""
    if lot.is_whole:
        return f"Lot {lot.lot}{variety}, {format_mass(lot.weight_mg)}: all of it."
    span = say_span(lot.weight_mg, lot.span)
    return f"Lot {lot.lot}{variety}, {format_mass(lot.weight_mg)}: {span}, mixed with other seed."
