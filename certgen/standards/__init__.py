"""What a season is checked against: rulebooks of organic and seed law, and crop profiles, all of it data.

A crop is one file in `data/profiles/`, a rulebook one in `data/rulebooks/`. Each figure and clause carries
its source and how it was read (read, partly read, from memory, derived) or the words *common practice*.
What a rulebook does not ask for stays absent, and the rules that need it stay silent. A practice figure is
never called a standard; where opinions differ it carries `opinions`, each with its mark, which are told and
move no bound. What can hurt someone in the work with a crop stands in `data/cautions.yaml`, with the work
it goes with and whom it defers to; `tests/cli/test_cautions.py` names every output that must carry it. A
prohibited name is a line in `data/prohibited.yaml`, with source and mark, and no product's name.
"""

from __future__ import annotations

from certgen.standards.cautions import Caution, Cautions, pieces_of_work
from certgen.standards.coverage import Coverage, clauses_of, coverage, pages
from certgen.standards.crossing import Crossing, crossing
from certgen.standards.loader import PROFILES, RULEBOOKS, clause_of, load_profile, load_rulebook
from certgen.standards.practice import Practice
from certgen.standards.profile import ROLES, WORDS, Inheritance, Listing, Profile
from certgen.standards.prohibited import ProhibitedName, find_prohibited, list_prohibited
from certgen.standards.reading import StandardError
from certgen.standards.rulebook import Clause, Demand, DemandKind, Rulebook, demand_kinds
from certgen.standards.screening import Event, Method, Target

__all__ = [
    "PROFILES",
    "ROLES",
    "RULEBOOKS",
    "WORDS",
    "Caution",
    "Cautions",
    "Clause",
    "Coverage",
    "Crossing",
    "Demand",
    "DemandKind",
    "Event",
    "Inheritance",
    "Listing",
    "Method",
    "Practice",
    "Profile",
    "ProhibitedName",
    "Rulebook",
    "StandardError",
    "Target",
    "clause_of",
    "clauses_of",
    "coverage",
    "crossing",
    "demand_kinds",
    "find_prohibited",
    "list_prohibited",
    "load_profile",
    "load_rulebook",
    "pages",
    "pieces_of_work",
]
