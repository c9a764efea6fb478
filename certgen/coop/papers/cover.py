"""The first page of a co-op's report."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING, Final

from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.members.facts import Grams
from certgen.coop.papers.readiness import READINESS_MARKS
from certgen.manifest import write_fingerprint
from certgen.records.quantities import format_mass
from certgen.report.wording import cell, count_of, fact, whole
from certgen.rules.wording import day
from certgen.typeset.first_page import Cover

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult

_IS: Final = (
    "What the records of a co-op’s members show, each examined on its own, and whether their papers agree "
    "with one another’s. It supports a certifier's decision and the office's own work."
)


def print_of(result: CoopResult) -> str:
    """What a printed page is matched to its file by: the first digits of the fingerprint of all that was
    handed in, which each run of `certgen coop` prints.
    """
    return write_fingerprint(result.sample.key.fingerprint)


def build_cover(result: CoopResult) -> Cover:
    """The first page."""
    coop, totals = result.coop, result.totals
    standing = reduce(Grams.plus, (view.standing for view in result.members), Grams())
    ready = [
        cell(f"{whole(count)} {word}", mark=READINESS_MARKS[word])
        for word, count in result.readiness.items()
        if count
    ]
    grams = [cell(f"{format_mass(mass)} {word}", mark=word) for mass, word in standing.split()]
    return Cover(
        title="Seed traceability report of a co-op",
        operation=coop.name,
        season=f"{count_of('member', len(result.members))} · records as of {day(result.on)}",
        facts=(
            fact("Members", whole(len(result.members))),
            fact("Certifier", coop.certifier or "not recorded"),
            fact("Group’s certificate", coop.certificate or "none: each member has its own"),
            fact("Records as of", day(result.on)),
        ),
        verdict=(*ready, *grams),
        is_text=_IS,
        is_not_text=NOT_CERTIFICATION,
        file=(
            fact(
                "Records",
                f"{whole(sum(totals.records.values()))} in {count_of('season', totals.seasons)}",
            ),
            fact("Between members", result.agreement.rstrip(".")),
            fact("Fingerprint", f"{print_of(result)}, at the foot of every page; all of it at the draw"),
            fact("Made by", f"certgen {result.version}; the same records give the same file"),
        ),
    )
