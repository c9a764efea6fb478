"""The way through for a co-op: every member examined, then all compared with one another."""

from __future__ import annotations

import tempfile
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final

from certgen.limits import LimitedPool, Limits
from certgen.process_pool import count_cores

if TYPE_CHECKING:
    from datetime import date

    from certgen.coop.between.comparison import VisitDraw
    from certgen.coop.between.result import CoopResult
    from certgen.coop.members.examining import Progress
    from certgen.coop.members.member_list import Coop

#: What one member may take: a hundred times what a season like the example takes.
MEMBER_LIMITS: Final = Limits(seconds=300, megabytes=2048)


@dataclass(frozen=True, slots=True)
class Settings:
    """How a co-op is examined: where finished members are kept (None: nowhere), by how many workers.

    `workers` 0 is one a core. `limits` hold for each member; None examines all in this process, as long as
    it takes. A `cluster` (the address of its scheduler) has limits of its own.
    """

    cache: Path | None = None
    workers: int = 0
    cluster: str = ""
    limits: Limits | None = MEMBER_LIMITS


def examine_coop(
    folder: Path,
    coop: Coop,
    on: date,
    settings: Settings = Settings(),
    *,
    visits: VisitDraw | None = None,
    progress: Progress = lambda _done, _all: None,
) -> CoopResult:
    """Examine every member of a co-op as of a day, and hold their records against one another.

    `visits` says what decides whom to visit (default: a text of the office's own). Raises `ClusterError`
    where a cluster was asked for and can't be used.
    """
    with (
        tempfile.TemporaryDirectory(prefix="certgen-coop-") as scratch,
        _hire(settings, len(coop.members)) as pool,
    ):
        # While the workers load the same.
        from certgen.coop.between.comparison import compare_members
        from certgen.coop.members.cache import SummaryCache
        from certgen.coop.members.examining import Task, examine_all

        # Workers of a cluster may have no such folder; they find their own.
        below = "" if settings.cluster else scratch
        cache = str(settings.cache.absolute()) if settings.cache is not None else ""
        tasks = [Task(str(folder.absolute()), member, on, cache, below) for member in coop.members]
        examined = examine_all(tasks, pool, cluster=settings.cluster, progress=progress)
    if any(one.fresh for one in examined):
        SummaryCache(settings.cache, on).prune()
    summaries = {one.summary.member: one.summary for one in examined}
    return compare_members(coop, on, summaries, visits=visits, examined=sum(one.fresh for one in examined))


def _hire(settings: Settings, members: int) -> LimitedPool | nullcontext[None]:
    if settings.limits is None or settings.cluster:
        return nullcontext()
    workers = min(settings.workers or count_cores(), members)
    load = partial(import_module, "certgen.coop.members.summary")
    return LimitedPool(workers, settings.limits, load)
