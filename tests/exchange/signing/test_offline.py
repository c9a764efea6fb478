"""Signing and reading signatures reach no network, and need no package that could."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from printed_packets import line_packet
from signed import small_pdf

from certgen.exchange.signing import offline
from certgen.exchange.signing.certificates import load_signer, make_certificate
from certgen.exchange.signing.offline import MissingError, NetworkError, prepare_signing
from certgen.exchange.signing.signature import read_signatures

if TYPE_CHECKING:
    from pathlib import Path

#: Signs and reads with every way to open a connection shut, and says what else could have opened one.
OFFLINE = """
import sys
from pathlib import Path

def shut(event, arguments):
    if event in {"socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg", "socket.listen",
                 "socket.getaddrinfo", "socket.gethostbyname", "urllib.Request", "http.client.connect"}:
        raise SystemExit(f"{event} {arguments}")

sys.addaudithook(shut)
from certgen.exchange.signing.certificates import load_signer, load_trusted, make_certificate
from certgen.exchange.signing.signature import read_signatures, sign_bytes

key = Path(sys.argv[2])
make_certificate(key)
signed = sign_bytes(Path(sys.argv[1]).read_bytes(), load_signer(key))
(state,) = read_signatures(signed, load_trusted(key.with_name(key.name + ".pub"))).signatures
assert state.holds and state.trusted
clients = ("aiohttp", "requests", "urllib3", "httpx", "httpcore", "yarl", "multidict", "aiosignal")
print([name for name in clients if getattr(sys.modules.get(name), "__file__", None)])
"""


def test_no_connection_is_opened_and_no_client_loaded(tmp_path: Path) -> None:
    """In a fresh process, with every socket shut: a key, a signature and the look at it."""
    (tmp_path / "packet.pdf").write_bytes(small_pdf())
    finished = subprocess.run(
        [sys.executable, "-c", OFFLINE, str(tmp_path / "packet.pdf"), str(tmp_path / "orchard.key")],
        capture_output=True,
        text=True,
        check=False,
    )

    assert (0, "[]\n", "") == (finished.returncode, finished.stdout, finished.stderr)


#: Put where Python looks when it starts, so that the processes that a command starts have it too. What talks
#: within this computer alone, from process to process, goes by another kind of address.
WATCH = """
import atexit, socket, sys
from pathlib import Path

LOG = Path(__file__).with_name("log")

def note(words):
    with LOG.open("a") as log:
        log.write(words + "\\n")

def shut(event, arguments):
    if not event.startswith(("socket.", "urllib.", "http.client.", "ftplib.", "smtplib.")):
        return
    family = getattr(arguments[0], "family", 0)
    if event in {"socket.__new__", "socket.gethostname"} or family == socket.AF_UNIX:
        return
    note(f"{event} {arguments}")
    raise SystemExit(event)

def list_clients():
    for name in ("aiohttp", "requests", "urllib3", "httpx"):
        if getattr(sys.modules.get(name), "__file__", None):
            note(name)

sys.addaudithook(shut)
atexit.register(list_clients)
"""


def test_seal_and_verify_run_with_every_socket_shut(tmp_path: Path, root: Path) -> None:
    """The commands as they are typed, with all the processes that they start; one attempt shows the trap."""
    (tmp_path / "watch").mkdir()
    (tmp_path / "watch" / "sitecustomize.py").write_text(WATCH)
    (tmp_path / "packet.pdf").write_bytes(line_packet())
    environment = {**os.environ, "PYTHONPATH": f"{tmp_path / 'watch'}{os.pathsep}{root}"}
    key, signed = str(tmp_path / "orchard.key"), str(tmp_path / "signed.pdf")
    typed = (
        ["seal", "--new-key", key],
        ["seal", str(tmp_path / "packet.pdf"), "--key", key, "--out", signed],
        ["verify", signed, "--key", f"{key}.pub", "--trust", f"{key}.pub"],
    )
    attempt = "import socket; socket.create_connection(('localhost', 9))"
    subprocess.run([sys.executable, "-c", attempt], env=environment, capture_output=True, check=False)
    log = (tmp_path / "watch" / "log").read_text()
    assert "socket.getaddrinfo" in log
    for arguments in typed:
        finished = subprocess.run(
            [sys.executable, "-m", "certgen", *arguments],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert (0, "") == (finished.returncode, finished.stderr), finished.stdout

    assert log == (tmp_path / "watch" / "log").read_text()


def test_the_trap_is_sprung_by_a_connection(tmp_path: Path) -> None:
    """The test above would notice: one attempt within the same process ends it."""
    attempt = "import socket; socket.create_connection(('localhost', 9))"
    program = OFFLINE.split("from certgen", maxsplit=1)[0] + attempt
    finished = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path), "-"], capture_output=True, text=True, check=False
    )

    assert 1 == finished.returncode
    assert "socket.getaddrinfo" in finished.stderr


def test_what_stands_for_the_client_refuses_every_use(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its names can be imported, so that the library loads; using one is an error that says why."""
    monkeypatch.delitem(sys.modules, "aiohttp", raising=False)
    prepare_signing()
    import aiohttp

    with pytest.raises(NetworkError, match=r"makes no connections; aiohttp\.ClientSession"):
        aiohttp.ClientSession(timeout=3)
    with pytest.raises(NetworkError):
        type("Session", (aiohttp.ClientSession,), {})
    assert None is getattr(aiohttp, "__file__", None)


def test_a_client_that_somebody_else_loaded_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that uses certgen and has a client of its own keeps it."""
    own = type(sys)("aiohttp")
    monkeypatch.setitem(sys.modules, "aiohttp", own)
    prepare_signing()

    assert own is sys.modules["aiohttp"]


def test_without_the_packages_it_is_said_how_to_get_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever signs is told; whoever reads learns that nothing was looked at, and has the file's bytes."""
    monkeypatch.setattr(offline, "_NEEDED", ("no_such_package",))

    for use in (make_certificate, load_signer):
        with pytest.raises(MissingError, match=r"pip install 'certgen\[signing\]'"):
            use(tmp_path / "orchard.key")
    found = read_signatures(small_pdf())
    assert (small_pdf(), (), ()) == (found.base, found.signatures, found.faults)
    assert "certgen[signing]" in found.unread
