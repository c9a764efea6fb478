"""`certgen desk`: opened by its address, closed by a signal."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from certgen import cli
from certgen.desk import network, server


def test_the_address_with_its_token_is_printed_and_opens_the_desk(clean):
    """Nothing else is needed; told to end, it ends, and leaves the season as it was."""
    before = {path: path.stat().st_mtime_ns for path in Path(clean).iterdir()}
    command = [sys.executable, "-m", "certgen", "desk", clean, "--no-browser", "--on", "2026-10-31"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as desk:
        assert desk.stdout is not None
        address = re.findall(r"http://127\.0\.0\.1:[0-9]+/\?token=\S+", desk.stdout.readline())[0]
        jar = urllib.request.HTTPCookieProcessor()
        with urllib.request.build_opener(urllib.request.ProxyHandler({}), jar).open(address) as answer:
            page = answer.read().decode()
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.build_opener(urllib.request.ProxyHandler({})).open(address.split("?")[0])
        desk.send_signal(signal.SIGINT)
        assert 0 == desk.wait()

    assert "<h1>Today</h1>" in page
    assert before == {path: path.stat().st_mtime_ns for path in Path(clean).iterdir()}


def test_a_folder_without_a_season_opens_no_desk(tmp_path, capsys):
    """What is wrong is said as by every command."""
    assert 2 == cli.run(["desk", str(tmp_path), "--no-browser"])

    assert "holds no record file" in capsys.readouterr().err


def test_without_the_extra_it_says_what_to_install(clean):
    """Whoever installed certgen alone has no library that serves."""
    program = (
        "import sys; sys.modules['starlette'] = sys.modules['uvicorn'] = None;"
        "from certgen.cli import run; sys.exit(run(['desk', sys.argv[1], '--no-browser']))"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program, clean], capture_output=True, text=True, check=False
    )

    says = "The desk needs 'starlette', which isn't installed: pip install 'certgen[desk]'.\n"
    assert (2, "", says) == (ended.returncode, ended.stdout, ended.stderr)


def test_a_port_that_is_none_is_refused(tmp_path, capsys):
    """In plain words."""
    assert 2 == cli.run(["desk", str(tmp_path), "--port", "70000"])

    assert "--port" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("given", "says"),
    [(["--at", "192.168.1.20"], "give --phones with it"),
     (["--phones", "--at", "8.8.8.8"], "isn't an address of a private network"),
     (["--phones", "--at", "127.0.0.1"], "isn't an address of a private network"),
     (["--phones", "--at", "farm"], "'farm' is no address")],
)  # fmt: skip
def test_no_phone_is_let_in_from_elsewhere(clean, capsys, given, says):
    """It is said before anything listens."""
    assert 2 == cli.run(["desk", clean, "--no-browser", *given])

    assert says in " ".join(capsys.readouterr().err.split())


def test_the_code_for_phones_is_printed_beside_the_address(clean, monkeypatch, capsys):
    """With what everybody in that network can do; whoever has the code needs no token."""
    monkeypatch.setattr(network, "find_addresses", lambda _: ("127.0.0.2",))
    monkeypatch.setattr(server.OpenDesk, "serve", server.OpenDesk.close)

    assert 0 == cli.run(["desk", clean, "--no-browser", "--phones", "--on", "2026-10-31"])

    told = capsys.readouterr().out
    assert re.search(r"open http://127\.0\.0\.2:[0-9]+\nand type this code: [0-9]{4} [0-9]{4}\n", told)
    assert "unencrypted" in told
