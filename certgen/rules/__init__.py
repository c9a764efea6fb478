"""The rules: what is checked in a season, and the gaps they find."""

from __future__ import annotations

from certgen.rules.case import Case
from certgen.rules.findings import WEIGHTS, Crash, Explanation, Finding, Gap, Weight
from certgen.rules.registry import CRASHED, STAGES, Rule, load_rules
from certgen.rules.runner import run_rules

#: Every rule by slug, in running order.
RULES = load_rules()

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
