"""Spreadsheets on their way into a season: opened, understood, tried, and only then written."""

from __future__ import annotations


def load() -> None:
    """Load what a process needs that reads a sheet and tries its records: before it has either."""
    from certgen.exchange.importing import opening, plan

    del opening, plan
