"""Members' folders come from strangers: none reads another's, none stops the rest."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from stand_ins import StandIns
from waiting import SECONDS

from certgen.coop.members.examining import Task, examine_task
from certgen.coop.members.member_list import Member, read_coop
from certgen.limits import Limits
from certgen.rules.example_seasons import EXAMPLES_ON, load_example

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.coop.between.result import CoopResult


def test_a_broken_folder_never_stops_the_others(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """Six ways to be unreadable; each is named in words at its own member, and the sound one is ready."""
    folder = write_coop("GOOD", "EMPTY", "GONE", "BROKEN", "BYTES", "PIPE", "NOSEASON")
    home = folder / "members"
    (home / "EMPTY" / "season.yaml").unlink()
    shutil.rmtree(home / "GONE")
    (home / "BROKEN" / "season.yaml").write_text("season: [\n")
    (home / "BYTES" / "season.yaml").write_bytes(b"\xff\xfe\x00\x80")
    (home / "PIPE" / "season.yaml").unlink()
    os.mkfifo(home / "PIPE" / "season.yaml")
    (home / "NOSEASON" / "season.yaml").write_text("trees: []\n")
    result = examine(folder)
    assert ["ready", *["not read"] * 6] == [view.readiness for view in result.members]
    assert all(view.summary.errors for view in result.members[1:])
    assert 2 == result.exit_code


def test_one_member_cant_read_anothers_records(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """By a path to the season before, by a linked file, by a linked folder: refused, nothing of it shown."""
    folder = write_coop("VICTIM", "PREVIOUS", "LINK", "LINKED")
    home = folder / "members"
    path = home / "PREVIOUS" / "season.yaml"
    path.write_text(path.read_text().replace("  crop: papaya\n", "  crop: papaya\n  previous: ../VICTIM\n"))
    (home / "LINK" / "more.yaml").symlink_to("../VICTIM/season.yaml")
    (home / "LINKED" / "more").symlink_to("../VICTIM")
    before = {path: path.read_bytes() for path in (home / "VICTIM").rglob("*") if path.is_file()}
    views = {view.member.key: view for view in examine(folder).members}
    assert "leads out of the folder" in views["PREVIOUS"].summary.errors[0]
    assert "a link that leads out" in views["LINK"].summary.errors[0]
    assert "ready" == views["LINKED"].readiness
    for key in ("PREVIOUS", "LINK", "LINKED"):
        assert [f"{key}-1", f"{key}-2"] == [lot.lot for lot in views[key].summary.lots]
    assert before == {path: path.read_bytes() for path in (home / "VICTIM").rglob("*") if path.is_file()}


def test_a_link_out_of_the_coop_stops_its_member_only(
    tmp_path: Path, write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """A folder that leads elsewhere, one that leads to itself and one to a neighbour: named, set aside."""
    folder = write_coop("GOOD", "OUT", "CIRCLE", "BESIDE")
    home = folder / "members"
    for key, target in (("OUT", tmp_path), ("CIRCLE", "CIRCLE"), ("BESIDE", tmp_path / "coop-beside")):
        shutil.rmtree(home / key)
        (home / key).symlink_to(target)
    views = {view.member.key: view for view in examine(folder).members}
    assert ["ready", *["not read"] * 3] == [
        views[key].readiness for key in ("GOOD", "OUT", "CIRCLE", "BESIDE")
    ]
    for key in ("OUT", "BESIDE"):
        assert (f"'members/{key}' leads out of the folder through a link",) == views[key].summary.errors
    assert 1 == len(views["CIRCLE"].summary.errors)


@pytest.mark.skipif(sys.platform != "linux", reason="limits of the system")
@pytest.mark.parametrize("workers", [1, 2])
def test_a_member_whose_records_need_too_much_memory_is_set_aside(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult], workers: int
) -> None:
    """Sixty megabytes of remarks: its member is named with the limit, and the sound ones are ready."""
    folder = write_coop("A", "LARGE", "B")
    (folder / "members" / "LARGE" / "remarks.yaml").write_text(f"#{' ' * 58}\n" * 1_000_000)
    result = examine(folder, workers=workers, limits=Limits(SECONDS, 150))
    assert ["ready", "not read", "ready"] == [view.readiness for view in result.members]
    (error,) = result.members[1].summary.errors
    assert error.startswith("its examination needs more than the 150 MB of memory that it is given; if ")
    assert 2 == result.exit_code


def test_several_years_of_one_member_may_lead_to_one_another(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """`previous` may go up to the member's folder, never beyond it."""
    folder = write_coop("A")
    home = folder / "members" / "A"
    text = (home / "season.yaml").read_text()
    (home / "season.yaml").unlink()
    (home / "2025").mkdir()
    (home / "2026").mkdir()
    (home / "2025" / "season.yaml").write_text(text.replace("A-1", "OLD-1").replace("A-2", "OLD-2"))
    (home / "2026" / "season.yaml").write_text(
        text.replace("  crop: papaya\n", "  crop: papaya\n  previous: ../2025\n")
    )
    listing = (folder / "coop.yaml").read_text()
    (folder / "coop.yaml").write_text(listing.replace("members/A\n", 'members/A\n    season: "2026"\n'))
    (view,) = examine(folder).members
    assert () == view.summary.errors
    assert {"A-1", "A-2", "OLD-1", "OLD-2"} == {lot.lot for lot in view.summary.lots}
    # Seed of the year before is still there, so the season tells of it.
    assert ["A-1", "A-2", "OLD-1", "OLD-2"] == [line.fact.lot for line in view.lots]


@pytest.mark.parametrize("season", ["../B", "/", "nowhere"])
def test_a_seasons_folder_lies_inside(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult], season: str
) -> None:
    """A `season` that leads elsewhere, or nowhere, is that member's error."""
    folder = write_coop("A", "B")
    listing = (folder / "coop.yaml").read_text()
    (folder / "coop.yaml").write_text(listing.replace("members/A\n", f'members/A\n    season: "{season}"\n'))
    assert ["not read", "ready"] == [view.readiness for view in examine(folder).members]


def test_what_changed_is_examined_again_and_nothing_else(
    tmp_path: Path, write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """Three members, then one record more at one of them: 3, 0, 1 examined, and the result follows."""
    folder, cache = write_coop("A", "B", "C"), tmp_path / "cache"
    assert 3 == examine(folder, cache).examined
    assert 0 == examine(folder, cache).examined
    (folder / "members" / "B" / "more.yaml").write_text(
        "trees:\n  - {tree: T9, planting: NOWHERE, sex: hermaphrodite}\n"
    )
    result = examine(folder, cache)
    assert 1 == result.examined
    assert {"reference-unknown"} == {gap.rule for view in result.members for gap in view.gaps}


def test_records_that_change_meanwhile_are_not_kept(
    tmp_path: Path, write_coop: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What somebody writes into while it is examined must not be found again under the old figure."""
    folder, cache = write_coop("A"), tmp_path / "cache"
    coop, _ = read_coop(folder)
    assert coop is not None
    import certgen.examination

    examined = certgen.examination.examine

    def meddle(*given: object, **named: object) -> object:
        found = examined(*given, **named)  # type: ignore[arg-type]
        (folder / "members" / "A" / "late.yaml").write_text("trees: []\n")
        return found

    monkeypatch.setattr("certgen.examination.examine", meddle)
    from datetime import date

    examine_task(Task(str(folder), coop.members[0], date(2026, 11, 25), str(cache)))
    assert [] == list(cache.rglob("*.member"))


@pytest.mark.parametrize(("kind", "traced"), [("good", 2000), ("bad", 0)])
def test_a_members_suppliers_packets_are_verified(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, traced: int
) -> None:
    """As they are when the member checks its season itself."""
    monkeypatch.setattr("certgen.verification.supplied.PacketVerifier", lambda _cache: StandIns())
    home = load_example("packet-unsound", kind).write(tmp_path / "members")
    member = Member("A", "Larkfold Seed Orchard", "folder", f"members/{home.name}", "C-0417", EXAMPLES_ON)
    summary = examine_task(Task(str(tmp_path), member, EXAMPLES_ON, "")).summary

    assert ((), [traced]) == (summary.errors, [one.own.traced_mg for one in summary.lots if one.lot == "L3"])


def test_a_fault_of_certgen_at_one_member_is_named_there(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not even a bug stops the others; the run says that it failed."""
    folder = write_coop("A", "B")
    import certgen.examination

    examined = certgen.examination.examine

    def fail(season: Path, *given: object, **named: object) -> object:
        if season.name == "A":
            raise ZeroDivisionError("a bug")
        return examined(season, *given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr("certgen.examination.examine", fail)
    result = examine(folder)
    assert ["failed", "read"] == [view.summary.state for view in result.members]
    assert 3 == result.exit_code
