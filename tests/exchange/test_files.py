"""Files appear whole or not at all, and names that lead elsewhere are refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from certgen.exchange.files import PathError, contained_path, write_all, write_whole


@pytest.mark.parametrize(
    "name", ["../x", "a/../../x", "/etc/x", "", "C:/x", "a\\b", "a\0b", "a\nb", "..", "c:x"]
)
def test_a_name_that_leads_out_is_refused(tmp_path: Path, name: str) -> None:
    """Absolute paths, parent steps, drive letters and control characters never become paths."""
    with pytest.raises(PathError):
        contained_path(tmp_path, name)


def test_a_link_that_leads_out_is_refused(tmp_path: Path) -> None:
    """A folder that is a link to elsewhere does not count as inside."""
    inside = tmp_path / "in"
    inside.mkdir()
    (inside / "link").symlink_to(tmp_path)

    with pytest.raises(PathError):
        contained_path(inside, "link/x")


def test_a_plain_name_is_kept(tmp_path: Path) -> None:
    """Ordinary names, dots and spaces included, stay as they are."""
    assert tmp_path / "lab letters" / "T-17.v2.pdf" == contained_path(tmp_path, "lab letters/T-17.v2.pdf")


def test_existing_file_is_kept_when_asked(tmp_path: Path) -> None:
    """Without leave to replace, nothing of the set is written when one file is there."""
    (tmp_path / "b").write_text("old")

    with pytest.raises(FileExistsError):
        write_all({tmp_path / "a": b"new", tmp_path / "b": b"new"}, replace=False)

    assert ["b"] == sorted(path.name for path in tmp_path.iterdir())
    assert "old" == (tmp_path / "b").read_text()


def test_a_failed_rename_puts_everything_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the second of two files cannot be put in place, the first is as it was, and no other is left."""
    (tmp_path / "a").write_text("old")
    real = Path.replace

    def fail_on_b(source: Path, target: Path) -> Path:
        if target.name == "b":
            raise OSError("disk says no")
        return real(source, target)

    monkeypatch.setattr(Path, "replace", fail_on_b)
    with pytest.raises(OSError, match="disk says no"):
        write_all({tmp_path / "a": b"new", tmp_path / "b": b"new"})

    assert {"a": "old"} == {path.name: path.read_text() for path in tmp_path.iterdir()}


def test_permissions_survive(tmp_path: Path) -> None:
    """A replaced file keeps the permissions that its owner gave it."""
    path = tmp_path / "a"
    path.write_text("old")
    path.chmod(0o640)

    write_whole(path, b"new")

    assert (b"new", 0o640) == (path.read_bytes(), path.stat().st_mode & 0o777)
