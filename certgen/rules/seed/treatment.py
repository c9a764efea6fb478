"""What seed was treated with against disease or pests."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import capital
from certgen.standards import find_prohibited

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


@rule(
    weight="rejects",
    clauses=("us-nop:205.601", "us-nop:205.602"),
    remedy="If the entry is right, keep the seed apart and tell the certifier before any of it is sold: "
    "it can't be sold as organic. If it was another substance, correct it.",
)
def seed_treatment_prohibited(case: Case) -> Iterator[Finding]:
    """Seed was treated with something that no organic standard allows, by its own name in the record.

    The list of names is a starting one, and what isn't on it is not therefore allowed: ask the certifier
    before any treatment touches seed. Hot water is a treatment too, and names nothing that is forbidden.
    """
    for table, key in (("batches", "batch"), ("lots", "lot")):
        records = case.columns(table)
        treated = records.known("treatment.with") & (records["status"] != "conventional")
        for row, identifier, substance in records.rows(key, "treatment.with", where=treated):
            named = find_prohibited(substance)
            if named is None:
                continue
            yield Finding(
                table,
                identifier,
                row,
                ("treatment.with",),
                f"{capital(substance)} was put on the seed of {key} {identifier}. No standard here"
                f" allows {named.name} ({named.kind}, {named.mark}).",
                touches="whole" if table == "lots" else "own",
            )
