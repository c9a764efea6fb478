"""The desk's server: on this machine, and where it is asked for in the farm's network, for one season, until
it is stopped.
"""

from __future__ import annotations

import os
import socket
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.desk.access import Gate, make_token
from certgen.desk.application import build_application
from certgen.desk.devices import Devices
from certgen.desk.network import LOOPBACK, write_host

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import uvicorn

    from certgen.desk.held_season import HeldSeason
    from certgen.desk.print_jobs import PrintJobs


@dataclass(frozen=True, slots=True)
class OpenDesk:
    """A desk that has its port: the address to open it by, token included, and what answers there.

    `listening` is this machine's own socket, `beside` those in the farm's network, where `devices` knows who
    may ask.
    """

    address: str
    listening: socket.socket
    app: Gate
    prints: PrintJobs
    beside: tuple[socket.socket, ...] = ()
    devices: Devices | None = None

    def serve(self) -> None:
        """Answers until the process is told to end."""
        try:
            self.build_server().run(sockets=[self.listening, *self.beside])
        finally:
            # Told twice to end, a server doesn't say goodbye.
            self.prints.close()

    def build_server(self) -> uvicorn.Server:
        """What answers at the port, once it is run there. It keeps no log, in which the token could stand."""
        import uvicorn

        from certgen.desk.connections import Connection

        settings = uvicorn.Config(
            self.app,
            http=Connection,
            log_level="critical",
            access_log=False,
            server_header=False,
            lifespan="on",
            ws="none",
            # Nothing in front of the desk speaks for others.
            proxy_headers=False,
            timeout_graceful_shutdown=5,
        )
        return uvicorn.Server(settings)

    def close(self) -> None:
        """Gives the port back."""
        for one in (self.listening, *self.beside):
            one.close()


def open_desk(
    held: HeldSeason,
    port: int = 0,
    addresses: Sequence[str] = (),
    tell: Callable[[str], None] | None = None,
) -> OpenDesk:
    """Takes a port of this machine's own, any free one for 0, and the same one at `addresses` of its network.

    `tell` is handed each code that lets a device in, after the first. Raises `OSError` for a port that is
    taken.
    """
    listening = _listen(LOOPBACK, port)
    taken = listening.getsockname()[1]
    beside: list[socket.socket] = []
    try:
        beside += [_listen(address, taken) for address in addresses]
    except OSError:
        for one in (listening, *beside):
            one.close()
        raise
    devices = Devices([f"http://{write_host(one)}:{taken}" for one in addresses], tell) if addresses else None
    token = make_token()
    application = build_application(held, devices)
    app = Gate(application, token, taken, devices, addresses)
    opened = f"http://{LOOPBACK}:{taken}/?token={token}"
    return OpenDesk(opened, listening, app, application.state.prints, tuple(beside), devices)


def _listen(address: str, port: int) -> socket.socket:
    """A socket that listens at one address only. Raises `OSError` that names it."""
    listening = socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            # A port that was given back a moment ago can be taken again; elsewhere this would let another
            # program take it from us.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen(64)
    except OSError as fault:
        listening.close()
        fault.filename = fault.filename or f"{write_host(address)}:{port}"
        raise
    return listening
