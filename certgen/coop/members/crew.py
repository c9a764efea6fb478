"""Members shared out among processes here, or among the workers of a Dask cluster: one code path for both.

Only so many groups are under way at a time, so memory doesn't grow with the number of members waiting.
A worker that is killed takes its group with it: the group is taken up again member by member, and a member
at whom a worker dies twice is named and left out. Every finished member is in the cache already, so a run
that is killed takes up where it ended.
"""

from __future__ import annotations

import os
from collections import deque
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.coop.members.cache import edition
from certgen.coop.members.examining import Examined, Task, examine_tasks, name_lost
from certgen.typeset.processes import end_with_program

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    Progress = Callable[[int, int], None]
    Work = Callable[[Sequence[Task]], list[Examined]]

_LARGEST_GROUP: Final = 16
#: Deaths of a worker at one member alone, after which it is left out.
_TRIES: Final = 2


class ClusterError(Exception):
    """The cluster can't be used; the message says why and what to do."""


class _Group(NamedTuple):
    positions: tuple[int, ...]
    deaths: int = 0


def count_workers() -> int:
    """How many processes this machine has cores for, as far as this process may use them."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


def examine_all(
    tasks: Sequence[Task],
    *,
    workers: int,
    cluster: str = "",
    progress: Progress = lambda _done, _all: None,
    work: Work = examine_tasks,
) -> list[Examined]:
    """Every task's summary, in their order, however the work was shared out.

    `cluster` is the address of a Dask scheduler whose workers see the same folders; without it `workers`
    processes of this machine do the work (1: this process alone). Raises `ClusterError`.
    """
    if not tasks:
        return []
    if not cluster and workers <= 1:
        return _alone(tasks, progress, work)
    run = _Run(tasks, progress, work)
    with _hire(cluster, workers) as (hire, count):
        run.carry_out(hire, count)
    found = run.results()
    if cluster and any(one.edition != edition() for one in found):
        message = (
            "the cluster's workers run another certgen than this machine; install the same on all of them"
        )
        raise ClusterError(message)
    return found


def _alone(tasks: Sequence[Task], progress: Progress, work: Work) -> list[Examined]:
    found: list[Examined] = []
    for number, task in enumerate(tasks, start=1):
        found += work([task])
        progress(number, len(tasks))
    return found


@contextmanager
def _hire(cluster: str, workers: int) -> Iterator[tuple[Callable[[int], Executor], int]]:
    """What gives an executor of so many workers, and how many there are."""
    if not cluster:
        yield _local, workers
        return
    try:
        import distributed
    except ImportError:
        message = "a cluster needs Dask on this machine too: pip install 'certgen[cluster]'"
        raise ClusterError(message) from None
    try:
        connect: Any = distributed.Client
        client = connect(cluster, timeout="20s", set_as_default=False)
    except (OSError, ValueError, ImportError, TimeoutError) as fault:
        raise ClusterError(f"no Dask scheduler answers at '{cluster}' ({fault})") from None
    try:
        cores = sum(client.nthreads().values())
        if not cores:
            raise ClusterError(f"the scheduler at '{cluster}' has no worker yet; start one and run again")
        yield lambda _count: client.get_executor(pure=False, retries=1), cores
    finally:
        client.close()


def _local(count: int) -> Executor:
    # Fresh processes: a fork of one that has threads may hang.
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=end_with_program)


class _Run:
    def __init__(self, tasks: Sequence[Task], progress: Progress, work: Work) -> None:
        self._tasks = tasks
        self._progress = progress
        self._work = work
        self._done: dict[int, Examined] = {}
        self._waiting: deque[_Group] = deque()
        self._suspects: deque[_Group] = deque()

    def results(self) -> list[Examined]:
        return [self._done[position] for position in range(len(self._tasks))]

    def carry_out(self, hire: Callable[[int], Executor], workers: int) -> None:
        size = max(1, min(_LARGEST_GROUP, len(self._tasks) // (workers * 8)))
        everyone = range(len(self._tasks))
        self._waiting.extend(_Group(tuple(everyone[at : at + size])) for at in everyone[::size])
        while self._waiting or self._suspects:
            if self._suspects:
                # One at a time and alone: whoever dies now, it is known at whom.
                self._share_out(hire(1), self._suspects, 1)
            else:
                self._share_out(hire(workers), self._waiting, workers * 2)

    def _share_out(self, executor: Executor, groups: deque[_Group], most: int) -> None:
        """Work through the groups until none is left or the executor breaks."""
        under_way: dict[Future[list[Examined]], _Group] = {}
        try:
            while groups or under_way:
                while groups and len(under_way) < most:
                    group = groups.popleft()
                    tasks = [self._tasks[position] for position in group.positions]
                    try:
                        under_way[executor.submit(self._work, tasks)] = group
                    except BrokenProcessPool:
                        groups.appendleft(group)
                        self._suspect(under_way.values())
                        under_way = {}
                        return
                finished, _ = wait(under_way, return_when=FIRST_COMPLETED)
                if self._collect(finished, under_way):
                    self._suspect(under_way.values())
                    under_way = {}
                    return
        except BaseException:
            _dismiss(executor)
            raise
        finally:
            for future in under_way:
                future.cancel()
            executor.shutdown(wait=not under_way)

    def _collect(
        self, finished: set[Future[list[Examined]]], under_way: dict[Future[list[Examined]], _Group]
    ) -> bool:
        """Take the results in; True when the workers are gone."""
        broken = False
        for future in finished:
            group = under_way.pop(future)
            try:
                found = future.result()
            except BrokenProcessPool:
                broken = True
                self._suspect([group])
            except Exception:  # noqa: BLE001 (a cluster tells of a killed worker in errors of its own)
                self._suspect([group])
            else:
                self._done.update(zip(group.positions, found, strict=True))
                self._progress(len(self._done), len(self._tasks))
        return broken

    def _suspect(self, groups: Iterable[_Group]) -> None:
        """Take members up again one by one; one that was alone already has had a try."""
        for group in groups:
            alone = len(group.positions) == 1
            for position in group.positions:
                deaths = group.deaths + alone
                if deaths >= _TRIES:
                    self._done[position] = Examined(name_lost(self._tasks[position].member), fresh=True)
                    self._progress(len(self._done), len(self._tasks))
                else:
                    self._suspects.append(_Group((position,), deaths))


def _dismiss(executor: Executor) -> None:
    """End the processes at work, so that an interrupted run ends at once."""
    processes = getattr(executor, "_processes", None) or {}
    for process in list(processes.values()):
        process.terminate()
