"""The record in which what an inspector hands back is typed: filled in as far as it is known, and sound."""

from __future__ import annotations

import re
from datetime import MAXYEAR, timedelta
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.editing.yaml_text import render_record
from certgen.records.rows import plain_values

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.spot_check import SpotCheck
    from certgen.dossier.visit_papers import VisitPapers
    from certgen.examination import Result

#: What is tried on things drawn, as the records call it.
_TRIED: Final = {"lots": "trace-back", "trees": "leaves re-sampled", "bags": "tags"}


def build_form(result: Result, papers: VisitPapers) -> dict[str, Any]:
    """A record of the visit, ready to be filled in: every exercise that was drawn says `not done` until it
    was."""
    operation = result.season.details.operation
    planned = papers.visit
    taken = set(plain_values(result.farm.table("visits")["visit"]))
    year = result.on.year % 100
    free = next(name for at in range(1, 10_000) if (name := f"V{year:02}-{at}") not in taken)
    known: dict[str, Any] = {
        "visit": planned.visit if planned else free,
        "kind": planned.kind if planned else "yearly",
        "from": planned.first if planned else result.on,
        "inspector": planned.inspector if planned else "",
        "certifier": (planned.certifier if planned else "") or operation.certifier,
        "present": [operation.responsible] if operation.responsible else [],
        "exercises": list(_list_exercises(papers)),
    }
    return {name: value for name, value in known.items() if value}


def _list_exercises(papers: VisitPapers) -> Iterator[dict[str, Any]]:
    """Each lot has an exercise of its own: one that differs leaves all that it is about unproven."""
    for check in papers.draws:
        about = [item.identifier for item in check.drawn if _is_named(item.identifier)]
        apart = [[one] for one in about] if check.kind == "lots" else [about] if about else []
        for names in apart:
            tried = {"kind": _TRIED[check.kind], "about": names, "draw": _say_text(check)}
            yield {**tried, "outcome": "not done"}
    for one in papers.in_store:
        if _is_named(one.lot):
            yield {
                "kind": "count of stock",
                "about": [one.lot],
                "draw": "all in store",
                "outcome": "not done",
            }


def _is_named(identifier: str) -> bool:
    """Whether a record can name it as it is; what the farm calls otherwise than its season can't be."""
    return re.fullmatch(r"[A-Za-z0-9._/-]{1,40}", identifier) is not None


def _say_text(check: SpotCheck) -> str:
    frozen = f", fingerprint {check.key.fingerprint[:16]}" if check.key.fingerprint else ""
    return f"by the text “{check.key.text}”{frozen}"


#: What stands below a form's record, to be taken over where it is wanted by taking the first sign away.
_BELOW: Final = """\
#    requests:
#      - asked: what is to be handed in later
#        by: {later}
#    samples:
#      - sample: the number on its bag
#        about: [lot or tree]
#        amount: 2 x 10 g
#        seal: both numbers
#        sheet: the number of the sheet or receipt
#    findings:
#      - finding: NC-1
#        # One of other seed, origin, quantity, substance, paper, label, plan; the first four speak against
#        # the seed of what it is about.
#        kind: paper
#        ground: clause or section
#        about: [what it is about]
#        severity: in her words
#        found: what was found
#        deadline: {later}
#    exit: what was said at the end
#    evidence: [letters/name-of-the-letter.txt]
"""
#: What stands above it.
_ABOVE: Final = (
    "# What the inspector hands back, to be typed in one go. The certifier's own forms and letters come",
    "# first; name them under `evidence`. Say of each exercise whether it agrees, differs or wasn't done;",
    "# where only a part of what it is about differs, part it in two.",
)


def render_form(result: Result, papers: VisitPapers) -> str:
    """The form as a record file: YAML that is sound as it stands, with what may be added below it."""
    open_ = [
        f"# Open: {one.kind} {one.number} of visit {one.visit.visit}; its end is written there."
        for one in papers.left_open
    ]
    record = [line.text for line in render_record(build_form(result, papers), 2)]
    later = result.on + timedelta(days=30) if result.on.year < MAXYEAR else result.on
    return "\n".join([*_ABOVE, *open_, "visits:", *record]) + "\n" + _BELOW.format(later=later.isoformat())
