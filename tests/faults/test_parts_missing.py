"""A machine without the quick half of PyYAML: the same answers, only later."""

from __future__ import annotations

import json
import subprocess
import sys

from waiting import SECONDS

COVERS = ("certgen.records.record_files.parsing",)

#: PyYAML as it is where it was built without libyaml: its C module can't be imported.
WITHOUT = "import sys; sys.modules['yaml._yaml'] = None\n"
RUN = "import sys; from certgen import cli; sys.exit(cli.run(sys.argv[1:]))"
ASK = "import yaml; print(yaml.__with_libyaml__)"
#: Slips of the hand that end the reading of a file.
SLIPS = (
    "trees:\n  - x: [1\n  - {w: 1}\n", "trees: 'x\n", "trees: {b: 1\nc: 2\n", "trees:\n\tb: 1\n",
    "trees: b: c\n", "- a\nb: c\n", "trees: *x\n", "trees: !!q 1\n", "trees: &a [*a]\n", "trees: @b\n",
    "trees:\n  b: 1\n c: 2\n", "trees: |\n b\nc", "trees: \x01\n", "---\ntrees:\n---\ntrees:\n",
    "trees: [1,2]]\n", "trees: 'b' c\n", "trees: - a\n", "é: [1\n", "trees:\n -a: 1\n -b: 2\n",
)  # fmt: skip
MAP = """sheets:
  bags:
    table: bagging
    columns: {Bag no: bag, Tree: tree, Covered on: covered, Stage: stage, Flower: flower}
"""


def run(program, *arguments):
    """What a program of its own printed, what it complained of, and its exit code."""
    words = [sys.executable, "-c", program, *arguments]
    ended = subprocess.run(words, capture_output=True, text=True, check=False, timeout=SECONDS)
    return ended.returncode, ended.stdout, ended.stderr


def test_the_missing_half_is_missing():
    """What the tests below take away is gone."""
    assert (0, "False\n", "") == run(WITHOUT + ASK)


def test_a_check_comes_to_the_same_without_libyaml(season):
    """Gaps, standings and reading errors, each with its line and column, are those that libyaml leads to."""
    for number, slip in enumerate(SLIPS):
        (season / f"slip-{number:02}.yaml").write_text(slip, encoding="utf-8")
    arguments = ("check", str(season), "--format", "json", "--on", "2026-10-31")
    expected, found = run(RUN, *arguments), run(WITHOUT + RUN, *arguments)
    assert expected == found
    told = {error["file"] for error in json.loads(found[1])["errors"]}
    assert {f"slip-{number:02}.yaml" for number in range(len(SLIPS))} == told


def test_an_import_through_a_map_works_without_libyaml(season, tmp_path):
    """A column map, a profile and a season are read; the record is taken over."""
    (tmp_path / "map.yaml").write_text(MAP, encoding="utf-8")
    (tmp_path / "bags.csv").write_text(
        "Bag no,Tree,Covered on,Stage,Flower\nB9,T1,2026-01-13,closed bud,hermaphrodite\n", encoding="utf-8"
    )
    code, said, complained = run(
        WITHOUT + RUN, "import", str(season), str(tmp_path / "bags.csv"), "--map", str(tmp_path / "map.yaml")
    )
    assert (0, "") == (code, complained)
    assert "1 record of bagging added" in said
    assert "bag: B9" in "".join(path.read_text("utf-8") for path in season.glob("*.yaml"))
