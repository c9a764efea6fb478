"""The organic plan: its sections as papers, and the records that cite them."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.validity import add_years
from certgen.records.nouns import noun
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.rules.case import Case

#: A section as records cite it: `plan 4`, `plan section 4b, list no. 2`. 'plan, page 4' names a page.
_CITED: Final = re.compile(
    r"plan (?:section )?([A-Za-z0-9._/-]*[0-9][A-Za-z0-9._/-]*|[A-Za-z])\b(?![A-Za-z])", re.IGNORECASE
)
#: Which fields may cite a section, and by which day each has to hold.
_CITING: Final = (
    ("inputs", "allowed_by", "date"), ("cleaning", "agent_allowed_by", "date"), ("materials", "paper", ""),
)  # fmt: skip


def plan_sections(case: Case) -> dict[str, Mapping[str, Any]]:
    """The plan's sections by their number, the first of each, in the order of the season's list."""
    found: dict[str, Mapping[str, Any]] = {}
    for section in case.season.details.raw.get("plan") or ():
        found.setdefault(str(section["section"]), section)
    return found


def cited_section(text: str) -> str | None:
    """The section of the plan that a permission begins with, or None if it cites none."""
    found = _CITED.match(" ".join(text.split()))
    return found[1].rstrip(".") if found else None


@rule(
    weight="advice",
    clauses=("us-nop:205.201(a)(2)", "us-nop:205.400(b)"),
    remedy="Correct the number, or enter the section under `plan` in the season with its paper and its days.",
)
def plan_section_unfit(case: Case) -> Iterator[Finding]:
    """A record cites a section of the plan that isn't among its papers, or didn't hold on that day.

    A citation is worth what one finds when one looks it up.
    """
    sections = plan_sections(case)
    if not sections:
        return
    for table, field, dated in _CITING:
        columns = case.columns(table)
        if not len(columns):
            continue
        key = {"inputs": "input", "cleaning": "cleaning", "materials": "material"}[table]
        told = (key, field, *([dated] if dated else []))
        for row, identifier, text, *when in columns.rows(*told, where=case.own(table) & columns.known(field)):
            cited = cited_section(text)
            why = "" if cited is None else _unfit(sections.get(cited), when[0] if when else None)
            if why:
                yield Finding(
                    table,
                    identifier,
                    row,
                    (field,),
                    f"{capital(noun(table))} {identifier} cites section {cited} of the plan, {why}.",
                    cause=(table, cited, why),
                    reaches=(),
                )


def _day(section: Mapping[str, Any], field: str) -> date | None:
    stated = section.get(field)
    return date.fromisoformat(str(stated)[:10]) if stated else None


def _unfit(section: Mapping[str, Any] | None, when: date | None) -> str:
    if section is None:
        return "and the season names no such section"
    last, first = _day(section, "until"), _day(section, "date")
    if when is not None and last is not None and when > last:
        return f"which held until {day(last)} only"
    if when is not None and first is not None and when < first:
        return f"which is only of {day(first)}"
    return ""


@rule(
    weight="advice",
    clauses=("us-nop:205.400(b)", "us-nop:205.406(a)"),
    remedy="Look each section over, write the day of its new version under `date`, and send it to the "
    "certifier.",
)
def plan_outdated(case: Case) -> Iterator[Finding]:
    """Sections of the plan are more than a year old.

    A plan is looked over every year, even where nothing changed; the day says that it was.
    """
    if not case.demand("annual_update"):
        return
    upto = min(case.on, case.season.details.end)
    old = [
        (section, first)
        for section, told in plan_sections(case).items()
        if (first := _day(told, "date")) is not None and add_years(first, 1) < upto
    ]
    if old:
        oldest = min(first for _, first in old)
        several = "s" if len(old) > 1 else ""
        yield Finding(
            "season",
            case.season.details.label,
            None,
            ("plan",),
            f"Section{several} {join([section for section, _ in old])} of the plan"
            f" {'are' if several else 'is'} more than a year old by {day(upto)}"
            f" ({'the oldest ' if several else ''}of {day(oldest)}).",
            reaches=(),
        )
