from __future__ import annotations

from array import array
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec import msgpack
from pandas.testing import assert_frame_equal

from certgen import disk_cache
from certgen.records import Season, read_season
from certgen.records.record_files import cache, extracts
from certgen.records.record_files.cache import ExtractCache

COVERS = ("certgen.records.record_files.extracts",)
TREES = (
    "trees:\n- {tree: T1, planting: P1, sex: male, note: é, removed: 2026-03-01}\n"
    "- {tree: T2, planting: P1, sex: female}\n"
)
LOTS = (
    "lots:\n- {lot: L1, variety: v, packed: 2026-06-01, status: organic, weight: 1 kg, containers: 3,\n"
    "   sources: [{batch: E1, weight: 400 g}, {batch: E2, weight: 600 g}],\n"
    "   label: {lot: L1, status: organic, variety: v}}\n"
    "batches:\n- {batch: E1, date: 2026-05-01, harvests: [H1, H2], status: organic,\n"
    "   runs: [3 min, 2 min], rinses: 4}\n"
    "bagging:\n- {bag: B1, tree: T1, covered: 2026-02-01, secured: yes, evidence: [a.png],\n"
    "   checks: [{date: 2026-02-03, condition: intact}]}\n"
)


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder, with files of any size worth keeping."""
    monkeypatch.setattr(cache, "WORTH_KEEPING", 0)
    return tmp_path / "cache" / "certgen"


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The files that were really taken apart, in order."""
    files: list[str] = []
    read = extracts.TableReader.read

    def note(self: extracts.TableReader, text: str, file: str) -> extracts.Extract:
        files.append(file)
        return read(self, text, file)

    monkeypatch.setattr(extracts.TableReader, "read", note)
    return files


def assert_same(one: Season, other: Season) -> None:
    """Two readings gave the same season: tables, types and places."""
    assert one.spans == other.spans
    assert one.left_out == other.left_out
    for name in one.tables:
        assert_frame_equal(one.table(name), other.table(name))


def test_a_second_reading_gives_the_same(write: Callable, kept: Path, parsed: list[str]) -> None:
    """From the cache come the same tables, types and places; only the season's own file is parsed again."""
    folder = write({"a.yaml": TREES, "b/c.yaml": LOTS})
    fresh, errors = read_season(folder)
    assert () == errors
    first, _ = read_season(folder, cache=kept)
    parsed.clear()
    second, errors = read_season(folder, cache=kept)
    assert () == errors
    assert ["season.yaml"] == parsed
    assert_same(fresh, first)
    assert_same(fresh, second)
    assert fresh.record("lots", "L1") == second.record("lots", "L1")
    assert fresh.locate([fresh.place("bagging", 0, "checks")]) == second.locate(
        [second.place("bagging", 0, "checks")]
    )


def test_only_the_changed_file_is_read_again(write: Callable, kept: Path, parsed: list[str]) -> None:
    """One changed file is parsed, the others are not; a renamed one is known by its bytes."""
    folder = write({"a.yaml": TREES, "b.yaml": LOTS})
    read_season(folder, cache=kept)
    parsed.clear()
    (folder / "a.yaml").write_text(TREES.replace("T2", "T3"))
    (folder / "b.yaml").rename(folder / "z.yaml")
    season, _ = read_season(folder, cache=kept)
    assert ["a.yaml", "season.yaml"] == parsed
    assert ["T1", "T3"] == season.table("trees")["tree"].tolist()
    assert "z.yaml" == season.place("lots", 0).file


def test_errors_are_found_afresh(write: Callable, kept: Path, parsed: list[str]) -> None:
    """A file with any error in it is never kept."""
    folder = write(
        {"a.yaml": TREES + "- {tree: T9}\n", "b.yaml": "tees: []\n", "c.yaml": "a: [\n", "d.yaml": ""}
    )
    _, first = read_season(folder, cache=kept)
    parsed.clear()
    _, second = read_season(folder, cache=kept)
    assert first == second
    assert ["a.yaml", "b.yaml", "c.yaml", "d.yaml", "season.yaml"] == parsed
    assert [] == list(kept.glob("*"))


def test_other_words_are_another_reading(write: Callable, kept: Path) -> None:
    """What one profile allows, another need not: the words are part of what an entry stands for."""
    folder = write({"a.yaml": TREES})
    _, errors = read_season(folder, cache=kept, words_of=lambda _: {"sexes": ("male", "female")})
    assert () == errors
    _, errors = read_season(folder, cache=kept, words_of=lambda _: {"sexes": ("male",)})
    assert ["trees T2"] == [error.left_out for error in errors]


def test_another_edition_reads_afresh(
    write: Callable, kept: Path, parsed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Entries made by other code or by other schemas are not used."""
    folder = write({"a.yaml": TREES})
    read_season(folder, cache=kept)
    parsed.clear()
    monkeypatch.setattr(cache, "_edition", lambda: "another")
    read_season(folder, cache=kept)
    assert ["a.yaml", "season.yaml"] == parsed


def put(*path: str | int, value: object) -> Callable[[str, bytes], bytes]:
    """Puts a value into an entry's content and seals it again."""

    def change(name: str, entry: bytes) -> bytes:
        content = at = msgpack.decode(entry.partition(b"\n")[2])
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = value
        body = msgpack.encode(content)
        return disk_cache._seal(name, body) + b"\n" + body

    return change


@pytest.mark.parametrize(
    "damage",
    [
        put("words", value=7),
        put("tables", value=[]),
        put("tables", "tees", value={"columns": {}, "at": [], "spans": []}),
        put("tables", "trees", "at", value=[0, 7]),
        put("tables", "trees", "at", value=[0, -1]),
        put("tables", "trees", "at", value=["0", "1"]),
        put("tables", "trees", "at", value=[True, 1]),
        put("tables", "trees", "spans", value=[1, 2, 3]),
        put("tables", "trees", "spans", value=None),
        put("tables", "trees", "columns", "tree", value=["T1"]),
        put("tables", "trees", "columns", "tree", value=["T1", 2]),
        put("tables", "trees", "columns", "colour", value=["T1", "T2"]),
        put("tables", "trees", "columns", "note", value="ab"),
        put("tables", "trees", "columns", "evidence", value=[[1], None]),
    ],
)
def test_an_entry_that_was_made_up_is_passed_over(
    damage: Callable[[str, bytes], bytes], write: Callable, kept: Path
) -> None:
    """What no reading could have made: the file itself is read, and the entry is made anew."""
    folder = write({"a.yaml": TREES})
    fresh, _ = read_season(folder, cache=kept)
    (path,) = kept.glob("*")
    sound = path.read_bytes()
    path.write_bytes(damage(path.stem, sound))
    season, errors = read_season(folder, cache=kept)
    assert () == errors
    assert_same(fresh, season)
    assert sound == path.read_bytes()


def test_a_folder_that_cannot_be_used_costs_nothing(
    write: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file where the folder should be doesn't keep the season from being read."""
    monkeypatch.setattr(cache, "WORTH_KEEPING", 0)
    folder = write({"a.yaml": TREES})
    (tmp_path / "taken").write_text("x")
    season, errors = read_season(folder, cache=tmp_path / "taken")
    assert () == errors
    assert 2 == len(season.table("trees"))


def test_only_a_run_that_stored_something_prunes(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A re-check that found every file in the cache doesn't walk the folder."""
    monkeypatch.setattr(cache, "CACHE_BYTES", 1)
    first = ExtractCache(kept)
    spans = extracts.Spans([extracts.Span(0, 9, 0, 0)])
    extract = extracts.Extract({"trees": extracts.Stretch({"tree": ["T1"]}, array("I", [0]), spans)})
    first.store("0" * 64, extract, 99, {})
    ExtractCache(kept).prune()
    assert 1 == len(list(kept.glob("*.extract")))
    first.prune()
    assert [] == list(kept.glob("*.extract"))


def test_small_files_and_seasons_are_not_kept(write: Callable, tmp_path: Path) -> None:
    """A file that is read in a millisecond, or that holds the season's own mapping, makes no entry."""
    folder = write({"a.yaml": TREES})
    read_season(folder, cache=tmp_path / "cache")
    assert not (tmp_path / "cache").exists()
