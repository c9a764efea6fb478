"""Checks an organic papaya-seed season's records and prints its traceability report.

The names below are what other programs may build on. They are looked up when first used, so that
`import certgen` stays quick and `certgen --help` does not wait for the libraries that read tables.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from certgen.examination import Result, examine
    from certgen.records import read_season
    from certgen.rules import Gap

__version__ = "0.1.0"
#: The day of this version, as `CHANGELOG.md` has it.
RELEASED = "2026-11-30"

__all__ = ["RELEASED", "Gap", "Result", "__version__", "examine", "read_season"]

_HOMES = {
    "examine": "certgen.examination",
    "read_season": "certgen.records",
    "Result": "certgen.examination",
    "Gap": "certgen.rules",
}


def __getattr__(name: str) -> object:
    """One of the public names, fetched from the module it lives in."""
    if name not in _HOMES:
        message = f"module 'certgen' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
