"""Where the schemas and the report's templates lie, in a checkout and in an installed package alike.

They stand at the top of the checkout, where a reader looks for them. The wheel carries copies inside the
package; a checkout, editable or not, reads the originals. A test on the built wheel holds both together.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def schemas_dir() -> Path:
    """The folder of JSON Schemas, one file a table.

    Raises FileNotFoundError when the installation is incomplete.
    """
    return _folder("schemas")


def templates_dir() -> Path:
    """The folder of Jinja templates and the report's style sheet.

    Raises FileNotFoundError when the installation is incomplete.
    """
    return _folder("templates")


@cache
def _folder(name: str) -> Path:
    # The packaged copy first: beside an installed certgen, a stray folder `schemas` must not win.
    for candidate in (_PACKAGE / "_data" / name, _PACKAGE.parent / name):
        if candidate.is_dir():
            return candidate
    message = f"certgen's own folder '{name}' is missing; install certgen again"
    raise FileNotFoundError(message)
