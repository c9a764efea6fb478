"""`certgen plan`: what lies ahead: bags to hang, leaves to pool, parents to take, seed still to sell."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, Final

import click

from certgen.cli.arguments import (
    Day,
    Mass,
    Number,
    Percent,
    Word,
    choose,
    command,
    day_option,
    format_option,
    lots_option,
    option,
    season_argument,
)

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from certgen.examination import Result
    from certgen.exchange.interchange.plan import Plan

#: Which plans each option is for; the others refuse it.
_USED_BY: Final = {
    "grams": ("bags",),
    "ready": ("bags",),
    "variety": ("bags", "pools", "parents"),
    "effective": ("parents",),
    "prevalence": ("pools",),
    "price": ("pools",),
    "lot": ("seed",),
    "promised": ("seed",),
    "detect": ("seed",),
}
_MOST_PRICE: Final = 10**9


@command(
    "certgen plan example_season --of bags --grams 250 --variety 'Amber Kestrel' --ready 2027-12-01",
    "certgen plan example_season --of pools --prevalence '2 %' --price gus=4 --price pcr=35",
    "certgen plan example_season --of parents --effective 25",
    "certgen plan example_season --of seed --promised AK-26-1=10g --detect '0.5 %'",
)
@season_argument
@option(
    "--of",
    type=Word(["bags", "pools", "parents", "seed", "pollen"]),
    default="seed",
    help="What is planned.",
)
@option("--grams", metavar="MASS", type=Mass(), help="With --of bags: the seed wanted, to sell: 250.")
@option("--ready", metavar="DATE", type=Day(), help="With --of bags: the day on which the seed is wanted.")
@option("--variety", metavar="NAME", help="With --of bags, pools or parents: only this variety.")
@option(
    "--effective",
    metavar="N",
    type=Number(min=1, max=100_000),
    help="With --of parents: the effective number of parents wanted.",
)
@option(
    "--prevalence",
    metavar="PERCENT",
    type=Percent(),
    multiple=True,
    help="With --of pools: the share of transgenic trees to reckon with. Repeat it for several.",
)
@option(
    "--price",
    metavar="METHOD=AMOUNT",
    multiple=True,
    help="With --of pools: what one test costs, in your own money. Repeat it for several.",
)
@lots_option
@option(
    "--promised",
    metavar="LOT=MASS",
    multiple=True,
    help="With --of seed: what is promised of a lot, for the records hold no orders. Repeat it for several.",
)
@option(
    "--detect",
    metavar="PERCENT",
    type=Percent(),
    help="With --of seed: take off what a test of each lot uses up that finds this share.",
)
@option(
    "--confidence",
    metavar="PERCENT",
    type=Percent(),
    default="95 %",
    help="How sure a plan of bags or of a test is to be.",
)
@format_option("text", "json", "csv", help="How the plan is written.")
@day_option
def run(season: Path, of: str, form: str, on: date | None, **given: Any) -> int:
    """Plan what lies ahead from what the season's records show.

    Bags to hang for the seed wanted, with days and leaf tests; leaf pools for the trees still to be screened;
    parents for an effective number; seed that each lot can still offer; and with --of pollen how much foreign
    pollen the bags that failed leave possible. Where the records have no figure the crop's stands in, and
    says so. These are planning figures: none of them changes what is traced.
    """
    from certgen.cli.output import examine_or_refuse

    _refuse_unused(of, given)
    promised, prices = _read_promised(given["promised"]), _read_prices(given["price"])
    result = examine_or_refuse(season, on, form)
    match of:
        case "bags":
            plan: Plan = _plan_bags(result, given)
        case "pools":
            plan = _plan_pools(result, given, prices)
        case "parents":
            plan = _plan_parents(result, given)
        case "pollen":
            from certgen.dossier.contamination import bound_pollen

            plan = bound_pollen(result)
        case _:
            plan = _offer_seed(result, given, promised)
    _write(result, plan, form)
    return 2 if result.errors else 0


def _refuse_unused(of: str, given: dict[str, Any]) -> None:
    """An option that this plan has no use for, or one that it can't do without."""
    for name, plans in _USED_BY.items():
        if given[name] not in (None, (), []) and of not in plans:
            message = f"it is for a plan of {' or '.join(plans)}: write --of {plans[0]} too."
            raise click.BadParameter(message, param_hint=f"--{name}")
    if of == "bags" and given["grams"] is None:
        raise click.BadParameter("Say how much seed is wanted: --grams 250.", param_hint="--grams")
    if of == "parents" and given["effective"] is None:
        message = "Say which effective number is wanted: --effective 25."
        raise click.BadParameter(message, param_hint="--effective")


def _read_pairs(given: Iterable[str], hint: str, example: str) -> dict[str, str]:
    """NAME=VALUE, each name once."""
    pairs: dict[str, str] = {}
    for text in given:
        name, sign, value = text.rpartition("=")
        if not sign or not name.strip() or not value.strip():
            message = f"'{text}' has no name and figure. Write it like {example}."
            raise click.BadParameter(message, param_hint=hint)
        if name.strip() in pairs:
            raise click.BadParameter(f"{name.strip()} stands there twice.", param_hint=hint)
        pairs[name.strip()] = value.strip()
    return pairs


def _read_promised(given: Iterable[str]) -> dict[str, int]:
    pairs = _read_pairs(given, "--promised", "AK-26-1=10g")
    try:
        return {lot: round(1000 * Mass().convert(mass, None, None)) for lot, mass in pairs.items()}
    except click.BadParameter as fault:
        raise click.BadParameter(fault.message, param_hint="--promised") from None


def _read_prices(given: Iterable[str]) -> dict[str, Decimal]:
    prices = {}
    for method, text in _read_pairs(given, "--price", "gus=4.50").items():
        try:
            price = Decimal(text)
        except InvalidOperation:
            price = Decimal(-1)
        if not price.is_finite() or not 0 <= price <= _MOST_PRICE:
            message = f"'{text}' is no price. Write a number without its currency, like {method}=4.50."
            raise click.BadParameter(message, param_hint="--price")
        prices[method] = price
    return prices


def _choose_variety(result: Result, variety: str | None) -> None:
    """Refuses a variety that no planting, lot or tree of the season is of."""
    if variety is not None:
        names = [
            *result.case.plantings["variety"].dropna(),
            *result.case.season.table("lots")["variety"].dropna(),
        ]
        choose([variety], dict.fromkeys(names), "--variety")


def _plan_bags(result: Result, given: dict[str, Any]) -> Plan:
    from certgen.dossier.bag_plan import plan_bags

    _choose_variety(result, given["variety"])
    try:
        return plan_bags(
            result,
            given["grams"],
            variety=given["variety"],
            ready_by=given["ready"],
            confidence=given["confidence"],
        )
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--grams") from None


def _plan_pools(result: Result, given: dict[str, Any], prices: dict[str, Decimal]) -> Plan:
    from certgen.dossier.pool_plan import plan_pools

    _choose_variety(result, given["variety"])
    choose(prices, result.profile.methods, "--price")
    return plan_pools(result, variety=given["variety"], prevalences=given["prevalence"], prices=prices)


def _plan_parents(result: Result, given: dict[str, Any]) -> Plan:
    from certgen.dossier.parent_plan import plan_parents

    _choose_variety(result, given["variety"])
    return plan_parents(result, given["effective"], variety=given["variety"], confidence=given["confidence"])


def _offer_seed(result: Result, given: dict[str, Any], promised: dict[str, int]) -> Plan:
    from certgen.dossier.seed_for_sale import offer_seed

    choose(given["lot"], result.lots, "--lot")
    choose(promised, result.lots, "--promised")
    return offer_seed(
        result,
        lots=given["lot"],
        promised=promised,
        detect=given["detect"],
        confidence=given["confidence"],
    )


def _write(result: Result, plan: Plan, form: str) -> None:
    from certgen.cli.output import dump_csv, dump_json
    from certgen.cli.writers.plan import write_plan
    from certgen.exchange.interchange.plan import build_plan, tabulate_plan

    match form:
        case "text":
            write_plan(result, plan)
        case "json":
            dump_json(build_plan(result, plan))
        case _:
            dump_csv(*tabulate_plan(plan))
