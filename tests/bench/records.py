"""Measures of reading a season's folder.

    python tests/bench/records.py [--bags N]

takes these alone; `run.py` takes them with the others.
"""

from __future__ import annotations

import gc
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import yaml
from harness import Material, Ratio, best_seconds, measure, peak_mebibytes
from seasons import write_season

READ = """
import sys
from pathlib import Path
from certgen.records import read_season
read_season(Path(sys.argv[1]))
"""
LIBRARIES = "import numpy, yaml, jsonschema_rs"
SMALL, LARGE = 1_000, 200_000


def load_plainly(folder: Path) -> None:
    """Every file of the season through PyYAML's own fast loader."""
    for path in sorted(folder.rglob("*.yaml")):
        yaml.load(path.read_bytes(), Loader=yaml.CSafeLoader)


def seconds_of(work: Callable[[], object]) -> float:
    """One run, after the garbage of earlier ones is gone."""
    gc.collect()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


@measure
def reading_again_after_one_change_against_loader(material: Material) -> Ratio:
    """Reading with the cache after one entry of one file changed, against the fast loader of all files."""
    from certgen.records import read_season

    with tempfile.TemporaryDirectory() as place:
        season, cache = Path(place) / "season", Path(place) / "cache"
        shutil.copytree(material.season, season)
        read_season(season, cache=cache)
        files = sorted(season.glob("bagging/*.yaml"), key=lambda path: path.stat().st_size)
        changed = files[len(files) // 2]
        again: list[float] = []
        for entry in range(3):
            text = changed.read_text("utf-8")
            changed.write_text(text.replace("stage: closed bud", f"note: entry {entry}", 1), "utf-8")
            again.append(seconds_of(lambda: read_season(season, cache=cache)))
    return Ratio(min(again), best_seconds(lambda: load_plainly(material.season), 2), "s")


@measure
def reading_again_unchanged_against_loader(material: Material) -> Ratio:
    """Reading with the cache when nothing changed, against the fast loader of all files."""
    from certgen.records import read_season

    with tempfile.TemporaryDirectory() as place:
        cache = Path(place)
        read_season(material.season, cache=cache)
        ours = best_seconds(lambda: read_season(material.season, cache=cache), 3)
    return Ratio(ours, best_seconds(lambda: load_plainly(material.season), 2), "s")


@measure
def filling_the_cache_against_reading_without(material: Material) -> Ratio:
    """The first reading with an empty cache folder, against reading without one."""
    from certgen.records import read_season

    filled: list[float] = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as place:
            filled.append(seconds_of(lambda cache=Path(place): read_season(material.season, cache=cache)))
    return Ratio(min(filled), best_seconds(lambda: read_season(material.season), 3), "s")


@measure
def memory_of_reading_against_the_files(material: Material) -> Ratio:
    """Peak memory that reading adds to a Python with its libraries loaded, against the YAML files' size."""
    ours = peak_mebibytes(READ, str(material.season)) - peak_mebibytes(LIBRARIES)
    return Ratio(ours, material.size_bytes / 1024**2, "MiB")


@measure
def a_record_of_a_large_season_against_one_of_a_small(_: Material) -> Ratio:
    """Microseconds a bag in a season of 200,000 bags, against those in a season of 1,000."""
    from certgen.records import read_season

    found: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as place:
        for bags, repeats in ((SMALL, 9), (LARGE, 1)):
            season = Path(place) / str(bags)
            write_season(season, bags)
            found[bags] = best_seconds(lambda season=season: read_season(season), repeats) / bags * 1e6
    return Ratio(found[LARGE], found[SMALL], "µs")


if __name__ == "__main__":
    from harness import registered

    own = list(registered())
    from run import main

    if "--only" not in sys.argv:
        sys.argv += ["--only", *own]
    sys.exit(main())
