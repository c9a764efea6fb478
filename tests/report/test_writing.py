"""Files are written whole or not at all."""

from __future__ import annotations

import pytest

from certgen.report.writing import write_html, write_whole


def test_a_file_is_replaced_whole(tmp_path):
    """A new report takes the old one's place, and leaves nothing beside it."""
    out = tmp_path / "a" / "report.pdf"
    write_whole(out, b"old")
    write_whole(out, b"new")

    assert b"new" == out.read_bytes()
    assert [out] == list(out.parent.iterdir())


def test_a_failure_leaves_the_old_file(tmp_path, monkeypatch):
    """When the disk refuses, the old report is still there and no scrap beside it."""
    out = tmp_path / "report.pdf"
    write_whole(out, b"old")

    def refuse(_handle):
        raise OSError(28, "no space left")

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(OSError, match="no space"):
        write_whole(out, b"new")

    assert b"old" == out.read_bytes()
    assert [out] == list(tmp_path.iterdir())


def test_the_binder_is_written(result, tmp_path):
    """The binder lands where it was asked for."""
    write_html(result, tmp_path / "b.html")

    assert (tmp_path / "b.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
