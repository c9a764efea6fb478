"""Plans lot by lot: parents, the seed that a lot can still offer, and what foreign pollen may be in it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from certgen.records.quantities import format_mass
from certgen.rules.wording import join, name

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.cli.terminal import Terminal
    from certgen.dossier.contamination import LotContamination, SeasonContamination
    from certgen.dossier.parent_plan import LotNumber, ParentPlan
    from certgen.dossier.seed_for_sale import LotOffer
    from certgen.figures.contamination import BagFailures


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def write_parents(out: Terminal, plan: ParentPlan) -> None:
    """The lots' effective numbers today, and how many parents it takes."""
    of = f" of {plan.variety}" if plan.variety else ""
    out.text(f"Parents{of} for an effective number of {plan.effective}.")
    out.heading("What the lots have today")
    if plan.lots:
        out.table(_list_numbers(plan.lots, plan.effective))
        out.text(
            "Effective: 1/Σp² of the parents' shares of the seed. Unequal by: the coefficient of "
            "variation of what they gave. By families: the variance effective number of families of two "
            "(Wright; Kimura and Crow; from memory). Selfed seed of pure lines counts half (from memory).",
            2,
            "dim",
        )
    else:
        out.text("None with a parent on record: record bags, pickings, runs and what lots are of.", 2)
    out.heading("What it takes")
    out.text(f"{plan.equal} parents that bear, if all give the same.", 2)
    if plan.median is not None and plan.widest is not None:
        out.text(f"{plan.median} at the lots' median spread, {plan.widest} at their widest: N·(1 + CV²).", 2)
    else:
        out.text("How many more, as parents give unequally, no lot on record says.", 2)
    if plan.to_bag is None or plan.bearing is None:
        out.text("No bag of this season says how many trees to bag so that so many bear.", 2)
    else:
        out.text(
            f"Bag {plan.to_bag} trees with {plan.bags_each} bags each: {_percent(plan.bearing.usual)} of the "
            f"bags give fruit ({plan.bearing.basis}). {plan.cleared} cleared trees that bear seed stand.",
            2,
        )


def _list_numbers(lots: Iterable[LotNumber], wanted: int) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [
        ("lot", "parents", "effective", "unequal by", "by families", f"for {wanted}", "most from")
    ]
    for lot in lots:
        known = "" if lot.known == 1 else f"; parents known for {_percent(lot.known)}"
        rows.append((
            lot.lot,
            str(lot.parents),
            f"{lot.effective:.1f}",
            _percent(math.sqrt(lot.spread)),
            f"{lot.by_families:.1f}",
            str(lot.needed),
            f"{lot.heaviest[0]} ({_percent(lot.heaviest[1])}){known}",
        ))  # fmt: skip
    return rows


def write_seed(out: Terminal, offers: tuple[LotOffer, ...]) -> None:
    """What each lot can still offer, and what is in the way."""
    out.text("Seed still to sell. The records hold no orders: name what is promised with --promised.")
    out.line()
    if not offers:
        out.text("There is no lot yet, so there is nothing to sell: record what is packed.", 2)
        return
    rows: list[tuple[str, ...]] = [
        ("lot", "variety", "packed", "gone", "there", "promised", "test", "to offer")
    ]
    for one in offers:
        masses = (
            one.packed_mg + one.came_mg,
            sum(one.gone.values()) + one.missing_mg,
            one.seed.there_mg,
            one.seed.promised_mg,
            one.seed.test_mg,
            one.seed.offered_mg,
        )
        rows.append((one.lot, one.variety, *(format_mass(mass) for mass in masses)))
    out.table(rows)
    total = format_mass(sum(one.seed.offered_mg for one in offers))
    out.line()
    out.text(f"{total} in all may be offered as traced, of no lot more than is traced and there.", 2, "bold")
    for one in offers:
        for note in _note_offer(one):
            out.text(f"{one.lot}: {note}.", 2, hang=2)
    for test, lots in _gather_tests(offers).items():
        out.text(f"{test} ({name('lots', lots)}).", 2, hang=2)


def _note_offer(one: LotOffer) -> list[str]:
    """What left a lot, and what is in the way of selling what is there."""
    gone = [f"{kind} {format_mass(mass)}" for kind, mass in one.gone.items() if mass]
    if one.missing_mg:
        gone.append(f"{format_mass(one.missing_mg)} not found at a count")
    notes = [join(gone)] if gone else []
    if one.why:
        notes.append(f"nothing to offer, for {one.why}")
    if one.ahead_mg:
        notes.append(f"{format_mass(one.ahead_mg)} of it leaves after this day by the records")
    if one.test_fault:
        notes.append(f"no test can be planned: {one.test_fault.rstrip('.')}")
    return notes


def _gather_tests(offers: tuple[LotOffer, ...]) -> dict[str, list[str]]:
    """Each planned test in words, and the lots that it is planned for."""
    tests: dict[str, list[str]] = {}
    for one in offers:
        if one.test is not None:
            size = f"{one.test.pools} × {one.test.seeds_per_pool} seeds"
            finds = f"{_percent(one.test.detect)} of transgenic seed with {_percent(one.test.reached)}"
            tests.setdefault(f"The test: {size}, which find {finds}", []).append(one.lot)
    return tests


def write_pollen(out: Terminal, plan: SeasonContamination) -> None:
    """The bags that failed, each lot's bound, and what it rests on."""
    out.text("What failed bags leave open to foreign pollen.")
    out.heading("The bags of this season")
    if plan.bags.failures is None:
        out.text(
            "None is recorded to have been looked at, so nothing bounds what foreign pollen brought: record "
            "each check of a bag with its day and what was found.",
            2,
        )
        return
    out.text(_say_failures(plan, plan.bags.failures), 2)
    if plan.bags.unlooked:
        out.text(f"Of {plan.bags.unlooked} more no look tells whether they held.", 2, "yellow")
    if plan.bags.needed is not None:
        out.text(f"{plan.bags.needed} bags looked at, none of them failed, would halve that bound.", 2)
    out.heading("What it may have brought, at most")
    if plan.lots:
        out.table(_list_bounds(plan.lots))
    else:
        out.text("There is no lot yet whose pickings are on record.", 2)
    if plan.unknown:
        out.text(f"No picking is on record for {name('lots', plan.unknown)}: nothing bounds them.", 2)
    out.heading("What it rests on")
    out.text("No more bags are taken to have failed unseen than at most fail by those seen (assumed).", 2)
    for one in (plan.fathers, plan.carries):
        if one is not None:
            out.text(f"{one.title}: {one.usual or 0:g} %. {one.source} ({one.mark}; {one.key}).", 2)


def _say_failures(plan: SeasonContamination, failures: BagFailures) -> str:
    kinds = join(f"{number} {kind}" for kind, number in plan.bags.kinds.items())
    return (
        f"{failures.failed} of {failures.checked} bags that were looked at had failed"
        f"{f' ({kinds})' if kinds else ''}: {_percent(failures.share)}, between {_percent(failures.low)} "
        f"and {_percent(failures.high)} (exact, two-sided 95 %), at most "
        f"{_percent(failures.at_most)} (one-sided)."
    )


def _list_bounds(lots: Iterable[LotContamination]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [
        ("lot", "no cover shown", "open", "carrying", "at the low share", "at the high share")
    ]
    for one in lots:
        shares = (one.uncovered, one.usual.open_to_pollen, one.usual.carrying, one.low, one.high)
        rows.append((one.lot, *("" if share is None else _percent(share) for share in shares)))
    return rows
