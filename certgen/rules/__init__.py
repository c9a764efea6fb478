"""The rules: what is checked in a season, and the gaps they find.

The folders follow the job: `growing` (land, trees, plantings), `samples`, `pollination` (bags), `harvest`
(from fruit to dry seed), `seed` (lots, tests, stock, sales), and `record_keeping` for the records as such.
A rule's stage is the module that it stands in; `registry.STAGE_MODULES` gives their order. What every rule
may look at is the `case`; the `runner` makes gaps of findings.

Why it is as it is:

- A rule is called by a slug that says the fault, never by a number: people quote it in letters and
  explanations. A slug is never used for something else; one that is renamed stays as a signpost.
- A rule that crashes becomes a gap that leaves every lot unproven, and the command ends with 3: nobody knows
  what it would have found, and silence would be worse.
- Under one of several standards a gap counts if its rule cites that rulebook or shares a subject with it
  (`standards/data/subjects.yaml`, our reading); what rests on practice alone counts under each. A person has
  to read the page where the standards part.

A rule asks arrays: `case.columns("bagging")` has a table's, `case.joined("bags")` those of a table that is
joined to others; it selects offenders in bulk (`bags.rows("bag", …, where=mask)`) and loops over them only.
What is absent is None, NaN or NaT, and equals nothing (`is_equal` where two columns are compared).
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.rules.case import Case
    from certgen.rules.findings import WEIGHTS, Crash, Explanation, Finding, Gap, Weight
    from certgen.rules.registry import CRASHED, STAGES, Rule
    from certgen.rules.runner import run_rules

    #: Every rule by slug, in running order.
    RULES: Mapping[str, Rule]

__all__ = [
    "CRASHED",
    "RULES",
    "STAGES",
    "WEIGHTS",
    "Case",
    "Crash",
    "Explanation",
    "Finding",
    "Gap",
    "Rule",
    "Weight",
    "run_rules",
]

#: The module in which each of these lies.
_MODULES: Final = {
    **dict.fromkeys(("WEIGHTS", "Crash", "Explanation", "Finding", "Gap", "Weight"), "findings"),
    **dict.fromkeys(("CRASHED", "STAGES", "Rule"), "registry"),
    "Case": "case",
    "run_rules": "runner",
}


def __getattr__(name: str) -> object:
    # The rules take half of what a command takes to start, and many need only words of this room.
    if name == "RULES":
        from certgen.rules.registry import load_rules

        return load_rules()
    if name in _MODULES:
        return getattr(import_module(f"certgen.rules.{_MODULES[name]}"), name)
    raise AttributeError(name)
