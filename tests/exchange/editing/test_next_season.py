"""A season laid out after another: what lasts is there, what must be stated anew isn't in force, and no seed
comes out better than the season before showed it.
"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pytest
import seasons
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.examination import Result, examine
from certgen.exchange.editing.next_season import Takeover, days_after, label_after, path_between, take_over
from certgen.exchange.editing.skeleton import Beginning, lay_out
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from collections.abc import Mapping

COVERS = ("certgen.exchange.editing.restatement",)
TODAY = dt.date(2026, 11, 3)
NEXT_YEAR = dt.date(2027, 10, 31)


def follow(old: Path, folder: Path, *, stated_by: str = "") -> tuple[Result, Takeover]:
    """The season before as it ended, and what the one laid out after it took over."""
    season, errors = read_case(old)
    assert season is not None, errors
    first, last = days_after(season)
    result, label = examine(old, season.details.end), label_after(season, first, last)
    taken = take_over(result, path_between(folder, old), first, label, stated_by=stated_by, today=TODAY)
    details = season.details
    lay_out(
        folder,
        Beginning(details.operation.name, label, first, last, details.crop, details.standards),
        before=taken,
    )
    return result, taken


@pytest.fixture
def after(tmp_path: Path) -> Any:
    """Writes a season, lays out the next one, and gives the first one's result and what was taken over."""

    def make(*, stated_by: str = "", **written: Any) -> tuple[Result, Takeover, Path]:
        (tmp_path / "old").mkdir()
        seasons.write_season(tmp_path / "old", **written)
        result, taken = follow(tmp_path / "old", tmp_path / "new", stated_by=stated_by)
        return result, taken, tmp_path / "new"

    return make


def read_anew(folder: Path) -> Any:
    """The new season, read without a fault."""
    season, errors = read_case(folder)
    assert ((), False) == (errors, season is None)
    return season


def count_of(lot: str, grams: int, day: int = 90) -> dict[str, Any]:
    """A count of a lot."""
    return seasons.movement(f"C-{lot}", lot, "counted", grams, day)


def test_what_lasts_is_there_and_what_is_gone_is_not(after: Any) -> None:
    """Blocks, plantings with a living tree or none yet, and living trees, as they were typed."""
    trees = [
        seasons.tree("T1"),
        seasons.tree("T2", removed=dt.date(2026, 5, 1)),
        seasons.tree("T3", planting="P2", removed=dt.date(2026, 5, 1)),
    ]
    plantings = [
        seasons.planting(search_log="letters/a.txt", evidence="letters/b.txt", recorded_by="KV"),
        seasons.planting("P2"),
        seasons.planting("P3"),
    ]
    _, taken, folder = after(blocks=[seasons.block()], plantings=plantings, trees=trees)
    season = read_anew(folder)

    assert ["East"] == season.table("blocks")["block"].tolist()
    assert ["P1", "P3"] == season.table("plantings")["planting"].tolist()
    assert ["T1"] == season.table("trees")["tree"].tolist()
    assert {
        **seasons.planting(),
        "origin": {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"},
    } == (season.record("plantings", "P1"))
    assert ("../old", "2026", dt.date(2026, 11, 1), NEXT_YEAR) == (
        season.details.previous, season.previous.details.label, season.details.start, season.details.end
    )  # fmt: skip
    left = "\n".join(taken.left)
    assert "Trees T2 and T3, removed by then." in left
    assert "Planting P2, of which no tree is left." in left


def test_opening_stock_is_what_was_counted(after: Any) -> None:
    """As the count was typed. What moved since its count, or had none, waits for somebody to count it."""
    line = seasons.one_line()
    lots = [
        seasons.lot(name, [{"batch": "X1", "weight": "2 g"}], 2, day=number)
        for number, name in enumerate(("L1", "L2", "L3", "L4"))
    ]
    moves = [
        seasons.movement("C1", "L1", "counted", "1.95", 90),
        seasons.movement("C2", "L2", "counted", 2, 80),
        seasons.sale("S2", "L2", 1, date=seasons.PICKED + dt.timedelta(85)),
        seasons.sale("S4", "L4", 2),
    ]
    result, taken, folder = after(**{**line, "lots": lots, "movements": moves})
    opened = read_anew(folder).table("movements")

    assert [("OS26-01", "L1", "opening stock", "1.95 g", "as counted on 6 September 2026, C1")] == list(
        opened[["movement", "lot", "kind", "weight", "note"]].itertuples(index=False, name=None)
    )
    assert [dt.date(2026, 11, 1)] == opened["date"].dt.date.tolist()
    assert [("L2", "1 g"), ("L3", "2 g")] == [
        (one.entry["lot"], one.entry["weight"]) for one in taken.uncounted
    ]
    gaps = [gap.message for gap in examine(folder, NEXT_YEAR).gaps if gap.rule == "carry-over-differs"]
    assert ["lot L2", "lot L3"] == re.findall(r"lot L\d", " ".join(gaps))
    assert result.books["L1"].counted == dt.date(2026, 9, 6)


def test_uncounted_stock_is_sound_once_its_signs_are_away(after: Any) -> None:
    """Taking the signs away is all the typing there is, besides the weight."""
    _, _, folder = after(**seasons.one_line())
    stock = folder / "stock.yaml"
    text = stock.read_text()
    before, mark, entries = text.partition("# By the book 8 g of lot L1 is there")
    assert mark
    said, _, lines = entries.partition("\n#  - ")
    assert "nobody counted it" in said
    stock.write_text(before + re.sub("^#  ", "  ", f"#  - {lines}", flags=re.MULTILINE))

    opened = read_anew(folder).table("movements")
    assert [("L1", "8 g")] == list(opened[["lot", "weight"]].itertuples(index=False, name=None))


ROUTINE = {"stated_by": "K. Verrall", "date": "2025-11-04", "bag_use": "new", "packaging": "foil bags"}
OWN = {
    "routine": ROUTINE,
    "events_of_concern": ["55-1", "63-1"],
    "scale_step": "5 g",
    "practice": {
        "days_covering_to_picking": {"high": 230, "reason": "our winters are cool"},
        "incubation_c": {"low": 36.5, "high": 37.5, "reason": "as the laboratory has it"},
    },
    "review_triggers": {"mass_balance": "2 %"},
}


def test_nothing_is_signed_for_anybody(after: Any) -> None:
    """The routine and figures that let more pass stand as comments; figures that ask more are in force."""
    _, taken, folder = after(details=OWN)
    season = read_anew(folder)

    assert {"review_triggers", "practice"} == season.details.raw.keys() & OWN.keys()
    assert ["incubation_c"] == list(season.details.practice)
    assert {"routine", "events_of_concern", "practice", "scale_step"} == {one.field for one in taken.restated}
    text = (folder / "season.yaml").read_text()
    assert '# routine:\n  #   stated_by: "?"\n  #   date: year-month-day\n  #   bag_use: new' in text
    assert "K. Verrall" not in text
    assert "on which paper?" in text


def test_whoever_states_it_anew_is_named_with_the_day(after: Any) -> None:
    """Then all of it is in force, in that person's name."""
    _, taken, folder = after(details=OWN, stated_by=" D. Marchbank ")
    details = read_anew(folder).details

    assert () == taken.restated
    assert {**ROUTINE, "stated_by": "D. Marchbank", "date": TODAY.isoformat()} == details.raw["routine"]
    assert OWN["practice"] == dict(details.practice)
    assert ("55-1", "63-1") == details.events_of_concern
    assert "5 g" == details.raw["scale_step"]


def test_events_that_were_added_are_kept(after: Any) -> None:
    """A list that asks for more than the crop's own lasts as it is."""
    every = ["55-1", "63-1", "X17-2", "Huanong 1", "16-0-1", "another"]
    result, taken, folder = after(details={"events_of_concern": every})

    assert set(result.profile.default_events) <= set(result.case.events_of_concern)
    assert () == taken.restated
    assert tuple(every) == read_anew(folder).details.events_of_concern


def test_a_certificates_dates_are_not_taken_over(after: Any) -> None:
    """They are of one year; the operation is the same."""
    operation = {
        "name": "Two Streams",
        "certificate": "C-1",
        "valid_until": "2026-12-31",
        "responsible": "R. A",
    }
    _, taken, folder = after(details={"operation": operation})
    found = read_anew(folder).details.raw["operation"]

    assert {"name": "Two Streams", "certificate": "C-1", "responsible": "R. A"} == found
    assert "Of the certificate: valid until." in "\n".join(taken.left)


def test_what_is_said_stands_at_the_head_of_the_season(after: Any) -> None:
    """Whoever opens the file reads what is there and what isn't, whatever the season was called."""
    _, taken, folder = after(label="Wet\u2028year: # 1", **seasons.one_line())
    text = (folder / "season.yaml").read_text()
    head, _, _ = text.partition("\nseason:\n")
    words = " ".join(head.replace("\n# ", " ").split())

    read_anew(folder)
    for said in (*taken.taken, *taken.left):
        assert " ".join(said.replace("\u2028", " ").split()) in words


@pytest.mark.parametrize(
    ("new", "said"), [("old", "is the season before itself"), ("old/new", "would lie inside old"),
                      (".", "would lie inside")],
)  # fmt: skip
def test_a_season_lies_beside_the_other(new: str, said: str, tmp_path: Path) -> None:
    """Inside it, its files would be read as the other's."""
    (tmp_path / "old").mkdir()

    with pytest.raises(ValueError, match=said):
        path_between(tmp_path / new, tmp_path / "old")
    assert ".2026" == path_between(tmp_path, tmp_path / ".2026")


@pytest.mark.parametrize(
    ("first", "label", "said"),
    [(dt.date(2026, 10, 31), "2027", "ends on 31 October 2026"), (dt.date(2026, 11, 1), "2026", "--label")],
)
def test_a_season_follows_under_its_own_name(first: dt.date, label: str, said: str, tmp_path: Path) -> None:
    """It begins when the other is over."""
    seasons.write_season(tmp_path)
    result = examine(tmp_path, TODAY)

    with pytest.raises(ValueError, match=said):
        take_over(result, "../old", first, label, stated_by="", today=TODAY)


def test_bags_that_still_hang_are_named(after: Any) -> None:
    """Their picking goes into the new season under their own number."""
    late = dt.date(2026, 10, 1)
    hanging = seasons.bag("B9", "T1", covered=late, checks=(), uncovered=None)
    hanging = {
        key: value for key, value in hanging.items() if key not in {"uncovered", "outcome", "fruit_marked"}
    }
    _, taken, _ = after(**{**seasons.one_line(), "bagging": [seasons.bag("B1", "T1"), hanging]})

    assert "Bag B9 still hangs" in "\n".join(taken.left)


STATEMENTS = st.fixed_dictionaries(
    {},
    optional={
        "routine": st.just(ROUTINE), "events_of_concern": st.just(["55-1"]), "scale_step": st.just("0.5 g"),
    },
)  # fmt: skip


@settings(max_examples=12)
@given(seasons.clean_tables(), st.data(), STATEMENTS)
def test_no_seed_comes_out_better_than_the_season_before_showed_it(
    tables: dict[str, Any], data: st.DataObject, details: Mapping[str, Any]
) -> None:
    """Whatever lacks in the season before, and whatever it stated: of no lot is a gram more traced, and what
    was counted is all that the next one opens with.
    """
    table = data.draw(st.sampled_from(["screening", "bagging", "trees", "lots", "batches", "plantings"]))
    row = data.draw(st.integers(0, len(tables[table]) - 1))
    spare = {"packaging", "container_use", "bag_use", "secured", "result", "tag", "report", "origin"}
    record = tables[table][row]
    field = data.draw(st.sampled_from(sorted(spare & record.keys()) or [""]))
    tables[table] = [
        {key: value for key, value in one.items() if at != row or key != field}
        for at, one in enumerate(tables[table])
    ]
    counted = data.draw(st.sets(st.sampled_from([one["lot"] for one in tables["lots"]])))
    weights = {one["lot"]: one["weight"].split()[0] for one in tables["lots"]}
    tables["movements"] = [count_of(lot, int(weights[lot])) for lot in sorted(counted)]
    with TemporaryDirectory() as home:
        old, new = Path(home, "old"), Path(home, "new")
        old.mkdir()
        seasons.write_season(old, details=details, **tables)
        _, taken = follow(old, new)
        before, later = examine(old, NEXT_YEAR), examine(new, NEXT_YEAR)

    assert [] == [error.text() for error in later.errors]
    grams = {lot: standing.traced_mg for lot, standing in before.lots.items()}
    assert dict.fromkeys(later.lots, True) == {
        lot: standing.traced_mg <= grams.get(lot, 0) for lot, standing in later.lots.items()
    }
    assert {one["lot"] for one in taken.records["movements"]} <= counted


@pytest.fixture(scope="module")
def example_next(example_season: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Result]:
    """The example season as it ended, and the one laid out after it, on its last day."""
    folder = tmp_path_factory.mktemp("farm") / "2027"
    before, _ = follow(example_season, folder)
    assert [] == [path.name for path in (folder / "evidence").iterdir()]
    for path in folder.glob("*.yaml"):
        yaml.safe_load(path.read_text())
    return before, examine(folder, dt.date(2027, 1, 31))


#: What a new year must fill in: till somebody states the shorter list of events anew, all of the crop's are
#: to be ruled out.
FILLED_IN = {"method-does-not-cover", "planting-seed-unproven", "screened-after-covering"}


def test_the_example_goes_on(example_next: tuple[Result, Result]) -> None:
    """Read without a fault; it finds what the season before left open, and what must be filled in."""
    before, after = example_next
    old = {gap.rule for gap in before.gaps}

    assert [] == [error.text() for error in after.errors]
    assert FILLED_IN == {gap.rule for gap in after.gaps if gap.weight != "advice"} - old
    assert dict.fromkeys(after.lots, True) == {
        lot: standing.traced_mg <= before.lots[lot].traced_mg for lot, standing in after.lots.items()
    }
