"""Somebody at a terminal sees that work goes on; nobody else sees anything."""

from __future__ import annotations

import subprocess
import sys
import time
from types import SimpleNamespace

import pytest

from certgen.cli import progress


class Watched:
    """Standard error as a terminal that keeps what it is shown."""

    encoding = "utf-8"

    def __init__(self) -> None:
        self.shown = ""

    def write(self, text: str) -> int:
        """Keeps it."""
        self.shown += text
        return len(text)

    def flush(self) -> None:
        """Everything is shown at once."""

    def isatty(self) -> bool:
        """It says that it is one."""
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Watched:
    """Somebody watches. pytest puts a stderr of its own in place again, so each module asks for this one."""
    watched = Watched()
    monkeypatch.setattr(progress, "sys", SimpleNamespace(stderr=watched))
    monkeypatch.setattr("rich.console.sys", SimpleNamespace(stderr=watched, stdout=watched))
    monkeypatch.setenv("TERM", "xterm")
    return watched


def test_steps_fill_a_bar(terminal: Watched) -> None:
    """The step's name and how many are done stand there; a name out of a record is no markup."""
    with progress.show_steps("members") as steps:
        steps(3, 7)
        steps(4, 7, "setting [red]lot L1")
        time.sleep(0.2)

    assert "4/7" in terminal.shown
    assert "setting [red]lot L1" in terminal.shown


def test_work_that_is_soon_over_shows_nothing(terminal: Watched) -> None:
    """No bar flashes up for a small season."""
    with progress.show_waiting("reading"):
        pass

    assert "" == terminal.shown


def test_work_that_takes_long_is_seen(terminal: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once patience is over, the bar says what is under way; it is gone when the work is."""
    monkeypatch.setattr(progress, "PATIENCE", 0.01)
    with progress.show_waiting("reading"):
        for _ in range(500):
            if "reading" in terminal.shown:
                break
            time.sleep(0.02)

    assert "reading" in terminal.shown
    before = terminal.shown
    time.sleep(0.3)
    assert before == terminal.shown


def test_a_failure_takes_the_bar_away(terminal: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """What goes wrong goes on its way, and the bar doesn't go on moving."""
    monkeypatch.setattr(progress, "PATIENCE", 0.0)
    with pytest.raises(ValueError, match="wrong"), progress.show_waiting("reading"):
        raise ValueError("wrong")

    before = terminal.shown
    time.sleep(0.3)
    assert before == terminal.shown


def test_a_terminal_that_takes_no_line_back_is_left_alone(
    terminal: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A terminal that calls itself dumb would keep every picture of the bar."""
    monkeypatch.setenv("TERM", "dumb")
    with progress.show_steps("members") as steps:
        steps(1, 2)

    assert "" == terminal.shown


def test_nobody_watching_costs_nothing() -> None:
    """Into a file nothing is written, and rich isn't even loaded."""
    told = (
        "import sys\n"
        "from certgen.cli.progress import show_steps, show_waiting\n"
        "with show_waiting('reading'), show_steps('members') as steps:\n"
        "    steps(1, 2, 'first')\n"
        "sys.stdout.write(str('rich' in sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)

    assert ("False", "") == (done.stdout, done.stderr)
