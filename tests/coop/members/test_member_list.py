"""`coop.yaml` is read as strictly as a season, and every objection names its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from certgen.coop.members.access import MemberRefusedError, find_home
from certgen.coop.members.member_list import read_coop

GOOD = """\
coop:
  name: Two Gates
  shared_equipment: [mixer]
members:
  - member: A
    name: Farm A
    folder: a
    certificate: "1"
    joined: 2020-01-01
  - member: B
    name: Farm B
    archive: b.zip
    season: "2026"
    certificate: "2"
    joined: 2021-01-01
"""


def write(folder: Path, text: str) -> Path:
    """A folder with this list."""
    (folder / "coop.yaml").write_text(text, encoding="utf-8")
    return folder


def test_members_are_read_in_their_order(tmp_path: Path) -> None:
    """Keys, places and dates come out as typed; text stays text."""
    coop, errors = read_coop(write(tmp_path, GOOD))
    assert () == errors
    assert coop is not None
    assert ["A", "B"] == [member.key for member in coop.members]
    assert [("folder", "a", ""), ("archive", "b.zip", "2026")] == [
        (member.source, member.path, member.season) for member in coop.members
    ]
    assert ("mixer",) == coop.shared_equipment


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("folder: a", "folder: ../a", (7, 13), "points outside the folder"),
        ("folder: a", "folder: /etc", (7, 13), "points outside the folder"),
        ("folder: a", "folder: .", (7, 13), "co-op's own folder"),
        ("archive: b.zip", "folder: a/b", (12, 13), "in the place of member number 1"),
        ("folder: a", "folder: b.zip", (12, 14), "in the place of member number 1"),
        ("archive: b.zip", "archive: b.zip\n    folder: c", (10, 5), "not several"),
        ("    archive: b.zip\n", "", (10, 5), "name either a `folder`"),
        ("member: B", "member: a", (10, 13), "stands already"),
        ("member: B", "member: B/C", (10, 13), "leave '/'"),
        ("joined: 2021-01-01", "joined: 2021-02-30", (15, 13), "no such day"),
        ("    name: Farm B\n", "", (10, 5), "`name` is missing"),
        ("shared_equipment", "shared_equipmnt", (3, 3), "did you mean `shared_equipment`"),
        (
            "  name: Two Gates\n",
            "  name: Two Gates\n  standards: [us-nopp]\n",
            (3, 15),
            "no rulebook 'us-nopp'",
        ),
        ("member: B", "member: &x B", (10, 13), "a YAML reference"),
    ],
)
def test_a_faulty_entry_is_named_with_its_place(
    tmp_path: Path, old: str, new: str, place: tuple[int, int], words: str
) -> None:
    """One edit, one objection, at the line and column where it stands; then nothing is examined."""
    assert old in GOOD
    coop, errors = read_coop(write(tmp_path, GOOD.replace(old, new)))
    assert coop is None
    assert [place] == [(error.line, error.column) for error in errors]
    assert words in errors[0].message


def test_a_folder_without_a_list_says_what_is_asked(tmp_path: Path) -> None:
    """No coop.yaml: an error that says how to write one."""
    coop, errors = read_coop(tmp_path)
    assert coop is None
    assert "there is no coop.yaml here" in errors[0].message


@pytest.mark.parametrize("text", ["", "- a\n", "coop: x\nmembers: y\n"])
def test_another_form_is_refused_in_words(tmp_path: Path, text: str) -> None:
    """Something that is no list of members gives errors, never an exception."""
    coop, errors = read_coop(write(tmp_path, text))
    assert coop is None
    assert errors


def test_a_link_out_of_the_coop_is_its_members_fault_not_the_lists(tmp_path: Path) -> None:
    """The list is read, and the member is refused when its records are asked for."""
    outside = tmp_path / "outside"
    outside.mkdir()
    inside = tmp_path / "inside"
    inside.mkdir()
    (inside / "a").symlink_to(outside)
    coop, errors = read_coop(write(inside, GOOD))
    assert coop is not None
    assert () == errors
    with pytest.raises(MemberRefusedError, match="leads out of the folder through a link"):
        find_home(inside, coop.members[0])
