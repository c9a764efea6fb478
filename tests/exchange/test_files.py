"""Names that lead out of their folder are refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from certgen.exchange.files import PathError, contained_path


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
