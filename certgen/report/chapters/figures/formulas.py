"""The formulas behind the figures, with this season's own numbers put in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from certgen.dossier.balance import HEADINGS
from certgen.dossier.contamination import bound_pollen
from certgen.dossier.odds import list_misses, weigh_trees
from certgen.dossier.odds_wording import say_chance, say_span
from certgen.dossier.screening_power import weigh_screening
from certgen.dossier.seed_tests import Germination, Transgene
from certgen.dossier.spot_check import DETECT
from certgen.figures.arguments import exact
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT
from certgen.figures.draws import place_worst, worst_miss
from certgen.figures.weighings import tolerate
from certgen.report.chapters.figures.odds import percent
from certgen.report.tables import Column, table
from certgen.report.wording import weigh, whole
from certgen.rules.wording import join
from certgen.standards.practice import HANDLING
from certgen.typeset.parts import Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.lot_odds import LotOdds, LotParent
    from certgen.examination import Result
    from certgen.report.context import Context


class Worked(NamedTuple):
    """One formula: what it gives, the formula, the numbers put in, and where it is from."""

    what: str
    formula: str
    worked: str
    source: str


def build_formulas(context: Context) -> Section:
    """The section of worked formulas; one that this season has no numbers for is left out."""
    result = context.result
    listed = [*_balance(context), *_tests(context), *_odds(context), *_pollen(result), *_spot_check(context)]
    grid = table(
        "Formulas with numbers",
        (
            Column("What", "long", lambda worked: worked.what, "15%"),
            Column("Formula", "text", lambda worked: worked.formula, "27%"),
            Column("With the numbers put in", "text", lambda worked: worked.worked),
            Column("Source", "text", lambda worked: worked.source, "17%"),
        ),
        listed,
        note="Each stands for all of its kind: the first of the season is shown."
        if listed
        else "This season has no numbers for any of them yet.",
    )
    return Section("formulas", "Formulas with this season’s numbers", 2, (grid,), style="part")


def _balance(context: Context) -> Iterator[Worked]:
    account = context.account
    if not len(account.total):
        return
    total = account.total.iloc[0]

    def side(columns: tuple[str, ...]) -> str:
        used = [name for name in columns if total[name]]
        return " + ".join(f"{HEADINGS[name].lower()} {weigh(int(total[name]))}" for name in used) or "nothing"

    closing = weigh(int(total["closing_mg"]))
    yield Worked(
        "Mass balance",
        "what came in = what went out + closing stock",
        f"{side(COLUMNS_IN)} = {side(COLUMNS_OUT)} + closing stock {closing}",
        "The in-and-out balance of 7 CFR 205.403(d)(4); this working form is derived",
    )
    # Of one reading the worst is less than twice the standard uncertainty, and the formula isn't what counts.
    judged = [count for count in account.counted if account.judge(count) is not None and count.readings > 1]
    # One that differs says more than one that meets the book.
    for count in sorted(judged, key=lambda count: count.difference_mg == 0)[:1]:
        off = tolerate(count.readings, account.step_mg or 0)
        step, likely, worst = (
            weigh(math.ceil(one - 1e-9)) for one in (off.step_mg, off.likely_mg, off.worst_mg)
        )
        yield Worked(
            "What a scale’s steps can explain",
            "likely 2 · d · √(n / 12), at most n · d / 2, for n readings in steps of d",
            f"lot {count.lot}: 2 · {step} · √({count.readings} / 12) = {likely};"
            f" {count.readings} · {step} / 2 = {worst}",
            "Guide to the expression of uncertainty in measurement, F.2.2.1 (from memory)",
        )


def _tests(context: Context) -> Iterator[Worked]:
    """The first germination test, and the first pooled test without a positive pool."""
    result, tests = context.result, context.tests
    for test in tests:
        if isinstance(test.figure, Germination):
            yield from _germination(result, test.test, test.figure)
            break
    for test in tests:
        if isinstance(test.figure, Transgene) and test.figure.bound is not None:
            pools = test.figure.estimate
            yield Worked(
                "No positive pool: the bound",
                "1 − (1 − c)^(1 / (n·m)) for n pools of m seeds at confidence c, with a perfect assay",
                f"test {test.test}: 1 − 0.05^(1 / ({pools.pools} · {pools.seeds_per_pool})) ="
                f" {percent(test.figure.bound)}",
                "Binomial, standard; one-sided",
            )
            break


def _germination(result: Result, test: str, figure: Germination) -> Iterator[Worked]:
    verdict, limits = figure.verdict, figure.limits
    counts = result.season.record("tests", test) or {}
    shown = ", ".join(str(count) for count in counts.get("replicates", ()))
    allowed = "no limit in the table" if verdict.limit is None else f"{verdict.limit:g} allowed"
    yield Worked(
        "Germination: do replicates agree",
        "highest − lowest replicate, in points, against the greatest range that chance allows at the mean",
        f"test {test}: {shown} of {counts.get('per_replicate')} each; mean {verdict.mean:g} %, range"
        f" {verdict.range:g}, {allowed} ({verdict.basis})",
        "7 CFR 201.55 where the design stands in its table, else the range’s distribution",
    )
    grown = round(limits.estimate * figure.seeds)
    yield Worked(
        "Germination: how sure",
        "exact limits for x of n: the shares at which x or more, and x or fewer, have a chance of 2.5 % each",
        f"{whole(grown)} of {whole(figure.seeds)}: {percent(limits.low)} to {percent(limits.high)}",
        "Clopper and Pearson, standard",
    )


def _odds(context: Context) -> Iterator[Worked]:
    """The first cleared parent: what one passes with and hands on; and what the screening misses."""
    for lot in context.odds.values():
        seen = next(
            (parent for parent in lot.parents if parent.cleared and _sees_first(context, parent)), None
        )
        if seen is not None:
            yield from _work_parent(context, lot, seen)
            break
    yield from _power(context)
    for name, of in context.shares.items():
        parts = sorted((float(share) for share in of.shares.values()), reverse=True)
        head = " + ".join(f"{share:.3f}²" for share in parts[:3])
        yield Worked(
            "Effective number of parents",
            "1 / Σp²",
            f"lot {name}: 1 / ({head}{' + …' if len(parts) > 3 else ''}) = {of.effective:.1f}",
            "A provincial forest-seed standard; Lindgren and Kang’s status number",
        )
        break


def _pollen(result: Result) -> Iterator[Worked]:
    """The bound on foreign pollen of the first lot that has one."""
    found = bound_pollen(result)
    failures, fathers, carries = found.bags.failures, found.fathers, found.carries
    if failures is None or fathers is None or carries is None:
        return
    for lot in found.lots[:1]:
        yield Worked(
            "Foreign pollen: the bound",
            "(u + (1 − u) · f) · s · c: without a shown cover, failing at most, fathered by others, carrying",
            f"lot {lot.lot}: ({percent(lot.uncovered)} + {percent(1 - lot.uncovered)} ·"
            f" {percent(failures.at_most)}) · {fathers.usual or 0:g}\u00a0% · {carries.usual or 0:g}\u00a0% ="
            f" {percent(lot.usual.carrying)}",
            "Clopper and Pearson for f, one-sided 95 %; u from the records; s and c assumed",
        )


def _sees_first(context: Context, parent: LotParent) -> bool:
    """Whether its results can see the first event of concern."""
    return any(parent.passing[event] < 1 for event in context.evidence.events[:1])


def _work_parent(context: Context, lot: LotOdds, parent: LotParent) -> Iterator[Worked]:
    known, floor, event = context.evidence, context.floor, context.evidence.events[0]
    misses = " · ".join(f"{miss:.3g}" for miss in list_misses(known, event, parent.tree))
    results = join(weigh_trees(context.result, known)[parent.tree].results)
    yield Worked(
        "A carrier’s chance to pass",
        "1 − (1 − Π miss)(1 − e); a method misses 1 − Se, in a pool of n leaves 1 − Seⁿ",
        f"tree {parent.tree}, {results}: 1 − (1 − {misses})(1 − {known.shares[HANDLING]:g}) ="
        f" {say_chance(parent.passing[event], floor)}",
        "Elementary; Se and e are assumed, see ‘What screening leaves open’",
    )
    pair = next(pair for pair in lot.pairs if parent.tree in (pair.mother, pair.pollen))
    yield Worked(
        "What a carrier hands on",
        "Σ part of the seed · transmission: selfed ¾ with one copy, crossed ½; all with two",
        f"lot {lot.lot}, tree {parent.tree}, its first part {pair.share:.4f}: in all"
        f" {say_span(parent.one, floor, part=True)} of the seed with one copy,"
        f" {say_span(parent.two, floor, part=True)} with two",
        "Mendelian for one insert, standard",
    )


def _power(context: Context) -> Iterator[Worked]:
    parents = dict.fromkeys(parent.tree for lot in context.odds.values() for parent in lot.parents)
    for power in weigh_screening(context.result, context.evidence, parents)[:1]:
        told = ", ".join(
            f"{number}: {say_chance(chance, context.floor)}"
            for number, chance in zip(power.carriers, power.chances, strict=True)
        )
        yield Worked(
            "Power of the whole screening",
            "Σ over sets of d of n trees of P(all pass) / C(n, d)",
            f"{power.screened} cleared parents; d carriers all pass with {told}",
            "Elementary; each set of d alike, trees of one pool together",
        )


def _spot_check(context: Context) -> Iterator[Worked]:
    check = context.draw("bags")
    if check is None:
        return
    faults = max(1, math.ceil(exact(DETECT) * check.population))
    placed = place_worst(check.strata, check.taken, faults)
    factors = [
        f"C({whole} − {placed[name]}, {check.taken[name]}) / C({whole}, {check.taken[name]})"
        for name, whole in check.strata.items()
        if placed[name]
    ]
    more = f" · … ({len(factors) - 3} more)" if len(factors) > 3 else ""
    chance = percent(float(worst_miss(check.strata, check.taken, faults)))
    yield Worked(
        "A spot check’s chance to miss, at worst",
        "Π C(N − D, n) / C(N, n) over groups, D of N placed where the draw is thinnest",
        f"{' · '.join(factors[:3])}{more} = {chance}",
        "Hypergeometric, standard",
    )
