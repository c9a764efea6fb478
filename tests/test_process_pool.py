"""Work that is shared out: what can't wait goes first, and a process that ends costs its piece only."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from concurrent.futures import BrokenExecutor, CancelledError, ThreadPoolExecutor
from pathlib import Path
from threading import Event, Thread

import pytest
from waiting import SECONDS

from certgen import process_pool
from certgen.process_pool import Pool, count_cores, ends_with_its_work, work_apart

pytestmark = pytest.mark.all_cores

PROGRAM = """
from certgen.process_pool import Pool
print("the program runs")
with Pool(2) as pool:
    print(pool.send(abs, -3).result())
"""
KILLED = """
import os, signal
from certgen.process_pool import Pool
pool = Pool(2)
print(pool.send(abs, -3).result(), flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


class Held:
    """Work that a worker is at until it is let go."""

    def __init__(self, pool: Pool) -> None:
        self.begun, self.gate = Event(), Event()
        self.future = pool.send(self.wait)
        assert self.begun.wait(60)

    def wait(self) -> str:
        """What the worker does."""
        self.begun.set()
        self.gate.wait(60)
        return "done"


@pytest.fixture
def threads(monkeypatch: pytest.MonkeyPatch) -> None:
    """The workers are threads of this process, so that a test sees what they are at."""
    monkeypatch.setattr(process_pool, "_hire", lambda _scratch, **_: ThreadPoolExecutor(1))


@pytest.mark.usefixtures("threads")
def test_what_cannot_wait_goes_first() -> None:
    """Of what waits for a free worker the urgent piece is next, then the others in their order."""
    done: list[str] = []
    with Pool(2) as pool:
        one, other = Held(pool), Held(pool)
        waiting = [pool.send(done.append, name) for name in "ab"]
        waiting.append(pool.send(done.append, "urgent", first=True))
        one.gate.set()
        for future in waiting:
            future.result(60)
        other.gate.set()
    assert ["urgent", "a", "b"] == done


@pytest.mark.usefixtures("threads")
def test_a_fault_is_handed_on() -> None:
    """What went wrong at the work is raised where the result is asked for."""
    with Pool(2) as pool:
        promised = pool.send(int, "a")
        with pytest.raises(ValueError, match="invalid literal"):
            promised.result(60)


@pytest.mark.usefixtures("threads")
def test_what_waited_when_the_others_went_home_is_not_done() -> None:
    """What is under way is waited for; what comes later is done at once, here."""
    pool = Pool(2)
    assert pool.is_several
    held = [Held(pool), Held(pool)]
    waiting = pool.send(int)
    going = Thread(target=pool.work_alone)
    going.start()
    with pytest.raises(CancelledError):
        waiting.result(60)
    for one in held:
        one.gate.set()
    going.join(60)
    assert ["done", "done"] == [one.future.result(0) for one in held]
    assert not pool.is_several
    assert "7" == pool.send(str, 7).result(0)


def test_a_killed_worker_takes_its_own_piece_along() -> None:
    """Its result is a BrokenExecutor, the other worker's isn't, and a fresh one takes its place."""
    with Pool(2) as pool:
        killed = pool.send(os._exit, 1)
        others = [pool.send(abs, -number) for number in range(4)]
        with pytest.raises(BrokenExecutor):
            killed.result(60)
        assert [0, 1, 2, 3] == [future.result(60) for future in others]
        assert 5 == pool.send(abs, -5).result(60)


def test_each_piece_has_a_process_of_its_own_where_that_is_wanted() -> None:
    """It is gone when the next piece begins."""
    with Pool(1, fresh=True) as pool:
        numbers = [pool.send(os.getpid).result(60) for _ in range(3)]
    with Pool(1) as pool:
        others = [pool.send(os.getpid).result(60) for _ in range(3)]

    assert (3, 1) == (len({*numbers}), len({*others}))


def test_a_process_knows_whether_it_ends_with_its_work() -> None:
    """One for a single piece does, wherever it came from; a worker that stays and this one do not."""
    with Pool(1, fresh=True) as pool, Pool(1) as others:
        said = [one.send(ends_with_its_work).result(60) for one in (pool, pool, others)]

    assert [True, True, False] == said
    assert work_apart(ends_with_its_work)
    assert not ends_with_its_work()


def test_where_the_system_allows_no_process_nobody_waits_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every result that is owed is a BrokenExecutor."""

    def refuse(_self: object) -> None:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(process_pool.Apart, "start", refuse)
    with Pool(2, load=int) as pool:
        promised = [pool.send(abs, -1) for _ in range(3)]
        for future in promised:
            with pytest.raises(BrokenExecutor):
                future.result(60)


def test_without_workers_this_process_works() -> None:
    """A pool of none starts no process; what is offered is done when its result is asked for."""
    done: list[str] = []
    with Pool(0) as pool:
        assert not pool.is_several
        assert os.getpid() == pool.send(os.getpid).result(0)
        offered = pool.offer(done.append, "a")
        assert [] == done
        assert offered.obtain() is None
        assert ["a"] == done


@pytest.mark.usefixtures("threads")
def test_what_nobody_is_at_is_done_by_who_wants_it() -> None:
    """Once, and the worker goes on to what comes behind it; what a worker is at is waited for."""
    done: list[str] = []
    with Pool(1) as pool:
        held = Held(pool)
        one, other = pool.offer(done.append, "a"), pool.offer(done.append, "b")
        assert one.obtain() is None
        assert ["a"] == done
        held.gate.set()
        other.result(60)
        assert other.obtain() is None
    assert ["a", "b"] == done


@pytest.mark.usefixtures("threads")
def test_a_fault_of_what_was_offered_is_handed_on() -> None:
    """Whoever did it."""
    with Pool(1) as pool:
        held = Held(pool)
        here, there = pool.offer(int, "a"), pool.offer(int, "b")
        with pytest.raises(ValueError, match="'a'"):
            here.obtain()
        held.gate.set()
        with pytest.raises(ValueError, match="'b'"):
            there.result(60)
        with pytest.raises(ValueError, match="'b'"):
            there.obtain()


def test_what_a_worker_leaves_in_the_temporary_folder_goes_with_the_pool() -> None:
    """However it came to its end."""
    with Pool(2) as pool:
        left = [Path(pool.send(tempfile.mkdtemp).result(60)) for _ in range(2)]
        with pytest.raises(BrokenExecutor):
            pool.send(os._exit, 1).result(60)
        left.append(Path(pool.send(tempfile.mkdtemp).result(60)))
    assert [False] * 3 == [path.exists() or path.parent.exists() for path in left]


def test_an_interrupted_program_ends_its_workers_at_once() -> None:
    """What they are at is not waited for."""
    pool = Pool(2, load=int)
    held = pool.send(time.sleep, 600)
    assert os.getpid() != pool.send(os.getpid).result(60)
    with pytest.raises(KeyboardInterrupt), pool:
        raise KeyboardInterrupt
    with pytest.raises((BrokenExecutor, CancelledError)):
        held.result(60)


def test_cores_that_may_be_used_are_counted() -> None:
    """At least one."""
    assert 1 <= count_cores() <= (os.cpu_count() or 1)


def test_a_script_without_a_guard_runs_once(tmp_path: Path) -> None:
    """A worker does not run the script again that started it."""
    script = tmp_path / "script.py"
    script.write_text(PROGRAM, encoding="utf-8")
    ended = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, check=True, timeout=SECONDS
    )

    assert ("the program runs\n3\n", "") == (ended.stdout, ended.stderr)


def test_a_program_from_standard_input_has_workers() -> None:
    """A program that is no file can have workers too."""
    ended = subprocess.run(
        [sys.executable], input=PROGRAM, capture_output=True, text=True, check=True, timeout=SECONDS
    )

    assert ("the program runs\n3\n", "") == (ended.stdout, ended.stderr)


def test_workers_end_with_a_program_that_is_killed() -> None:
    """What holds the output open ends, and with it the waiting for more: no worker is left behind."""
    ended = subprocess.run([sys.executable], input=KILLED, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                           text=True, check=False, timeout=SECONDS)  # fmt: skip

    assert (-signal.SIGKILL, "3\n") == (ended.returncode, ended.stdout)
