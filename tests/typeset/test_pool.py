"""The crew that sets a packet: what can't wait goes first, and a process that ends costs nothing but time."""

from __future__ import annotations

import os
from concurrent.futures import BrokenExecutor, Future
from concurrent.futures.process import BrokenProcessPool

import pytest

from certgen.typeset import pool as module
from certgen.typeset.pool import Crew


class Pool:
    """A pool whose pieces of work are done when the test says so."""

    def __init__(self, *_: object, **__: object) -> None:
        self.given: list[tuple[object, Future]] = []
        self.broken = False

    def submit(self, work, *given):
        """Take a piece of work."""
        if self.broken:
            raise BrokenProcessPool("gone")
        piece: Future = Future()
        if work is not module.load_setters:
            self.given.append((given, piece))
        return piece

    def shutdown(self, **_: object) -> None:
        """Go home."""


@pytest.fixture
def crew(monkeypatch):
    """A crew of two whose work the test does."""
    monkeypatch.setattr(module, "ProcessPoolExecutor", Pool)
    with Crew(2) as one:
        yield one


def names(crew) -> list[str]:
    """What was handed out, in order."""
    return [given[0] for given, _ in crew._pool.given]


def test_what_cannot_wait_goes_first(crew):
    """Three pieces are under way for two processes; of those that wait, the urgent one is next."""
    promised = [crew.send(str, name) for name in "abcde"]
    urgent = crew.send(str, "urgent", first=True)
    assert ["a", "b", "c"] == names(crew)

    crew._pool.given[0][1].set_result("A")
    assert ["a", "b", "c", "urgent"] == names(crew)
    assert "A" == promised[0].result(0)

    crew._pool.given[3][1].set_result("U")
    assert ["a", "b", "c", "urgent", "d"] == names(crew)
    assert "U" == urgent.result(0)


def test_a_fault_is_handed_on(crew):
    """What went wrong in a process is raised where the result is asked for."""
    promised = crew.send(str, "a")
    crew._pool.given[0][1].set_exception(KeyError("a"))

    with pytest.raises(KeyError):
        promised.result(0)


def test_a_broken_crew_says_so(crew):
    """Where no process is left, every result that is owed is a BrokenExecutor: nobody waits for ever."""
    promised = [crew.send(str, name) for name in "abcde"]
    crew._pool.broken = True
    for _, piece in list(crew._pool.given):
        piece.set_exception(BrokenProcessPool("gone"))

    for one in promised:
        with pytest.raises(BrokenExecutor):
            one.result(0)


def test_alone_it_does_the_work_itself(crew):
    """After the others went home, work is done at once, here."""
    assert crew.is_several
    crew.work_alone()

    assert not crew.is_several
    assert "7" == crew.send(str, 7).result(0)


def test_one_is_no_crew():
    """A crew of one starts no process."""
    with Crew(1) as one:
        assert not one.is_several
        assert os.getpid() == one.send(os.getpid).result(0)


def test_real_processes_do_the_work():
    """Work is done by others, and comes back."""
    with Crew(2) as two:
        assert os.getpid() != two.send(os.getpid).result(60)
