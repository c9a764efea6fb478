"""A tree supposed positive is what examining the whole season anew makes of it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from seasons import batch, harvest, lot, movement, one_line, pool, sale, tree, write_season
from suppositions import apart

from certgen.dossier.supposed import suppose_positive
from certgen.examination import examine

COVERS = ("certgen.lineage.judging", "certgen.rules.runner")
ON = date(2026, 11, 25)
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("one", ["T-101", "T-306", "U-101", "U-207", "L-101"])
def test_trees_of_the_example(one):
    """A clean parent, one never screened, one of an older block that another was sown from, a positive one,
    one that bore no seed. `tests/truth/suppositions.py` asks it of every tree."""
    assert {} == apart(ROOT / "example_season", ON, [one])


def test_a_blend_falls_with_its_part(tmp_path):
    """A tree behind one of two runs takes that run's part, and what was blended of it into another lot."""
    lines = one_line()
    lines["trees"].append(tree("T2"))
    lines["bagging"].append({**lines["bagging"][0], "bag": "B2", "tree": "T2", "tag": {"tree": "T2"}})
    lines["screening"].append({**lines["screening"][0], "sample": "S2", "tree": "T2"})
    lines["harvests"].append(harvest("H2", ["B2"]))
    lines["batches"].append(batch("X2", ["H2"]))
    lines["lots"].append(
        lot("L2", [{"batch": "X2", "weight": "5 g"}, {"lot": "L1", "weight": "3 g"}], 8, day=1)
    )
    lines["movements"] = [movement("M1", "L1", "sold", 2, party="P", document="D"), sale("M2", "L2", 1)]
    write_season(tmp_path, **lines)
    assert {} == apart(tmp_path, ON, ["T1", "T2"])

    told = suppose_positive(examine(tmp_path, ON))
    assert ["L1", "L2"] == [one.lot for one in told["T1"].lots]
    assert ["L2"] == [one.lot for one in told["T2"].lots]


def test_trees_of_a_pool(tmp_path):
    """A tree that was cleared in a pool falls as one that was cleared alone."""
    lines = one_line()
    lines["trees"] += [tree("T2"), tree("T3")]
    lines["screening"] = [pool("S1", "T1", "T2", "T3")]
    write_season(tmp_path, **lines)

    assert {} == apart(tmp_path, ON, ["T1", "T2", "T3"])


def test_what_could_not_be_read_leaves_it_untold(tmp_path):
    """Nothing is supposed where a record was left out: what it says against a lot isn't known."""
    lines = one_line()
    lines["trees"].append(tree("T 2!"))
    write_season(tmp_path, **lines)
    result = examine(tmp_path, ON)

    assert result.errors
    assert {} == suppose_positive(result)
