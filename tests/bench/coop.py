"""Measures a generated co-op: throughput on one worker and on more, memory, a second run, growth.

    python tests/bench/coop.py [--members 48] [--records 400] [--workers 2] [--full] [--keep FOLDER]

`--full` is 1,000 members of 2,000 records. Every member is the same invented farm with numbers of its own
(lots, reports, documents), so that members' papers agree. Figures are ratios taken in one run; each run of
`examine_coop` is a fresh process, so that its memory can be told.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from harness import ROOT
from seasons import write_season

#: What the generated season's numbers begin with; each member gets its own in front.
PREFIXES = ("L-", "R-", "G-", "D-")
RUN = """
import json, resource, sys, time
from datetime import date
from pathlib import Path
from certgen.coop.examination import Settings, examine_coop
from certgen.coop.members.member_list import read_coop

def peak(who):
    return resource.getrusage(who).ru_maxrss / (2**20 if sys.platform == "darwin" else 1024)

def own_peak():
    status = Path("/proc/self/status")
    if status.exists():
        # Linux hands ru_maxrss down to child processes; the kernel's own mark is this process's alone.
        return int(status.read_text().partition("VmHWM:")[2].split()[0]) / 1024
    return peak(resource.RUSAGE_SELF)

if __name__ == "__main__":
    folder, cache, workers = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    coop, errors = read_coop(folder)
    assert coop is not None, errors
    start = time.perf_counter()
    result = examine_coop(folder, coop, date(2026, 11, 25), Settings(Path(cache) if cache else None, workers))
    seconds = time.perf_counter() - start
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    assert result.exit_code == 0, (result.readiness, result.disagreements[:3])
    print(json.dumps({
        "seconds": seconds, "cpu": sum(one.ru_utime + one.ru_stime for one in used),
        "examined": result.examined, "records": sum(result.totals.records.values()),
        "parent_mib": own_peak(), "worker_mib": peak(resource.RUSAGE_CHILDREN),
    }))
"""


def write_coop(folder: Path, members: int, records: int) -> None:
    """Members whose records differ in their numbers only; the same arguments give the same bytes."""
    with tempfile.TemporaryDirectory() as name:
        pattern = Path(name)
        # A season of N bags holds about 1.27 N records.
        write_season(pattern, max(10, round(records / 1.27)))
        texts = {path.relative_to(pattern): path.read_text() for path in sorted(pattern.rglob("*.yaml"))}
    entries = []
    for number in range(members):
        key = f"M{number:04d}"
        for path, text in texts.items():
            own = text.replace("EX-0001", f"EX-{key}")
            for prefix in PREFIXES:
                own = own.replace(f" {prefix}", f" {key}{prefix}")
            target = folder / "members" / key / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(own)
        entries.append(
            f"  - member: {key}\n    name: Garden {number}\n    folder: members/{key}\n"
            f"    certificate: EX-{key}\n    joined: 2020-01-01\n"
        )
    (folder / "coop.yaml").write_text(f"coop:\n  name: A generated co-op\nmembers:\n{''.join(entries)}")


def keep_first(folder: Path, target: Path, members: int) -> None:
    """A co-op of the first members of another, over the same folders."""
    head, _, rest = (folder / "coop.yaml").read_text().partition("members:\n")
    entries = rest.split("  - member: ")[1 : members + 1]
    target.mkdir()
    (target / "coop.yaml").write_text(
        f"{head}members:\n{''.join(f'  - member: {entry}' for entry in entries)}"
    )
    (target / "members").mkdir()
    for entry in entries:
        key = entry.split("\n")[0]
        (folder / "members" / key).rename(target / "members" / key)


def give_back(target: Path, folder: Path) -> None:
    """The members back where they were."""
    for path in (target / "members").iterdir():
        path.rename(folder / "members" / path.name)


def examine(folder: Path, cache: Path | None, workers: int) -> dict[str, float]:
    """One run in a fresh process."""
    script = folder.parent / "run.py"
    script.write_text(RUN)
    arguments = [sys.executable, str(script), str(folder), str(cache or ""), str(workers)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    finished = subprocess.run(arguments, env=environment, capture_output=True, text=True, check=False)
    if finished.returncode:
        raise RuntimeError(finished.stderr[-2000:])
    found: dict[str, float] = json.loads(finished.stdout)
    return found


def change(folder: Path, members: int) -> None:
    """One more record at each of some members."""
    for number in range(members):
        path = folder / "members" / f"M{number:04d}" / "notes.yaml"
        path.write_text(
            "cleaning:\n  - cleaning: C-EXTRA\n    date: 2026-10-01\n"
            "    equipment: [extractor]\n    method: washed\n"
        )


def tell(name: str, run: dict[str, float]) -> str:
    """One line of the table."""
    rate = run["records"] / run["seconds"]
    return (
        f"| {name} | {run['seconds']:.1f} s | {run['cpu']:.1f} s | {run['examined']:.0f} "
        f"| {rate:,.0f} | {run['parent_mib']:.0f} MiB "
        f"| {run['worker_mib']:.0f} MiB |"
    )


def main() -> int:
    """Takes the measures one after the other."""
    parser = argparse.ArgumentParser(description="Measures a generated co-op.")
    parser.add_argument("--members", type=int, default=48)
    parser.add_argument("--records", type=int, default=400)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--full", action="store_true", help="1,000 members of 2,000 records")
    parser.add_argument("--skip-single", action="store_true", help="leave the run on one worker out")
    options = parser.parse_args()
    members, records = (1000, 2000) if options.full else (options.members, options.records)
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        folder = home / "coop"
        started = time.perf_counter()
        write_coop(folder, members, records)
        print(f"written: {members} members in {time.perf_counter() - started:.0f} s", file=sys.stderr)
        print(
            "| run | time | of all cores | examined | records/s | parent's peak | a worker's peak |\n"
            "|---|---:|---:|---:|---:|---:|---:|"
        )
        few = max(2, members // 100 if members >= 200 else members // 8)
        keep_first(folder, home / "few", few)
        small = examine(home / "few", None, options.workers)
        give_back(home / "few", folder)
        print(tell(f"{few} members, {options.workers} workers", small), flush=True)
        if not options.skip_single:
            print(tell(f"{members} members, 1 worker", examine(folder, None, 1)), flush=True)
        first = examine(folder, home / "cache", options.workers)
        print(tell(f"{members} members, {options.workers} workers", first), flush=True)
        again = examine(folder, home / "cache", options.workers)
        print(tell("again, nothing changed", again), flush=True)
        changed = max(1, members // 100)
        change(folder, changed)
        after = examine(folder, home / "cache", options.workers)
        print(tell(f"again, {changed} changed", after), flush=True)
        print(
            f"\nSecond run with {changed} of {members} changed: {after['seconds'] / first['seconds']:.1%} of "
            f"the first's time, {after['cpu'] / first['cpu']:.1%} of its cores' time."
        )
        growth = (first["cpu"] / members) / (small["cpu"] / few)
        print(f"Cores' time a member, {few} to {members} members: × {growth:.2f}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
