"""Where certgen finds its own schemas and templates."""

from __future__ import annotations

from pathlib import Path

import pytest

from certgen import resources


def test_a_checkout_reads_the_folders_at_the_top(root: Path) -> None:
    """Whoever edits a schema or a template sees the change at once, without installing again."""
    assert root / "schemas" == resources.schemas_dir()
    assert root / "templates" == resources.templates_dir()


def test_the_packaged_copy_wins_over_a_stray_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside an installed package, somebody's folder of the same name is not taken for ours."""
    ours, stray = tmp_path / "certgen" / "_data" / "schemas", tmp_path / "schemas"
    ours.mkdir(parents=True)
    stray.mkdir()
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "certgen")
    resources._folder.cache_clear()
    try:
        assert ours == resources.schemas_dir()
    finally:
        resources._folder.cache_clear()


def test_a_broken_installation_says_what_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The message names the folder and the way out."""
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "certgen")
    resources._folder.cache_clear()
    try:
        with pytest.raises(FileNotFoundError, match="'templates' is missing; install certgen again"):
            resources.templates_dir()
    finally:
        resources._folder.cache_clear()
