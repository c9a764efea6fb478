"""The workers of a Dask cluster, called like a `Pool`: for offices with thousands of members' folders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Future


class ClusterError(Exception):
    """The cluster can't be used; the message says why and what to do."""


class Cluster:
    """The workers of the scheduler at an address; they see the same folders as this machine.

    Raises `ClusterError` where Dask is missing, nobody answers or no worker is there.
    """

    def __init__(self, address: str) -> None:
        try:
            import distributed
        except ImportError:
            message = "a cluster needs Dask on this machine too: pip install 'certgen[cluster]'"
            raise ClusterError(message) from None
        try:
            connect: Any = distributed.Client
            self._client = connect(address, timeout="20s", set_as_default=False)
        except (OSError, ValueError, ImportError, TimeoutError) as fault:
            raise ClusterError(f"no Dask scheduler answers at '{address}' ({fault})") from None
        self.workers: int = sum(self._client.nthreads().values())
        if not self.workers:
            self._client.close()
            raise ClusterError(f"the scheduler at '{address}' has no worker yet; start one and run again")
        self._executor = self._client.get_executor(pure=False, retries=1)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    def send(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done by whichever worker is free. A killed worker is an error of Dask's own."""
        future: Future[Any] = self._executor.submit(work, *given)
        return future
