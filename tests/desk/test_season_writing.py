"""The one place through which the desk writes."""

from __future__ import annotations

import pytest

from certgen.desk.season_writing import ChangedMeanwhileError, Writing, write_season
from certgen.records.season import digest
from certgen.whole_files import PathError


def test_all_files_take_their_places(tmp_path):
    """One that was there and one that wasn't."""
    (tmp_path / "a.yaml").write_bytes(b"old")

    write_season(
        tmp_path, Writing({"a.yaml": b"new", "b/c.yaml": b"more"}, {"a.yaml": digest(b"old")}, "two")
    )

    assert (b"new", b"more") == ((tmp_path / "a.yaml").read_bytes(), (tmp_path / "b/c.yaml").read_bytes())


@pytest.mark.parametrize("before", [{}, {"a.yaml": digest(b"older")}])
def test_a_file_that_somebody_changed_is_left_and_so_are_the_others(tmp_path, before):
    """Neither what was written meanwhile nor a file that appeared meanwhile gives way."""
    (tmp_path / "a.yaml").write_bytes(b"old")

    with pytest.raises(ChangedMeanwhileError, match=r"a\.yaml"):
        write_season(tmp_path, Writing({"b.yaml": b"more", "a.yaml": b"new"}, before, "two"))

    assert {"a.yaml": b"old"} == {path.name: path.read_bytes() for path in tmp_path.iterdir()}


def test_no_name_leads_out_of_the_season(tmp_path):
    """Not even of our own making."""
    with pytest.raises(PathError):
        write_season(tmp_path, Writing({"../a.yaml": b"new"}, {}, "out"))
