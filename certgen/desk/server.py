"""The desk's server: on this machine only, for one season, until it is stopped."""

from __future__ import annotations

import socket
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.desk.access import Gate, make_token
from certgen.desk.application import build_application

if TYPE_CHECKING:
    import uvicorn

    from certgen.desk.held_season import HeldSeason

#: Nobody but this machine reaches it.
LOOPBACK: Final = "127.0.0.1"


@dataclass(frozen=True, slots=True)
class OpenDesk:
    """A desk that has its port: the address to open it by, token included, and what answers there."""

    address: str
    listening: socket.socket
    app: Gate

    def serve(self) -> None:
        """Answers until the process is told to end."""
        self.build_server().run(sockets=[self.listening])

    def build_server(self) -> uvicorn.Server:
        """What answers at the port, once it is run there. It keeps no log, in which the token could stand."""
        import uvicorn

        settings = uvicorn.Config(
            self.app, log_level="critical", access_log=False, server_header=False, lifespan="off", ws="none"
        )
        return uvicorn.Server(settings)


def open_desk(held: HeldSeason, port: int = 0) -> OpenDesk:
    """Takes a port of this machine's own, any free one for 0. Raises `OSError` for one that is taken."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((LOOPBACK, port))
        listening.listen(64)
    except OSError:
        listening.close()
        raise
    taken = listening.getsockname()[1]
    token = make_token()
    app = Gate(build_application(held), token, taken)
    return OpenDesk(f"http://{LOOPBACK}:{taken}/?token={token}", listening, app)
