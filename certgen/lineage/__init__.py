"""How the season's records hang together, and what that makes of each lot's standing.

Nothing here judges a record: the links are what the records say, and a lot's standing follows from
the gaps that the rules found.
"""

from __future__ import annotations

from certgen.lineage.building import build_lineage
from certgen.lineage.faults import Fault
from certgen.lineage.graph import CLAIM_KINDS, LINK_KINDS, Lineage, Link, Node
from certgen.lineage.judging import Trials, judge_lots
from certgen.lineage.mending import Mend, Mending, find_mending
from certgen.lineage.standing import LotStanding, Part, Standings
from certgen.lineage.suppositions import SuppositionError, suppose

__all__ = [
    "CLAIM_KINDS",
    "LINK_KINDS",
    "Fault",
    "Lineage",
    "Link",
    "LotStanding",
    "Mend",
    "Mending",
    "Node",
    "Part",
    "Standings",
    "SuppositionError",
    "Trials",
    "build_lineage",
    "find_mending",
    "judge_lots",
    "suppose",
]
