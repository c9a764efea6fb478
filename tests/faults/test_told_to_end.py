"""A process that is told to end leaves no copy of anybody's records behind, and no worker."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys

import pytest
from waiting import SECONDS, wait_until

from certgen import cli

COVERS = ("certgen.cli", "certgen.limits", "certgen.coop.examination", "certgen.exchange.importing.trial")
pytestmark = pytest.mark.all_cores
ON = ["--on", "2026-11-25"]
#: A command that comes no further than the reading of its copy.
STOPPED = """
import sys, time
from certgen import cli
from certgen.standards import season_reading
season_reading.read_case = lambda *_given, **_how: time.sleep(300)
cli.main(sys.argv[1:])
"""


def start(arguments, scratch, *, stopped=False, on_hangup=signal.SIG_DFL):
    """Starts a command in a session of its own, with its own place for temporary files.

    Whoever runs the tests may ignore SIGHUP, and a process is born with what its parent ignores.
    """
    before = signal.signal(signal.SIGHUP, on_hangup)
    try:
        return _start(arguments, scratch, stopped)
    finally:
        signal.signal(signal.SIGHUP, before)


def _start(arguments, scratch, stopped):
    scratch.mkdir()
    how = ["-c", STOPPED] if stopped else ["-m", "certgen"]
    return subprocess.Popen(
        [sys.executable, *how, *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "TMPDIR": str(scratch)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
        text=True,
    )


def is_gone(session):
    """Whether no process of a session is left."""
    try:
        os.killpg(session, 0)
    except ProcessLookupError:
        return True
    return False


def hold_end(process, scratch, number):
    """Tells a process to end once it holds something, and sees that nothing is left."""
    wait_until(lambda: any(scratch.iterdir()))
    process.send_signal(number)
    _, said = process.communicate(timeout=SECONDS)
    assert (128 + number, [], "") == (process.returncode, list(scratch.iterdir()), said)
    wait_until(lambda: is_gone(process.pid))


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_an_import_takes_its_copies_with_it(season, tmp_path, number):
    """Records that were being tried are gone from the temporary folder."""
    book = tmp_path / "book.xlsx"
    assert cli.run(["export", str(season), "--out", str(book), *ON]) == 0
    process = start(["import", tmp_path / "new", book], tmp_path / "scratch", stopped=True)
    hold_end(process, tmp_path / "scratch", number)
    assert not (tmp_path / "new").exists()


def test_a_coop_takes_its_members_records_and_its_workers_with_it(root, tmp_path):
    """What was unpacked goes, and no process examines on."""
    coop = shutil.copytree(root / "example_coop", tmp_path / "coop")
    process = start(["coop", coop, "--no-cache", "--workers", "2", *ON], tmp_path / "scratch")
    hold_end(process, tmp_path / "scratch", signal.SIGTERM)


def test_what_a_terminal_leaves_running_goes_on(season, tmp_path):
    """Started with SIGHUP ignored, as `nohup` does, a command doesn't end with its terminal."""
    book = tmp_path / "book.xlsx"
    assert cli.run(["export", str(season), "--out", str(book), *ON]) == 0
    arguments = ["import", tmp_path / "new", book]
    process = start(arguments, tmp_path / "scratch", stopped=True, on_hangup=signal.SIG_IGN)
    wait_until(lambda: any((tmp_path / "scratch").iterdir()))
    process.send_signal(signal.SIGHUP)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=SECONDS)
    assert (128 + signal.SIGTERM, []) == (process.returncode, list((tmp_path / "scratch").iterdir()))
