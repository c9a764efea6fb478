"""The example co-op: disagreements of most kinds, and lines that run across members."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from certgen.cli.terminal import Terminal
from certgen.cli.writers.coop import write_text
from certgen.coop.between.comparison import VisitDraw, compare_members
from certgen.coop.between.kinds import KINDS
from certgen.coop.examination import MEMBER_LIMITS
from certgen.coop.members.facts import Grams
from certgen.coop.papers.cover import build_cover
from certgen.coop.papers.exports import as_json
from certgen.coop.papers.member_letters import write_letters
from certgen.coop.papers.report import build_sections, build_summary
from certgen.standards import clause_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.coop.between.result import CoopResult

COVERS = (
    "certgen.coop.between.chase",
    "certgen.coop.between.kinds",
    "certgen.coop.between.result",
    "certgen.coop.examination",
    "certgen.coop.members.external_lots",
    "certgen.coop.members.summary",
)
ON = date(2026, 11, 25)
UNKNOWN = "Whether members' papers agree isn't known: the records of"


#: Kinds that the example has no case of; small co-ops of the tests have.
NOT_IN_EXAMPLE = {
    "books-alike",
    "certificate-not-shown",
    "certificate-scope",
    "certificate-shared",
    "land-not-inspected",
    "origin-differs",
    "origin-not-moved",
    "origin-overdrawn",
    "origin-rejected",
    "origin-unnamed",
    "member-listed-twice",
    "member-not-in-season",
    "paper-of-two",
    "paper-shared",
    "records-handed-in-twice",
    "report-covers-two",
    "season-differs",
    "standard-not-claimed",
}


def test_the_example_shows_most_kinds(example_result: CoopResult) -> None:
    """One of each, but for seed of three members that rests on another's."""
    found = [one.kind for one in example_result.disagreements]
    assert set(KINDS) - NOT_IN_EXAMPLE == set(found)
    assert 3 == found.count("origin-unproven")
    assert len(set(found)) + 2 == len(found)


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
        "RUSH": "ready",
        "OFFICE": "evidence missing",
    } == {view.member.key: view.readiness for view in example_result.members}
    assert 2 == example_result.exit_code


def test_a_lot_is_traced_through_another_members_records(
    example_coop: Path, tmp_path: Path, examine: Callable[..., CoopResult]
) -> None:
    """HOLLOW alone can't prove its lot: the seed of its trees was ALDER's, and there every gram is traced.

    So it is where nobody else claims its laboratory's report, and the mixer goes round no more.
    """
    folder = shutil.copytree(example_coop, tmp_path / "coop")
    text = (folder / "coop.yaml").read_text().replace("  shared_equipment: [co-op mixer]\n", "")
    start, end = text.index("  - member: MARROW"), text.index("  - member: THISTLE")
    (folder / "coop.yaml").write_text(text[:start] + text[end:])
    control = (folder / "control.yaml").read_text()
    kept = "agreements:\n" + "".join(
        line for line in control.splitlines(True) if "member: ALDER, signed" in line
    )
    (folder / "control.yaml").write_text(kept)
    hollow = examine(folder).members[1]
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
    assert {
        "HOLLOW:movements/M-1",
        "HOLLOW:plantings/P-26-1",
        "MARROW",
        "OFFICE:movements/FW-1",
        "OFFICE:lots/FW-26-1",
    } == set(line.forward)


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
    # 4, 2 and 3 g left ALDER for members, 4 g HOLLOW and 2 g RUSH; 3, 1, 3, 4, 2 and 1 g arrived somewhere.
    assert (15000, 14000) == (example_result.balance[-1].sent_mg, example_result.balance[-1].received_mg)


def test_members_that_agree_are_ready(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """Clean seasons with numbers of their own: no disagreement, exit code 0."""
    result = examine(write_coop("A", "B"))
    assert () == result.disagreements
    assert {"ready": 2} == {word: count for word, count in result.readiness.items() if count}
    assert 0 == result.exit_code


def test_a_member_without_a_lot_is_not_ready(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """It claims nothing yet: the letter says so, and no word of readiness is told of it."""
    folder = write_coop("A", "NEW")
    path = folder / "members" / "NEW" / "season.yaml"
    path.write_text(path.read_text().partition("blocks:")[0])
    result = examine(folder)
    assert ["ready", "evidence missing"] == [view.readiness for view in result.members]
    assert 1 == result.exit_code
    assert "There is no lot in them yet" in write_letters(result)["NEW.txt"].replace("\n", " ")


def test_two_processes_give_what_one_gives(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """However the work is shared out, with limits or without, the result is the same."""
    folder = write_coop("A", "B", "C")
    here = examine(folder)
    assert here == examine(folder, workers=1, limits=MEMBER_LIMITS)
    assert here == examine(folder, workers=2, limits=MEMBER_LIMITS)


@pytest.mark.parametrize(
    ("unread", "in_part", "says"),
    [
        ("", "", "Members' papers agree."),
        (
            "B",
            "",
            f"{UNKNOWN} 1 member (B) could not be read.",
        ),
        ("", "C", f"{UNKNOWN} 1 member (C) only in part."),
        (
            "AB",
            "C",
            f"{UNKNOWN} 2 members (A, B) could not be read and 1 member (C) only in part.",
        ),
        (
            "ABC",
            "",
            f"{UNKNOWN} 3 members (A, B, C) could not be read.",
        ),
    ],
)
def test_nothing_is_said_of_papers_that_nobody_could_read(
    write_coop: Callable[..., Path],
    examine: Callable[..., CoopResult],
    capsys: pytest.CaptureFixture[str],
    unread: str,
    in_part: str,
    says: str,
) -> None:
    """Neither in text nor in JSON, on paper or in a letter is agreement or readiness told of them."""
    folder = write_coop("A", "B", "C")
    for key in unread:
        (folder / "members" / key / "season.yaml").write_text("season: [")
    for key in in_part:
        with (folder / "members" / key / "season.yaml").open("a") as stream:
            stream.write("no such table: []\n")
    result = examine(folder)
    write_text(result, terminal=Terminal(colour=False))
    told = {
        "text": capsys.readouterr().out,
        "json": json.dumps(as_json(result)),
        "paper": repr([build_cover(result), *build_summary(result), *build_sections(result)]),
    }
    assert () == result.disagreements
    assert says == result.agreement
    assert says in told["text"].replace("\n", " ")
    assert {"agreed": None if unread or in_part else True, "says": says, "unread": list(unread),
            "read_in_part": list(in_part)} == as_json(result)["agreement"]  # fmt: skip
    for form, text in told.items():
        agreed = "papers agree." in text or "they agree." in text
        assert agreed == (not unread and not in_part), form
    letters = write_letters(result)
    for view in result.members:
        sound = view.member.key not in unread + in_part
        assert sound == (view.readiness == "ready")
        assert sound == ("Nothing is missing" in letters[f"{view.member.key}.txt"])


def test_disagreements_are_told_beside_what_could_not_be_read(example_result: CoopResult) -> None:
    """The example: disagreements, and a member that could not be read."""
    assert "12 disagreements between members; the records of 1 member (THISTLE) could not be read." == (
        example_result.agreement
    )
    assert example_result.is_agreed is False


def test_the_same_records_twice_are_noticed(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """One member handed in the other's folder."""
    folder = write_coop("A", "B")
    shutil.rmtree(folder / "members" / "B")
    shutil.copytree(folder / "members" / "A", folder / "members" / "B")
    assert "records-handed-in-twice" in {one.kind for one in examine(folder).disagreements}


def test_everything_that_decides_a_visit_is_frozen(coop_of, summary) -> None:
    """Who is on the list, what was handed in and found, the day, the lots of each: another fingerprint each.
    The text isn't in it.
    """
    coop = coop_of("A", "B")
    found = {"A": summary("A", fingerprint="1" * 64), "B": summary("B", fingerprint="2" * 64)}

    def freeze(coop=coop, on=ON, found=found, **asked) -> str:
        return compare_members(coop, on, found, visits=VisitDraw(**asked)).sample.key.fingerprint

    changed = [
        freeze(),
        freeze(coop=replace(coop, members=(*coop.members[:1], replace(coop.members[1], name="x")))),
        freeze(on=ON + timedelta(1)),
        freeze(found={**found, "B": replace(found["B"], fingerprint="3" * 64)}),
        freeze(found={**found, "B": replace(found["B"], state="lost")}),
        freeze(each=4),
    ]
    assert len(set(changed)) == len(changed)
    assert freeze() == freeze(text="dice 4 4 1 6 2 5 3", noted=True)


def test_a_fingerprint_noted_without_a_text_proves_nothing(coop_of, summary) -> None:
    """The office's own text stays the office's own."""
    found = {"A": summary("A")}
    key = compare_members(coop_of("A"), ON, found, visits=VisitDraw("", noted=True)).sample.key

    assert (False, f"A test co-op {ON.isoformat()}") == (key.noted, key.text)
