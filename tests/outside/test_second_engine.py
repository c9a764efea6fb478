"""Every lot's standing by gram, worked out twice: by certgen, and by an engine that shares no line with it.

Run as a program it compares generated seasons by the thousand, clean ones and ones with a planted fault:

    python tests/outside/test_second_engine.py --seasons 2000 --frauds --examples
"""

# ruff: noqa: T201, E402 (a program that prints, and finds its modules beside it)
from __future__ import annotations

import argparse
import re
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from itertools import chain
from pathlib import Path
from random import Random

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parent
sys.path[:0] = [str(TESTS / "outside"), str(TESTS / "truth"), str(TESTS), str(ROOT)]

import pytest
from fraud import ON
from frauds import FRAUDS
from frauds_seasons import folder_of
from generator import grow_season
from honest import HONEST
from planted import FAULTS
from plot import Plot, Unsuited
from second_engine import standings
from second_engine.grams import share_out
from second_engine.pinned import PINS
from second_engine.said import names_in
from second_engine.values import RefusedError, day, milligrams, months_later, number_on_a_mark
from second_engine.wording import holds_forbidden, neighbours_organic, own_bench, prohibited, says_organic
from stand_ins import StandIns

from certgen.examination import ReadFailure, examine
from certgen.rules.example_seasons import EXAMPLES, EXAMPLES_ON, ExampleSeason, load_example

COVERS = ("certgen.lineage.standing", "certgen.rules")
ENGINE = Path(__file__).parent / "second_engine"
EXAMPLE_SLUGS = sorted(path.parent.name for path in EXAMPLES.glob("*/bad.yaml"))
SLUGS = sorted(FAULTS)
#: Seasons tried before a fault is given up as having no place in any.
TRIES = 60
#: Every so many of the rules' examples and of the frauds are compared here; the program compares all.
SHARE = 18
_REGISTER = (
    "the register of that year and this year's contradict each other: the engine goes by that year's, "
    "certgen by neither"
)
#: Faults of which the engines tell different things for a reason. No lot of these is traced by either.
APART = {
    "picking-entered-twice": "the engine takes the second of two records of one number for the same picking; "
    "for certgen nothing rests on either",
    "run-entered-twice": "the same of a run",
    "stock-number-used-again": "the same of two samplings, counts or movements under one number",
    "years-tree-of-another-planting": _REGISTER,
    "land-organic-since-last-year-only": _REGISTER,
    "land-status-changed-backwards": _REGISTER,
    "land-substance-forgotten": _REGISTER,
}


def compare(folder: Path, on: date) -> list[str]:
    """The lots whose standing, or any of whose masses, the two engines tell otherwise."""
    try:
        theirs = {
            name: (one.standing, one.weight_mg, one.traced_mg, one.unproven_mg, one.rejected_mg,
                   getattr(one, "unaccounted_mg", 0))
            for name, one in examine(folder, on, packets=StandIns()).lots.items()
        }  # fmt: skip
    except ReadFailure:
        theirs = None
    try:
        found = standings(folder, on)
    except RefusedError:
        found = None
    if theirs is None or found is None:
        return (
            [] if theirs is found else [f"certgen reads {theirs is not None}, the engine {found is not None}"]
        )
    ours = {name: (one.standing, one.weight, *one.masses) for name, one in found.items()}
    return [
        f"{name}: certgen {theirs.get(name)}, the engine {ours.get(name)}"
        + (f" for {'; '.join(found[name].why)}" if name in found else "")
        for name in sorted(theirs.keys() | ours.keys())
        if not _alike(theirs.get(name), ours.get(name))
    ]


def _alike(theirs: tuple[str | int, ...] | None, ours: tuple[str | int, ...] | None) -> bool:
    """Whether standing, weight and masses agree; shares of shares, to a milligram."""
    if theirs is None or ours is None or theirs[:2] != ours[:2]:
        return theirs == ours
    return all(abs(int(one) - int(other)) <= 1 for one, other in zip(theirs[2:], ours[2:], strict=True))


_LAST_YEAR = (
    "what only this year's register says of land was so last year, too; the other goes by each year's"
)
#: The same of faults that are planted in grown seasons: where they part, certgen is the stricter.
APART_PLANTED = {
    "batch-mixed-variety": "a run of two varieties spoils its own grams for certgen, for the other the lot",
    "split-operation-unseparated": _LAST_YEAR,
    "buffer-narrow": _LAST_YEAR,
    "source-ambiguous": "the sources of a lot are one thing to show for certgen, one a part for the other",
}


def traced_apart(told: Sequence[str]) -> list[str]:
    """What of the differences isn't for a reason: a lot that one of the two engines calls traced."""
    return [one for one in told if "'traced'" in one or "engine None" in one or "certgen None" in one]


def looser(told: Sequence[str]) -> list[str]:
    """What of the differences isn't for a reason: a lot that certgen calls traced, and the other doesn't."""
    return [one for one in told if "certgen ('traced'" in one or "certgen None" in one]


def grow(seed: int, folder: Path) -> tuple[Path, date, str]:
    """The season that a seed names: a clean one, or every other time one with a fault planted in it."""
    for number in range(seed, seed + TRIES * 10_007, 10_007):
        random = Random(number)
        truth = grow_season(random)
        slug = SLUGS[seed // 2 % len(SLUGS)] if seed % 2 else "clean"
        try:
            if slug != "clean":
                FAULTS[slug](Plot(truth, random))
        except Unsuited:
            continue
        place = folder / "season"
        place.mkdir()
        truth.write(place)
        return place, truth.on, slug
    raise Unsuited(f"no season has a place for seed {seed}")


def test_the_example_season_stands_alike():
    """The season that readers see first."""
    assert [] == compare(ROOT / "example_season", date(2026, 12, 31))


@pytest.mark.parametrize("member", ["alder/2026", "thistle"])
def test_the_example_members_stand_alike(member):
    """The co-op's members that are folders; one of them can't be read, by either."""
    assert [] == compare(ROOT / "example_coop" / "members" / member, date(2026, 12, 31))


def test_the_packed_member_stands_alike(tmp_path):
    """The member that hands its folder in as an archive."""
    with zipfile.ZipFile(ROOT / "example_coop" / "members" / "hollow.zip") as packed:
        packed.extractall(tmp_path)
    place = next(path.parent for path in sorted(tmp_path.rglob("*.yaml")) if "season:" in path.read_text())

    assert [] == compare(place, date(2026, 12, 31))


@pytest.mark.parametrize("kind", ["good", "bad"])
@pytest.mark.parametrize("slug", EXAMPLE_SLUGS[::SHARE])
def test_the_rules_examples_stand_alike(slug, kind, tmp_path):
    """The two seasons of each of a share of the rules; `--examples` compares the whole."""
    assert [] == compare(load_example(slug, kind).write(tmp_path), EXAMPLES_ON)


@pytest.mark.parametrize("seed", range(16))
def test_generated_seasons_stand_alike(seed, tmp_path):
    """Clean seasons and seasons with one fault, drawn."""
    place, on, slug = grow(seed, tmp_path)
    told = compare(place, on)

    assert [] == (looser(told) if slug in APART_PLANTED else told)


def lay(slug: str, folder: Path) -> Path:
    """A season of the catalogue of frauds and honest variants."""
    fraud = {**FRAUDS, **HONEST}[slug]
    season = folder_of(fraud.base)
    fraud.edit.make(season)
    return season.write(folder / "season")


@pytest.mark.parametrize("slug", [*FRAUDS, *HONEST][::SHARE])
def test_frauds_and_honest_variants_stand_alike(slug, tmp_path):
    """A share of the catalogue; `--frauds` compares the whole."""
    told = compare(lay(slug, tmp_path), ON)

    assert [] == (traced_apart(told) if slug in APART else told)


@pytest.mark.parametrize("slug", sorted(APART))
def test_what_is_told_apart_for_a_reason_is_traced_by_neither(slug, tmp_path):
    """And is told apart still; a reason that no season needs is struck off."""
    told = compare(lay(slug, tmp_path), ON)

    assert told
    assert [] == traced_apart(told)


def test_the_engine_shares_nothing_with_certgen():
    """It imports nothing of it, and reads of it only data: schemas, profiles, rulebooks."""
    for path in sorted(ENGINE.glob("*.py")):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"^\s*(?:from|import)\s+certgen", text, re.MULTILINE)
        assert "importlib" not in text


# What the engine reckons with, pinned: two engines that err alike would agree.


@pytest.mark.parametrize("pin", PINS, ids=[pin.about.replace(" ", "-") for pin in PINS])
def test_the_engine_alone_stands_by_the_page(pin, tmp_path):
    """Small seasons that were worked out by hand."""
    found = standings(ExampleSeason("second-engine", "bad", pin.text).write(tmp_path), EXAMPLES_ON)

    assert (pin.first, pin.second) == (found["L1"].masses, found["L2"].masses), found


def test_a_season_before_of_another_operation_proves_nothing(tmp_path):
    """Its records support nothing here; the same under one's own name do."""
    place = load_example("carry-over-differs", "good").write(tmp_path)
    own = standings(place, EXAMPLES_ON)["K1"]
    for path in (tmp_path / "earlier").glob("*.yaml"):
        path.write_text(path.read_text().replace("certificate: C-0417", "certificate: D-1"))

    assert "lot: other_operation" not in own.why
    assert "lot: other_operation" in standings(place, EXAMPLES_ON)["K1"].why


@pytest.mark.parametrize(
    ("whole", "by", "shares"),
    [
        (10, [1, 1, 1], [4, 3, 3]),
        (1, [1, 1], [1, 0]),
        (5, [0, 0], [0, 0]),
        (7, [3, 4], [3, 4]),
        (100, [2, 1], [67, 33]),
        (3, [5, 0, 5], [2, 0, 1]),
    ],
)
def test_a_mass_is_shared_out_to_the_milligram(whole, by, shares):
    """Largest remainder first, the earlier part on ties; nothing is lost."""
    assert shares == share_out(whole, by)


@pytest.mark.parametrize(
    ("text", "mg"),
    [
        ("412 g", 412_000),
        ("14.5 oz", 411_068),
        ("0.0005 g", 0),
        ("0.0015 g", 2),
        ("1.2kg", 1_200_000),
        ("2 lbs", 907_185),
    ],
)
def test_masses_are_whole_milligrams(text, mg):
    """In any unit that is written."""
    assert mg == milligrams(text)


@pytest.mark.parametrize("text", ["412", "0,5 kg", "-1 g", ".5 g", "1 KG", "1 g 2", "g"])
def test_what_is_no_mass_is_refused(text):
    """A figure without a unit, with a comma, below nothing."""
    with pytest.raises(RefusedError):
        milligrams(text)


def test_days_and_months():
    """The last of a month stays the last; a day that the calendar hasn't is refused."""
    assert date(2026, 2, 28).toordinal() == months_later(day("2025-11-30"), 3)
    assert date(2027, 2, 28).toordinal() == months_later(day("2024-02-29"), 36)
    with pytest.raises(RefusedError):
        day("2026-02-30")


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("B26-0008 to B26-0011", ["B26-0008", "B26-0009", "B26-0010", "B26-0011"]),
        ("7 to 9", ["7", "8", "9"]),
        ("B1", ["B1"]),
        ("A1 to B3", []),
    ],
)
def test_ranges_are_spelled_out(text, names):
    """The noughts stay; a range from one row into another means nothing."""
    assert names == list(names_in(text))


@pytest.mark.parametrize(
    ("mark", "number"), [("no. 001", "001"), ("Nr 7", "7"), ("tree T-4", "t-4"), ("01", "01")]
)
def test_a_mark_is_its_number(mark, number):
    """What stands before the number says nothing; its digits do."""
    assert number == number_on_a_mark(mark)


def test_free_words():
    """Denied words don't accuse, and what is only half said doesn't help."""
    assert holds_forbidden("old fungicide bucket")
    assert not holds_forbidden("glass jar, no fungicide")
    assert not holds_forbidden("fungicide-free foil")
    assert says_organic("Certified organic seed")
    assert not says_organic("in transition to organic")
    assert not says_organic("non-organic")
    assert neighbours_organic("organic neighbours on all sides")
    assert not neighbours_organic("hedge; the neighbour is conventional, we are organic")
    assert own_bench("own bench", {"name": "X"})
    assert own_bench("R. Alder", {"name": "X", "responsible": "R. Alder"})
    assert not own_bench("Bracken Ford Plant Diagnostics", {"name": "X"})
    assert prohibited("Glyphosate 41 %")
    assert not prohibited("compost")
    assert not prohibited("free of glyphosate or urea")
    assert prohibited("no urea, NPK 15-15-15")
    assert prohibited("urea, free of charge")


def _told(place: Path, on: date) -> list[str]:
    try:
        return compare(place, on)
    except Exception as error:  # noqa: BLE001 (a crash of either is told like any other difference)
        return [f"{type(error).__name__}: {error}"]


def _one(seed: int) -> tuple[int, str, list[str]]:
    """A season's disagreements, with the fault that was planted."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            place, on, slug = grow(seed, Path(folder))
        except Unsuited:
            return seed, "", []
        told = _told(place, on)
        return seed, slug, looser(told) if slug in APART_PLANTED else told


def _example(case: tuple[str, str]) -> tuple[int, str, list[str]]:
    """A rule's season, and what the engines tell otherwise of it."""
    with tempfile.TemporaryDirectory() as folder:
        return 0, "/".join(case), _told(load_example(*case).write(Path(folder)), EXAMPLES_ON)


def _two(slug: str) -> tuple[int, str, list[str]]:
    """A season of the catalogue, and what the engines tell otherwise of it."""
    with tempfile.TemporaryDirectory() as folder:
        told = _told(lay(slug, Path(folder)), ON)
        return 0, slug, traced_apart(told) if slug in APART else told


def main(arguments: Sequence[str] | None = None) -> int:
    """Compares so many seasons; ends with 1 if the engines differ on any."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seasons", type=int, default=200)
    parser.add_argument("--frauds", action="store_true", help="the catalogue of frauds as well")
    parser.add_argument("--examples", action="store_true", help="the rules' examples as well")
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args(arguments)
    start, compared = time.perf_counter(), 0
    apart: Counter[str] = Counter()
    with ProcessPoolExecutor(asked.jobs) as pool:
        seasons = pool.map(_one, range(asked.first, asked.first + asked.seasons), chunksize=4)
        frauds = pool.map(_two, [*FRAUDS, *HONEST] if asked.frauds else [], chunksize=8)
        cases = [(slug, kind) for slug in EXAMPLE_SLUGS for kind in ("good", "bad")]
        examples = pool.map(_example, cases if asked.examples else [], chunksize=8)
        for seed, slug, told in chain(seasons, frauds, examples):
            compared += bool(slug)
            if told:
                apart[slug] += 1
                print(f"seed {seed}, {slug}:", *told, sep="\n    ", flush=True)
    for slug, count in apart.most_common():
        print(f"{count:>6}  {slug}")
    print(f"{compared} seasons compared, {apart.total()} with a lot that stands otherwise "
          f"({time.perf_counter() - start:.0f} s)")  # fmt: skip
    return int(bool(apart))


if __name__ == "__main__":
    raise SystemExit(main())
