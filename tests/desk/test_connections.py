"""The connections that the desk holds open, tried over real sockets of this machine."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from threading import Thread

import pytest
import uvicorn
from starlette.responses import PlainTextResponse
from waiting import wait_until

from certgen.desk import connections
from certgen.desk.connections import Connection

ASKS = b"GET / HTTP/1.1\r\nHost: a\r\n\r\n"


@contextmanager
def serving(held: int = 0) -> Iterator[tuple[str, int]]:
    """The place where something answers; `held` connections that say nothing are open there already."""
    listening = socket.create_server(("127.0.0.1", 0))
    place = listening.getsockname()[:2]
    server = uvicorn.Server(
        uvicorn.Config(
            PlainTextResponse("here"), http=Connection, log_level="critical", lifespan="off", ws="none",
            timeout_graceful_shutdown=1,
        )
    )  # fmt: skip
    thread = Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    wait_until(lambda: server.started)
    with ExitStack() as open_ones:
        for _ in range(held):
            open_ones.enter_context(socket.create_connection(place))
        try:
            yield place
        finally:
            server.should_exit = True
            thread.join()
            listening.close()


def ask(place: tuple[str, int], *parts: bytes) -> bytes:
    """All that is answered until the other end closes; nothing where it closed at once."""
    answer = b""
    with socket.create_connection(place, timeout=30) as asking:
        try:
            for part in parts:
                asking.sendall(part)
            while data := asking.recv(65536):
                answer += data
                if answer.endswith(b"here"):
                    break
        except ConnectionError:
            pass
    return answer


def test_a_connection_too_many_is_dropped(monkeypatch):
    """Ten thousand of them take no more than their share of what a program may have open."""
    monkeypatch.setattr(connections, "OWN", 5)

    with serving(held=5) as place:
        refused = [ask(place, ASKS) for _ in range(20)]
    with serving(held=4) as place:
        answered = ask(place, ASKS)

    assert [b""] * 20 == refused
    assert answered.endswith(b"here")


@pytest.mark.parametrize(("each", "network", "taken"), [(3, 100, False), (100, 3, False), (100, 100, True)])
def test_one_address_of_the_network_takes_its_share_and_all_of_them_theirs(monkeypatch, each, network, taken):
    """What they hold is none of this machine's own share."""
    monkeypatch.setattr(connections, "LOOPBACK", "")
    monkeypatch.setattr(connections, "OWN", 0)
    monkeypatch.setattr(connections, "EACH", each)
    monkeypatch.setattr(connections, "NETWORK", network)

    with serving(held=3) as place:
        assert taken == ask(place, ASKS).endswith(b"here")


def test_who_only_keeps_the_desk_waiting_is_dropped(monkeypatch):
    """Having said nothing, half a head, or half a second request; another is answered then."""
    monkeypatch.setattr(connections, "OWN", 3)
    monkeypatch.setattr(connections, "HEAD_SECONDS", 0.2)

    with serving(held=3) as place:
        wait_until(lambda: ask(place, ASKS).endswith(b"here"))
        assert b"" == ask(place)
        assert b"" == ask(place, b"GET / HTTP/1.1\r\nHos")


def test_a_head_without_end_is_refused():
    """However many headers come."""
    with serving() as place:
        answer = ask(place, b"GET / HTTP/1.1\r\nHost: a\r\n", b"x: y\r\n" * 20_000)

    assert answer.partition(b"\r\n")[0] in {b"HTTP/1.1 400 Bad Request", b""}


@pytest.mark.parametrize(
    "head",
    [
        b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nhello",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost : a\r\n\r\n",
        b"GET /a\x00b HTTP/1.1\r\nHost: a\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    ],
)
def test_what_can_be_read_in_two_ways_is_not_read_at_all(head):
    """Two lengths, two hosts, none, an unknown coding, a blank before the colon, another protocol."""
    with serving() as place:
        answer = ask(place, head)

    assert b"here" not in answer
    assert answer.partition(b"\r\n")[0] in {b"HTTP/1.1 400 Bad Request", b"HTTP/1.1 501 Not Implemented"}


def test_a_request_hidden_in_another_s_body_is_none():
    """The length gives way to the chunks, and the connection ends with them."""
    head = b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 60\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"

    with serving() as place:
        answer = ask(place, head)

    assert 1 == answer.count(b"HTTP/1.1")
