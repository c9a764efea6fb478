"""What the desk prints is to the byte what the commands write, and is refused in their words."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest
import seasons

from certgen import cli
from certgen.desk.held_season import HeldSeason
from certgen.desk.print_composing import print_order
from certgen.desk.print_jobs import Printed, RefusedOrderError, Source
from certgen.desk.print_kinds import find_kinds, read_order

ON = date(2026, 12, 1)
SAYS_NO_TREATMENT = (
    "No record says whether lot L1 was treated, so the labels say nothing of it. Seed that was treated must"
    " be labelled so: record it under `treatment` of the batch or the lot, and print them anew."
)
AT_FULL_SIZE = "Print it at 100 %, not fitted to the page."


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One line from a block to a lot, a sale of it and its recall."""
    place = tmp_path_factory.mktemp("season")
    recall = {"recall": "RC1", "kind": "recall", "opened": "2026-11-20", "about": ["L1"], "reason": "a doubt"}
    seasons.write_season(
        place, **seasons.one_line(), movements=[seasons.sale("M1", "L1", 4)], recalls=[recall]
    )
    return place


@pytest.fixture(scope="module")
def held(folder: Path) -> HeldSeason:
    """It, as the desk holds it."""
    return HeldSeason(folder, lambda: ON)


def compose(held: HeldSeason, place: Path, slug: str, **form: str) -> tuple[Printed, list[str]]:
    """A paper of a form's choices, and the stages that were told on the way."""
    snapshot = held.look()
    order, faults = read_order(find_kinds(snapshot)[slug], form, snapshot)
    assert {} == faults
    stages: list[str] = []

    def tell(stage: str, done: int, whole: int) -> None:
        stages.append(f"{stage} {done}/{whole}" if whole else stage)

    return print_order(order, Source(held.folder, ON), place, tell), stages


PAPERS = {
    "card-L1.pdf": ("card", {"lot": "L1", "page": "Letter"}, "card SEASON L1 --page Letter", ()),
    "lots-2026.pdf": ("lots", {}, "labels SEASON --kind lots", (SAYS_NO_TREATMENT, AT_FULL_SIZE)),
    "tags-2026.pdf": (
        "tags",
        {"each": "4", "skip": "3", "size": "70x37"},
        "labels SEASON --kind tags --each 4 --skip 3 --sheet 70x37",
        (AT_FULL_SIZE,),
    ),
    "samples-2026.pdf": (
        "samples",
        {"only": "T1"},
        "labels SEASON --kind samples --only T1",
        (AT_FULL_SIZE,),
    ),
    "run-sheet-2026.pdf": (
        "run-sheet",
        {"page": "Letter"},
        "labels SEASON --kind run-sheet --page Letter",
        (),
    ),
    "sample-round-2026.csv": (
        "sample-round",
        {"form": "spreadsheet"},
        "labels SEASON --kind sample-round",
        (),
    ),
    "calibration.pdf": ("calibration", {}, "labels SEASON --kind calibration", ()),
    "visit-2026.pdf": ("visit", {"seed": "rain_at_noon"}, "visit SEASON --seed rain_at_noon", ()),
    "recall-RC1.pdf": ("recall", {"recall": "RC1"}, "recall SEASON RC1", ()),
    "season-2026.xlsx": ("workbook", {}, "export SEASON", ()),
    "binder-2026.html": ("binder", {}, "report SEASON", ()),
    "report-2026-L1-short.pdf": (
        "report",
        {"lot": "L1", "length": "short"},
        "report SEASON --lot L1 --short",
        (),
    ),
}


@pytest.mark.parametrize("name", PAPERS)
def test_it_is_the_command_s_own_file(held, tmp_path, capsys, name):
    """The same bytes, under a name that says what it is, and nothing else lies there."""
    slug, form, command, notes = PAPERS[name]
    printed, _ = compose(held, tmp_path, slug, **form)
    out = tmp_path / f"by-command{Path(name).suffix}"
    words = command.replace("SEASON", str(held.folder)).split()
    cli.run([*words, "--html" if slug == "binder" else "--out", str(out), "--on", ON.isoformat()])
    capsys.readouterr()

    assert Printed(name, notes) == printed
    assert {name, out.name} == {path.name for path in tmp_path.iterdir()}
    assert out.read_bytes() == (tmp_path / name).read_bytes()


def test_the_calendar_is_what_due_writes(held, tmp_path, capsys):
    """What a calendar reads from the command's standard output."""
    printed, _ = compose(held, tmp_path, "calendar")
    assert 0 == cli.run(["due", str(held.folder), "--format", "ics", "--on", ON.isoformat()])

    assert Printed("due-2026.ics") == printed
    assert capsys.readouterr().out == (tmp_path / "due-2026.ics").read_bytes().decode()


def test_the_stages_are_those_that_happen(held, tmp_path):
    """Told as each begins; pages in parts, as many as there are."""
    _, stages = compose(held, tmp_path, "report", length="short")

    assert ["Reading the records", "Checking the records", "Setting pages"] == stages[:3]
    parts = [stage for stage in stages if "/" in stage]
    assert [f"Setting pages {n}/{len(parts)}" for n in range(1, len(parts) + 1)] == parts
    assert "Writing the file" == stages[-1]


@pytest.mark.parametrize(
    ("slug", "form", "says"),
    [
        ("lots", {"size": "wide"}, "'wide' is no measurement; write it like 70x37 (millimetres)"),
        ("lots", {"size": "../../etc/passwd"}, "'../../etc/passwd' is no measurement"),
        ("samples", {"size": "900x900"}, "No label of 900 × 900 mm fits on"),
        ("visit", {"seed": "x"}, "The text that decides a draw needs 8 letters or digits"),
        ("picking-list", {}, "No bag is due to be picked on 2026-12-01"),
    ],
)  # fmt: skip
def test_it_is_refused_as_the_command_refuses(held, tmp_path, slug, form, says):
    """In the same words, and no file is there."""
    with pytest.raises(RefusedOrderError) as refused:
        compose(held, tmp_path, slug, **form)

    assert says in str(refused.value)
    assert [] == list(tmp_path.iterdir())


def test_a_season_that_broke_meanwhile_is_refused_by_its_line(folder, tmp_path):
    """Between pressing and printing somebody may spoil a file, or take all of it away."""
    copy = tmp_path / "season"
    shutil.copytree(folder, copy)
    held = HeldSeason(copy, lambda: ON)
    snapshot = held.look()
    order, _ = read_order(find_kinds(snapshot)["card"], {"lot": "L1"}, snapshot)
    place = tmp_path / "made"
    place.mkdir()
    for file in list(copy.glob("*.yaml")):
        file.write_text("season: [\n", encoding="utf-8")
    with pytest.raises(RefusedOrderError, match=r"\.yaml:"):
        print_order(order, Source(copy, ON), place, lambda *_: None)
    seasons.write_season(copy, **{**seasons.one_line(), "lots": [], "tests": []})
    with pytest.raises(RefusedOrderError, match=r"There is no 'L1'\. The records were changed"):
        print_order(order, Source(copy, ON), place, lambda *_: None)
    for file in list(copy.glob("*.yaml")):
        file.unlink()
    with pytest.raises(RefusedOrderError, match="holds no record file"):
        print_order(order, Source(copy, ON), place, lambda *_: None)

    assert [] == list(place.iterdir())


def test_what_could_not_be_read_is_told_beside_the_file(folder, tmp_path):
    """As the command tells it; a few lines, and how many more."""
    copy = tmp_path / "season"
    shutil.copytree(folder, copy)
    broken = "".join(f"  - {{tree: T{n}0, planting: P1, sex: unheard of}}\n" for n in range(1, 13))
    (copy / "more.yaml").write_text(f"trees:\n{broken}", encoding="utf-8")
    place = tmp_path / "made"
    place.mkdir()
    printed, _ = compose(HeldSeason(copy, lambda: ON), place, "workbook")

    assert 9 == len(printed.notes)
    assert "more.yaml:2:" in printed.notes[0]
    assert "And 4 more." == printed.notes[-1]
