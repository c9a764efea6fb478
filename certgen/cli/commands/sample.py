"""`certgen sample`: a spot check that anybody can draw again, and what a test of seed would cost."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    PATH,
    Number,
    Percent,
    Word,
    choose,
    command,
    day_option,
    force_option,
    format_option,
    option,
    refusing,
    season_argument,
)
from certgen.cli.offered_names import offer_lots

if TYPE_CHECKING:
    from datetime import date

    from certgen.dossier.seed_tests import SeedPlan
    from certgen.dossier.spot_check import Asked, By, DrawKey, Kind, SpotCheck
    from certgen.examination import Result


@command(
    'certgen sample example_season --detect "5 %" --on 2026-06-20 --freeze',
    'certgen sample example_season --records --seed "rain at noon" --detect "5 %" --confidence "95 %"',
    'certgen sample example_season --of seed --lot AK-26-1 --detect "0.5 %"',
)
@season_argument
@option(
    "--freeze", is_flag=True, help="First step: print the fingerprint of the records, and draw nothing yet."
)
@option(
    "--frozen",
    metavar="FINGERPRINT",
    help="Second step: the fingerprint as it was noted. Nothing is drawn if records changed since.",
)
@option(
    "--seed",
    metavar="TEXT",
    help="The text that decides the draw, told by whoever inspects. Asked for on the terminal if left out.",
)
@option(
    "--of",
    type=Word(["bags", "trees", "lots", "seed"]),
    default="bags",
    help="What is drawn; seed plans a test of a lot.",
)
@option("--records", is_flag=True, help="A check of papers: draw from all on record, not from what is there.")
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
    help="Draw in proportion from each of these, one at least. Default: block, and variety for lots.",
)
@option("--out", metavar="FILE.pdf", type=PATH, help="Also print the sheet to take along.")
@option("--page", type=Word(["A4", "Letter"]), default="A4", help="The paper of the sheet.")
@option("--lot", metavar="LOT", help="With --of seed: the lot to test.", shell_complete=offer_lots)
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
@force_option
@day_option
def run(
    season: Path,
    freeze: bool,
    frozen: str | None,
    seed: str | None,
    of: Kind | str,
    records: bool,
    size: int | None,
    detect: float | None,
    confidence: float,
    by: By | None,
    out: Path | None,
    page: str,
    lot: str | None,
    limit: float | None,
    pool: int | None,
    sensitivity: float,
    form: str,
    force: bool,
    on: date | None,
) -> int:
    """Draw bags, parent trees or lots to look at, and print a sheet to take along.

    Drawn is from what hangs, stands or lies in store on the day (--on). In two steps whoever keeps the
    records can't steer it: --freeze prints a fingerprint of them all, whoever inspects notes it and only then
    tells a text, and --frozen with both draws. With --of seed it plans a test of a lot in pools, and says how
    much of the lot the test would use up.
    """
    from certgen.cli.output import examine_or_refuse, hold_places

    if of == "seed":
        _refuse_for_plan(
            lot, detect, {"--freeze": freeze, "--frozen": frozen, "--records": records, "--out": out}
        )
        result = examine_or_refuse(season, on, form)
        plan = _plan_seed_test(result, str(lot), detect or 0, confidence, limit, sensitivity, pool)
        _write_plan(result, plan, form)
        return 2 if result.errors else 0
    _refuse_for_draw(size, detect, freeze, seed, frozen, out, (lot, limit, pool))
    if out is not None:
        hold_places({out: "field paper"}, force=force)
    asked = _ask(of, by, records)
    result = examine_or_refuse(season, on, form)
    fingerprint = _freeze(result, asked, frozen)
    wanted = _count(result, asked, size, detect, confidence)
    if freeze:
        _write_frozen(result, asked, fingerprint, wanted, form)
        return 2 if result.errors else 0
    key = _hear_text(result, asked, fingerprint, seed, noted=frozen is not None)
    check = _draw(result, asked, key, wanted or 0, "--size" if size else "--detect")
    if out is not None:
        _print_sheet(result, check, out, page, force=force)
    _write_check(result, check, form)
    return 2 if result.errors else 0


def _refuse_for_plan(lot: str | None, detect: float | None, of_draw: dict[str, object]) -> None:
    """What a plan of a seed test lacks, or has no use for."""
    for name, given in of_draw.items():
        if given:
            raise click.BadParameter("Of seed nothing is drawn here: a test is planned.", param_hint=name)
    if lot is None or detect is None:
        message = "A test of seed needs a lot and what is to be found: --lot LOT --detect '0.5 %'."
        raise click.BadParameter(message, param_hint="--lot" if lot is None else "--detect")


def _refuse_for_draw(
    size: int | None,
    detect: float | None,
    freeze: bool,
    seed: str | None,
    frozen: str | None,
    out: Path | None,
    of_seed: tuple[object, ...],
) -> None:
    """What a draw lacks, or has no use for."""
    if any(given is not None for given in of_seed):
        message = "--lot, --limit and --pool plan a test of seed: write --of seed too."
        raise click.BadParameter(message, param_hint="--of")
    if freeze and any(given is not None for given in (seed, frozen, out)):
        message = "The first step only freezes; once the fingerprint is noted, --frozen and a text draw."
        raise click.BadParameter(message, param_hint="--freeze")
    said = (size is not None) + (detect is not None)
    if said > 1 or said + freeze == 0:
        message = "Say either how many (--size 20) or what is to be found (--detect '5 %')."
        raise click.BadParameter(message, param_hint="--size")
    if not freeze and seed is None and not sys.stdin.isatty():
        message = (
            'Give the text that decides the draw, for example --seed "rain at noon, 12 November"; or print '
            "the fingerprint of the records first, with --freeze."
        )
        raise click.BadParameter(message, param_hint="--seed")


def _ask(of: str, by: By | None, records: bool) -> Asked:
    from certgen.dossier.spot_check import Asked

    try:
        return Asked(of, by or ("variety" if of == "lots" else "block"), records)  # type: ignore[arg-type]
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--by") from None


def _freeze(result: Result, asked: Asked, noted: str | None) -> str:
    """The fingerprint of what is here; ends the command if another one was noted."""
    from certgen.dossier.spot_check import freeze_draw, say_population
    from certgen.figures.draws import read_fingerprint, write_fingerprint
    from certgen.manifest import ManifestError, digest_records

    with refusing(ManifestError):
        fingerprint = freeze_draw(result, asked, digest_records(result.season))
    if noted is None:
        return fingerprint
    try:
        before = read_fingerprint(noted)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--frozen") from None
    if before != fingerprint:
        message = (
            "What was frozen isn't what is here, so nothing is drawn. Either a record or its evidence "
            "changed since, or another kind, day or group was frozen (--of, --on, --by, --records). Here and "
            f"now the fingerprint of {say_population(asked, result.on)}, by {asked.by}, is "
            f"{' '.join(write_fingerprint(fingerprint))}. Freeze anew, and let a new text be told."
        )
        raise click.BadParameter(message, param_hint="--frozen")
    return fingerprint


def _count(
    result: Result, asked: Asked, size: int | None, detect: float | None, confidence: float
) -> int | None:
    """How many to look at, if that is said."""
    from certgen.dossier.spot_check import list_strata, plan_size

    if size is not None or detect is None:
        return size
    return plan_size([len(group) for group in list_strata(result, asked).values()], detect, confidence)


def _hear_text(result: Result, asked: Asked, fingerprint: str, seed: str | None, *, noted: bool) -> DrawKey:
    """The text, asked for after the fingerprint was shown where it isn't given."""
    from certgen.cli.writers.sample import tell_fingerprint
    from certgen.dossier.spot_check import DrawKey

    if seed is None:
        # On standard error: what other programs read stays clean.
        click.echo(tell_fingerprint(result, asked, fingerprint), err=True)
        seed = click.prompt("The text, told now by whoever inspects", err=True)
        noted = True
    key = DrawKey(seed, fingerprint, noted)
    try:
        key.hashed  # noqa: B018 (a text that decides nothing is refused before anything is drawn)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--seed") from None
    return key


def _draw(result: Result, asked: Asked, key: DrawKey, size: int, hint: str) -> SpotCheck:
    from certgen.cli.writers.sample import say_nothing
    from certgen.dossier.spot_check import draw_check, list_strata

    if size and not list_strata(result, asked):
        raise click.BadParameter(say_nothing(result, asked), param_hint=hint)
    try:
        return draw_check(result, asked, key, size)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint=hint) from None


def _print_sheet(result: Result, check: SpotCheck, out: Path, page: str, *, force: bool) -> None:
    from certgen.cli.output import write_files
    from certgen.cli.progress import show_waiting
    from certgen.exchange.field_paper.draw_sheets import set_draw_sheet
    from certgen.exchange.field_paper.labels import LabelError
    from certgen.output_places.places import Output
    from certgen.typeset.typst_pages import SettingError

    with refusing(LabelError, SettingError), show_waiting("setting pages"):
        data = set_draw_sheet(result, check, page)
    write_files([Output(out, "field paper", data)], force=force)
    sys.stderr.write(f"sheet: {out}\n")


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


def _write_frozen(result: Result, asked: Asked, fingerprint: str, size: int | None, form: str) -> None:
    from certgen.cli.output import dump_csv, dump_json
    from certgen.cli.writers.sample import write_frozen
    from certgen.exchange.interchange.sample import build_frozen, tabulate_frozen

    match form:
        case "text":
            write_frozen(result, asked, fingerprint, size)
        case "json":
            dump_json(build_frozen(result, asked, fingerprint, size))
        case _:
            dump_csv(*tabulate_frozen(result, asked, fingerprint, size))


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
