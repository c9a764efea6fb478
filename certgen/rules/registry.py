"""The rules, each registered by its function; complete and closed once somebody asks for `RULES`."""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

from certgen.rules.findings import WEIGHTS, Finding, Weight

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from certgen.rules.case import Case

    Check = Callable[[Case], Iterator[Finding]]

Turn = Literal["records", "claim", "sowing", "standings", "gaps"]

#: One module a stage of the job, in the order in which their rules run: a rule can come `after` rules
#: of its own module and of those above.
STAGE_MODULES: Final = (
    "record_keeping.records",
    "record_keeping.references",
    "record_keeping.dates",
    "growing.land",
    "growing.orchard",
    "growing.plantings",
    "growing.parents",
    "growing.selection",
    "growing.inputs",
    "growing.compost",
    "growing.pests",
    "growing.land_map",
    "samples.screening",
    "samples.custody",
    "samples.detection",
    "pollination.bagging",
    "pollination.covering",
    "harvest.processing",
    "harvest.picking",
    "harvest.ripeness",
    "harvest.extraction",
    "harvest.equipment",
    "harvest.drying",
    "record_keeping.visits",
    "record_keeping.follow_up",
    "seed.lots",
    "seed.suppliers",
    "seed.seed_tests",
    "seed.treatment",
    "seed.storage",
    "seed.holds",
    "seed.recalls",
    "seed.sales",
    "seed.germination",
    "seed.germination_conditions",
    "seed.labels",
    "seed.stock",
    "record_keeping.papers",
    "record_keeping.certificates",
    "record_keeping.plan",
    "claim",
    "record_keeping.explanations",
)
#: What the stages are called, in that order.
STAGES: Final = tuple(module.rpartition(".")[2] for module in STAGE_MODULES)
#: Not a rule that anyone wrote for the season: what becomes of one that fails.
CRASHED: Final = "rule-crashed"


@dataclass(frozen=True, slots=True)
class Rule:
    """One check: what it is called, how heavy its gaps are, what they rest on, and why it matters.

    `stage` is the module it lives in, which is the stage of the job that it looks at. `turn` says what it
    looks at: the season's records, what of the claim the other rules leave open (`claim`), the standing of
    lots that seed was sown from (`sowing`) or of any (`standings`), or the gaps themselves. `packed` is what
    mends it when the seed is in a lot already, where that is something else than the `remedy`.
    """

    slug: str
    weight: Weight
    clauses: tuple[str, ...]
    remedy: str
    after: tuple[str, ...]
    why: str
    stage: str
    check: Check
    turn: Turn = "records"
    packed: str = ""

    @property
    def title(self) -> str:
        """The first sentence of the why."""
        return self.why.partition("\n\n")[0].replace("\n", " ").strip()

    def mend(self, *, in_a_lot: bool) -> str:
        """What mends a gap of the rule, where the seed is in a lot already or isn't."""
        return (self.packed if in_a_lot else "") or self.remedy


_registered: dict[str, Rule] = {}
#: Every rule by slug in running order, once all are there.
_closed: list[Mapping[str, Rule]] = []


def rule(
    *,
    weight: Weight,
    clauses: tuple[str, ...],
    remedy: str,
    after: tuple[str, ...] = (),
    turn: Turn = "records",
    packed: str = "",
) -> Callable[[Check], Check]:
    """Registers a generator of findings under its function's name, which names the fault.

    Its docstring says why the fault matters. A missing docstring, a slug given twice, an unknown
    weight or a clause without its rulebook is refused at import.
    """

    def register(check: Check) -> Check:
        slug = check.__name__.replace("_", "-")
        why = inspect.getdoc(check) or ""
        faults = {
            "has no docstring to say why": not why.strip(),
            "is registered twice": slug in _registered or slug == CRASHED,
            "comes after the registry was closed": bool(_closed),
            f"has an unknown weight {weight!r}": weight not in WEIGHTS,
            "says nothing about mending": not remedy,
            "rests on nothing": not clauses,
            "names a clause without its rulebook": any(":" not in clause for clause in clauses),
        }
        for fault, found in faults.items():
            if found:
                message = f"rule {slug} {fault}"
                raise ValueError(message)
        stage = check.__module__.rpartition(".")[2]
        cited = tuple(dict.fromkeys(clauses))
        _registered[slug] = Rule(slug, weight, cited, remedy, tuple(after), why, stage, check, turn, packed)
        return check

    return register


def load_rules() -> Mapping[str, Rule]:
    """Every rule by slug, in running order. Imports the stages once and closes the registry.

    Raises ValueError for a rule that comes `after` one that isn't registered, or runs later.
    """
    if not _closed:
        for module in STAGE_MODULES:
            import_module(f"certgen.rules.{module}")
        _closed.append(MappingProxyType(_arrange()))
    return _closed[0]


def _arrange() -> dict[str, Rule]:
    """The rules in the order of their stages, whichever of these was imported first."""
    order = {f"certgen.rules.{module}": number for number, module in enumerate(STAGE_MODULES)}
    arranged: dict[str, Rule] = {}
    for one in sorted(_registered.values(), key=lambda one: order.get(one.check.__module__, len(order))):
        if lost := [slug for slug in one.after if slug not in arranged]:
            message = f"rule {one.slug} comes after {lost[0]}, which isn't registered or runs later"
            raise ValueError(message)
        arranged[one.slug] = one
    return arranged


def unknown_clauses(rules: Mapping[str, Rule]) -> dict[str, tuple[str, ...]]:
    """Clauses that no rulebook and no crop profile holds, by rule. Empty when all is well."""
    from certgen.standards import PROFILES, StandardError, clause_of, load_profile

    profiles = [load_profile(name) for name in PROFILES]

    def known(clause: str) -> bool:
        for profile in profiles:
            try:
                clause_of(clause, profile)
            except (StandardError, KeyError):
                continue
            return True
        return False

    missing = {
        slug: tuple(clause for clause in one.clauses if not known(clause)) for slug, one in rules.items()
    }
    return {slug: clauses for slug, clauses in missing.items() if clauses}
