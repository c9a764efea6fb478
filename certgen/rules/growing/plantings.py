"""Where the trees came from, and whether they are organic mothers for long enough."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in, is_known
from certgen.rules.clauses import EXCLUDED, MATERIAL, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.seed.purchases import shown_plantings
from certgen.rules.wording import count, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case


def _kept(case: Case) -> Array:
    """For each planting: is it on land that is organic or on its way there? Of others no standard asks."""
    return is_in(case.joined("plantings")["block_status"], ("organic", "transitional"))


#: Said where only a standard speaks that asks it of growers of food and not of growers of seed.
_FOR_WHOM: Final = (
    " Whoever only grows seed is excepted; who also sells the fruit as food needs a permit before planting."
)


def excepts_seed_growing(case: Case) -> bool:
    """Whether every standard of the season that binds asks about planted material for food only."""
    binding = [book for book in case.rulebooks if not book.benchmark]
    return bool(binding) and all(book.demand("material_for_food_only") is not None for book in binding)


@rule(
    weight="unproven",
    clauses=(
        *MATERIAL,
        *RECORDS,
        "us-nop:205.2 audit trail",
        "us-nop:205.201(a)(3)",
        "us-nop:205.403(d)(5)",
        "eu:2021/771 1(4)(a)-(e)",
    ),
    remedy="Write under `origin` the own lot or the supplier that the seed or stock came from.",
)
def planting_without_origin(case: Case) -> Iterator[Finding]:
    """Nothing says where the seed or stock of a planting came from.

    Planted seed is the likeliest way for a transgene to come onto a farm. The line from a packet of seed
    back to the last certified operation ends here.
    """
    plantings = case.joined("plantings")
    bare = _kept(case) & plantings.absent("origin.lot") & plantings.absent("origin.supplier")
    for row, planting, variety in plantings.rows("planting", "variety", where=bare):
        yield Finding(
            "plantings",
            planting,
            row,
            ("origin",),
            f"Nothing says where planting {planting} of {variety} came from.",
            supply=f"the origin of planting {planting}",
        )


@rule(
    weight="unproven",
    clauses=(
        "us-nop:205.204(a)(1)",
        "us-nop:205.204(a)(2)",
        "us-nop:205.204(a)(3)",
        "us-nop:guidance 5029",
        "eu:2018/848 annex II 1.8.1",
        "eu:2018/848 annex II 1.8.5",
        "canada:5.3",
    ),
    remedy="Name under `search_log` the record of whom you asked for organic material, when, and what they "
    "said. Where the standard asks for a variance or an authorisation, name that under `evidence`.",
    after=("planting-without-origin",),
)
def planting_search_missing(case: Case) -> Iterator[Finding]:
    """Seed that wasn't organic was planted, and no record shows the search for organic seed.

    Other seed may be used only where no equivalent organic seed could be had. That is shown by having
    asked; how many to ask is certifiers' practice. Standards of the Union ask a permit for it, and except the
    growing of seed itself: they need it for those whose fruit is also sold as food.
    """
    plantings, excepted = case.joined("plantings"), excepts_seed_growing(case)
    bare = _kept(case) & (plantings["material_status"] != "organic") & plantings.absent("search_log")
    for row, planting, material, status in plantings.rows(
        "planting", "material", "material_status", where=bare
    ):
        yield Finding(
            "plantings",
            planting,
            row,
            ("search_log",),
            f"The {material} of planting {planting} was {status}, and no record of a search for organic "
            f"{material} is named.{_FOR_WHOM if excepted else ''}",
            weight="advice" if excepted else None,
            supply=f"the search log of planting {planting}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.201(a)(3)", *MATERIAL, "eu:2021/771 1(4)(a)-(e)"),
    remedy="Write the number of the supplier's organic certificate under `origin`, or name a copy under "
    "`evidence`.",
    after=("planting-without-origin",),
)
def supplier_certificate_missing(case: Case) -> Iterator[Finding]:
    """Bought seed is called organic, and no certificate of its supplier is named.

    Organic is what a certificate says it is. Checking suppliers is the first guard against fraud.
    """
    plantings = case.joined("plantings")
    bare = (
        _kept(case)
        & (plantings["material_status"] == "organic")
        & plantings.known("origin.supplier")
        & plantings.absent("origin.lot")
        & plantings.absent("origin.certificate")
        & plantings.absent("evidence")
    )
    shown = shown_plantings(case) if bare.any() else ()
    for row, planting, supplier in plantings.rows("planting", "origin.supplier", where=bare):
        if row in shown:
            continue
        yield Finding(
            "plantings",
            planting,
            row,
            ("origin",),
            f"Planting {planting} is of organic material from {supplier}, and no certificate of theirs is "
            f"named.",
            supply=f"the certificate of {supplier} for planting {planting}",
        )


@rule(
    weight="unproven",
    clauses=(*EXCLUDED, "us-nop:205.204(a)(1)"),
    remedy="Ask the supplier for a written statement that the material was not made by genetic engineering, "
    "and name it under `non_gm_statement`.",
    after=("planting-without-origin",),
)
def non_gm_statement_missing(case: Case) -> Iterator[Finding]:
    """Seed that wasn't organic was planted without the supplier's word that it isn't engineered.

    An organic certificate excludes engineered seed; other seed needs the statement. The screening of each
    tree stands beside it and doesn't replace it.
    """
    plantings = case.joined("plantings")
    bare = (
        _kept(case)
        & (plantings["material_status"] != "organic")
        & plantings.absent("non_gm_statement")
        & plantings.absent("origin.lot")
    )
    for row, planting, status in plantings.rows("planting", "material_status", where=bare):
        yield Finding(
            "plantings",
            planting,
            row,
            ("non_gm_statement",),
            f"The material of planting {planting} was {status}, and no statement says that it isn't "
            f"engineered.",
            supply=f"the supplier's statement for planting {planting}",
        )


@rule(
    weight="unproven",
    clauses=(
        "us-nop:205.204(a)(2)",
        "eu:2018/848 annex II 1.8.1",
        "eu:2018/848 annex II 1.8.5",
        "canada:5.3",
    ),
    remedy="Name the treatment in a note and the label under `evidence`, and ask the certifier whether it "
    "is on the national list.",
)
def planting_treated(case: Case) -> Iterator[Finding]:
    """Treated seed was planted, and no label shows with what.

    Only treatments that the standard lists may touch seed. A coloured coat on the seed tells nothing but
    that there is one. A process against disease, such as hot water, is a treatment too.
    """
    plantings, excepted = case.joined("plantings"), excepts_seed_growing(case)
    bare = _kept(case) & (plantings["material_status"] == "treated") & plantings.absent("evidence")
    for row, planting in plantings.rows("planting", where=bare):
        yield Finding(
            "plantings",
            planting,
            row,
            ("material_status",),
            f"The material of planting {planting} was treated, and nothing shows with what."
            f"{_FOR_WHOM if excepted else ''}",
            weight="advice" if excepted else None,
            supply=f"the label of the treatment for planting {planting}",
        )


@rule(
    weight="rejects",
    clauses=("eu:2018/848 annex II 1.8.2", "codex:annex 1 A seed"),
    remedy="Seed of these pickings is not organic propagating material under this standard. Ask the control "
    "body how it counts growing seasons.",
    after=("block-not-organic", "planting-without-origin"),
)
def mother_plant_too_young(case: Case) -> Iterator[Finding]:
    """Seed was taken of a tree that hasn't grown organically for as many growing seasons as a standard asks.

    Some standards ask two growing seasons of a perennial mother plant. A growing season is counted here as
    twelve months from planting, or from the land's certification if that came later: fruit of the first
    twelve months is refused, and fruit of the season that is still running needs the control body's word.
    """
    asked = case.demand("mother_plant_seasons")
    if not asked or case.profile.life != "perennial":
        return
    picked, trees = case.joined("picked"), case.joined("trees")
    claimed = case.columns("harvests").at("status", picked["harvest_row"]) == "organic"
    tree = trees.find("tree", picked["tree"])
    certified = case.columns("blocks").look_up("block", picked["block"], "organic_since")
    # Whichever came later, or the one that is known.
    months = _whole_months(np.fmax(trees.at("planted", tree), certified), picked["date"])
    planting_of = trees.at("planting", tree)
    rows_of = case.columns("plantings").first("planting")
    for book, demand in asked:
        seasons = int(demand.value)  # type: ignore[arg-type]
        young = claimed & (months < 12 * seasons)
        for planting, group in sorted(group_rows(planting_of, where=young).items()):
            least = int(months[group].min())
            early = [row for row in group if months[row] < 12 * (seasons - 1)]
            chosen = early or group
            weight: Weight | None = None if early else "unproven"
            harvests = list(dict.fromkeys(picked["harvest"][chosen].tolist()))
            yield Finding(
                "plantings",
                planting,
                rows_of[planting],
                ("planted",),
                f"Planting {planting} had grown organically for {count(least, 'month')} when"
                f" {name('harvests', harvests)} {'was' if len(harvests) == 1 else 'were'} made, and"
                f" {book.title} asks for {count(seasons, 'growing season')}.",
                weight=weight,
                cause=planting,
                reaches=tuple(_list_fruit(picked, chosen)),
                clauses=(demand.clause,),
                supply=f"the control body's word on the growing seasons of planting {planting}"
                if weight
                else None,
            )


def _list_fruit(picked: Columns, rows: list[int]) -> Iterator[Node]:
    """The bags of some pickings' fruit, and the pickings of what was listed by tree."""
    yield from (Node("bagging", bag) for bag in picked["bag"][rows].tolist() if bag is not None)
    loose = [row for row in rows if picked["loose"][row]]
    yield from (Node("harvests", one) for one in dict.fromkeys(picked["harvest"][loose].tolist()))


def _whole_months(first: Array, last: Array) -> Array:
    """Months of the calendar that have passed whole from one day to another; missing where either is."""
    first, last = first.astype("datetime64[D]"), last.astype("datetime64[D]")
    begun, ended = first.astype("datetime64[M]"), last.astype("datetime64[M]")
    months = (ended - begun).astype("float64") - ((last - ended) < (first - begun))
    return np.where(np.isnat(first) | np.isnat(last), np.nan, months)


@rule(
    weight="unproven",
    clauses=(*MATERIAL, *RECORDS),
    remedy="Correct the planting's lot, variety or status: two records of one packet of seed say "
    "different things.",
)
def planting_differs_from_lot(case: Case) -> Iterator[Finding]:
    """A planting is called otherwise than the own lot that it was sown from.

    Trees bear what was sown. Seed of another variety, or of a lot that isn't organic, doesn't change on
    its way into the ground.
    """
    plantings, lots = case.joined("plantings"), case.columns("lots")
    rows = lots.find("lot", plantings["origin.lot"])
    if not (rows >= 0).any():
        return
    of = case.spelling.spell(lots.at("variety", rows))
    status = lots.at("status", rows)
    other = is_known(of) & (of != plantings["variety"])
    lower = (rows >= 0) & (plantings["material_status"] == "organic") & (status != "organic")
    plantings = plantings.adding(of=of, lot_status=status, other=other, lower=lower)
    for row, planting, lot, own, of_, status_, by_other, by_lower in plantings.rows(
        "planting", "origin.lot", "variety", "of", "lot_status", "other", "lower", where=other | lower
    ):
        told = []
        if by_other:
            told.append(f"is called {own}, and lot {lot} is {of_}")
        if by_lower:
            told.append(f"is called organic material, and lot {lot} is {status_}")
        yield Finding(
            "plantings",
            planting,
            row,
            ("origin", "lot"),
            f"Planting {planting} {join(told)}.",
            supply=f"the right origin of planting {planting}",
        )


@rule(
    weight="unproven",
    clauses=(*MATERIAL, *RECORDS, "us-nop:205.105(e)"),
    remedy="Mend what is missing at the lot. Seed that is rejected has no place in the ground: ask the "
    "certifier what becomes of its trees.",
    turn="sowing",
)
def planting_seed_unproven(case: Case) -> Iterator[Finding]:
    """Trees grew from an own lot that isn't proved, so neither is what they bear.

    A planting inherits the standing of the seed that it was sown from. A clean leaf says that this tree
    carries nothing; it doesn't say what the tree is.
    """
    standings, plantings = case.standings, case.columns("plantings")
    if standings is None:
        return
    # Thousands of plantings may be sown of one lot.
    worst_at = cache(standings.worst_at)
    sown = plantings.known("origin.lot")
    for row, planting, lot, planted in plantings.rows("planting", "origin.lot", "planted", where=sown):
        book = case.books.get(lot)
        if book is None:
            continue
        worst = worst_at(lot, book.stage_sown(planting, planted))
        if worst != "traced":
            yield Finding(
                "plantings",
                planting,
                row,
                ("origin", "lot"),
                f"Planting {planting} was sown from lot {lot}, of which not all is traced: what was in it"
                f" then is {worst}.",
                supply=f"what lot {lot} lacks",
            )
