"""The catalogue of frauds: small edits of small clean seasons, with what a good inspector would say.

    python tests/truth/frauds.py                     which of them come out wrong
    python tests/truth/frauds.py --honest            which honest variants do
    python tests/truth/frauds.py --pairs 200 --seed 7
    python tests/truth/frauds.py --only stock        those whose slug or stage begins so

Ends with 1 if any came out wrong. Two frauds in one season must not make each other's lots traced.
"""

# ruff: noqa: T201, E402 (a program that prints, and finds its modules beside it)
from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from random import Random

sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in range(3)]

import frauds_bagging
import frauds_incidents
import frauds_land
import frauds_packets
import frauds_picking
import frauds_recalls
import frauds_rounds
import frauds_screening
import frauds_silence
import frauds_stock
import frauds_years
from fraud import Fraud, examine_folder, tell_wrong
from frauds_seasons import folder_of

from certgen.examination import ReadFailure

MODULES = (
    frauds_stock, frauds_incidents, frauds_screening, frauds_bagging, frauds_picking, frauds_land,
    frauds_silence, frauds_years, frauds_rounds, frauds_packets, frauds_recalls,
)  # fmt: skip
#: How the stages of what isn't a fraud begin.
HONEST_STAGE = "honest"
FRAUDS: dict[str, Fraud] = {fraud.slug: fraud for module in MODULES for fraud in module.FRAUDS}


def judge(fraud: Fraud) -> list[str]:
    """What comes out wrong of a fraud or an honest variant; empty if nothing does.

    Of a season that can't be read at all nothing is traced: a fraud has failed, an honest variant is wronged.
    """
    folder = folder_of(fraud.base)
    fraud.edit.make(folder)
    try:
        result = examine_folder(folder)
    except ReadFailure as failure:
        return [str(failure)] if fraud.stage.startswith(HONEST_STAGE) else []
    wrong = [f"{one.rule} failed: {one.error}" for one in result.crashed]
    return wrong + tell_wrong(fraud, result)


@cache
def pairable(base: str) -> list[Fraud]:
    """Frauds that leave what rests on what as it is, so that none takes another one's seed out of a lot."""
    return [fraud for fraud in FRAUDS.values() if fraud.base == base and not fraud.edit.alone]


def draw_pairs(count: int, seed: int) -> Iterator[tuple[Fraud, Fraud]]:
    """Two frauds of one base that touch no record together, again and again."""
    random = Random(seed)
    bases = [fraud.base for fraud in FRAUDS.values() if not fraud.edit.alone]
    drawn = 0
    while drawn < count:
        first, second = random.sample(pairable(random.choice(bases)), 2)
        if not first.edit.touches & second.edit.touches:
            drawn += 1
            yield first, second


def judge_pair(first: Fraud, second: Fraud) -> list[str]:
    """The lots that one of two frauds speaks against and that are traced when both were done."""
    folder = folder_of(first.base)
    first.edit.make(folder)
    second.edit.make(folder)
    try:
        result = examine_folder(folder)
    except ReadFailure:
        return []
    lots = {lot for fraud in (first, second) for want in fraud.wants for lot in want.lots}
    traced = [lot for lot in sorted(lots) if lot not in result.lots or result.lots[lot].standing == "traced"]
    wrong = [f"{one.rule} failed: {one.error}" for one in result.crashed]
    return wrong + [f"{lot} is traced" for lot in traced]


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints a table of what comes out wrong."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--pairs", type=int, default=0, help="draw so many pairs instead")
    parser.add_argument("--seed", type=int, default=1, help="of the draw")
    parser.add_argument("--honest", action="store_true", help="the honest variants instead")
    parser.add_argument("--only", default="", help="those whose slug or stage begins so")
    chosen = parser.parse_args(arguments)
    if chosen.pairs:
        return _print_pairs(chosen.pairs, chosen.seed)
    from honest import HONEST

    catalogue = HONEST if chosen.honest else FRAUDS
    tried, wrong = Counter[str](), Counter[str]()
    for fraud in catalogue.values():
        if not fraud.slug.startswith(chosen.only) and not fraud.stage.startswith(chosen.only):
            continue
        tried[fraud.stage] += 1
        found = judge(fraud)
        if found:
            wrong[fraud.stage] += 1
            wanted = "; ".join(want.name for want in fraud.wants)
            print(f"{fraud.slug} ({fraud.base}): {fraud.says}\n    wants {wanted}; got {'; '.join(found)}")
    print(f"\n| stage | tried | wrong |\n|---|---:|---:|\n{_table(tried, wrong)}")
    return int(bool(wrong))


def _table(tried: Counter[str], wrong: Counter[str]) -> str:
    lines = [f"| {stage} | {count} | {wrong[stage]} |" for stage, count in tried.items()]
    return "\n".join([*lines, f"| **all** | {tried.total()} | {wrong.total()} |"])


def _print_pairs(count: int, seed: int) -> int:
    wrong = 0
    for first, second in draw_pairs(count, seed):
        found = judge_pair(first, second)
        if found:
            wrong += 1
            print(f"{first.slug} + {second.slug}: {'; '.join(found)}")
    print(f"\n{count} pairs, {wrong} wrong")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
