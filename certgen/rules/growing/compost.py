"""Own compost: whether its heap grew hot enough for long enough, and manure that no heap has changed."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.rules.findings import Finding
from certgen.rules.growing.approvals import find_approvals
from certgen.rules.growing.inputs import claimed_inputs
from certgen.rules.registry import rule
from certgen.rules.wording import capital, count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.rules.case import Case
    from certgen.standards import Demand

_ASKED: Final = (
    "compost_c_low", "compost_c_high", "compost_days_closed", "compost_days_windrow", "compost_turnings",
)  # fmt: skip
_MANURE: Final = re.compile(r"\b(?:manures?|dung|slurry|droppings|(?:poultry|chicken) litter)\b")
_RAW: Final = re.compile(r"\b(?:raw|fresh|uncomposted|not (?:yet )?composted)\b")
_CHANGED: Final = re.compile(
    r"\b(?:compost(?:ed)?|heat[- ]treated|processed|pelleted|pellets|sterili[sz]ed)\b"
)
_GREEN: Final = re.compile(r"\bgreen manures?\b")


@dataclass(frozen=True, slots=True)
class HotSpell:
    """Days from the first to the last reading of an unbroken run of readings within the asked heat."""

    first: date
    last: date

    @property
    def days(self) -> int:
        """Both ends counted."""
        return (self.last - self.first).days + 1


def find_spells(readings: Sequence[Mapping[str, Any]], low: float, high: float, gap: float) -> list[HotSpell]:
    """The hot spells of a heap, in the order of days.

    `readings` have `date` and `temperature_c`; of several on a day the highest counts. A reading outside
    `low` to `high` °C ends a spell, and so do more than `gap` days without one.
    """
    highest: dict[date, float] = {}
    for reading in readings:
        when, heat = reading["date"], reading["temperature_c"]
        highest[when] = max(heat, highest.get(when, heat))
    spells: list[HotSpell] = []
    open_ = False
    for when in sorted(highest):
        hot = low <= highest[when] <= high
        if hot and open_ and (when - spells[-1].last).days <= gap:
            spells[-1] = HotSpell(spells[-1].first, when)
        elif hot:
            spells.append(HotSpell(when, when))
        open_ = hot
    return spells


def _asked(case: Case) -> Mapping[str, Demand] | None:
    """What the first of the season's standards that says how compost is made asks for."""
    for book in case.rulebooks:
        if all(key in book.demands for key in _ASKED):
            return {key: book.demands[key] for key in _ASKED}
    return None


def unshown_heaps(case: Case) -> dict[str, str]:
    """By heap what its record doesn't show of how compost is made, in words; sound heaps are left out."""
    asked = _asked(case)
    gap = case.practice("compost_reading_gap_days")
    if asked is None or gap is None:
        return {}
    figures = {key: float(demand.value) for key, demand in asked.items()}  # type: ignore[arg-type]
    columns = ("heap", "method", "temperatures", "turnings")
    lacks: dict[str, str] = {}
    for _, heap, method, readings, turnings in case.columns("compost").rows(*columns):
        if heap is not None and heap not in lacks:
            lacks[heap] = _lack(method, readings, turnings, figures, float(gap.high or 0))
    return {heap: lack for heap, lack in lacks.items() if lack}


def _lack(
    method: str | None,
    readings: Sequence[Any],
    turnings: Sequence[str],
    figures: Mapping[str, float],
    gap: float,
) -> str:
    if method is None:
        return "nothing says how it was made"
    if not readings:
        return "no temperature of it is recorded"
    windrow = method == "windrow"
    wanted = int(figures["compost_days_windrow" if windrow else "compost_days_closed"])
    low, high = figures["compost_c_low"], figures["compost_c_high"]
    spells = find_spells(readings, low, high, gap)
    enough = [spell for spell in spells if spell.days >= wanted]
    if not enough:
        longest = max((spell.days for spell in spells), default=0)
        kind = "a windrow" if windrow else "a vessel or a heap with air led through"
        return (
            f"its readings show {count(longest, 'day')} on end at {low:g} to {high:g} °C, of {wanted} that"
            f" are asked of {kind}"
        )
    return _lack_of_turning(enough, turnings, int(figures["compost_turnings"])) if windrow else ""


def _lack_of_turning(spells: Sequence[HotSpell], turnings: Sequence[str], asked: int) -> str:
    days = {date.fromisoformat(str(when)) for when in turnings}
    turned = max(sum(one.first <= when <= one.last for when in days) for one in spells)
    if turned >= asked:
        return ""
    times = "once" if turned == 1 else f"{turned} times"
    return f"it was turned {times} in its hot days, of {asked} that are asked of a windrow"


@rule(
    weight="advice",
    clauses=("us-nop:205.203(c)(2)",),
    remedy="Enter under `temperatures` and `turnings` what was read and done. If the heap didn't get hot "
    "enough, what has manure in it counts as raw manure, and the certifier is asked about the rest.",
)
def compost_unshown(case: Case) -> Iterator[Finding]:
    """Compost was used, and its heap's record doesn't show that it was hot enough for long enough.

    Heat and turning are what make manure and waste into compost. Readings more than a few days apart show
    nothing of the days between them.
    """
    asked, lacks = _asked(case), unshown_heaps(case)
    used = _uses(case) if lacks else {}
    rows = case.columns("compost").first("heap")
    for heap, lack in lacks.items():
        if heap in used and asked is not None:
            marks = dict.fromkeys(demand.mark for demand in asked.values())
            yield Finding(
                "compost",
                heap,
                rows[heap],
                ("temperatures",),
                f"Heap {heap} was used ({name('inputs', used[heap])}), but {lack} ({join(marks)}).",
                reaches=(),
                clauses=tuple(dict.fromkeys(demand.clause for demand in asked.values())),
            )


def _uses(case: Case) -> Mapping[str, list[str]]:
    """By heap the inputs of this season that name it, on land that claims."""
    inputs = case.columns("inputs")
    chosen = claimed_inputs(case) & case.own("inputs") & inputs.known("heap")
    used: dict[str, list[str]] = defaultdict(list)
    for _, heap, identifier in inputs.rows("heap", "input", where=chosen):
        used[heap].append(identifier)
    return used


@rule(
    weight="advice",
    clauses=("us-nop:205.203(c)(2)", "us-nop:205.103(b)(2)"),
    remedy="Name its heap under `heap`, or correct the day on which the heap was ready.",
    after=("reference-unknown",),
)
def compost_without_heap(case: Case) -> Iterator[Finding]:
    """Heaps are on record, and own compost names none of them, or one that wasn't ready.

    Without the heap nobody can tell how the compost was made.
    """
    heaps = case.columns("compost")
    rows = heaps.first("heap")
    if not rows:
        return
    begun, ready = heaps.values("begun"), heaps.values("ready")
    inputs, approvals = case.columns("inputs"), find_approvals(case)
    columns = ("input", "material", "supplier", "date", "heap")
    chosen = claimed_inputs(case) & case.own("inputs")
    for row, identifier, material, supplier, when, heap in inputs.rows(*columns, where=chosen):
        words = f"{material} {supplier or ''}".casefold()
        kind = approvals[row].kind if row in approvals else ""
        own = re.search(r"\bown\b", words) and (kind == "compost" or re.search(r"\bcompost\b", words))
        if heap is None and own:
            said = f"{capital(material)} (input {identifier}) names no heap that it came from."
        elif heap in rows and (early := _too_early(begun[rows[heap]], ready[rows[heap]], when)):
            said = f"Input {identifier} took compost from heap {heap} on {day(when)}, {early}."
        else:
            continue
        yield Finding("inputs", identifier, row, ("heap",), said, reaches=())


def _too_early(begun: date | None, ready: date | None, when: date) -> str:
    if begun is not None and when < begun:
        return f"before it was begun ({day(begun)})"
    if ready is None:
        return "and nothing says when it was ready"
    return f"before it was ready ({day(ready)})" if when < ready else ""


@rule(
    weight="advice",
    clauses=("us-nop:205.203(c)(1)",),
    remedy="Tell the certifier where the fruit is eaten or sold. If the manure had been composted or "
    "treated, say so under `material`, and name the heap or the maker.",
    after=("date-in-future",),
)
def manure_before_picking(case: Case) -> Iterator[Finding]:
    """Raw manure was put on land, and fruit was picked from it soon after.

    What is asked protects whoever eats the fruit; seed isn't food. So it is said, and no lot's standing
    rests on it. Fruit that touches the soil is asked for more days than fruit that hangs.
    """
    asked = [
        (demand, soil)
        for _, demand in case.demand("manure_days")
        for _, soil in case.demand("manure_days_soil")
    ]
    if not asked:
        return
    hanging, lying = asked[0]
    days, longer = int(hanging.value), int(lying.value)  # type: ignore[arg-type]
    inputs, picked = case.columns("inputs"), case.joined("picked")
    approvals, heaps = find_approvals(case), _raw_heaps(case)
    columns = ("input", "material", "block", "date", "heap")
    for row, identifier, material, block, when, heap in inputs.rows(*columns, where=claimed_inputs(case)):
        kind = approvals[row].kind if row in approvals else ""
        if heap not in heaps and not is_raw_manure(material, kind):
            continue
        first, last = np.datetime64(when), np.datetime64(when + timedelta(days))
        there = picked.known("block") & (picked["block"] == block)
        soon = there & (picked["date"] >= first) & (picked["date"] < last)
        if not soon.any():
            continue
        harvests = list(dict.fromkeys(picked["harvest"][soon].tolist()))
        least = (min(picked.values("date", soon)) - when).days
        yield Finding(
            "inputs",
            identifier,
            row,
            ("date",),
            f"{capital(material)} was put on block {block} on {day(when)} (input {identifier}), and fruit was"
            f" picked there {count(least, 'day')} later ({name('harvests', harvests)}). For fruit that is"
            f" eaten or sold {days} days are asked, {longer} where it touches the soil ({hanging.mark}); seed"
            " isn't food.",
            reaches=(),
            clauses=(hanging.clause,),
        )


def is_raw_manure(text: str, kind: str = "") -> bool:
    """Whether a material is raw manure by its words, or by its kind on the list of approved materials.

    'Manure' alone is raw unless that kind says otherwise; 'raw' and 'fresh' are, whatever it says. Green
    manure is a crop.
    """
    words = _GREEN.sub("", " ".join(text.split()).casefold())
    if not _MANURE.search(words):
        return kind == "raw manure"
    changed = _CHANGED.search(words) or kind not in {"", "raw manure"}
    return bool(_RAW.search(words)) or not changed


def _raw_heaps(case: Case) -> set[str]:
    """Heaps with manure in them that aren't shown to have become compost."""
    heaps = case.columns("compost")
    rows, made = heaps.first("heap"), heaps["ingredients"]
    return {
        heap
        for heap in unshown_heaps(case)
        if any(_MANURE.search(one.casefold()) for one in made[rows[heap]])
    }
