"""The connections that the desk holds open: no more than it can serve, and none for a caller that only keeps
it waiting.
"""

from __future__ import annotations

from ipaddress import ip_address
from typing import TYPE_CHECKING, Final

from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    import asyncio

    from uvicorn.protocols.http.h11_impl import RequestResponseCycle

#: Connections from this machine, from the whole network, and from one address of it. A browser keeps six.
OWN, NETWORK, EACH = 200, 120, 16
#: How long a request's head may take to come, and a request to be answered, body and all, in seconds.
HEAD_SECONDS: Final = 15.0
ANSWER_SECONDS: Final = 15 * 60.0


class Connection(H11Protocol):
    """One connection, closed when there are too many or when it takes too long."""

    _deadline: asyncio.TimerHandle | None = None
    _answers = False

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Takes the connection, or drops it."""
        super().connection_made(transport)
        if self._are_too_many():
            transport.abort()
        else:
            self._set_deadline(HEAD_SECONDS)

    def _are_too_many(self) -> bool:
        here = self.client[0] if self.client else ""
        others = [one.client[0] for one in self.connections if isinstance(one, H11Protocol) and one.client]
        if _is_loopback(here):
            return sum(map(_is_loopback, others)) > OWN
        return others.count(here) > EACH or sum(not _is_loopback(one) for one in others) > NETWORK

    def data_received(self, data: bytes) -> None:
        """Reads on; once a head is there, its request has longer."""
        super().data_received(data)
        cycle: RequestResponseCycle | None = self.cycle
        answers = cycle is not None and not cycle.response_complete
        if answers != self._answers or self._deadline is None:
            self._answers = answers
            self._set_deadline(ANSWER_SECONDS if answers else HEAD_SECONDS)

    def on_response_complete(self) -> None:
        """Waits for the next request, as long as the server lets a connection rest."""
        self._answers = False
        self._set_deadline(HEAD_SECONDS)
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """Lets the connection go."""
        if self._deadline is not None:
            self._deadline.cancel()
        super().connection_lost(exc)

    def _set_deadline(self, seconds: float) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
        self._deadline = self.loop.call_later(seconds, self.transport.abort)


def _is_loopback(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False
