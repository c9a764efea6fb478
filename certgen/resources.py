"""Where the schemas and the report's templates lie, in a checkout and in an installed package alike.

They stand at the top of the checkout, where a reader looks for them. The wheel carries copies inside the
package; a checkout, editable or not, reads the originals. A test on the built wheel holds both together.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
#: The files that what certgen says goes by.
_CODE = frozenset({".py", ".yaml", ".json", ".html", ".css", ".js", ".typ"})


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


@cache
def code_digest() -> str:
    """SHA-256 over certgen's own code, rulebooks, schemas and templates, each file by its name and bytes.

    Two installations with the same digest come to the same findings; a version's number alone doesn't tell,
    since it stays while the next one is being made.
    """
    roots = {"certgen": _PACKAGE, "schemas": schemas_dir(), "templates": templates_dir()}
    files = {
        f"{root}/{path.relative_to(folder).as_posix()}": path
        for root, folder in roots.items()
        for path in folder.rglob("*")
        if path.suffix in _CODE and not {"_data", "examples"} & set(path.relative_to(folder).parts[:-1])
    }
    digest = hashlib.sha256()
    for name in sorted(files):
        data = files[name].read_bytes()
        digest.update(f"{name}\0{len(data)}\0".encode() + data)
    return digest.hexdigest()
