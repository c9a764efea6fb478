"""Workers start without the main program, so that any program may print a packet."""

from __future__ import annotations

import signal
import subprocess
import sys

PROGRAM = """
from concurrent.futures import ProcessPoolExecutor
from certgen.typeset.processes import ApartContext
print("the program runs")
with ProcessPoolExecutor(1, mp_context=ApartContext()) as pool:
    print(pool.submit(abs, -3).result())
"""
KILLED = """
import os, signal
from concurrent.futures import ProcessPoolExecutor
from certgen.typeset.processes import ApartContext
pool = ProcessPoolExecutor(1, mp_context=ApartContext())
print(pool.submit(abs, -3).result(), flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_script_without_a_guard_runs_once(tmp_path):
    """A worker does not run the script again that started it."""
    script = tmp_path / "script.py"
    script.write_text(PROGRAM, encoding="utf-8")
    ended = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=True)

    assert ("the program runs\n3\n", "") == (ended.stdout, ended.stderr)


def test_a_program_from_standard_input_has_workers():
    """A program that is no file can have workers too."""
    ended = subprocess.run([sys.executable], input=PROGRAM, capture_output=True, text=True, check=True)

    assert ("the program runs\n3\n", "") == (ended.stdout, ended.stderr)


def test_workers_end_with_a_program_that_is_killed():
    """What holds the output open ends, and with it the waiting for more: no worker is left behind."""
    ended = subprocess.run([sys.executable], input=KILLED, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                           text=True, check=False, timeout=300)  # fmt: skip

    assert (-signal.SIGKILL, "3\n") == (ended.returncode, ended.stdout)
