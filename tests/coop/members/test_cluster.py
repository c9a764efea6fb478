"""A Dask cluster takes the same path as this machine's processes, and one that fails is told."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from waiting import SECONDS, wait_until

from certgen.coop.examination import Settings, examine_coop
from certgen.coop.members import cluster as module
from certgen.coop.members.cluster import Cluster, ClusterError
from certgen.coop.members.examining import Task, examine_all
from certgen.coop.members.member_list import read_coop

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult
    from certgen.coop.members.member_list import Member

pytestmark = pytest.mark.all_cores

distributed = pytest.importorskip("distributed")
ROOT = Path(__file__).resolve().parents[3]
#: What the workers do: a member's mark says that it was begun; those that wait never end.
WORK = """
import os
import time
from pathlib import Path
from certgen.coop.members.cache import edition
from certgen.coop.members.examining import Examined
from certgen.coop.members.facts import MemberSummary

def work(tasks):
    done = []
    for task in tasks:
        (Path(task.scratch) / task.member.key).touch()
        if task.member.key.startswith("WAITS"):
            time.sleep(600)
        done.append(Examined(MemberSummary(task.member.key, "read"), True, edition()))
    return done

def edition_of_process():
    return str(os.getpid())
"""


def test_a_cluster_gives_what_one_process_gives(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """A scheduler with one worker: the same result, to the last fact."""
    folder = write_coop("A", "B", "C")
    expected = examine(folder)
    coop, _ = read_coop(folder)
    assert coop is not None
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=":0"
    ) as cluster:
        settings = Settings(None, 0, cluster.scheduler_address)
        assert expected == examine_coop(folder, coop, expected.on, settings)


class Machines:
    """A scheduler and its workers, each a process of its own as on machines of their own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{folder}"}
        self.processes: dict[str, subprocess.Popen[bytes]] = {}
        file = folder / "scheduler.json"
        self._start("scheduler", "--port", "0", "--dashboard-address", ":0", "--scheduler-file", str(file))
        wait_until(lambda: file.exists() and file.read_text().endswith("}"))
        self.address = str(json.loads(file.read_text())["address"])

    def _start(self, role: str, *options: str, name: str = "") -> None:
        command = [sys.executable, "-m", "dask", role, *options]
        self.processes[name or role] = subprocess.Popen(
            command, env=self.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def add_worker(self, name: str) -> None:
        """One more worker, that nobody starts anew when it dies."""
        options = ("--nthreads", "1", "--no-nanny", "--dashboard-address", ":0", "--name", name)
        self._start("worker", self.address, *options, name=name)
        count = sum(one != "scheduler" for one in self.processes)
        with distributed.Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(count, timeout=SECONDS)

    def end(self, name: str) -> None:
        """Ends a process at once."""
        self.processes[name].send_signal(signal.SIGKILL)
        self.processes[name].wait(SECONDS)


@pytest.fixture
def machines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Machines]:
    """A scheduler and one worker; who waits for a lost one has patience for a second."""
    monkeypatch.setattr(module, "LOOK", 0.5)
    monkeypatch.setattr(module, "PATIENCE", 1.0)
    monkeypatch.syspath_prepend(str(tmp_path))
    (tmp_path / "what_workers_do.py").write_text(WORK)
    there = Machines(tmp_path)
    try:
        there.add_worker("first")
        yield there
    finally:
        for name in there.processes:
            there.end(name)


def examine_until(
    machines: Machines, member: Callable[..., Member], keys: str, begun: str, then: Callable[[], None]
) -> list[str]:
    """Has members examined, and does something when one of them is begun: how each ended."""
    from what_workers_do import work

    scratch = str(machines.folder)
    tasks = [Task(".", member(key), date(2026, 1, 1), "", scratch) for key in keys.split()]

    def watch() -> None:
        wait_until((machines.folder / begun).exists)
        then()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    return [one.summary.state for one in examine_all(tasks, cluster=machines.address, work=work)]


def test_the_last_worker_killed_is_told(machines: Machines, member: Callable[..., Member]) -> None:
    """The command ends with a message, and what was done is counted."""
    with pytest.raises(
        ClusterError, match=r"has lost its last worker; [01] of 2 members are examined\. Start"
    ):
        examine_until(machines, member, "A WAITS", "WAITS", lambda: machines.end("first"))


def test_a_scheduler_killed_is_told(machines: Machines, member: Callable[..., Member]) -> None:
    """Nobody answers any more: the command ends, and doesn't wait for ever."""
    with pytest.raises(ClusterError, match=r"doesn't answer any more; [01] of 2 members"):
        examine_until(machines, member, "A WAITS", "WAITS", lambda: machines.end("scheduler"))


def test_one_of_two_workers_killed_costs_nothing_but_time(
    machines: Machines, member: Callable[..., Member]
) -> None:
    """All are done by the one that is left."""
    machines.add_worker("second")
    states = examine_until(machines, member, "A B C", "A", lambda: machines.end("first"))
    assert ["read", "read", "read"] == states


def test_another_certgen_is_told_before_any_work(machines: Machines, monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker with other code would have its work thrown away."""
    from what_workers_do import edition_of_process

    monkeypatch.setattr(module, "edition", edition_of_process)
    with (
        pytest.raises(ClusterError, match="run another certgen than this machine"),
        Cluster(machines.address),
    ):
        pass  # pragma: no cover


def test_no_worker_yet_is_told(machines: Machines) -> None:
    """A scheduler alone does nothing."""
    machines.end("first")
    with distributed.Client(machines.address, set_as_default=False) as client:
        wait_until(lambda: not client.scheduler_info()["workers"])
    with pytest.raises(ClusterError, match="has no worker yet"):
        Cluster(machines.address)
