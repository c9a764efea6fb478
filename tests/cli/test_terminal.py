"""When output is coloured."""

from __future__ import annotations

import sys

import pytest

from certgen.cli.terminal import Terminal


@pytest.mark.parametrize(
    ("watched", "environment", "coloured"),
    [
        (True, {}, True),
        (False, {}, False),
        (True, {"NO_COLOR": "1"}, False),
        (True, {"NO_COLOR": ""}, True),
        (True, {"TERM": "dumb"}, False),
        (False, {"FORCE_COLOR": "1"}, True),
        (False, {"FORCE_COLOR": ""}, False),
        (False, {"FORCE_COLOR": "1", "NO_COLOR": "1"}, False),
        (True, {"FORCE_COLOR": "1", "TERM": "dumb"}, True),
    ],
)
def test_colours_are_for_those_who_watch_or_ask(
    watched: bool, environment: dict[str, str], coloured: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An empty variable says nothing, and whoever wants none gets none."""
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    for name, value in {"TERM": "xterm", **environment}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: watched, raising=False)

    assert coloured == Terminal().colour
