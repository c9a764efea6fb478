"""The report's last chapters: whom to visit, what rulebooks ask of a group, how everything was found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.between.comparison import HIGH_RISK
from certgen.coop.between.transfers import DAYS_UNDER_WAY
from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.between.yields import BOUND, LEAST_FACTOR, LEAST_MEMBERS
from certgen.report.tables import Column, table
from certgen.report.wording import cell
from certgen.typeset.parts import Chapter, Prose, Register, RegisterColumn, Section

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult

MANIFEST_LEAD: Final = (
    "What each member handed in, as one SHA-256 over the bytes of its record files and the names of "
    "all its files. The same records give the same figure; anything changed since gives another."
)
_DRAW: Final = (
    f"Members with {HIGH_RISK} points or more are all visited. The others are drawn from a text: u is the "
    "SHA-256 of “text|key” divided by 2 to the 256th, w is 1 and the points, and those with the smallest "
    "−ln(u)/w are drawn (Efraimidis and Spirakis, 2006). Anyone can draw them again. A text that both "
    "sides agree on beforehand leaves nobody a choice."
)
_WEIGHING: Final = "The points are certgen’s own weighing, and no standard’s."
_METHOD: Final = (
    (
        "Each member’s folder was examined on its own, by the same rules as a single season and "
        "without sight of any other. What is compared here are the summaries: stock book entries with "
        "a party, lot numbers, plantings’ origins, report numbers, uses of shared equipment, weights."
    ),
    (
        "Transfers are paired by document number, then lot, then weight and day. Seed that is more "
        f"than {DAYS_UNDER_WAY} days under way is asked about; that figure is certgen’s choice."
    ),
    (
        "A lot that rests on another member’s lot counts as traced only if every gram of that lot is "
        "traced in that member’s records."
    ),
    (
        "Yields: grams packed from batches for each seed parent whose screening cleared it, on a "
        f"logarithmic scale. A member is asked when it lies more than {BOUND} robust standard "
        f"deviations (1.4826 times the median deviation) and a factor of {LEAST_FACTOR} from the "
        f"median of at least {LEAST_MEMBERS} members. The bound is that of Iglewicz and Hoaglin, from "
        "memory. An unusual yield is a question, and no finding."
    ),
)


def build_last_chapter(result: CoopResult) -> Chapter:
    """Visits, group figures and method, set together."""
    return Chapter("group and method", (_visits(result), _figures(result), _method()))


def _visits(result: CoopResult) -> Section:
    views = {view.member.key: view for view in result.members}
    how = f"{result.sample_basis}. {_DRAW}"
    return Section(
        "visits",
        "Whom to visit",
        1,
        (
            Prose((how, f"The text of this draw: “{result.sample_seed}”. {_WEIGHING}")),
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
                ),
                result.sample,
            ),
        ),
        style="chapter",
    )


def _figures(result: CoopResult) -> Section:
    grid = table(
        "Figures for groups of producers",
        (
            Column("Clause", "text", lambda figure: figure.clause),
            Column("What", "text", lambda figure: figure.title),
            Column("Figure", "text", lambda figure: figure.value),
            Column("Here", "text", lambda figure: figure.here),
            Column("How it was come by", "text", lambda figure: figure.mark),
            Column("Only", "text", lambda figure: figure.note),
        ),
        result.figures,
        note="A figure marked “from memory” was not read in a copy of the rule; look it up before you rely "
        "on it.",
    )
    known = grid if result.figures else Prose(("The rulebooks named here set none.",))
    return Section("group", "What rulebooks ask of a group", 2, (Prose((NOT_CERTIFICATION,)), known))


def _method() -> Section:
    return Section("method", "How this was found", 2, (Prose(_METHOD),))


def build_manifest(result: CoopResult) -> Register:
    """Every member with its state and fingerprint."""
    columns = (
        RegisterColumn("Member", 0.12),
        RegisterColumn("Name", 0.2),
        RegisterColumn("Readiness", 0.14),
        RegisterColumn("Handed in", 0.2),
        RegisterColumn("SHA-256", 0.34),
    )
    rows = tuple(
        (
            f"manifest/{view.member.key}",
            (
                ((view.member.key, f"member/{view.member.key}"),),
                ((view.member.name, ""),),
                ((view.readiness, ""),),
                ((view.member.path, ""),),
                ((view.summary.fingerprint or "not read", ""),),
            ),
        )
        for view in result.members
    )
    return Register("members", "Members", "", columns, rows)
