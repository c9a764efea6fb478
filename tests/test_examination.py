from __future__ import annotations

import pickle
from datetime import date

import pytest

from certgen.examination import ReadFailure, SeasonSummary, examine
from certgen.lineage import Node
from certgen.rules.example_seasons import load_example

ON = date(2026, 10, 31)


@pytest.fixture
def flawed(tmp_path):
    """The base season with one tree that has no screening result."""
    return load_example("parent-unscreened", "bad").write(tmp_path)


def edit(path, before, after):
    """Put other words into a record file, once."""
    text = path.read_text()
    assert 1 == text.count(before)
    path.write_text(text.replace(before, after))


def test_a_result_holds_gaps_standing_and_what_to_do(flawed):
    """One way through, from folder to standing by gram."""
    result = examine(flawed, ON)

    assert ["parent-unscreened"] == [gap.rule for gap in result.gaps]
    assert {"L1": ("traced", 16_000), "L2": ("unproven", 0)} == {
        name: (lot.standing, lot.traced_mg) for name, lot in result.lots.items()
    }
    assert [(8_000, (0,))] == [(mend.proves_mg, mend.gaps) for mend in result.mend]
    assert result.gaps == result.gaps_of(Node("trees", "T3")) == result.gaps_of_lot("L2")
    assert () == result.gaps_of_lot("L1")
    assert ((1,), ()) == (result.numbers_of(Node("trees", "T3")), result.numbers_of(Node("trees", "T1")))
    assert {"L2": (1,)} == result.numbers_by_lot
    assert result.gaps[0] is result.gap(1)
    assert 1 == result.exit_code


@pytest.mark.parametrize("number", [0, -1, 2])
def test_no_gap_bears_a_number_out_of_their_range(flawed, number):
    """Gaps are numbered from 1, so nought and less are no way to count from the end."""
    with pytest.raises(IndexError, match=f"numbered from 1 to 1, and {number} is none"):
        examine(flawed, ON).gap(number)


def test_summaries_add_up(flawed):
    """A co-op's numbers are the sum of its members', in whatever order."""
    one = examine(flawed, ON).summary

    assert (24_000, 16_000, 8_000, 0) == (one.weight_mg, one.traced_mg, one.unproven_mg, one.rejected_mg)
    assert {"rejects": 0, "unproven": 1, "advice": 0} == one.gaps
    assert one == one + SeasonSummary() == SeasonSummary() + one
    assert 2 * one.traced_mg == (one + one).traced_mg
    assert 2 == (one + one).seasons


def test_a_supposition_changes_the_result_and_nothing_else(flawed):
    """As if the missing result were there."""
    assert 0 == examine(flawed, ON, suppositions=["tree:T3=negative"]).exit_code
    assert 1 == examine(flawed, ON).exit_code


def test_nothing_to_read_is_a_failure_that_says_where(tmp_path):
    """No folder."""
    with pytest.raises(ReadFailure) as nowhere:
        examine(tmp_path / "nowhere", ON)

    assert ["nowhere: there is no such folder"] == [
        error.text().replace(f"{tmp_path.as_posix()}/", "") for error in nowhere.value.errors
    ]


@pytest.mark.parametrize(
    ("written", "wrong", "said"),
    [("crop: papaya", "crop: papaia", "papaia"), ("[us-nop]", "[us-nob]", "us-nop")],
)
def test_an_unknown_crop_or_standard_is_named_where_it_stands(tmp_path, written, wrong, said):
    """With what was meant, or the known ones."""
    folder = load_example("parent-unscreened", "good").write(tmp_path)
    edit(folder / "base.yaml", written, wrong)
    with pytest.raises(ReadFailure) as unknown:
        examine(folder, ON)

    assert any(said in error.message and error.line for error in unknown.value.errors)


def test_a_blended_lot_brings_its_earlier_standing(tmp_path):
    """The season before is examined too, where a lot rests on one of its lots."""
    folder = load_example("carry-over-differs", "good").write(tmp_path)
    edit(folder / "../earlier/before.yaml", "    tree: T0\n    mark: T0\n", "    tree: T9\n    mark: T9\n")
    edit(
        folder / "base.yaml",
        "{batch: X2, weight: 8 g}",
        "{batch: X2, weight: 7 g}\n      - {lot: K1, weight: 1 g}",
    )
    result = examine(folder, ON)

    # The parent of K1 was never screened: the gram that was blended in is unproven, whatever L2's own is.
    assert ("unproven", 7_000, 1_000) == (
        result.lots["L2"].standing, result.lots["L2"].traced_mg, result.lots["L2"].unproven_mg
    )  # fmt: skip
    assert "unproven" == result.lots["K1"].standing


def test_a_result_travels_to_another_process(flawed):
    """The co-op's office examines many folders at once."""
    result = examine(flawed, ON)
    again = pickle.loads(pickle.dumps(result))

    assert result.gaps == again.gaps
    assert result.summary == again.summary
    assert result.lineage.links == again.lineage.links


def test_a_rejected_part_beside_seed_that_can_be_proved_is_named_last(example_season):
    """Supplying papers alone leaves the lot rejected: what to take out is told after what proves the rest."""
    result = examine(example_season, date(2026, 11, 25))
    mend = result.mend

    assert ["supply"] * len(mend) == [one.action for one in mend]
    assert 50_300 == next(one.proves_mg for one in mend if one.lots == ("RC-26-2",))
    # From a lot partly sold nothing can be taken out: what was rejected stays rejected.
    assert 76_200 == result.lots["RC-26-2"].rejected_mg
