"""Work under limits of time and memory: it ends alone, and says which limit it passed."""

from __future__ import annotations

import operator
import os
import signal
import sys
import tempfile
import time
from pathlib import Path

import pytest
from waiting import SECONDS

from certgen import limits, process_pool
from certgen.limits import LimitedPool, LimitedProcess, Limits, Outcome, run_limited
from certgen.records.record_files.parsing import decode

AMPLE = Limits(SECONDS, 500)
MB = 1 << 20


@pytest.fixture(params=["refused by the system", "watched by the process"])
def _each_way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory is limited in both ways that there are."""
    if request.param == "watched by the process":
        monkeypatch.setattr(limits, "_system_limits_memory", lambda: False)
    elif sys.platform != "linux":
        pytest.skip("no such limit here")


def test_work_within_its_limits_gives_its_result() -> None:
    """The result comes back, whatever it is, and no limit was passed."""
    assert Outcome(AMPLE, "", 3) == run_limited(abs, -3, seconds=SECONDS, megabytes=500)
    assert run_limited(print, seconds=SECONDS, megabytes=500).value is None


def test_work_is_done_in_another_process() -> None:
    """What it does to its process doesn't reach this one."""
    assert os.getpid() != run_limited(os.getpid, seconds=SECONDS, megabytes=500).value


def test_work_that_takes_too_long_is_ended() -> None:
    """The outcome says so in words, and its value can't be taken by mistake."""
    outcome = run_limited(time.sleep, SECONDS, seconds=0.5, megabytes=500)
    assert "time" == outcome.passed
    assert "takes longer than the 0.5 seconds that it is given" == outcome.reason
    with pytest.raises(ValueError, match="takes longer"):
        _ = outcome.value


@pytest.mark.usefixtures("_each_way")
def test_work_that_needs_too_much_memory_is_ended() -> None:
    """Memory is counted beyond what the process began with; less is let through, before and after."""
    with LimitedProcess(Limits(SECONDS, 200)) as process:
        assert 50 * MB == len(process.run(operator.mul, b"x", 50 * MB).value)
        outcome = process.run(operator.mul, b"x", 400 * MB)
        assert "memory" == outcome.passed
        assert "needs more than the 200 MB of memory that it is given" == outcome.reason
        assert 50 * MB == len(process.run(operator.mul, b"x", 50 * MB).value)


@pytest.mark.usefixtures("_each_way")
def test_what_the_parent_held_is_no_room_for_the_work() -> None:
    """A process made by one that holds much is given no more than its limit."""
    held = b"x" * (500 * MB)
    with LimitedProcess(Limits(SECONDS, 200)) as process:
        assert "memory" == process.run(operator.mul, b"x", 250 * MB).passed
    assert 500 * MB == len(held)


def test_a_limit_holds_for_its_piece_only() -> None:
    """Ten pieces of half the limit, one after the other, are no more than one."""
    with LimitedProcess(Limits(SECONDS, 200)) as process:
        sizes = [len(process.run(operator.mul, b"x", 50 * MB).value) for _ in range(5)]
    assert [50 * MB] * 5 == sizes


def test_a_process_stays_for_the_next_piece() -> None:
    """Only one that passed a limit is replaced."""
    with LimitedProcess(Limits(SECONDS, 200)) as process:
        first = process.run(os.getpid).value
        assert first == process.run(os.getpid).value
        assert "memory" == process.run(operator.mul, b"x", 400 * MB).passed
        assert first != process.run(os.getpid).value


def test_what_the_work_raises_is_raised() -> None:
    """An exception is handed on, and the process lives."""
    with LimitedProcess(AMPLE) as process:
        first = process.run(os.getpid).value
        with pytest.raises(ValueError, match="invalid literal"):
            process.run(int, "a")
        assert first == process.run(os.getpid).value


def test_an_exception_that_cannot_be_made_anew_is_told() -> None:
    """Its kind and its words arrive all the same."""
    with pytest.raises(RuntimeError, match="ParsingError: "):
        run_limited(decode, b"\xff", "trees.yaml", seconds=SECONDS, megabytes=500)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT])
def test_a_process_that_is_ended_from_outside_is_told_apart(how: signal.Signals) -> None:
    """No limit was passed; the next piece gets a fresh process."""
    with LimitedProcess(AMPLE) as process:
        outcome = process.run(signal.raise_signal, how)
        assert "process" == outcome.passed
        assert "ended the process that read it, most likely for want of memory" == outcome.reason
        assert 3 == process.run(abs, -3).value


def test_the_system_ends_work_that_nobody_watches() -> None:
    """What has used up the processor's time is ended as work that took too long."""
    with LimitedProcess(AMPLE) as process:
        assert "time" == process.run(signal.raise_signal, signal.SIGXCPU).passed


def test_ctrl_c_does_not_reach_the_work() -> None:
    """The one who asked ends it; the process itself says nothing of an interruption."""
    with LimitedProcess(AMPLE) as process:
        process.run(signal.raise_signal, signal.SIGINT)
        assert 3 == process.run(abs, -3).value


def test_what_the_work_leaves_in_the_temporary_folder_goes_with_it() -> None:
    """Even after a limit was passed in the midst of it."""
    with LimitedProcess(Limits(SECONDS, 200)) as process:
        left = [Path(process.run(tempfile.mkdtemp).value)]
        assert left[0].is_dir()
        assert "memory" == process.run(operator.mul, b"x", 400 * MB).passed
        assert not left[0].exists()
        left.append(Path(process.run(tempfile.mkdtemp).value))
    assert [False, False] == [path.exists() for path in left]


def test_nothing_is_printed_by_work(capfd: pytest.CaptureFixture[str]) -> None:
    """Not even by a library that ends its process."""
    run_limited(os.write, 2, b"memory allocation failed", seconds=SECONDS, megabytes=500)
    assert ("", "") == capfd.readouterr()


def test_where_the_system_allows_no_process_the_outcome_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits for ever, and nothing is raised."""

    def refuse(_self: object) -> None:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(process_pool.Apart, "start", refuse)
    assert "process" == run_limited(abs, -1, seconds=SECONDS, megabytes=500).passed


def test_one_of_several_that_passes_a_limit_holds_up_no_other() -> None:
    """The others' results come, in whichever process."""
    with LimitedPool(2, Limits(1.0, 500)) as pool:
        slow = pool.send(time.sleep, SECONDS)
        others = [pool.send(abs, -number) for number in range(5)]
        assert [0, 1, 2, 3, 4] == [future.result(SECONDS).value for future in others]
        assert "time" == slow.result(SECONDS).passed


def test_a_pool_that_is_left_ends_what_is_under_way() -> None:
    """It waits for no piece, what waited isn't begun, and no process stays."""
    with LimitedPool(2, AMPLE) as pool:
        pid = pool.send(os.getpid).result(SECONDS).value
        held = [pool.send(time.sleep, SECONDS) for _ in range(3)]
    assert [True] * 3 == [one.done() for one in held]
    assert {"process"} == {one.result().passed for one in held if not one.cancelled()}
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
