"""Members examined, each on its own, by whichever process or machine it falls to; no records make it raise.

On this machine each member is examined under limits of time and memory: one that passes them is named and set
aside, and the others go on. A worker of a cluster that is killed takes its group along: its members are taken
up again one by one. A member at whom a worker dies again and again is named and left out. Every finished
member is in the cache already, so a run that is killed, or whose cluster is, takes up where it ended.
"""

from __future__ import annotations

from concurrent.futures import CancelledError, Future, as_completed
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple, Protocol

from certgen.coop.members.access import MemberRefusedError, find_home, open_member
from certgen.coop.members.cache import SummaryCache, edition, fingerprint
from certgen.coop.members.cluster import Cluster, ClusterError
from certgen.coop.members.facts import ERRORS_KEPT, MemberSummary, State, shorten

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from certgen.coop.members.member_list import Member
    from certgen.limits import LimitedPool, Outcome

    Progress = Callable[[int, int], None]
    Work = Callable[[Sequence["Task"]], list["Examined"]]

_LARGEST_GROUP: Final = 16
#: How the limits of a member are raised, to follow what says that one was passed.
_WAY_OUT: Final = {
    "time": "if its records are right, give each member more with --member-seconds",
    "memory": "if its records are right, give each member more with --member-megabytes",
}
#: Deaths of a worker at one member alone, after which it is left out.
_TRIES: Final = 2


class Task(NamedTuple):
    """A member to examine. Paths are text, so that a task means the same on every machine of a cluster."""

    coop: str
    member: Member
    on: date
    cache: str
    scratch: str = ""


class Examined(NamedTuple):
    """A member's summary; `fresh` unless it came out of the cache. `edition` is the code that made it, for a
    worker may join with another.
    """

    summary: MemberSummary
    fresh: bool
    edition: str = ""


def examine_tasks(tasks: Sequence[Task]) -> list[Examined]:
    """Each task's summary, in their order."""
    return [examine_task(task)._replace(edition=edition()) for task in tasks]


def examine_task(task: Task) -> Examined:
    """One member's summary, from the cache if its records are what they were."""
    member = task.member
    try:
        home = find_home(Path(task.coop), member)
        before = fingerprint(home)
    except MemberRefusedError as refused:
        return Examined(_refused(member, "", refused.messages), fresh=True)
    kept = SummaryCache(Path(task.cache) if task.cache else None, task.on)
    source = f"{member.source}\0{member.season}"
    summary = kept.load(member.key, before, source)
    if summary is not None:
        return Examined(summary, fresh=False)
    summary = _examine(home, before, task)
    try:
        unchanged = fingerprint(home) == before
    except MemberRefusedError:
        unchanged = False
    if unchanged:
        # What somebody wrote into meanwhile would be kept under the wrong figure.
        kept.store(summary, source)
    return Examined(summary, fresh=True)


def _examine(home: Path, seal: str, task: Task) -> MemberSummary:
    from certgen.coop.members.summary import summarise
    from certgen.examination import ReadFailure, examine
    from certgen.verification.supplied import PacketVerifier

    member = task.member
    try:
        with open_member(home, member, Path(task.scratch) if task.scratch else None) as opened:
            packets = PacketVerifier(Path(task.cache) if task.cache else None)
            result = examine(opened.season, task.on, within=opened.within, packets=packets)
            return summarise(member.key, seal, result)
    except MemberRefusedError as refused:
        return _refused(member, seal, refused.messages)
    except ReadFailure as failure:
        place = {home.as_posix(), opened.season.as_posix()}
        texts = [error.message if error.file in place else error.text() for error in failure.errors]
        return _without_season(member, "unreadable", seal, texts)
    except MemoryError:
        # Whoever limited it has an answer, and should not go on in a process that has none left.
        raise
    except OSError as fault:
        return _refused(member, seal, (f"it can't be read: {(fault.strerror or str(fault)).lower()}",))
    except Exception as fault:  # noqa: BLE001 (a fault of certgen at one member must not stop the others)
        message = f"certgen itself failed: {type(fault).__name__}: {fault}"
        return _without_season(member, "failed", seal, [message])


def _refused(member: Member, seal: str, messages: Iterable[str]) -> MemberSummary:
    return _without_season(member, "refused", seal, messages)


def _without_season(member: Member, state: State, seal: str, messages: Iterable[str]) -> MemberSummary:
    texts = list(messages)
    return MemberSummary(
        member=member.key,
        state=state,
        fingerprint=seal,
        errors=tuple(shorten(message) for message in texts[:ERRORS_KEPT]),
        error_count=len(texts),
    )


class Workers(Protocol):
    """Who does the work in groups: a `Cluster`."""

    def send(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done by whoever is free."""

    def finished(self, futures: Iterable[Future[Any]]) -> Iterable[Future[Any]]:
        """Each as it ends. Raises `ClusterError` once nobody is left who could end the rest."""


def examine_all(
    tasks: Sequence[Task],
    pool: LimitedPool | None = None,
    *,
    cluster: str = "",
    progress: Progress = lambda _done, _all: None,
    work: Work = examine_tasks,
) -> list[Examined]:
    """Every task's summary, in their order, however the work was shared out.

    `cluster` is the address of a Dask scheduler whose workers see the same folders, under whatever limits
    they have; without it the `pool` does the work, or else this process, without limits. Raises
    `ClusterError`.
    """
    if cluster:
        with Cluster(cluster) as others:
            results = _share_out(tasks, others, others.workers or 1, progress, work)
        if any(one.edition != edition() for one in results):
            message = (
                "the cluster's workers run another certgen than this machine; install the same on all of them"
            )
            raise ClusterError(message)
        return results
    if pool is not None:
        return _examine_apart(tasks, pool, progress, work)
    results = []
    for task in tasks:
        results += work([task])
        progress(len(results), len(tasks))
    return results


def _examine_apart(
    tasks: Sequence[Task], pool: LimitedPool, progress: Progress, work: Work
) -> list[Examined]:
    """Every task on its own in one of the pool's processes."""
    results: dict[int, Examined] = {}
    suspects: list[int] = []
    under_way = {pool.send(work, [task]): at for at, task in enumerate(tasks)}
    for future in as_completed(under_way):
        at = under_way.pop(future)
        examined = _take(tasks[at], future)
        if examined is None:
            suspects.append(at)
            continue
        results[at] = examined
        progress(len(results), len(tasks))
    # Once more, while nobody else needs memory.
    for at in suspects:
        tried = (_take(tasks[at], pool.send(work, [tasks[at]])) for _ in range(_TRIES))
        results[at] = next((one for one in tried if one is not None), _lost(tasks[at]))
        progress(len(results), len(tasks))
    return [results[at] for at in range(len(tasks))]


def _take(task: Task, future: Future[Outcome[list[Examined]]]) -> Examined | None:
    """What became of a member; None if nobody knows why there is nothing."""
    try:
        outcome = future.result()
    except Exception:  # noqa: BLE001 (whatever it was, it must not stop the others)
        return None
    if not outcome.passed:
        return outcome.value[0]
    if outcome.passed == "process":
        return None
    message = f"its examination {outcome.reason}; {_WAY_OUT[outcome.passed]}"
    return Examined(_refused(task.member, "", (message,)), fresh=True)


def _share_out(
    tasks: Sequence[Task], others: Workers, count: int, progress: Progress, work: Work
) -> list[Examined]:
    results: dict[int, Examined] = {}
    try:
        _collect(tasks, others, count, progress, work, results)
    except ClusterError as lost:
        kept = ", and kept among the caches" if tasks[0].cache else ""
        message = (
            f"{lost}; {len(results)} of {len(tasks)} members are examined{kept}. Start the scheduler and its "
            "workers again, or leave --cluster out, and run this once more"
        )
        raise ClusterError(message) from None
    return [results[position] for position in range(len(tasks))]


def _collect(
    tasks: Sequence[Task],
    others: Workers,
    count: int,
    progress: Progress,
    work: Work,
    results: dict[int, Examined],
) -> None:
    """Puts each task's summary into `results`, at its position."""
    suspects: list[int] = []
    size = max(1, min(_LARGEST_GROUP, len(tasks) // (count * 8)))
    under_way = {
        others.send(work, tasks[start : start + size]): range(start, min(start + size, len(tasks)))
        for start in range(0, len(tasks), size)
    }
    for future in others.finished(list(under_way)):
        positions = under_way.pop(future)
        try:
            results.update(zip(positions, future.result(), strict=True))
        except (Exception, CancelledError):  # noqa: BLE001 (Dask tells of a killed worker in errors of its own)
            suspects += positions
        else:
            progress(len(results), len(tasks))
    # One at a time, while nobody else works: whoever dies now, it is known at whom.
    for position in suspects:
        results[position] = _retry(tasks[position], others, work)
        progress(len(results), len(tasks))


def _retry(task: Task, others: Workers, work: Work) -> Examined:
    for _ in range(_TRIES):
        for future in others.finished([others.send(work, [task])]):
            with suppress(Exception, CancelledError):
                examined: list[Examined] = future.result()
                return examined[0]
    return _lost(task)


def _lost(task: Task) -> Examined:
    message = "its examination was ended from outside twice, most likely for want of memory"
    return Examined(_without_season(task.member, "lost", "", [message]), fresh=True)
