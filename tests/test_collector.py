"""The collector pauses, and afterwards it is as it was."""

from __future__ import annotations

import gc

import pytest

from certgen.collector import pause_collector


@pytest.fixture
def collecting():
    """As it was before, whatever a test did."""
    was_on = gc.isenabled()
    yield
    (gc.enable if was_on else gc.disable)()


@pytest.mark.parametrize("start", [gc.enable, gc.disable])
@pytest.mark.usefixtures("collecting")
def test_it_is_as_it_was_afterwards(start):
    """On again if it was on; off if it was off, also where one pause stands within another."""
    start()
    was_on = gc.isenabled()
    with pause_collector():
        with pause_collector():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert was_on == gc.isenabled()


@pytest.mark.usefixtures("collecting")
def test_a_fault_ends_the_pause():
    """It goes on after what was raised."""
    gc.enable()
    with pytest.raises(ZeroDivisionError):
        pause_collector()(lambda: 1 // 0)()
    assert gc.isenabled()
