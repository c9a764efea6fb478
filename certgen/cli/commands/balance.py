"""`certgen balance`: do the quantities meet?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    READERS,
    Day,
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

    from certgen.figures.balance import By


@command("certgen balance example_season --by variety --from 2026-01-01 --to 2026-11-20")
@season_argument
@format_option("text", "json", "csv", help="How the balance is written.")
@option("--by", type=Word(["lot", "variety", "all"]), default="lot", help="What the balance has a line for.")
@lots_option
@option(
    "--for",
    "reader",
    type=Word(READERS),
    default="certifier",
    help="Who is to see it: the certifier alone, for it tells what everybody had.",
)
@option("--from", "start", metavar="DATE", type=Day(), help="The first day of the period.")
@option("--to", "end", metavar="DATE", type=Day(), help="The last day of the period.")
@day_option
def run(
    season: Path,
    form: str,
    by: By,
    lot: list[str],
    reader: str,
    start: date | None,
    end: date | None,
    on: date | None,
) -> int:
    """Balance what came in against what went out and what is left, to the milligram.

    Without --from and --to the period is the season. A count of stock corrects the book: what was found
    more or less stands in the balance as a gain or a loss, with what the scale's steps could explain of it.
    Exit code 1: a count differs from the book, or a lot held less than nothing on some day.
    """
    from certgen.cli.disclosure import refuse_others
    from certgen.cli.output import dump_csv, dump_json, examine_or_refuse
    from certgen.cli.writers.balance import write_text
    from certgen.dossier.balance import account_runs, recorded_step, take_account
    from certgen.exchange.interchange.balance import COLUMNS, build_balance, tabulate_balance
    from certgen.figures.balance import Period

    refuse_others(
        reader,
        "A balance tells what everybody had and what is left, so it is for the certifier alone. A buyer's own"
        " movements stand in certgen report --for buyer.",
    )
    result = examine_or_refuse(season, on, form)
    period = None
    if start or end:
        period = Period(start or result.season.details.start, end or result.season.details.end)
        if period.end < period.start:
            message = f"The period ends on {period.end}, before it begins on {period.start}."
            raise click.BadParameter(message, param_hint="--to")
    account = take_account(result.season, by, period, lot, result.on, recorded_step(result))
    choose(lot, [*result.lots, *account.ledger["lot"].unique()], "--lot")
    runs = () if lot else account_runs(result.season)
    match form:
        case "text":
            write_text(result, account, runs)
        case "json":
            dump_json(build_balance(result, account, runs))
        case _:
            dump_csv(COLUMNS, tabulate_balance(account))
    return 2 if result.errors else int(not account.meets)
