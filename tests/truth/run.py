"""Measures what the rules find: clean seasons by the thousand, planted faults one by one and in pairs.

    python tests/truth/run.py --seasons 1000        false alarms in clean seasons
    python tests/truth/run.py --faults 5            each rule's fault, so many times
    python tests/truth/run.py --pairs 500           faults planted two at a time
    python tests/truth/run.py --bags 20000          how long the rules take

Any of them together; `--from` is the first seed, `--jobs` the number of processes. The tables are Markdown.
Ends with 1 if anything was missed or found in excess.
"""

# ruff: noqa: T201, E402 (a program that prints, and finds its modules beside it)
from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from functools import cached_property
from itertools import islice
from pathlib import Path
from random import Random

sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in range(3)]

from generator import examine_truth, season_of_seed
from judging import Judgement, judge, pairs
from planted import FAULTS
from plot import Unsuited

from certgen.rules import RULES


def alarms(seed: int) -> tuple[int, tuple[tuple[str, str], ...], int]:
    """A clean season's false alarms, and how many records it has with those of the years before."""
    truth = season_of_seed(seed)
    result, _ = examine_truth(truth)
    found = {(gap.rule, one): gap for gap in result.gaps for one in gap.ids}
    told = [(gap.rule, gap.message) for place, gap in found.items() if place not in truth.noted]
    told += [(rule, f"not found at {one}") for rule, one in truth.noted - found.keys()]
    told += [("standing", lot) for lot, one in result.lots.items() if one.standing != "traced"]
    records, at = 0, truth
    while at is not None:
        records += sum(map(len, at.tables.values()))
        at = at.previous
    return seed, tuple(told), records


def planted(case: tuple[tuple[str, ...], int]) -> Judgement | tuple[str, ...]:
    """A judgement, or the faults that no season has a place for together."""
    try:
        return judge(*case)
    except Unsuited:
        return case[0]


def run_seasons(count: int, first: int, pool: ProcessPoolExecutor) -> int:
    """Prints and returns the number of false alarms."""
    start, total, records = time.perf_counter(), 0, 0
    rules: Counter[str] = Counter()
    for done, (seed, told, size) in enumerate(pool.map(alarms, range(first, first + count), chunksize=4), 1):
        records += size
        total += bool(told)
        for rule, message in told:
            rules[rule] += 1
            print(f"  seed {seed}: {rule}: {message}", flush=True)
        if done % 500 == 0:
            print(f"  {done} seasons, {total} with a false alarm", file=sys.stderr, flush=True)
    seconds = time.perf_counter() - start
    print(f"clean seasons: {count} of {records:,} records, {total} with a false alarm ({seconds:.0f} s)")
    return total


def run_faults(cases: Sequence[tuple[tuple[str, ...], int]], pool: ProcessPoolExecutor, kind: str) -> int:
    """Prints the table of recall and precision; returns how often either failed."""
    start = time.perf_counter()
    expected: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    extra: Counter[str] = Counter()
    runs: Counter[str] = Counter()
    unplanted = 0
    wrong = 0
    for one in pool.map(planted, cases, chunksize=2):
        if not isinstance(one, Judgement):
            unplanted += 1
            continue
        runs.update(one.slugs)
        expected.update(place.rule for place in one.expected)
        missed.update(place.rule for place in one.missed)
        extra.update(place.rule for place in one.extra)
        if one.missed or one.extra:
            wrong += 1
            print(f"  seed {one.seed}, {' + '.join(one.slugs)}", flush=True)
            for what, places in (("missed", one.missed), ("in excess", one.extra)):
                for place in sorted(places, key=str):
                    print(f"    {what}: {tuple(place)}", flush=True)
    seconds = time.perf_counter() - start
    print(f"\n{kind}: {sum(runs.values())} faults, {unplanted} without a season ({seconds:.0f} s)\n")
    print("| rule | planted | places | recall | precision |")
    print("|---|---:|---:|---:|---:|")
    for rule in RULES:
        right = expected[rule] - missed[rule]
        recall = f"{right / expected[rule]:.1%}" if expected[rule] else "–"
        precision = f"{right / (right + extra[rule]):.1%}" if right + extra[rule] else "–"
        print(f"| `{rule}` | {runs[rule]} | {expected[rule]} | {recall} | {precision} |")
    right = expected.total() - missed.total()
    shares = (right / max(1, expected.total()), right / max(1, right + extra.total()))
    print(f"| **all** | {runs.total()} | {expected.total()} | {shares[0]:.2%} | {shares[1]:.2%} |")
    return wrong


def run_bags(bags: int) -> None:
    """Prints how long lineage and each rule take on a season of so many bags, in seconds of one core.

    What other work a machine does is left out so; the time by the clock is given once, for all rules.
    The tables that rules share are made first: else the first rule to ask for one would be charged with it.
    """
    from certgen.lineage import build_lineage
    from certgen.records.joining.farm import join_seasons
    from certgen.rules import Case
    from certgen.standards import load_profile, load_rulebook
    from certgen.standards.season_reading import read_case
    from tests.bench.seasons import write_season

    with tempfile.TemporaryDirectory() as folder:
        write_season(Path(folder) / "season", bags)
        season, errors = read_case(Path(folder) / "season")
        assert season is not None, errors
    started = time.process_time()
    farm = join_seasons(season)
    lineage = build_lineage(farm)
    lined = time.process_time() - started
    profile = load_profile(season.details.crop)
    rulebooks = tuple(load_rulebook(key) for key in season.details.standards)
    case = Case(farm, lineage, profile, rulebooks, max(season.details.end, date(2026, 12, 31)))
    started = time.process_time()
    for name, value in vars(Case).items():
        if isinstance(value, cached_property):
            getattr(case, name)
    shared = time.process_time() - started
    times = {}
    findings = 0
    clock = time.perf_counter()
    for slug, rule in RULES.items():
        before = time.process_time()
        findings += sum(1 for _ in rule.check(case))
        times[slug] = time.process_time() - before
    clock = time.perf_counter() - clock
    print(f"\n{bags:,} bags: lineage {lined:.2f} s, shared tables {shared:.2f} s, {len(RULES)} rules "
          f"{sum(times.values()):.2f} s of one core, {clock:.2f} s by the clock ({findings} findings). "
          "The slowest:\n")  # fmt: skip
    print("| rule | seconds |")
    print("|---|---:|")
    for slug in sorted(times, key=times.__getitem__, reverse=True)[:8]:
        print(f"| `{slug}` | {times[slug]:.3f} |")


def main(arguments: Iterable[str] | None = None) -> int:
    """Runs what is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seasons", type=int, default=0)
    parser.add_argument("--faults", type=int, default=0)
    parser.add_argument("--pairs", type=int, default=0)
    parser.add_argument("--bags", type=int, default=0)
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--rules", nargs="*", default=list(FAULTS), help="only these rules' faults")
    asked = parser.parse_args(None if arguments is None else list(arguments))
    wrong = 0
    with ProcessPoolExecutor(asked.jobs) as pool:
        if asked.seasons:
            wrong += run_seasons(asked.seasons, asked.first, pool)
        if asked.faults:
            cases = [((rule,), asked.first + 1009 * at) for at in range(asked.faults) for rule in asked.rules]
            wrong += run_faults(cases, pool, "one fault a season")
        if asked.pairs:
            drawn = islice(pairs(Random(asked.first)), asked.pairs)
            cases = [(pair, asked.first + 7 * at) for at, pair in enumerate(drawn)]
            wrong += run_faults(cases, pool, "two faults a season")
    if asked.bags:
        run_bags(asked.bags)
    return int(bool(wrong))


if __name__ == "__main__":
    raise SystemExit(main())
