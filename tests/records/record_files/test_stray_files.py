"""Another season's folder, and copies of a season's own files, are told once and set aside."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from certgen.records import read_season

SEASON = (
    "season:\n  label: '2026'\n  from: 2026-01-01\n  to: 2026-12-31\n  crop: papaya\n  standards: [us-nop]\n"
    "  operation: {name: Two Streams}\n"
)
TREES = "trees:\n" + "".join(f"- {{tree: T{number}, planting: P1, sex: female}}\n" for number in range(1, 5))


@pytest.fixture
def lay(tmp_path: Path) -> Callable[..., Path]:
    """Writes files into a folder, by path."""

    def write(**files: str) -> Path:
        for name, text in files.items():
            path = tmp_path / "farm" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return tmp_path / "farm"

    return write


def told(folder: Path) -> list[str]:
    """Each error as it is printed, the folder left out."""
    _, errors = read_season(folder)
    return [error.text().replace(folder.as_posix(), "FARM") for error in errors]


def test_a_folder_of_several_seasons_names_them(lay: Callable[..., Path]) -> None:
    """And reads none of them as one."""
    folder = lay(**{f"{year}/{name}": text for year in (2026, 2027) for name, text in (
        ("season.yaml", SEASON), ("trees.yaml", TREES))})  # fmt: skip

    assert (None, ["FARM: holds several seasons, in 2026 and 2027; name one of them: FARM/2026"]) == (
        read_season(folder)[0], told(folder)
    )  # fmt: skip


def test_the_folder_around_a_season_says_so(lay: Callable[..., Path]) -> None:
    """Where its evidence would not be found; a season whose records lie in folders is read."""
    folder = lay(**{"2026/season.yaml": SEASON, "2026/trees.yaml": TREES})
    assert [] == told(folder)

    lay(**{"2026/evidence/a.txt": "x"})
    assert [
        "FARM: is the folder around a season, and its evidence would not be found; name FARM/2026"
    ] == told(folder)


def test_another_season_inside_this_one_is_set_aside(lay: Callable[..., Path]) -> None:
    """One sentence instead of a fault a record; what is this season's is read."""
    files = {"season.yaml": SEASON.replace("2026", "2025"), "all/trees.yaml": TREES.replace("female", "male")}
    inner = {f"2025/{name}": text for name, text in files.items()}
    folder = lay(**{"season.yaml": SEASON, "trees.yaml": TREES, **inner})
    season, _ = read_season(folder)

    assert season is not None
    assert (4, "2026") == (season.counts["trees"], season.details.label)
    (said,) = told(folder)
    assert said.startswith(
        "2025/season.yaml: begins another season inside this one, and nothing below 2025/ "
    )


@pytest.mark.parametrize(
    "name",
    ["trees - Copy.yaml", "trees (1).yaml", "Copy of trees.yaml", "trees_old.yaml", "trees copy 2.yaml",
     "backup/trees.yaml", "Kopie von trees.yaml", "aaa.yaml"],
)  # fmt: skip
def test_a_file_that_repeats_another_is_told_once(name: str, lay: Callable[..., Path]) -> None:
    """Whichever of the two sorts first, the plain name is the one that is read."""
    folder = lay(**{"season.yaml": SEASON, "trees.yaml": TREES, name: TREES})
    season, _ = read_season(folder)
    kept, copy = ("aaa.yaml", "trees.yaml") if name == "aaa.yaml" else ("trees.yaml", name)

    assert season is not None
    assert 4 == season.counts["trees"]
    assert [f"{copy}: repeats {kept} word for word; take it out of the folder"] == told(folder)


def test_an_older_copy_says_how_much_it_shares(lay: Callable[..., Path]) -> None:
    """It may hold what the other lacks, so nobody is told to throw it away unread."""
    older = TREES.replace("T4", "T9")
    folder = lay(**{"season.yaml": SEASON, "trees.yaml": TREES, "trees (2).yaml": older})

    (said,) = told(folder)
    assert said.startswith(
        "trees (2).yaml: holds 3 of the 4 records of trees.yaml, of which it seems to be a "
    )
    assert "copy over what only this file has" in said


def test_a_name_alone_makes_no_copy(lay: Callable[..., Path]) -> None:
    """The register's second part, two files without a record, and a copy of what is gone are read."""
    empty = {"bags - Copy.yaml": "bagging: []\n", "a.yaml": "lots: []\n", "b.yaml": "lots: []\n"}
    second = TREES.replace("T", "U")
    folder = lay(**{"season.yaml": SEASON, "trees.yaml": TREES, "trees (2).yaml": second, **empty})
    season, _ = read_season(folder)

    assert season is not None
    assert (8, []) == (season.counts["trees"], told(folder))


def test_a_seasons_file_in_the_wrong_place_is_found(lay: Callable[..., Path]) -> None:
    """Below the evidence, or in the folder above."""
    folder = lay(**{"evidence/season.yaml": SEASON})
    up = "evidence/season.yaml isn't read there; move it up, beside evidence/"
    assert [f"FARM: holds no record file (*.yaml); {up}"] == told(folder)
    lay(**{"trees.yaml": TREES})
    assert [f"FARM: no file says whose season this is: {up}"] == told(folder)

    lay(**{"season.yaml": SEASON, "bags/a.yaml": "bagging: []\n"})
    (error,) = read_season(folder / "bags")[1]
    part = f"this folder seems to be a part of the season in {folder.as_posix()}; name that one"
    assert f"no file says whose season this is: {part}" == error.message
