"""Feeds the targets with mutated inputs until something gives.

    python tests/hostile/fuzz.py --target reader --runs 100000 [--seed N] [--seconds S] [--plain]

With atheris installed the mutations are guided by coverage; without it, or with --plain, they are drawn by
chance from the corpus and a list of YAML's and the schemas' own words. A finding is written into the corpus
folder, named by its hash, and ends the run with exit code 1; the suite then holds it for good.
"""

from __future__ import annotations

import argparse
import hashlib
import resource
import sys
import time
import traceback
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from foreign_files import make_cheap  # noqa: E402 - found by the path just set
from mutations import mutate, vocabulary  # noqa: E402
from targets import CORPUS, TARGETS, bound_of, corpus_of  # noqa: E402

#: More memory than any input may bring the process to, in bytes.
MOST_MEMORY = 1536 * 1024 * 1024
#: Longer than any input of that size may keep a processor busy: on a loaded machine the clock says little.
SECONDS_AN_INPUT = 5.0
SECONDS_BETWEEN_WORDS = 60.0
#: Fewer runs are over before it is known which inputs take long.
WEIGHED_RUNS = 1000


def peak_memory() -> int:
    """The most memory that this process has held, in bytes.

    Linux hands `ru_maxrss` down to a child: a suite that had grown large itself was found in every input.
    """
    status = Path("/proc/self/status")
    if status.exists():
        lines = status.read_text(encoding="ascii").splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) * 1024
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


def keep(target: str, data: bytes) -> Path:
    """Writes a finding into the corpus."""
    folder = CORPUS / {"nodes": "reader"}.get(target, target)
    path = folder / f"found-{hashlib.sha256(data).hexdigest()[:12]}"
    path.write_bytes(data)
    return path


def fuzz_plainly(target: str, runs: int, seed: int, seconds: float) -> int:
    """Mutations by chance; gives the exit code."""
    chance, words, run = Random(seed), vocabulary(), TARGETS[target]
    most = bound_of(target)
    corpus = [path.read_bytes()[:most] for path in corpus_of(target)]
    weights = weigh(run, corpus) if runs > WEIGHED_RUNS else [1.0] * len(corpus)
    begun = told = time.monotonic()
    slowest = 0.0
    number = 0
    for number in range(1, runs + 1):
        (seeded,) = chance.choices(corpus, weights)
        data = mutate(seeded, corpus, words, chance, most)
        start = time.process_time()
        try:
            run(data)
        except Exception:  # noqa: BLE001 - whatever it is, it is the finding
            traceback.print_exc()
            sys.stdout.write(f"input {number}: kept as {keep(target, data)}\n")
            return 1
        took = time.process_time() - start
        if took > SECONDS_AN_INPUT:
            # A machine that has run out of memory keeps every process busy now and then, whatever it does.
            start = time.process_time()
            run(data)
            took = time.process_time() - start
        if took > SECONDS_AN_INPUT:
            sys.stdout.write(f"input {number} took {took:.1f} s: kept as {keep(target, data)}\n")
            return 1
        if peak_memory() > MOST_MEMORY:
            sys.stdout.write(f"input {number} took too much memory: kept as {keep(target, data)}\n")
            return 1
        slowest = max(slowest, took)
        now = time.monotonic()
        if now - told > SECONDS_BETWEEN_WORDS:
            told = now
            sys.stderr.write(f"{target}: {number:,} inputs in {now - begun:.0f} s so far\n")
        if seconds and now - begun > seconds:
            break
    took = time.monotonic() - begun
    outcome = f"{number:,} inputs in {took:.0f} s, the slowest {slowest:.2f} s; nothing found"
    sys.stdout.write(f"{target}: {outcome}\n")
    return 0


def weigh(run: Callable[[bytes], None], corpus: list[bytes]) -> list[float]:
    """How often each input is begun from: one that takes long, less often, so that all get their time."""
    taken = []
    for data in corpus * 2:
        start = time.process_time()
        run(data)
        taken.append(time.process_time() - start)
    second = taken[len(corpus) :]
    mean = sum(second) / len(second)
    return [min(1.0, mean / max(one, 1e-6)) for one in second]


def fuzz_guided(target: str, runs: int, seed: int, seconds: float) -> int:
    """Mutations guided by coverage; ends the process."""
    import tempfile

    import atheris

    atheris.instrument_all()
    run = TARGETS[target]
    with tempfile.TemporaryDirectory() as grown:
        dictionary = Path(grown) / "words"
        lines = ("".join(f"\\x{byte:02x}" for byte in word) for word in vocabulary())
        dictionary.write_text("".join(f'"{line}"\n' for line in lines))
        (Path(grown) / "corpus").mkdir()
        folder = CORPUS / {"nodes": "reader"}.get(target, target)
        arguments = [
            sys.argv[0], f"-runs={runs}", f"-seed={seed}", f"-max_len={bound_of(target)}",
            f"-dict={dictionary}",
            f"-timeout={SECONDS_AN_INPUT:.0f}", "-rss_limit_mb=2048", f"-artifact_prefix={folder}/found-",
            f"{grown}/corpus", str(folder),
        ]  # fmt: skip
        if seconds:
            arguments.insert(1, f"-max_total_time={seconds:.0f}")
        atheris.Setup(arguments, run)
        atheris.Fuzz()
    return 0


def main() -> int:
    """Reads the options and fuzzes."""
    parser = argparse.ArgumentParser(description="Fuzzes certgen's reading.")
    parser.add_argument("--target", choices=sorted(TARGETS), required=True)
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=0, help="end after this time at the latest")
    parser.add_argument("--plain", action="store_true", help="by chance, even where atheris is installed")
    options = parser.parse_args()
    make_cheap()
    guided = not options.plain
    if guided:
        try:
            import atheris  # noqa: F401
        except ImportError:
            guided = False
    fuzz = fuzz_guided if guided else fuzz_plainly
    return fuzz(options.target, options.runs, options.seed, options.seconds)


if __name__ == "__main__":
    sys.exit(main())
