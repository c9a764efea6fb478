"""The report's last pages: whom to visit, what is asked of a group, how all was found, the manifest."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.between.comparison import HIGH_RISK
from certgen.coop.between.transfers import DAYS_UNDER_WAY
from certgen.coop.between.visits import (
    MISS_BASIS,
    NOT_CERTIFICATION,
    OWN_INSPECTIONS,
    say_order,
    say_visits,
)
from certgen.coop.between.yields import BOUND, LEAST_FACTOR, LEAST_MEMBERS
from certgen.coop.papers.control_pages import build_duties
from certgen.dossier.spot_check import say_chance
from certgen.figures.draws import plain_text, write_fingerprint
from certgen.report.tables import Column, table
from certgen.report.wording import cell
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult
    from certgen.coop.between.visits import GroupFigure

_MANIFEST_LEAD: Final = (
    "Each member’s SHA-256 is taken over its record files, both ends of its papers, and all names: what was "
    "handed in again gives the same figure. The fingerprint of all this stands whole at the draw."
)
_DRAW: Final = (
    f"Members with {HIGH_RISK} points or more are all visited. The others are drawn: u is the SHA-256 of "
    "“fingerprint|text|key” divided by 2 to the 256th, the text as it is hashed, w is 1 and the points, and "
    "those with the smallest −ln(u)/w are drawn (Efraimidis and Spirakis, 2006). Of each member’s lots those "
    "with the smallest SHA-256 of “fingerprint|text|KEY:lots/LOT” are looked at. Anyone can draw them again."
)
_WEIGHING: Final = "The points are certgen’s own weighing, and no standard’s."
_METHOD: Final = (
    (
        "Each member’s folder was examined on its own, by the same rules as a single season and "
        "without sight of any other. What is compared here are the summaries: stock book entries with "
        "a party, lot numbers, plantings’ origins, report numbers, uses of shared equipment, weights."
    ),
    (
        "What two books have of a lot on one paper is one transfer, in however many lines; the rest is "
        "paired by document, lot, weight and day. Seed more than "
        f"{DAYS_UNDER_WAY} days under way is asked about, by certgen’s choice. What merely looks like the "
        "same name is a question."
    ),
    (
        "A lot packed from another member’s lot takes each part as that member’s records leave it, gram by "
        "gram, if both stock books agree on the way it came and nothing stopped it on that day. Trees grown "
        "from another member’s lot are led back only if every gram of that lot is traced."
    ),
    (
        "Yields: grams packed from batches for each seed parent whose screening cleared it, on a "
        f"logarithmic scale. A member is asked when it lies more than {BOUND} robust standard "
        f"deviations (1.4826 times the median deviation) and a factor of {LEAST_FACTOR} from the "
        f"median of at least {LEAST_MEMBERS} members. The bound is that of Iglewicz and Hoaglin, from "
        "memory. An unusual yield is a question, and no finding."
    ),
)


def build_visits(result: CoopResult) -> Section:
    """Whom to visit, how that was drawn, and what the visits can miss."""
    views = {view.member.key: view for view in result.members}
    sample = result.sample
    how = f"{sample.basis}. {OWN_INSPECTIONS} {_DRAW}"
    key = (
        f"The text of this draw: “{sample.key.text}”, hashed as {plain_text(sample.key.text)}. Fingerprint:"
        f" {' '.join(write_fingerprint(sample.key.fingerprint))}. {say_order(sample)} {_WEIGHING}"
    )
    missed = "; ".join(f"{what}: {say_chance(chance)}" for what, chance in sample.misses)
    return Section(
        "visits",
        "Whom to visit",
        1,
        (
            Prose((how, key)),
            table(
                "Members to visit",
                (
                    Column("Member", "key", lambda visit: cell(visit.member, f"member/{visit.member}")),
                    Column("Name", "text", lambda visit: views[visit.member].member.name),
                    Column("Why", "text", lambda visit: visit.why),
                    Column("Points", "number", lambda visit: str(visit.points)),
                    Column(
                        "What the points are for",
                        "text",
                        lambda visit: ", ".join(reason for reason, _ in views[visit.member].risk.reasons),
                    ),
                    Column("Lots to look at", "text", say_visits),
                ),
                sample.visits,
                note=f"The chance, at worst, that these visits miss it: {missed}. {MISS_BASIS}",
            ),
        ),
        style="follow",
    )


def build_figures(result: CoopResult) -> Section:
    """What rulebooks ask of a group, and which of its duties nothing here shows."""
    grid = table(
        "Figures for groups of producers",
        (
            Column("Clause", "text", lambda figure: figure.clause),
            Column("What", "text", _say_figure),
            Column(
                "Figure, and what it comes to here",
                "text",
                lambda figure: ": ".join(part for part in (figure.value, figure.here) if part),
            ),
            Column("How it was come by", "text", lambda figure: figure.mark),
        ),
        result.figures,
        note="A figure marked “from memory” was not read in a copy of the rule; look it up before you rely "
        "on it.",
    )
    known = grid if result.figures else Prose(("The rulebooks named here set none.",))
    return Section(
        "group",
        "What rulebooks ask of a group",
        2,
        (Prose((NOT_CERTIFICATION,)), known, build_duties(result)),
    )


def _say_figure(figure: GroupFigure) -> str:
    return f"{figure.title}. {figure.note}" if figure.note else figure.title


def build_method() -> Section:
    """How everything was found."""
    return Section("method", "How this was found", 2, (Prose(_METHOD),))


def build_manifest(result: CoopResult) -> Section:
    """What all of it was made from: every member with where its records lie and what they hash to."""
    grid = table(
        "Members",
        (
            Column("Member", "key", lambda view: cell(view.member.key, f"member/{view.member.key}"), "12%"),
            Column("Readiness", "text", lambda view: view.readiness, "13%"),
            Column("Handed in", "text", lambda view: view.member.path, "19%"),
            Column("SHA-256", "text", lambda view: view.summary.fingerprint or "not read", "56%"),
        ),
        result.members,
    )
    return Section("manifest", "Manifest", 1, (grid,), lead=_MANIFEST_LEAD)
