from __future__ import annotations

from datetime import date

import pytest

from certgen.rules import example_seasons
from certgen.rules.example_seasons import EXAMPLES_ON, ExampleSeason, load_example

BASE = """\
---
# The base.

season:
  label: "2026"

trees:
  # Both stand on the same block.
  - tree: T1
    sex: female
  - tree: T2  # the other
    sex: male

bagging:
  - bag: B1
    tree: T1

# What follows is sold.
lots:
  - lot: L1
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The examples of one rule, over a base of their own."""
    (tmp_path / "made-up" / "evidence" / "letters").mkdir(parents=True)
    for name in ("letter.txt", "spare.txt"):
        path = tmp_path / "made-up" / "evidence" / "letters" / name
        path.write_text("Dear grower", encoding="utf-8")
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "base letter.txt").write_text("Dear all", encoding="utf-8")
    (tmp_path / "base.yaml").write_text(BASE, encoding="utf-8")
    (tmp_path / "before.yaml").write_text(BASE.replace("2026", "2025"), encoding="utf-8")
    monkeypatch.setattr(example_seasons, "EXAMPLES", tmp_path)
    return tmp_path


def test_the_day_of_the_examples() -> None:
    """Their season's last day."""
    assert date(2026, 10, 31) == EXAMPLES_ON


def test_marks_are_counted_from_the_first_line() -> None:
    """A line may be marked for several rules, and a remark may stand before the mark."""
    text = (
        "trees:\n  - tree: T1  # gap: one-thing\n    sex: male  # as seen, gap: another, and-more\n# a gap\n"
    )

    assert {(2, "one-thing"), (3, "another"), (3, "and-more")} == ExampleSeason("made-up", "bad", text).marks


def test_an_example_is_written_with_what_lies_beside_it(folder, tmp_path) -> None:
    """The season over its base, the base's evidence and what it names of its own; folders are made as
    needed."""
    text = "trees:\n  - tree: T1\n    evidence: letters/letter.txt\n"
    (folder / "made-up" / "bad.yaml").write_text(text, encoding="utf-8")
    season = load_example("made-up", "bad").write(tmp_path / "some" / "where")
    evidence = season / "evidence"

    assert tmp_path / "some" / "where" / "season" == season
    assert text == (season / "bad.yaml").read_text(encoding="utf-8")
    assert "Dear all" == (evidence / "base letter.txt").read_text(encoding="utf-8")
    assert "Dear grower" == (evidence / "letters" / "letter.txt").read_text(encoding="utf-8")
    assert not (evidence / "letters" / "spare.txt").exists()
    assert not (season.parent / "earlier").exists()


@pytest.mark.usefixtures("folder")
def test_evidence_of_ones_own_isnt_needed(tmp_path) -> None:
    """An example without a folder of its own has the base's letters alone."""
    season = ExampleSeason("another", "good", "trees:\n  - tree: T1\n").write(tmp_path / "out")

    assert ["base letter.txt"] == [path.name for path in (season / "evidence").iterdir()]


@pytest.mark.parametrize(
    ("over", "left"),
    [(None, BASE), ("lots:\n  - lot: L1\n    weight: 1 g\n", BASE.replace("lots:\n  - lot: L1\n", ""))],
)
def test_an_example_that_names_a_season_before_gets_it(folder, tmp_path, over, left) -> None:
    """The clean season before, with the example's own records laid over it."""
    if over is not None:
        (folder / "made-up" / "earlier.yaml").write_text(over, encoding="utf-8")
    text = 'season:\n  label: "2026"\n  previous: ../earlier  # gap: made-up\n'
    season = ExampleSeason("made-up", "bad", text).write(tmp_path / "out")
    before = season.parent / "earlier"
    written = (before / "before.yaml").read_text(encoding="utf-8").splitlines()

    assert [line for line in left.replace("2026", "2025").splitlines() if line] == [
        line for line in written if line
    ]
    assert {"before.yaml"} | ({"earlier.yaml"} if over else set()) == {one.name for one in before.iterdir()}
    assert over is None or over == (before / "earlier.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "lost"),
    [
        ("trees:\n  - tree: T1\n", ["  - tree: T1\n    sex: female\n"]),
        ("trees:\n  - tree: T2\n", ["  - tree: T2  # the other\n    sex: male\n"]),
        ("bagging:\n  - bag: T1\n", []),
        ("bagging:\n  - bag: B1\n", ["bagging:\n  - bag: B1\n    tree: T1\n"]),
        ("season:\n  label: other\n", ['season:\n  label: "2026"\n']),
        ("# without: bagging B1 B2\n# without: trees T2\n",
         ["bagging:\n  - bag: B1\n    tree: T1\n", "  - tree: T2  # the other\n    sex: male\n"]),
    ],
)  # fmt: skip
@pytest.mark.usefixtures("folder")
def test_a_record_takes_the_place_of_the_bases(tmp_path, text, lost) -> None:
    """That of the same number in the same table, and no line more; a table left empty goes with it."""
    season = ExampleSeason("made-up", "good", text).write(tmp_path / "out")
    expected = BASE
    for part in lost:
        assert part in expected
        expected = expected.replace(part, "")

    written = (season / "base.yaml").read_text(encoding="utf-8")
    assert [line for line in expected.splitlines() if line] == [line for line in written.splitlines() if line]
