"""The connections that the desk holds open: no more than it can serve, and none for a caller that only keeps
it waiting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from uvicorn.protocols.http.h11_impl import H11Protocol

from certgen.desk.network import LOOPBACK

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
        held: list[Connection] = [one for one in self.connections if isinstance(one, Connection)]
        if self.is_own():
            return sum(one.is_own() for one in held) > OWN
        from_network = [one.client for one in held if not one.is_own()]
        here = self.client[0] if self.client else ""
        each = sum(client is not None and client[0] == here for client in from_network)
        return each > EACH or len(from_network) > NETWORK

    def is_own(self) -> bool:
        """Whether it came by the socket that nobody but this machine reaches."""
        return bool(self.server and self.server[0] == LOOPBACK)

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
