"""The example co-op: one disagreement of each kind, and lines that run across members."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

from certgen.coop.between.result import KINDS
from certgen.coop.members.facts import Grams
from certgen.standards import clause_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.coop.between.result import CoopResult

COVERS = (
    "certgen.coop.between.result",
    "certgen.coop.examination",
    "certgen.coop.members.external_lots",
    "certgen.coop.members.summary",
)


def test_the_example_shows_each_kind_once(example_result: CoopResult) -> None:
    """Every kind but the folder handed in twice, which takes a fifth member."""
    found = [one.kind for one in example_result.disagreements]
    assert sorted(set(KINDS) - {"records-handed-in-twice"}) == sorted(found)


def test_every_kind_rests_on_clauses_that_exist() -> None:
    """A clause that no rulebook has would be a made-up one."""
    for kind in KINDS.values():
        for clause in kind.clauses:
            assert clause == clause_of(clause).key


def test_readiness_by_folder_zip_workbook_and_broken_folder(example_result: CoopResult) -> None:
    """All three ways of handing in are read; the broken member is named, and the exit code says so."""
    assert {
        "ALDER": "evidence missing",
        "HOLLOW": "evidence missing",
        "MARROW": "evidence missing",
        "THISTLE": "not read",
    } == {view.member.key: view.readiness for view in example_result.members}
    assert 2 == example_result.exit_code


def test_a_lot_is_traced_through_another_members_records(example_result: CoopResult) -> None:
    """HOLLOW alone can't prove its lot: the seed of its trees was ALDER's, and there every gram is traced."""
    hollow = example_result.members[1]
    (line,) = hollow.lots
    assert Grams(0, 24000, 0) == line.fact.own
    assert Grams(24000, 0, 0) == line.standing
    assert ("HOLLOW:plantings/P-25-1", "ALDER:lots/AB-25-1") == line.back
    # The sale of its seed is no longer suspect either.
    told = {(gap.rule, gap.outside) for gap in hollow.answered}
    assert {("reference-unknown", "AB-25-1"), ("suspect-seed-left", "AB-25-1")} == told


def test_a_lots_line_goes_forward_to_members(example_result: CoopResult) -> None:
    """ALDER's lot went to HOLLOW, who booked it in, and to MARROW, who didn't."""
    line = next(line for line in example_result.members[0].lots if line.fact.lot == "AB-26-1")
    assert {"HOLLOW:movements/M-1", "MARROW"} == set(line.forward)


def test_masses_add_up_to_the_milligram(example_result: CoopResult) -> None:
    """Varieties to members, standing to weight, and the combined balance to nought."""
    everything = Grams()
    for standing in example_result.varieties.values():
        everything = everything.plus(standing)
    members = Grams()
    for view in example_result.members:
        members = members.plus(view.standing)
    assert everything == members
    assert example_result.totals.weight_mg == everything.whole_mg
    for one in example_result.balance:
        assert one.closing_mg == one.came_mg - one.went_mg - one.difference_mg
    # 4 and 2 g left ALDER for members; 3 and 1 g arrived somewhere.
    assert (6000, 4000) == (example_result.balance[-1].sent_mg, example_result.balance[-1].received_mg)


def test_members_that_agree_are_ready(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """Clean seasons with numbers of their own: no disagreement, exit code 0."""
    result = examine(write_coop("A", "B"))
    assert () == result.disagreements
    assert {"ready": 2} == {word: count for word, count in result.readiness.items() if count}
    assert 0 == result.exit_code


def test_two_processes_give_what_one_gives(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """However the work is shared out, the result is the same."""
    folder = write_coop("A", "B", "C")
    assert examine(folder, None, 1) == examine(folder, None, 2)


def test_the_same_records_twice_are_noticed(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """One member handed in the other's folder."""
    folder = write_coop("A", "B")
    shutil.rmtree(folder / "members" / "B")
    shutil.copytree(folder / "members" / "A", folder / "members" / "B")
    assert "records-handed-in-twice" in {one.kind for one in examine(folder).disagreements}
