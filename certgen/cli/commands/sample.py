"""`certgen sample`: a spot check that anybody can draw again, and what a test of seed would cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    Number,
    Percent,
    Word,
    choose,
    command,
    day_option,
    format_option,
    option,
    season_argument,
)

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from certgen.dossier.seed_tests import SeedPlan
    from certgen.dossier.spot_check import By, Kind, SpotCheck
    from certgen.examination import Result


@command(
    'certgen sample example_season --seed "rain at noon" --detect "5 %" --confidence "95 %"',
    'certgen sample example_season --of seed --lot AK-26-1 --detect "0.5 %"',
)
@season_argument
@option("--seed", metavar="TEXT", help="The text that decides a draw of bags or trees: agree on it, keep it.")
@option(
    "--of",
    type=Word(["bags", "trees", "seed"]),
    default="bags",
    help="What is drawn; seed plans a test of a lot.",
)
@option("--size", metavar="N", type=Number(min=1), help="How many to look at.")
@option("--detect", metavar="PERCENT", type=Percent(), help="Find a share of faulty ones this large: '5 %'.")
@option(
    "--confidence",
    metavar="PERCENT",
    type=Percent(),
    default="95 %",
    help="How surely it is to be found, with --detect.",
)
@option(
    "--by",
    type=Word(["block", "variety", "all"]),
    default="block",
    help="Draw in proportion from each of these.",
)
@option("--lot", metavar="LOT", help="With --of seed: the lot to test.")
@option(
    "--limit",
    metavar="PERCENT",
    type=Percent(),
    help="With --of seed: the smallest share of seeds that the assay finds in a pool.",
)
@option("--pool", metavar="N", type=Number(min=1), help="With --of seed: seeds in a pool.")
@option(
    "--sensitivity",
    metavar="PERCENT",
    type=Percent(whole=True),
    default="100 %",
    help="With --of seed: how surely a pool that holds one is found.",
)
@format_option("text", "json", "csv", help="How the sheet is written.")
@day_option
def run(
    season: Path,
    seed: str | None,
    of: Kind | str,
    size: int | None,
    detect: float | None,
    confidence: float,
    by: By,
    lot: str | None,
    limit: float | None,
    pool: int | None,
    sensitivity: float,
    form: str,
    on: date | None,
) -> int:
    """Draw bags or parent trees to look at, and print a sheet to take into the field.

    The draw depends on the text alone: whoever knows it and the records draws the same items. Take a text
    that nobody could choose to suit them, such as today's weather report. With --of seed it plans a test of
    a lot in pools, and says how much of the lot the test would use up.
    """
    from certgen.cli.output import examine_or_refuse

    if of == "seed":
        if lot is None or detect is None:
            message = "A test of seed needs a lot and what is to be found: --lot LOT --detect '0.5 %'."
            raise click.BadParameter(message, param_hint="--lot" if lot is None else "--detect")
        result = examine_or_refuse(season, on, form)
        plan = _plan_seed_test(result, lot, detect, confidence, limit, sensitivity, pool)
        _write_plan(result, plan, form)
    else:
        _refuse_for_draw(seed, size, detect, (lot, limit, pool))
        result = examine_or_refuse(season, on, form)
        check = _draw(result, of, seed or "", size, detect, confidence, by)  # type: ignore[arg-type]
        _write_check(result, check, form)
    return 2 if result.errors else 0


def _refuse_for_draw(
    seed: str | None, size: int | None, detect: float | None, of_seed: tuple[object, ...]
) -> None:
    """What a draw of bags or trees lacks, or has no use for."""
    if any(given is not None for given in of_seed):
        message = "--lot, --limit and --pool plan a test of seed: write --of seed too."
        raise click.BadParameter(message, param_hint="--of")
    if not seed:
        message = 'Give the text that decides the draw, for example --seed "rain at noon, 12 November".'
        raise click.BadParameter(message, param_hint="--seed")
    if (size is None) == (detect is None):
        message = "Say either how many (--size 20) or what is to be found (--detect '5 %')."
        raise click.BadParameter(message, param_hint="--size")


def _draw(
    result: Result, kind: Kind, seed: str, size: int | None, detect: float | None, confidence: float, by: By
) -> SpotCheck:
    from certgen.dossier.spot_check import count_population, draw_check, plan_size

    try:
        wanted = size or plan_size(count_population(result, kind), detect or 0, confidence)
        return draw_check(result, kind, seed, wanted, by)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--size" if size else "--detect") from None


def _plan_seed_test(
    result: Result,
    lot: str,
    detect: float,
    confidence: float,
    limit: float | None,
    sensitivity: float,
    pool: int | None,
) -> SeedPlan:
    from certgen.dossier.seed_tests import plan_seed_test

    choose([lot], dict.fromkeys([*result.lots, *result.ledger["lot"].tolist()]), "--lot")
    try:
        return plan_seed_test(
            result, lot, detect, confidence=confidence, limit=limit, sensitivity=sensitivity, pool=pool
        )
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--pool" if pool else "--detect") from None


def _write_check(result: Result, check: SpotCheck, form: str) -> None:
    from certgen.cli.output import dump_csv, dump_json
    from certgen.cli.writers.sample import write_check
    from certgen.exchange.interchange.sample import build_spot_check, tabulate_spot_check

    match form:
        case "text":
            write_check(result, check)
        case "json":
            dump_json(build_spot_check(result, check))
        case _:
            dump_csv(*tabulate_spot_check(result, check))


def _write_plan(result: Result, plan: SeedPlan, form: str) -> None:
    from certgen.cli.output import dump_csv, dump_json
    from certgen.cli.writers.sample import write_plan
    from certgen.dossier.cautions import cautions_of_test
    from certgen.exchange.interchange.sample import build_seed_plan, describe_seed_plan

    match form:
        case "text":
            write_plan(result, plan)
        case "json":
            dump_json(build_seed_plan(result, plan))
        case _:
            cautions = " ".join(one.line for one in cautions_of_test(result, plan.lot))
            figures = {**describe_seed_plan(plan), "cautions": cautions}
            dump_csv(list(figures), [list(figures.values())])
