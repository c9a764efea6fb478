"""A recall as a grower reads it: lots, where their grams are, who is to be told, and what is still open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import Terminal
from certgen.dossier.recall import BLENDED, ON_HAND, UNACCOUNTED
from certgen.dossier.recall_notices import number_holders, say_span
from certgen.dossier.recall_outcomes import list_outcomes, say_share
from certgen.records.quantities import format_mass
from certgen.rules.seed.deliveries import UNNAMED
from certgen.rules.wording import capital, count, day

if TYPE_CHECKING:
    from certgen.dossier.recall import Holder, Place, Recall, RecalledLot
    from certgen.dossier.recall_outcomes import Outcome

#: How each place is told; any other is what the movement's kind says.
PLACES: Final = {
    ON_HAND: "on hand", UNACCOUNTED: "nowhere", "transferred": "handed over", "retained": "file sample",
}  # fmt: skip
_SUMS: Final = (
    ("With others", "out"), ("On hand, with file samples", "on_hand"), ("Used up here", "used"),
    ("Nowhere", "unaccounted"), ("All", "all"),
)  # fmt: skip


def write_text(recall: Recall) -> None:
    """Writes the recall to the terminal."""
    out = Terminal()
    out.season(recall.result)
    out.text(f"Seed of {recall.title}, in {count(len(recall.lots), 'lots')}, as of {day(recall.result.on)}.")
    if recall.called is not None:
        out.text(f"{recall.called.title} of {day(recall.called.opened)} is the record that this goes by.")
    for lot in recall.lots:
        _write_lot(out, lot)
    out.heading("Sum")
    out.figures([(name, format_mass(recall.sums[key])) for name, key in _SUMS])
    out.heading("Whom to tell")
    numbered = number_holders(recall)
    for number, holder in numbered:
        _write_holder(out, number, holder)
    if not numbered:
        out.line("  Nobody else has any of it.")
    for holder in recall.holders:
        if not holder.weight_mg:
            out.text(f"{holder.party or UNNAMED}: all of it came back.", 2)
    _write_end(out, recall)
    out.line()


def _write_lot(out: Terminal, lot: RecalledLot) -> None:
    share = say_span(lot.weight_mg, lot.span)
    standing = f", {lot.standing}" if lot.standing else ""
    out.heading(
        f"Lot {lot.lot}, {lot.variety}, {format_mass(lot.weight_mg)}{standing}: called back is {share}"
    )
    rows = [_row(place) for place in lot.places if place.weight_mg or place.held_mg]
    out.table([(mass.rjust(max(len(row[0]) for row in rows)), *rest) for mass, *rest in rows])
    if lot.beyond_mg:
        out.text(f"{format_mass(lot.beyond_mg)} more left by the stock book than there was.", 2, "yellow")


def _row(place: Place) -> tuple[str, ...]:
    where = PLACES.get(place.kind, place.kind)
    who = place.party if place.kind != BLENDED else ""
    where = f"{where} {place.party}" if place.kind == BLENDED else where
    when = (
        "" if place.day is None else f"{'counted ' if place.kind == ON_HAND else ''}{place.day.isoformat()}"
    )
    paper = " ".join(part for part in (place.movement, place.document) if part)
    return format_mass(place.weight_mg), where, when, who, paper


def _write_holder(out: Terminal, number: str, holder: Holder) -> None:
    name = capital(holder.party or UNNAMED)
    contact = f" ({holder.contact})" if holder.contact else ""
    span = say_span(holder.weight_mg, holder.span)
    out.text(f"{number}  {name}{contact}: {format_mass(holder.weight_mg)}; called back is {span}.", 2, hang=2)
    for place in holder.places:
        if place.held_mg:
            when = "" if place.day is None else day(place.day)
            papers = f", {', '.join(place.evidence)}" if place.evidence else ""
            paper = place.document or "no document"
            out.text(f"{format_mass(place.held_mg)} of lot {place.lot}, {when}, {paper}{papers}", 6, hang=2)
    if holder.told_on is not None:
        out.text(f"Told of {format_mass(holder.told_mg)} on {day(holder.told_on)}.", 6)


def _write_outcome(out: Terminal, outcome: Outcome) -> None:
    took = "" if outcome.minutes is None else f" in {count(outcome.minutes, 'minute')}"
    if outcome.share is not None and outcome.answered:
        told = f"{count(outcome.answered, 'holder')} of {len(outcome.called.notices)} answered{took}"
        found = f"{format_mass(outcome.found_mg)} of {format_mass(outcome.left_mg)} that had left"
        out.text(f"{told}: {found} was found, {say_share(outcome)}.")


def _write_end(out: Terminal, recall: Recall) -> None:
    out.line()
    for outcome in list_outcomes(recall.result):
        if recall.called is not None and outcome.called.name == recall.called.name:
            _write_outcome(out, outcome)
    if recall.untold_mg:
        out.text(
            f"{format_mass(recall.untold_mg)} is with holders whom no record says were told.", 0, "yellow"
        )
    elif recall.holders:
        out.text("Everybody who has some was told.", 0, "green")
    nowhere = recall.sums["unaccounted"]
    if nowhere:
        out.text(f"{format_mass(nowhere)} is nowhere: nobody can be told of it.", 0, "yellow")
    if recall.called is None:
        out.text("No recall of it is on record; this holds and decides nothing.")
