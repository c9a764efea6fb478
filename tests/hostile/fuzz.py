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

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from targets import CORPUS, MOST_BYTES_OTHERWISE, TARGETS, bound_of, corpus_of  # noqa: E402 - found by the path just set

#: More memory than any input may bring the process to, in bytes.
MOST_MEMORY = 1536 * 1024 * 1024
#: Longer than any input of that size may keep a processor busy: on a loaded machine the clock says little.
SECONDS_AN_INPUT = 5.0
_SIGNS = [
    b"\n", b"\n- ", b"\n  ", b": ", b"- ", b"? ", b"[", b"]", b"{", b"}", b",", b"&a", b"*a", b"!!str ",
    b"!", b"#", b"|\n", b">\n", b"'", b'"', b"\\x1b", b"\\u202e", b"\t", b"---\n", b"...\n",
    b"%YAML 1.1\n", b"<<", b"~", b"@", b"\xef\xbb\xbf", b"\xff", b"\xc2\x85", b"\xe2\x80\xa8", b"\x00",
    b"\r", b"010", b"NO", b"2026-02-30", b"-1 g", b"1e999", b"9" * 40, b"1,5 kg", b"\xd9\xa1 g",
    b"season:\n", b"previous: ..\n",
    b'""', b";", b"\r\n", b"=1+1", b"'=", b"3/4/2026", b"46100", b"12 %", b"XFD1048576", b'r="1048576"',
    b'r="AAAA1"',
    b't="s"', b't="inlineStr"', b't="d"', b't="e"', b"<v>", b"</v>", b"<f>", b"&#1;", b"&amp;", b"_x001B_",
    b"/../",
    b"=== a\n", b"\\u0000", b"\\ud800", b"null", b"true", b"1e400", b"{}", b"[]", b"previous-1/", b"evidence",
]  # fmt: skip


def vocabulary() -> list[bytes]:
    """YAML's signs, and the names of every table and field."""
    from certgen.records.tables import load_tables

    words = set()
    for table in load_tables().values():
        words.add(f"\n{table.name}:\n- ".encode())
        words.update(f"{name}: ".encode() for column in table.columns for name in column.path)
    return [*_SIGNS, *sorted(words)]


def mutate(
    data: bytes, corpus: list[bytes], words: list[bytes], chance: Random, most: int = MOST_BYTES_OTHERWISE
) -> bytes:
    """The input with a few changes: bytes, words, stretches and lines put in, taken out, doubled, moved."""
    for _ in range(chance.randint(1, 6)):
        at = chance.randint(0, len(data))
        end = min(len(data), at + chance.choice((1, 1, 2, 8, 64)))
        match chance.randrange(8):
            case 0:
                data = data[:at] + chance.choice(words) + data[at:]
            case 1:
                data = data[:at] + data[end:]
            case 2:
                data = data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]
            case 3:
                data = data[:end] + data[at:end] * chance.choice((1, 2, 30)) + data[end:]
            case 4:
                other = chance.choice(corpus)
                start = chance.randint(0, len(other))
                data = data[:at] + other[start : start + chance.choice((4, 40, 400))] + data[at:]
            case 5:
                lines = data.split(b"\n")
                chance.shuffle(lines)
                data = b"\n".join(lines)
            case 6:
                lines = data.split(b"\n")
                line = chance.randrange(len(lines))
                lines[line] = chance.choice((b" ", b"  ", b"\t", b"- ")) + lines[line].lstrip()
                data = b"\n".join(lines)
            case _:
                data = data[:at] + chance.choice(words) + data[end:]
    return data[:most]


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
    begun = time.monotonic()
    slowest = 0.0
    number = 0
    for number in range(1, runs + 1):
        data = mutate(chance.choice(corpus), corpus, words, chance, most)
        start = time.process_time()
        try:
            run(data)
        except Exception:  # noqa: BLE001 - whatever it is, it is the finding
            traceback.print_exc()
            sys.stdout.write(f"input {number}: kept as {keep(target, data)}\n")
            return 1
        took = time.process_time() - start
        if took > SECONDS_AN_INPUT:
            sys.stdout.write(f"input {number} took {took:.1f} s: kept as {keep(target, data)}\n")
            return 1
        if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 > MOST_MEMORY:
            sys.stdout.write(f"input {number} took too much memory: kept as {keep(target, data)}\n")
            return 1
        slowest = max(slowest, took)
        if seconds and time.monotonic() - begun > seconds:
            break
    took = time.monotonic() - begun
    outcome = f"{number:,} inputs in {took:.0f} s, the slowest {slowest:.2f} s; nothing found"
    sys.stdout.write(f"{target}: {outcome}\n")
    return 0


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
