"""The Tab key finishes lots, records and rules, and examines nothing to do so."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import partial
from typing import TYPE_CHECKING

import pytest
from printed import offer as print_offered

from certgen.cli.offered_names import list_numbers
from certgen.records import read_season
from certgen.records.tables import load_tables
from certgen.rules import RULES

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def offer(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    """What certgen offers a shell for the last of some words."""

    return partial(print_offered, monkeypatch=monkeypatch, capsys=capsys)


@pytest.mark.parametrize("table", ["lots", "trees", "bagging", "harvests", "movements", "screening"])
def test_every_record_of_the_example_is_found(example_season: Path, table: str) -> None:
    """Looking at where records begin finds what reading them finds."""
    read, _ = read_season(example_season)

    key = load_tables()[table].key
    assert set(read.table(table)[key].tolist()) == set(list_numbers(example_season, [table]))


def test_lots_are_offered(offer, example_season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the season that is typed or, without one, of the folder somebody is in; behind a comma too."""
    season = str(example_season)

    assert ["AK-26-1", "AK-26-2", "AK-26-3", "AK-26-4", "AK-26-5"] == offer("certgen", "card", season, "AK")
    assert ["RC-26-1", "RC-26-2", "RC-26-3"] == offer("certgen", "report", season, "--lot", "RC")
    assert ["AK-26-1,RC-26-3"] == offer("certgen", "check", season, "--lot", "AK-26-1,RC-26-3")
    monkeypatch.chdir(example_season)
    assert ["RC-26-1", "RC-26-2", "RC-26-3"] == offer("certgen", "check", "--lot", "RC")


def test_records_and_folders_are_offered_to_follow(offer, example_season: Path) -> None:
    """A season's folder stands first; behind it any record."""
    assert ["B26-001"] == offer("certgen", "trace", str(example_season), "B26-001")
    assert ["exa"] == offer("certgen", "trace", "exa")
    assert {"M26-001", "M26-002"} <= set(offer("certgen", "recall", str(example_season), "M26-00"))


def test_labels_are_offered_what_they_can_be_of(offer, example_season: Path) -> None:
    """Trees, lots where lots are printed, bags on record."""
    season = str(example_season)

    assert ["T-101"] == offer("certgen", "labels", season, "--only", "T-101")
    assert ["AK-26-1"] == offer("certgen", "labels", season, "--kind", "lots", "--only", "AK-26-1")
    assert ["B26-001"] == offer("certgen", "labels", season, "--bag", "B26-001")


def test_rules_are_offered(offer) -> None:
    """All of them, by the command that explains one and by the option that keeps to one."""
    assert sorted(RULES) == offer("certgen", "rules", "")
    assert sorted(one for one in RULES if one.startswith("bag-")) == offer(
        "certgen", "check", "--only", "bag-"
    )


def test_what_cannot_be_read_is_passed_over(tmp_path: Path) -> None:
    """A key that is pressed never ends in an error."""
    (tmp_path / "a.yaml").write_bytes(
        b"lots:\n  - lot: L1\n  - {lot: 'L2', x: 1}\n  - {x: 1, lot: L3}\n\xff\xfe"
    )
    (tmp_path / "b.yaml").mkdir()
    (tmp_path / ".hidden").mkdir()
    (tmp_path / ".hidden" / "c.yaml").write_text("lots:\n  - lot: L9\n")

    assert ["L1", "L2"] == list(list_numbers(tmp_path, ["lots"]))
    assert [] == list(list_numbers(tmp_path / "nowhere"))


@pytest.mark.parametrize("words", ["trace {} AK", "check {} --only bag", "card {} AK", "recall {} M26"])
def test_nothing_is_examined(words: str, example_season: Path) -> None:
    """Neither tables nor rules are loaded for it."""
    typed = f"certgen {words.format(example_season)}"
    environment = {
        **os.environ,
        "_CERTGEN_COMPLETE": "bash_complete",
        "COMP_WORDS": typed,
        "COMP_CWORD": str(typed.count(" ")),
    }
    program = (
        "import sys; from certgen import cli; cli.run([]);"
        "heavy = {'pandas', 'certgen.rules', 'certgen.examination'};"
        "print(*sorted(heavy & sys.modules.keys()), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, env=environment
    )

    assert "plain," in done.stdout
    assert "" == done.stderr.strip()
