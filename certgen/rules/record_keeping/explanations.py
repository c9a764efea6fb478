"""Explanations: a grower's words beside a gap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.record_files.mistakes import RENAMED
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(5)",),
    remedy="Take the explanation out, or correct the rule's name or the numbers that it speaks about.",
    turn="gaps",
)
def explanation_idle(case: Case) -> Iterator[Finding]:
    """An explanation speaks of a gap that isn't there (any more).

    It would be printed nowhere. Either the gap is mended, or the explanation names the wrong rule or record.
    """
    explanations = case.columns("explanations")
    if not len(explanations):
        return
    explained = {(gap.rule, identifier) for gap in case.gaps for identifier in gap.ids}
    for row, slug, about in explanations.rows("rule", "about"):
        if not any((slug, identifier) in explained for identifier in about):
            now = f" The rule is now called '{RENAMED[slug]}'." if slug in RENAMED else ""
            yield Finding(
                "explanations",
                slug,
                row,
                ("rule",),
                f"An explanation speaks of the gap '{slug}' at {join(about)}, and there is no such gap.{now}",
            )
