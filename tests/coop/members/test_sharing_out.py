"""Workers that are killed, runs that are killed: nothing half done, and the rest goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from waiting import SECONDS, wait_until

from certgen.coop.members.cluster import ClusterError
from certgen.coop.members.examining import Examined, Task, examine_all

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult
    from certgen.coop.members.member_list import Member

COVERS = ("certgen.coop.members.examining",)
pytestmark = pytest.mark.all_cores
WAY_OUT = "if its records are right, give each member more with --member"
ROOT = Path(__file__).resolve().parents[3]
#: Workers know nothing of the program that was run, so what they are to do lies in a module.
WORK = """
import os
import time
from pathlib import Path
from certgen.coop.members.examining import Examined
from certgen.coop.members.facts import MemberSummary

MARKS = Path(__file__).parent

def work(tasks):
    done = []
    for task in tasks:
        key = task.member.key
        if key.startswith("DIES"):
            os.kill(os.getpid(), 9)
        if key.startswith("ONCE") and not (MARKS / key).exists():
            (MARKS / key).touch()
            os.kill(os.getpid(), 9)
        if key.startswith("RAISES"):
            raise RuntimeError(key)
        if key.startswith("SLOW"):
            time.sleep(600)
        if key.startswith("LARGE"):
            held = [os.urandom(1 << 20) for _ in range(1000)]
        done.append(Examined(MemberSummary(key, "read"), fresh=True))
    return done
"""
SCRIPT = """
import sys
from datetime import date
from functools import partial
from importlib import import_module
from certgen.coop.members.examining import Task, examine_all
from certgen.coop.members.member_list import Member
from certgen.limits import LimitedPool, Limits
from what_to_do import work

workers, *keys = sys.argv[1:]
members = [Member(key, key, "folder", key, "", date(2020, 1, 1)) for key in keys]
tasks = [Task(".", member, date(2026, 1, 1), "") for member in members]
with LimitedPool(int(workers), Limits(8, 300), partial(import_module, 'what_to_do')) as pool:
    done = examine_all(tasks, pool, work=work)
print(" ".join(f"{one.summary.member}:{one.summary.state}" for one in done))
for one in done:
    print(*one.summary.errors, file=sys.stderr)
"""


def share_out(tmp_path: Path, *keys: str, workers: int = 2) -> tuple[list[str], str]:
    """Shares members out among workers in a process of its own: how each ended, and the errors."""
    script = tmp_path / "share_out.py"
    script.write_text(SCRIPT)
    (tmp_path / "what_to_do.py").write_text(WORK)
    environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{tmp_path}"}
    finished = subprocess.run(
        [sys.executable, str(script), str(workers), *keys],
        capture_output=True,
        text=True,
        check=True,
        env=environment,
        timeout=SECONDS,
    )
    return finished.stdout.split(), finished.stderr


def test_a_member_that_kills_its_worker_is_named_and_the_others_are_done(tmp_path: Path) -> None:
    """Two deaths at one member alone: it is lost, whoever was under way beside it isn't."""
    keys = [f"M{number}" for number in range(20)]
    keys[7] = "DIES"
    expected = [f"{key}:{'lost' if key == 'DIES' else 'read'}" for key in keys]
    states, errors = share_out(tmp_path, *keys)
    assert expected == states
    assert "its examination was ended from outside twice" in errors


def test_a_worker_that_is_killed_once_costs_nothing_but_time(tmp_path: Path) -> None:
    """The member is taken up again, and is read."""
    assert ["A:read", "ONCE:read", "B:read"] == share_out(tmp_path, "A", "ONCE", "B")[0]


def test_an_error_that_a_cluster_tells_is_a_death_too(tmp_path: Path) -> None:
    """A member that comes back as an exception is taken up again."""
    assert ["A:read", "RAISES:lost", "B:read"] == share_out(tmp_path, "A", "RAISES", "B")[0]


@pytest.mark.parametrize("workers", [1, 2])
def test_a_member_past_its_limits_is_set_aside_and_the_others_are_done(tmp_path: Path, workers: int) -> None:
    """It is named, with the limit and the way out, and nobody waits for it twice."""
    states, errors = share_out(tmp_path, "A", "SLOW", "B", "LARGE", "C", workers=workers)
    assert ["A:read", "SLOW:refused", "B:read", "LARGE:refused", "C:read"] == states
    assert [
        f"its examination takes longer than the 8 seconds that it is given; {WAY_OUT}-seconds",
        f"its examination needs more than the 300 MB of memory that it is given; {WAY_OUT}-megabytes",
    ] == [line for line in errors.splitlines() if line]


def test_results_stand_in_the_order_of_the_members(member: Callable[..., Member]) -> None:
    """Alone in this process: each task's result at its place, progress told after each."""
    tasks = [Task(".", member(key), date(2026, 1, 1), "") for key in "CAB"]
    told: list[tuple[int, int]] = []

    def work(group: list[Task]) -> list[Examined]:
        from certgen.coop.members.facts import MemberSummary

        return [Examined(MemberSummary(task.member.key, "read"), fresh=True) for task in group]

    done = examine_all(tasks, progress=lambda one, all_: told.append((one, all_)), work=work)  # type: ignore[arg-type]
    assert ["C", "A", "B"] == [one.summary.member for one in done]
    assert [(1, 3), (2, 3), (3, 3)] == told


def test_a_killed_run_leaves_no_half_output_and_resumes(
    tmp_path: Path, write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """Killed in the middle: no report, no letter, no half file; the next run examines only what is left."""
    folder = write_coop(*(f"M{number}" for number in range(6)))
    cache, out, letters = tmp_path / "cache", tmp_path / "coop.pdf", tmp_path / "letters"
    command = [sys.executable, "-m", "certgen", "coop", str(folder), "--on", "2026-11-25", "--workers", "1"]
    command += ["--cache", str(cache), "--out", str(out), "--letters", str(letters)]
    run = subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )
    wait_until(lambda: run.poll() is not None or len(list(cache.rglob("*.member"))) >= 2)
    os.kill(run.pid, signal.SIGKILL)
    run.wait(SECONDS)
    kept = len(list(cache.rglob("*.member")))
    assert kept >= 2
    assert not out.exists()
    assert not letters.exists()
    assert not list(tmp_path.glob(".*.part"))
    result = examine(folder, cache)
    assert 6 - kept == result.examined
    assert {"ready"} == {view.readiness for view in result.members}


def test_no_scheduler_is_said_in_words(member: Callable[..., Member]) -> None:
    """An address that nobody answers at is the caller's to mend."""
    pytest.importorskip("distributed")
    task = Task(".", member("A"), date(2026, 1, 1), "")
    with pytest.raises(ClusterError, match="no Dask scheduler answers"):
        examine_all([task], cluster="nonsense://nowhere")
