"""What went wrong, what was done about it, and what was cleaned with."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import is_in
from certgen.rules.clauses import NOT_MIXED
from certgen.rules.findings import Finding
from certgen.rules.harvest.picked_since import PickedSince
from certgen.rules.registry import rule
from certgen.rules.seed.holds import list_sound_tests
from certgen.rules.wording import capital, day, join, name, noun

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case

#: Kinds of incident that touch the claim itself.
_GRAVE: Final = ("positive screening", "drift", "mixing", "recall")


#: Words for cleaning without any agent.
_PLAIN: Final = frozenset(
    ("none", "nothing", "no", "but", "only", "just", "plain", "clean", "hot", "warm", "cold", "boiling",
     "water",
     "steam", "air", "dry", "dried", "by", "hand", "and", "with", "a", "brush", "brushed", "vacuum", "cloth")
)  # fmt: skip


@rule(
    weight="advice",
    clauses=("eu:2018/848 annex II 1.11", "us-nop:205.201(a)(2)", "us-nop:205.601"),
    remedy="Write under `agent_allowed_by` the paragraph, the list or the page of your plan that allows it.",
)
def cleaning_agent_unlisted(case: Case) -> Iterator[Finding]:
    """Something besides water was used to clean, and nothing says what allows it.

    What cleans a mixer touches the seed that goes through it next. Only agents that a standard allows are
    used, and rinsed off as it says.
    """
    cleanings = case.columns("cleaning")
    unlisted = cleanings.known("agent") & cleanings.absent("agent_allowed_by")
    for row, cleaning, agent in cleanings.rows("cleaning", "agent", where=unlisted):
        if not set(re.findall(r"\w+", agent.casefold())) <= _PLAIN:
            yield Finding(
                "cleaning",
                cleaning,
                row,
                ("agent",),
                f"Cleaning {cleaning} was done with {agent}, and nothing says what allows it.",
                cause=agent.casefold(),
                reaches=(),
            )


@rule(
    weight="advice",
    clauses=("us-nop:205.271",),
    remedy="Write under `action` what was done: how they were kept out, caught or driven away, and what "
    "was used, if anything.",
)
def store_pests_unanswered(case: Case) -> Iterator[Finding]:
    """Pests were found in the store, and nothing says what was done against them.

    Keeping out comes first, then traps; what else is used must never touch the seed. A record of it is what
    an inspector asks for.
    """
    incidents = case.columns("incidents")
    silent = (incidents["kind"] == "store pests") & incidents.absent("action")
    for row, identifier, when in incidents.rows("incident", "date", where=silent):
        yield Finding(
            "incidents",
            identifier,
            row,
            ("action",),
            f"Incident {identifier} of {day(when)} tells of pests in the store, and not of what was done.",
            reaches=(),
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.400(f)", "us-nop:memo 11-13", "eu:2018/848 27", "eu:2021/279 1"),
    remedy="Write under `action` what was done, and under `closed` the day on which it was settled.",
)
def incident_open(case: Case) -> Iterator[Finding]:
    """Something went wrong, and nothing says what was done about it or that it was settled.

    Nobody is blamed for a storm. What is asked is what was done, and with which seed.
    """
    incidents = case.columns("incidents")
    # Pests in the store have a rule of their own.
    silent = incidents.absent("action") & (incidents["kind"] != "store pests")
    for row, identifier, kind, about, action, closed in incidents.rows(
        "incident", "kind", "about", "action", "closed", where=silent | incidents.absent("closed")
    ):
        missing = [
            word for word, there in (("action", action), ("day on which it was closed", closed)) if not there
        ]
        said = f"no {missing[0]}" if len(missing) == 1 else f"neither {missing[0]} nor {missing[1]}"
        yield Finding(
            "incidents",
            identifier,
            row,
            ("action",) if not action else ("closed",),
            f"Incident {identifier} ({kind}, about {join(about)}) has {said}.",
            weight="advice",
            reaches=(),
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Name under `about` the trees, bags, batches or lots concerned.",
)
def incident_about_nothing(case: Case) -> Iterator[Finding]:
    """Something went wrong, and nothing says with what.

    An inspector will ask which seed it was. As long as nobody says, it may have been any.
    """
    incidents = case.columns("incidents")
    for row, identifier, kind in incidents.rows("incident", "kind", where=incidents.absent("about")):
        yield Finding(
            "incidents",
            identifier,
            row,
            ("about",),
            f"Incident {identifier} ({kind}) names nothing that it is about.",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.400(f)", "eu:2018/848 27"),
    remedy="Name under `evidence` what shows how it ended: a letter, a test, the buyer's answer. Closing the "
    "incident or telling what was done shows nothing by itself.",
)
def incident_unresolved(case: Case) -> Iterator[Finding]:
    """Something went wrong with a lot, by its own record, and nothing shows how it ended.

    While a lot is in question, by a complaint or a recall or whatever else is written about it, it isn't
    proved. What settles it is a paper or a test, not the word 'closed'. Seed that got into it has a rule of
    its own.
    """
    incidents, lots = case.columns("incidents"), case.columns("lots").first("lot")
    if not len(incidents):
        return
    tested = list_sound_tests(case)
    for row, identifier, kind, about, when in incidents.rows(
        "incident", "kind", "about", "date", where=_unshown(case) & (incidents["kind"] != "mixing")
    ):
        named = [one for one in about if one in lots]
        doubtful = [lot for lot in named if not (when and tested.get(lot, date.min) >= when)]
        if doubtful:
            yield Finding(
                "incidents",
                identifier,
                row,
                ("evidence",),
                f"Incident {identifier} ({kind}) is about {name('lots', doubtful)}, and no paper or test"
                " shows how it ended.",
                reaches=tuple(Node("lots", lot) for lot in doubtful),
                supply=f"what shows how incident {identifier} ended",
            )


def _unshown(case: Case) -> Array:
    """For each incident: does no file that lies in the evidence folder stand at it?"""
    shown: Array = case.filed(case.columns("incidents")["evidence"])
    return ~shown


@rule(
    weight="rejects",
    clauses=(*NOT_MIXED, "us-nop:205.103(b)(2)"),
    remedy="Take the part out while it can still be told apart, and enter it as `discarded` or give the "
    "rest a new lot. A test of the seed can show what is in it; closing the incident shows nothing.",
)
def incident_of_mixing(case: Case) -> Iterator[Finding]:
    """The grower's own record says that other seed got into a run, a picking or a lot.

    It does what the fact itself would do. Into a lot it came on a day: what had left before isn't touched.
    """
    incidents, lots = case.columns("incidents"), case.columns("lots").first("lot")
    tables = ("batches", "harvests", "bagging")
    mixing = incidents["kind"] == "mixing"
    for row, identifier, about, when in incidents.rows("incident", "about", "date", where=mixing):
        for one in about:
            said = f"Incident {identifier} of {day(when)} says that other seed got into"
            at = ("incidents", identifier, row, ("about",))
            if one in lots:
                yield Finding(
                    *at,
                    f"{said} lot {one}.",
                    weight="rejects",
                    reaches=(Node("incidents", identifier),),
                    touches="mixed",
                    names=(one,),
                )
                continue
            node = next(
                (Node(table, one) for table in tables if case.season.row(table, one) is not None), None
            )
            if node is not None:
                yield Finding(
                    *at,
                    f"{said} {noun(node.table)} {one}.",
                    weight="rejects" if case.lineage.lots_reached(node) else "advice",
                    reaches=(node,),
                )


@rule(
    weight="unproven",
    clauses=(
        "us-nop:205.202(b)",
        "us-nop:205.400(f)",
        "us-nop:205.201(a)(5)",
        "eu:2018/848 28",
        "canada:5.2",
    ),
    remedy="Name under `evidence` the certifier's word on the land or a test for residues, and enter under "
    "`last_prohibited_substance` what came onto it.",
)
def incident_of_drift(case: Case) -> Iterator[Finding]:
    """Something drifted onto the land of parents, and nothing shows what it was or what the certifier says.

    What a neighbour sprayed may have been prohibited. Fruit picked since isn't proved organic until a paper
    says so, whether the incident is closed or not.
    """
    incidents = case.columns("incidents")
    drift = incidents["kind"] == "drift"
    if not drift.any():
        return
    picked, land_of = PickedSince(case), cache(lambda about: _land_of(case, set(about)))
    for row, identifier, about, when in incidents.rows(
        "incident", "about", "date", where=drift & _unshown(case)
    ):
        named = set(about)
        nodes = picked.find(land_of(about), when, undated=False)
        harvests = case.columns("harvests")["harvest"][nodes.rows].tolist()
        told = f" {capital(name('harvests', harvests))} {'was' if len(harvests) == 1 else 'were'} made since."
        yield Finding(
            "incidents",
            identifier,
            row,
            ("evidence",),
            f"Incident {identifier} of {day(when)} tells of drift onto {join(sorted(named))}."
            f"{told if harvests else ''}",
            reaches=nodes,
            supply=f"the certifier's word on incident {identifier}",
        )


def _land_of(case: Case, named: set[str]) -> set[str]:
    """The names, and the blocks of the plantings, trees and bags among them."""
    trees = named | _told(case.columns("bagging"), "bag", named, "tree")
    planted = _told(case.columns("plantings"), "planting", named, "block")
    return named | planted | _told(case.joined("trees"), "tree", trees, "block")


def _told(columns: Columns, key: str, wanted: set[str], name: str) -> set[str]:
    found = columns.look_up(key, np.array(list(wanted), dtype=object), name)
    return set(found.tolist()) - {None}


@rule(
    weight="advice",
    clauses=("us-nop:205.400(f)", "eu:2018/848 27"),
    remedy="Tell the certifier, and write the day under `certifier_notified`.",
)
def certifier_not_told(case: Case) -> Iterator[Finding]:
    """Something happened that touches the claim, and nothing shows that the certifier was told.

    Standards ask that the certifier hears at once of drift and of whatever puts the status in doubt. Hearing
    of it at the inspection is too late.
    """
    asked = case.demand("notify_certifier")
    if not asked:
        return
    incidents = case.columns("incidents")
    silent = is_in(incidents["kind"], _GRAVE) & incidents.absent("certifier_notified")
    for row, identifier, kind in incidents.rows("incident", "kind", where=silent):
        yield Finding(
            "incidents",
            identifier,
            row,
            ("certifier_notified",),
            f"Incident {identifier} ({kind}) doesn't say when the certifier was told.",
            weight="advice",
            reaches=(),
            clauses=tuple(demand.clause for _, demand in asked),
        )
