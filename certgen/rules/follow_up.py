"""What was put on the land, what went wrong, and what was done about it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.selection import look_up, rows
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case

#: Kinds of incident that touch the claim itself.
_GRAVE: Final = ("positive screening", "drift", "mixing", "recall")


@rule(
    weight="unproven",
    clauses=(
        "us-nop:205.201(a)(2)",
        "us-nop:205.601",
        "us-nop:205.602",
        "us-nop:205.206",
        "eu:2018/848 annex II 1.9.3",
        "eu:2018/848 annex II 1.10.2",
        "canada:5.1",
    ),
    remedy="Write under `allowed_by` the paragraph, the list or the page of your plan that allows the "
    "material. If you find none, tell the certifier before anything is sold.",
    after=("date-in-future",),
)
def input_unlisted(case: Case) -> Iterator[Finding]:
    """Something was put on organic land, and nothing says what allows it.

    Whatever the standard doesn't allow is prohibited, and one wrong bag costs the land its years. On land
    in transition the years begin anew.
    """
    frame = case.season.table("inputs")
    status = look_up(frame["block"], case.keyed("blocks")["status"])
    bare = frame[frame["allowed_by"].isna() & (status != "conventional")]
    for row, identifier, material, block in rows(bare, "input", "material", "block"):
        yield Finding(
            "inputs",
            identifier,
            row,
            ("allowed_by",),
            f"{material[:1].upper()}{material[1:]} was put on block {block} (input {identifier}), and "
            f"nothing says what allows it.",
            reaches=(Node("blocks", block),),
            supply=f"what allows input {identifier}",
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.400(f)", "us-nop:memo 11-13", "eu:2018/848 27", "eu:2021/279 1"),
    remedy="Write under `action` what was done, and under `closed` the day on which it was settled.",
)
def incident_open(case: Case) -> Iterator[Finding]:
    """Something went wrong, and nothing says what was done about it or that it was settled.

    Nobody is blamed for a storm. What is asked is what was done, and with which seed. While a lot that it
    names is in question, it isn't proved.
    """
    frame = case.season.table("incidents")
    lots = set(case.keyed("lots").index)
    for row, identifier, kind, about, action, closed in rows(
        frame[frame["action"].isna() | frame["closed"].isna()],
        "incident",
        "kind",
        "about",
        "action",
        "closed",
    ):
        missing = [
            word for word, there in (("action", action), ("day on which it was closed", closed)) if not there
        ]
        named = [one for one in about if one in lots]
        said = f"no {missing[0]}" if len(missing) == 1 else f"neither {missing[0]} nor {missing[1]}"
        weight: Weight = "unproven" if named else "advice"
        yield Finding(
            "incidents",
            identifier,
            row,
            ("action",) if not action else ("closed",),
            f"Incident {identifier} ({kind}, about {join(about)}) has {said}.",
            weight=weight,
            reaches=tuple(Node("lots", lot) for lot in named),
            supply=f"what was done about incident {identifier}",
        )


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
    frame = case.season.table("incidents")
    silent = frame[frame["kind"].isin(_GRAVE) & frame["certifier_notified"].isna()]
    for row, identifier, kind in rows(silent, "incident", "kind"):
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
