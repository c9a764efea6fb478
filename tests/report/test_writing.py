"""The binder is written where it was asked for."""

from __future__ import annotations

from certgen.report.writing import write_html


def test_the_binder_is_written(result, tmp_path):
    """The binder lands where it was asked for, with nothing beside it."""
    write_html(result, tmp_path / "b.html")

    assert (tmp_path / "b.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert ["b.html"] == [path.name for path in tmp_path.iterdir()]
