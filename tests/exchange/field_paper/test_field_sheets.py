"""Sheets to work from: the right rows in the order of the walk, and the cautions of the work on top."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from types import ModuleType

import pytest
from pages import letters_of, overlapping, text_of

from certgen.examination import Result, examine
from certgen.exchange.field_paper.field_sheets import SHEETS, set_sheet
from certgen.exchange.field_paper.labels import LabelError, cleared_trees
from certgen.exchange.field_paper.run_sheets import build_drying_log, build_run_sheet

COVERS = (
    "certgen.exchange.field_paper.bag_sheets",
    "certgen.exchange.field_paper.left_out",
    "certgen.exchange.field_paper.run_sheets",
    "certgen.exchange.field_paper.sample_sheets",
    "certgen.exchange.field_paper.sheet",
)
#: A day of the example season on which each sheet has something to say.
DAYS = {
    "sample-round": dt.date(2026, 3, 10),
    "submission-sheet": dt.date(2026, 1, 8),
    "split-receipt": dt.date(2026, 9, 22),
    "bagging-round": dt.date(2026, 3, 10),
    "check-round": dt.date(2026, 3, 10),
    "uncovering-round": dt.date(2026, 3, 10),
    "picking-list": dt.date(2026, 6, 10),
    "run-sheet": dt.date(2026, 6, 20),
    "drying-log": dt.date(2026, 6, 20),
}
#: What is written of a bag whose fruit still hangs.
KEPT = {"bag", "tree", "covered", "tag", "flower", "stage", "secured"}


@pytest.fixture(scope="module")
def on(example_season: Path) -> dict[str, Result]:
    """The example season on each of the days."""
    days = {day: examine(example_season, day) for day in set(DAYS.values())}
    return {kind: days[day] for kind, day in DAYS.items()}


@pytest.mark.parametrize("kind", SHEETS)
def test_every_sheet_begins_with_its_cautions(on: dict[str, Result], kind: str) -> None:
    """In the short form, each with whose word counts, before the first row."""
    result = on[kind]
    sheet = SHEETS[kind](result)
    wanted = result.profile.cautions.at(*sheet.work)
    shown = text_of(set_sheet(result, kind))

    assert wanted
    for one in wanted:
        words = f"Caution. {one.title}. {one.short} This defers to {one.defers_to}."
        assert 0 <= shown.find(words) < shown.find(" ".join(sheet.heads[:3]))


@pytest.mark.parametrize("kind", SHEETS)
def test_every_row_has_a_cell_below_each_heading(on: dict[str, Result], kind: str) -> None:
    """Some of them empty: a sheet without room to write is a list."""
    sheet = SHEETS[kind](on[kind])

    assert {len(sheet.heads)} == {len(row) for row in sheet.rows} == {len(sheet.widths)}
    assert all("" in row for row in sheet.rows)


@pytest.mark.parametrize("page", ["a4", "Letter"])
@pytest.mark.parametrize("kind", SHEETS)
def test_nothing_stands_off_the_page(on: dict[str, Result], kind: str, page: str) -> None:
    """Lying A4 and Letter: every letter inside the margins, of 6 points or more, and over no other."""
    width, height = (297, 210) if page == "a4" else (279.4, 215.9)
    letters = letters_of(set_sheet(on[kind], kind, page))

    for one in letters:
        assert 11 <= one.left < one.right <= width - 11
        assert 6 <= one.top < one.bottom <= height - 6
    assert 6 <= min(one.size for one in letters)
    assert [] == overlapping(letters)


def test_rounds_hold_the_bags_that_the_diary_calls_for(on: dict[str, Result]) -> None:
    """Every bag on its flower is looked at; only those at their time are taken off or picked."""
    sheets = {kind: SHEETS[kind](on[kind]) for kind in ("check-round", "uncovering-round", "picking-list")}
    bags = {kind: {row[5] for row in sheet.rows} for kind, sheet in sheets.items()}
    log = on["check-round"].season.tables["bagging"].set_index("bag")

    assert bags["uncovering-round"] < bags["check-round"]
    for bag in bags["check-round"]:
        assert log["covered"][bag].date() <= DAYS["check-round"]
        assert not log["uncovered"][bag].date() <= DAYS["check-round"]
    assert min(log["covered"][bag].date() for bag in bags["picking-list"]) == min(
        dt.date.fromisoformat(row[7]) for row in sheets["picking-list"].rows
    )
    for sheet in sheets.values():
        walk = [(row[0], int(row[1]), int(row[2])) for row in sheet.rows]
        assert sorted(walk) == walk


def test_nothing_to_do_is_said_with_the_day(example_season: Path) -> None:
    """An empty sheet would be taken for a finished one."""
    with pytest.raises(LabelError, match="no bag is due to be picked on 2025-11-10; --on asks for another"):
        set_sheet(examine(example_season, dt.date(2025, 11, 10)), "picking-list")


def test_leaves_go_to_the_laboratory_without_their_place(on: dict[str, Result]) -> None:
    """Those that wait, each with its mark, in the order in which they were taken."""
    result = on["submission-sheet"]
    sheet = SHEETS["submission-sheet"](result)
    samples = result.season.tables["screening"].set_index("sample")
    day = DAYS["submission-sheet"]

    wanted = [name for name, when in samples["collected"].items() if when.date() <= day]
    assert sorted(wanted) == [row[0] for row in sheet.rows]
    assert all(samples["mark"][row[0]] == row[1] for row in sheet.rows)
    assert not set(result.season.tables["blocks"]["block"]) & {cell for row in sheet.rows for cell in row}


def test_a_sheet_on_record_fills_in_its_number_and_seals(on: dict[str, Result], seasons: ModuleType,
                                                         tmp_path: Path) -> None:  # fmt: skip
    """What is written stands on the paper; without a record both are left to write on."""
    sheet = SHEETS["submission-sheet"](on["submission-sheet"])

    assert sheet.above.startswith("Number of the sheet: SH26-01 and SH26-02. Handed over by")
    assert {"0417701", "0417702"} == {row[5] for row in sheet.rows}
    tables = seasons.one_line()
    tables["screening"] = [{"sample": "S1", "tree": "T1", "mark": "T1", "collected": dt.date(2026, 1, 5)}]
    seasons.write_season(tmp_path, **tables)
    blank = SHEETS["submission-sheet"](examine(tmp_path, dt.date(2026, 1, 6)))
    assert blank.above.startswith("Number of the sheet: ____")
    assert {""} == {row[5] for row in blank.rows}


def test_a_receipt_lists_the_parts_and_leaves_room(on: dict[str, Result]) -> None:
    """A line for each part that was sealed, with who keeps it; the rest is written on the spot."""
    sheet = SHEETS["split-receipt"](on["split-receipt"])
    kept = [row[:3] + row[4:7] for row in sheet.rows]
    taken = ("SP26-01", "2026-09-22", "R. Tamsin, Quillback Organic Review")
    assert [
        (*taken, "A", "QR-5521", "R. Tamsin"),
        (*taken, "B", "QR-5522", "K. Verrall, in the cool room"),
    ] == kept
    assert 6 == sheet.spare


def test_the_run_sheet_has_a_line_a_field_and_names_what_waits(seasons: ModuleType, tmp_path: Path) -> None:
    """On one page; a picking that some run took waits no longer."""
    tables = seasons.one_line()
    tables["bagging"].append(seasons.bag("B2", "T1"))
    tables["harvests"].append(seasons.harvest("H2", ["B2"]))
    seasons.write_season(tmp_path, **tables)
    result = examine(tmp_path, dt.date(2026, 12, 1))
    sheet = build_run_sheet(result)

    assert "Pickings not opened yet: H2 (2026-06-08)." == sheet.above
    assert {"Batch", "Blade", "Drying: Temperature", "Treatment: Treated with"} <= {
        row[0] for row in sheet.rows
    }
    for page in ("a4", "Letter"):
        assert {0} == {one.page for one in letters_of(set_sheet(result, "run-sheet", page))}


def test_markup_in_the_records_is_text(seasons: ModuleType, tmp_path: Path) -> None:
    """A variety with signs of the typesetter's language stands as it is written."""
    hostile = '#panic("x") $y$ *b* <l>'
    tables = seasons.one_line()
    tables["plantings"] = [seasons.planting(variety=hostile)]
    tables["bagging"] = [
        {
            name: value
            for name, value in seasons.bag("B1", "T1").items()
            if name not in {"uncovered", "outcome", "fruit_marked"}
        }
    ]
    tables["harvests"] = tables["batches"] = tables["lots"] = tables["tests"] = []
    seasons.write_season(tmp_path, **tables)
    result = examine(tmp_path, dt.date(2026, 5, 20))

    for kind in ("bagging-round", "check-round", "uncovering-round", "picking-list"):
        assert hostile in text_of(set_sheet(result, kind)), kind


def test_every_list_of_trees_says_their_sex(on: dict[str, Result]) -> None:
    """As the register has it, beside the tree."""
    kinds = ("sample-round", "bagging-round", "check-round", "uncovering-round", "picking-list")
    for kind in kinds:
        sheet = SHEETS[kind](on[kind])
        sexes = on[kind].case.tree_of["sex"].to_dict()
        tree, sex = sheet.heads.index("Tree"), sheet.heads.index("Sex")
        assert {row[tree]: row[sex] for row in sheet.rows} == {
            row[tree]: sexes[row[tree]] for row in sheet.rows
        }


def test_what_a_round_leaves_out_is_told_with_its_reason(on: dict[str, Result]) -> None:
    """Each standing tree has a row or a reason, and none has both; so has each bag."""
    result = on["bagging-round"]
    sheet = SHEETS["bagging-round"](result)
    listed = {row[3] for row in sheet.rows}
    told = set(re.findall(r"[A-Z]-[0-9]+", sheet.left_out))

    assert set(result.season.tables["trees"]["tree"]) == listed | told
    assert set() == listed & told
    assert sheet.left_out.startswith("40 trees left out: female, whose flowers are pollinated")
    assert "removed (1): U-207" in sheet.left_out
    picking = SHEETS["picking-list"](on["picking-list"])
    assert "1 bag left out: its own record speaks against it (1): B26-064." in picking.left_out
    assert "B26-064" not in {row[5] for row in picking.rows}


def test_fruit_of_a_tree_that_is_no_parent_is_not_on_the_picking_list(
    seasons: ModuleType, tmp_path: Path
) -> None:
    """Positive, never screened, dead, doubted: by its bag's number, with what is wrong with the tree."""
    names = ("T1", "T2", "T3", "T4")
    bags = [
        {name: value for name, value in seasons.bag(f"B{at}", tree).items() if name in KEPT}
        for at, tree in enumerate(names, 1)
    ]
    seasons.write_season(
        tmp_path,
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T4", removed=dt.date(2026, 4, 1)), *map(seasons.tree, names[:3])],
        screening=[
            seasons.sample("S1", "T1"),
            seasons.sample("S2", "T2", result="positive"),
            seasons.sample("S4", "T4"),
        ],
        bagging=bags,
    )
    sheet = SHEETS["picking-list"](examine(tmp_path, dt.date(2026, 6, 20)))

    assert ["B1"] == [row[5] for row in sheet.rows]
    for bag, reason in (("B2", "tree positive"), ("B3", "tree not screened"), ("B4", "tree removed")):
        assert f"{reason} (1): {bag}" in sheet.left_out


def test_flowers_that_are_pollinated_by_hand_are_listed_where_somebody_does(
    seasons: ModuleType, tmp_path: Path
) -> None:
    """Females stand on no list while the farm covers hermaphrodites; one bag on a female brings them back."""
    tables = seasons.one_line()
    tables["trees"] = [seasons.tree("T1"), seasons.tree("T2", sex="female")]
    tables["screening"] = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2")]
    seasons.write_season(tmp_path, **tables)
    result = examine(tmp_path, dt.date(2026, 12, 1))
    assert ["T1"] == [one.tree for one in cleared_trees(result)]
    assert "by hand (1): T2" in SHEETS["bagging-round"](result).left_out

    tables["bagging"].append(seasons.bag("B2", "T2", pollen_parent="T1"))
    seasons.write_season(tmp_path, **tables)
    assert ["T1", "T2"] == [one.tree for one in cleared_trees(examine(tmp_path, dt.date(2026, 12, 1)))]


def test_the_drying_log_names_the_runs_that_lie_drying(seasons: ModuleType, tmp_path: Path) -> None:
    """Until a dry weight ends them; without any there is room for new ones. What practice says is marked."""
    tables = seasons.one_line()
    run = {name: value for name, value in tables["batches"][0].items() if name != "dry_weight"}
    tables["batches"] = [run | {"drying": {"method": "fan", "from": dt.date(2026, 6, 12)}}]
    seasons.write_season(tmp_path, **tables)
    waiting = build_drying_log(examine(tmp_path, dt.date(2026, 12, 1)))
    assert (run["batch"], "fan, 2026-06-12") == waiting.rows[0][:2]
    assert {run["batch"]} == {row[0] for row in waiting.rows}
    assert "temperature of the drying air at most 40 °C (plausibility)" in waiting.above

    seasons.write_season(tmp_path, **seasons.one_line())
    assert {""} == {row[0] for row in build_drying_log(examine(tmp_path, dt.date(2026, 12, 1))).rows}


@pytest.mark.parametrize("page", ["a4", "Letter"])
def test_long_and_foreign_names_stand_beside_one_another(
    seasons: ModuleType, tmp_path: Path, page: str
) -> None:
    """Forty characters without a blank, sixty with, other faces: nothing over anything, nothing cut off."""
    varieties = (
        "Old Kitchen Garden Long Yellow of the Lower River Terraces 12",
        "สวนมะละกอต้นที่หนึ่ง", "பப்பாளி விதை", "ចំការល្ហុង", "مزرعة وادي الفانوس", "W" * 60,
    )  # fmt: skip
    names = [f"{at}{'0123456789' * 3}-12345678" for at in range(len(varieties))]
    tables = {
        "blocks": [seasons.block()],
        "plantings": [seasons.planting(f"P{at}", variety=variety) for at, variety in enumerate(varieties)],
        "trees": [
            seasons.tree(name, planting=f"P{at}", row=names[0], position=str(at))
            for at, name in enumerate(names)
        ],
        "screening": [seasons.sample(f"S{at}", name) for at, name in enumerate(names)],
        "bagging": [
            {key: value for key, value in seasons.bag(f"B{at}", name).items() if key in KEPT}
            for at, name in enumerate(names)
        ],
    }
    seasons.write_season(tmp_path, **tables)
    result = examine(tmp_path, dt.date(2026, 6, 20))
    width = 297 if page == "a4" else 279.4

    for kind in ("sample-round", "bagging-round", "picking-list"):
        letters = letters_of(set_sheet(result, kind, page))
        assert all(11 <= one.left < one.right <= width - 11 for one in letters), kind
        plain = [one for one in letters if one.sign.isascii()]
        assert [] == overlapping(plain), kind
