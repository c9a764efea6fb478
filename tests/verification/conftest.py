"""What verifying packets takes: no second process, and no packet made twice of the same files."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import pytest

from certgen.verification import pages, rebuilding

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result

    Files = Mapping[str, object]

MADE: dict[str, bytes] = {}


@pytest.fixture(autouse=True)
def made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A packet is made anew for each set of files inside, and kept: most forgeries leave the files alone."""
    monkeypatch.setattr("certgen.typeset.setting_pool.count_cores", lambda: 1)

    def rebuild(
        result: Result,
        manifest: Mapping[str, object],
        inside: Mapping[str, bytes],
        _progress: object,
        _pool: object,
    ) -> bytes:
        digest = hashlib.sha256()
        for name, data in sorted(inside.items()):
            digest.update(f"{name}\0{len(data)}\0".encode("utf-8", "surrogateescape") + data)
        key = digest.hexdigest()
        if key not in MADE:
            MADE[key] = rebuilding.rebuild_pages(result, manifest, inside)
        return MADE[key]

    monkeypatch.setattr(pages, "rebuild_pages", rebuild)
