"""Seasons written into a temporary folder, and read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from seasons import TYPED

from certgen.records import ReadingError, Season, read_season

Write = Callable[..., Path]
Read = Callable[..., tuple[Season, tuple[ReadingError, ...]]]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes files (name → content) into a season's folder beside a sound `season.yaml`; gives the folder."""

    def write(files: dict[str, str | bytes], season: str | None = TYPED) -> Path:
        folder = tmp_path / "season"
        folder.mkdir(exist_ok=True)
        if season is not None:
            files = {"season.yaml": season, **files}
        for name, content in files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return folder

    return write


@pytest.fixture
def read(write: Write) -> Read:
    """Writes like `write`, or just one file of records, and reads the season."""

    def read(
        files: dict[str, str | bytes] | str, **options: object
    ) -> tuple[Season, tuple[ReadingError, ...]]:
        folder = write({"records.yaml": files} if isinstance(files, str) else files)
        season, errors = read_season(folder, **options)
        assert season is not None, [error.text() for error in errors]
        return season, errors

    return read
