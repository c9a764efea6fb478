"""Every fraud is found, two of them don't hide each other, and honest seasons stay silent."""

from __future__ import annotations

import pytest
from frauds import FRAUDS, HONEST_STAGE, MODULES, draw_pairs, judge, judge_pair, main
from frauds_seasons import PLAIN, ROUNDS, YEARS, folder_of
from honest import HONEST

from certgen.standards.season_reading import read_case

COVERS = ("certgen.rules", "certgen.lineage.standing")
STAGES = {
    "stock", "incidents", "screening", "bagging", "picking and processing", "land", "silence", "own figures",
    "unread", "years", "mass", "custody", "mixing", "suspect seed gone", "rounds and letters", "packets",
    "recalls",
}  # fmt: skip
PAIRS = list(draw_pairs(20, seed=2026))
#: Every so many of the catalogue; `python tests/truth/frauds.py` judges the whole.
SHARE = 9


@pytest.mark.parametrize("slug", list(FRAUDS)[::SHARE])
def test_a_fraud_comes_out(slug):
    """What a good inspector would say of it is said."""
    assert [] == judge(FRAUDS[slug])


@pytest.mark.parametrize("slug", list(HONEST)[:: SHARE // 2])
def test_an_honest_variant_stays_traced(slug):
    """Nothing but advice is said of it, or no more than its fault reaches."""
    assert [] == judge(HONEST[slug])


@pytest.mark.parametrize(("first", "second"), PAIRS, ids=lambda fraud: fraud.slug)
def test_two_frauds_dont_make_each_other_traced(first, second):
    """A lot that either of them speaks against isn't traced when both were done."""
    assert [] == judge_pair(first, second)


def test_the_catalogue_is_whole():
    """Each slug stands once, each stage has frauds, and there are as many as are asked for."""
    assert len(FRAUDS) == sum(len(module.FRAUDS) for module in MODULES)
    assert STAGES == {fraud.stage for fraud in FRAUDS.values()}
    assert len(FRAUDS) >= 230
    assert len([one for one in HONEST.values() if "silent" in {want.name for want in one.wants}]) >= 70
    assert all(one.stage.startswith(HONEST_STAGE) for one in HONEST.values())


@pytest.mark.parametrize("stage", sorted(STAGES - {"unread"}))
def test_frauds_can_be_read(stage, tmp_path):
    """A fraud is found for what it says, not for a slip in the way it is written down here."""
    frauds = [one for one in FRAUDS.values() if one.stage == stage]

    assert {} == {one.slug: found for one in frauds if (found := _errors(one, tmp_path / one.slug))}


@pytest.mark.parametrize("base", [PLAIN, YEARS, ROUNDS])
def test_a_clean_season_is_its_own_each_time(base):
    """An edit of one copy doesn't reach the next."""
    folder = folder_of(base)
    folder.find("L1")["weight"] = "1 g"

    assert "21 g" == folder_of(base).find("L1")["weight"]


def test_the_command_tells_what_is_wrong(capsys):
    """A table by stage, and 1 at the end if anything came out wrong."""
    assert 0 == main(["--only", "no such stage"])
    assert "| **all** | 0 | 0 |" in capsys.readouterr().out


def _errors(fraud, place):
    folder = folder_of(fraud.base)
    fraud.edit.make(folder)
    place.mkdir()
    return [error.text() for error in read_case(folder.write(place))[1]]
