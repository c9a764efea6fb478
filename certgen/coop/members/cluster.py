"""The workers of a Dask cluster, called like a `Pool`: for offices with thousands of members' folders."""

from __future__ import annotations

import time
from concurrent.futures import FIRST_COMPLETED, wait
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final, Self

from certgen.coop.members.cache import edition

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from concurrent.futures import Future

#: Seconds to wait for a scheduler to answer at all.
_CONNECTING: Final = "10s"
#: Seconds after which the workers are looked for while nothing comes back, and for which none may be there:
#: a worker that is started anew is back by then.
LOOK, PATIENCE = 2.0, 15.0
#: Seconds that a scheduler may take to answer one question, and to say goodbye.
_ANSWER, _GOODBYE = 10.0, 2.0


class ClusterError(Exception):
    """The cluster can't be used; the message says why and what to do."""


class Cluster:
    """The workers of the scheduler at an address; they see the same folders as this machine.

    Raises `ClusterError` where Dask is missing, nobody answers, no worker is there, or one of them runs
    another certgen.
    """

    def __init__(self, address: str) -> None:
        try:
            import distributed
        except ImportError:
            message = "a cluster needs Dask on this machine too: pip install 'certgen[cluster]'"
            raise ClusterError(message) from None
        self._address = address
        self._lost_since: float | None = None
        try:
            connect: Any = distributed.Client
            self._client = connect(address, timeout=_CONNECTING, set_as_default=False)
        except (OSError, ValueError, ImportError, TimeoutError) as fault:
            raise ClusterError(f"no Dask scheduler answers at '{address}' ({fault})") from None
        self._executor = self._client.get_executor(pure=False, retries=1)
        try:
            self.workers = self._count_workers()
            if not self.workers:
                raise ClusterError(f"the scheduler at '{address}' has no worker yet; start one and run again")
            self._compare_editions()
        except ClusterError:
            self._close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()

    def _close(self) -> None:
        # One that nobody answers has nothing to say goodbye to.
        with suppress(Exception):
            self._client.close(timeout=_GOODBYE)

    def _compare_editions(self) -> None:
        """Before any work is done: it would be thrown away."""
        try:
            theirs = self._client.run(edition)
        except Exception as fault:  # noqa: BLE001 (a worker tells of whatever it can't load)
            message = (
                f"a worker can't load certgen ({type(fault).__name__}: {fault}); install it on all of them"
            )
            raise ClusterError(message) from None
        others = sorted(address for address, its in theirs.items() if its != edition())
        if others:
            which = ", ".join(others[:3])
            message = f"the cluster's workers run another certgen than this machine ({which}); install the"
            raise ClusterError(f"{message} same on all of them")

    def send(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done by whichever worker is free. A killed worker is an error of Dask's own."""
        future: Future[Any] = self._executor.submit(work, *given)
        return future

    def finished(self, futures: Iterable[Future[Any]]) -> Iterator[Future[Any]]:
        """Each future as it ends. Raises `ClusterError` once nobody is left who could end the rest."""
        left = set(futures)
        while left:
            done, left = wait(left, timeout=LOOK, return_when=FIRST_COMPLETED)
            yield from done
            if not done or any(one.cancelled() for one in done):
                self._look()

    def _look(self) -> None:
        """Raises `ClusterError` where no worker has been there for PATIENCE seconds, or no scheduler."""
        now = time.monotonic()
        workers = self._count_workers()
        if workers:
            self._lost_since = None
            return
        self._lost_since = self._lost_since or now
        if now - self._lost_since >= PATIENCE:
            what = "has lost its last worker" if workers is not None else "doesn't answer any more"
            raise ClusterError(f"the scheduler at '{self._address}' {what}")

    def _count_workers(self) -> int | None:
        """Threads of all workers; None where the scheduler doesn't answer."""
        if self._client.status != "running":
            return None
        try:
            threads = self._client.sync(self._client.scheduler.ncores, callback_timeout=_ANSWER)
        except Exception:  # noqa: BLE001 (whatever a lost scheduler makes of the question)
            return None
        return int(sum(threads.values()))
