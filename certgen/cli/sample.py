"""`certgen sample`: a spot check that anybody can draw again, and what a test of seed would cost."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from certgen.cli.arguments import OnDay, SeasonFolder, choose, parse_day

if TYPE_CHECKING:
    from certgen.dossier.spot_check import SpotCheck
    from certgen.examination import Result

FORMATS: Final = ("text", "json", "csv")
_KINDS: Final = ("bags", "trees", "seed")
_BY: Final = ("block", "variety", "all")


def run(
    season: SeasonFolder = Path(),
    seed: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT", help="The text that decides a draw of bags or trees: agree on it, keep it."
        ),
    ] = None,
    of: Annotated[
        str, typer.Option(metavar="bags|trees|seed", help="What is drawn; seed plans a test of a lot.")
    ] = "bags",
    size: Annotated[int | None, typer.Option(metavar="N", min=1, help="How many to look at.")] = None,
    detect: Annotated[
        str | None, typer.Option(metavar="PERCENT", help="Find a share of faulty ones this large: '5 %'.")
    ] = None,
    confidence: Annotated[
        str, typer.Option(metavar="PERCENT", help="How surely it is to be found, with --detect.")
    ] = "95 %",
    by: Annotated[
        str, typer.Option(metavar="block|variety|all", help="Draw in proportion from each of these.")
    ] = "block",
    lot: Annotated[str | None, typer.Option(metavar="LOT", help="With --of seed: the lot to test.")] = None,
    limit: Annotated[
        str | None,
        typer.Option(
            metavar="PERCENT",
            help="With --of seed: the smallest share of seeds that the assay finds in a pool.",
        ),
    ] = None,
    pool: Annotated[
        int | None, typer.Option(metavar="N", min=1, help="With --of seed: seeds in a pool.")
    ] = None,
    sensitivity: Annotated[
        str,
        typer.Option(metavar="PERCENT", help="With --of seed: how surely a pool that holds one is found."),
    ] = "100 %",
    form: Annotated[
        str, typer.Option("--format", metavar="text|json|csv", help="How the sheet is written.")
    ] = "text",
    on: OnDay = None,
) -> int:
    """Draw bags or parent trees to look at, and print a sheet to take into the field.

    The draw depends on the text alone: whoever knows it and the records draws the same items. Take a text
    that nobody could choose to suit them, such as today's weather report. With --of seed it plans a test of
    a lot in pools, and says how much of the lot the test would use up.

    Example:  certgen sample example_season --seed "rain at noon" --detect "5 %" --confidence "95 %"

    Example:  certgen sample example_season --of seed --lot AK-26-1 --detect "0.5 %"
    """
    choose(form, FORMATS, "--format")
    choose(of, _KINDS, "--of")
    choose(by, _BY, "--by")
    if of == "seed":
        return _plan_seed(season, form, on, lot, detect, confidence, limit, sensitivity, pool)
    if lot is not None or limit is not None or pool is not None:
        message = "--lot, --limit and --pool plan a test of seed: write --of seed too."
        raise typer.BadParameter(message, param_hint="--of")
    if not seed:
        message = 'Give the text that decides the draw, for example --seed "rain at noon, 12 November".'
        raise typer.BadParameter(message, param_hint="--seed")
    if (size is None) == (detect is None):
        message = "Say either how many (--size 20) or what is to be found (--detect '5 %')."
        raise typer.BadParameter(message, param_hint="--size")
    share = _percent(detect, "--detect") if detect else None
    sure = _percent(confidence, "--confidence")
    from certgen.cli.output import examine_or_refuse
    from certgen.dossier.spot_check import count_population, draw_check, plan_size

    result = examine_or_refuse(season, parse_day(on), form)
    if result is None:
        return 2
    population = count_population(result, of)  # type: ignore[arg-type]
    try:
        wanted = size if size is not None else plan_size(population, share or 0, sure)
        check = draw_check(result, of, seed, wanted, by)  # type: ignore[arg-type]
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--size" if size else "--detect") from None
    {"text": _write_text, "json": _write_json, "csv": _write_csv}[form](result, check)
    return 2 if result.errors else 0


def _plan_seed(
    season: Path,
    form: str,
    on: str | None,
    lot: str | None,
    detect: str | None,
    confidence: str,
    limit: str | None,
    sensitivity: str,
    pool: int | None,
) -> int:
    """`--of seed`: the plan of a test of one lot, written."""
    if lot is None or detect is None:
        message = "A test of seed needs a lot and what is to be found: --lot LOT --detect '0.5 %'."
        raise typer.BadParameter(message, param_hint="--lot" if lot is None else "--detect")
    share, sure = _percent(detect, "--detect"), _percent(confidence, "--confidence")
    least = _percent(limit, "--limit") if limit else None
    finds = _percent(sensitivity, "--sensitivity", whole=True)
    from certgen.cli import seed_plan
    from certgen.cli.output import examine_or_refuse
    from certgen.dossier.seed_plan import plan_seed_test

    result = examine_or_refuse(season, parse_day(on), form)
    if result is None:
        return 2
    try:
        plan = plan_seed_test(result, lot, share, confidence=sure, limit=least, sensitivity=finds, pool=pool)
    except KeyError:
        held = result.ledger["lot"].tolist()
        choose(lot, dict.fromkeys([*result.lots, *held]), "--lot")
        raise
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--pool" if pool else "--detect") from None
    {"text": seed_plan.write_text, "json": seed_plan.write_json, "csv": seed_plan.write_csv}[form](
        result, plan
    )
    return 2 if result.errors else 0


def _percent(text: str, option: str, *, whole: bool = False) -> float:
    bare = text.strip().removesuffix("%").strip()
    try:
        # In decimals, for 0.4 % is 0.004 in writing and 0.0040000000000000001 is not.
        value = float(Decimal(bare) / 100)
    except InvalidOperation:
        value = -1.0
    if whole and value == 1:
        return value
    if not 0 < value < 1:
        message = f"'{text}' is no percentage between 0 and 100. Write it like '5 %'."
        raise typer.BadParameter(message, param_hint=option)
    return value


def _write_text(result: Result, check: SpotCheck) -> None:
    from certgen.cli.terminal import Terminal, clean
    from certgen.rules.wording import day, join

    out = Terminal()
    details = result.season.details
    out.line(out.paint(clean(f"{details.operation.name}, season {details.label}"), "bold"))
    out.text(
        f"Spot check of {check.size} of {check.population} {check.kind}, drawn with the text “{check.seed}”."
    )
    if len(check.strata) > 1:
        drawn = [one.stratum for one in check.drawn]
        parts = join(f"{drawn.count(name)} of {total} in {name}" for name, total in check.strata.items())
        out.text(f"In proportion: {parts}.")
    stratum = ""
    for one in check.drawn:
        if one.stratum != stratum:
            stratum = one.stratum
            out.heading(clean(stratum))
        where = ", ".join(
            f"{word} {text}" for word, text in (("row", one.row), ("place", one.position)) if text
        )
        tree = f" on tree {one.tree}" if check.kind == "bags" and one.tree else ""
        out.line()
        out.text(f"[ ] {check.kind[:-1]} {one.identifier}{tree}{f' ({where})' if where else ''}", 2, "bold")
        out.text("; ".join(f"{name} {says}" for name, says in one.says if says), 6)
        out.line("      found: ________________________________________")
    out.heading("What this sample can miss")
    for faults, chance in check.misses:
        what = f"{faults} of {check.population} {'is' if faults == 1 else 'are'} faulty"
        out.line(f"  If {what}: missed with a chance of {_say_chance(chance)}.")
    out.line()
    out.text(
        "To draw it again: write the text, a vertical bar and the identifier, take the SHA-256 of it, "
        "sort by it within each group, and take the first ones."
    )
    out.text(f"As of {day(result.on)}.")


def _say_chance(chance: float) -> str:
    """A chance to one decimal; one that would round to nothing isn't called nothing."""
    return "less than 0.1 %" if 0 < chance < 0.0005 else f"{100 * chance:.1f} %"


def _write_json(result: Result, check: SpotCheck) -> None:
    from certgen.cli.output import dump_json, name_season

    dump_json(
        {
            "format": 1,
            "season": name_season(result),
            "kind": check.kind,
            "seed": check.seed,
            "population": check.population,
            "size": check.size,
            "strata": dict(check.strata),
            "drawn": [
                {
                    "id": one.identifier,
                    "stratum": one.stratum,
                    "tree": one.tree,
                    "block": one.block,
                    "row": one.row,
                    "position": one.position,
                    "variety": one.variety,
                    "says": dict(one.says),
                }
                for one in check.drawn
            ],
            "misses": [{"faulty": faults, "chance": chance} for faults, chance in check.misses],
        }
    )


def _write_csv(result: Result, check: SpotCheck) -> None:  # noqa: ARG001 (all writers are called alike)
    from certgen.cli.output import dump_csv

    names = [name for name, _ in check.drawn[0].says] if check.drawn else []
    dump_csv(
        ["id", "group", "tree", "block", "row", "position", "variety", *names, "found"],
        [
            (one.identifier, one.stratum, one.tree, one.block, one.row, one.position, one.variety,
             *(says for _, says in one.says), "")
            for one in check.drawn
        ],
    )  # fmt: skip
