"""What is cleared and what falls due, as a grower reads it: subject by subject, the nearest first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import Terminal
from certgen.dossier.cautions import cautions_of_due
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.due import Due
    from certgen.examination import Result

CLEARED: Final = "cleared for bagging"
_HEADINGS: Final = {
    CLEARED: "Cleared for bagging",
    "result outstanding": "Results outstanding",
    "screening to complete": "Clean, and not cleared yet: bag none of these",
    "bag to take off": "Bags still on the flower",
    "bag to pick": "Fruit nearing harvest",
    "germination test": "Germination tests",
    "storage": "Seed in store",
    "inspection": "Inspections: announced, and left open",
    "incident open": "Incidents still open",
    "recall open": "Recalls, complaints and drills",
    "keep": "Records and samples to keep",
}


def write_text(result: Result, due: Sequence[Due], *, everything: bool) -> None:
    """Writes the list to the terminal; what lies further ahead is counted unless everything is asked for."""
    out = Terminal()
    out.season(result)
    out.line(f"As of {day(result.on)}.")
    if not due:
        out.line("Nothing is due.")
    cautions = cautions_of_due(result, due)
    for subject, heading in _HEADINGS.items():
        entries = [entry for entry in due if entry.subject == subject]
        if not entries:
            continue
        out.heading(f"{heading} ({len(entries)})")
        if subject == CLEARED and not everything:
            out.text(", ".join(entry.identifier for entry in entries), 2)
        else:
            _write_subject(out, subject, entries, everything)
        out.cautions(cautions.get(subject, ()))
    out.line()


def _write_subject(out: Terminal, subject: str, entries: Sequence[Due], everything: bool) -> None:
    near = entries if everything else [entry for entry in entries if entry.state in {"due", "overdue"}]
    ahead = [entry for entry in entries if entry not in near]
    if near:
        out.table((entry.identifier, entry.state, _window(entry), entry.about) for entry in near)
    if ahead:
        out.text(_say_ahead(subject, ahead), 2)
    for basis in sorted(_list_bases(subject, entries)):
        out.text(f"By {basis}.", 2, "dim")


def _list_bases(subject: str, entries: Sequence[Due]) -> set[str]:
    """What the days rest on; a tree is cleared by its own result."""
    return set() if subject == CLEARED else {entry.basis for entry in entries} - {""}


def _say_ahead(subject: str, ahead: list[Due]) -> str:
    days = [entry.first or entry.last for entry in ahead]
    first = min((when for when in days if when is not None), default=None)
    if subject == "keep":
        until = f", the first of them until {day(first)}" if first else ""
        return f"{len(ahead)} to keep{until}; --all lists them."
    start = f", the first on {day(first)}" if first else ""
    return f"{len(ahead)} further ahead{start}; --all lists them."


def _window(entry: Due) -> str:
    if entry.first is not None and entry.first == entry.last:
        return f"on {day(entry.first)}"
    if entry.first is not None and entry.last is not None:
        return f"{day(entry.first)} to {day(entry.last)}"
    if entry.last is not None:
        return f"until {day(entry.last)}"
    return f"since {day(entry.first)}" if entry.first is not None else ""
