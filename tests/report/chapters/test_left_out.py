from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from certgen.disclosure.line_season import cut_to_lots
from certgen.examination import examine
from certgen.manifest import LeftOut, PacketOptions
from certgen.report.chapters.cover import build_cover
from certgen.report.chapters.left_out import build_left_out, say_lots, tell_line
from certgen.report.context import Context
from certgen.rules.example_seasons import load_example

ON = date(2026, 10, 31)
FULL = "ab" * 32


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> tuple[Context, PacketOptions, LeftOut]:
    """A small season cut to lot L1's line, and its packet's options."""
    folder: Path = load_example("bag-failed", "good").write(tmp_path_factory.mktemp("season"))
    with cut_to_lots(examine(folder, ON), ["L1"]) as (result, left_out):
        return Context(result), PacketOptions(lots=("L1",), full=FULL, left_out=left_out), left_out


def test_the_cover_says_what_it_is_about_and_what_is_not_in_it(
    cut: tuple[Context, PacketOptions, LeftOut],
) -> None:
    """Before all other facts, with the full packet's fingerprint."""
    context, options, left = cut
    cover = tell_line(build_cover(context), options)
    count = sum(number for _, number in left.records)

    about = "".join(run.text for run in cover.facts[0].runs)
    assert about == f"lot L1 and its line only; {count} records and 1 file of the season are not in it"
    assert cover.season.endswith("· lot L1")
    assert "abab abab abab abab abab" in "".join(run.text for run in cover.file[-1].runs)


def test_the_cover_of_a_full_packet_stays_as_it_is(cut: tuple[Context, PacketOptions, LeftOut]) -> None:
    """Nothing is left out of it."""
    cover = build_cover(cut[0])

    assert tell_line(cover, PacketOptions()) is cover


def test_records_are_counted_on_both_sides(cut: tuple[Context, PacketOptions, LeftOut]) -> None:
    """Table by table it says how many are inside, and how many aren't."""
    context, options, left = cut
    section = build_left_out(context, options, left)
    said = section.parts[-1].paragraphs[0]  # type: ignore[union-attr]
    inside, _, outside = said.partition(". Not in it: ")

    assert ", 2 bags, " in inside
    assert ", 1 bag, " in outside


def test_papers_that_tell_of_others_are_listed(cut: tuple[Context, PacketOptions, LeftOut]) -> None:
    """By the names that they bear inside."""
    context, options, _ = cut
    section = build_left_out(context, options, LeftOut((), 3, ("evidence/letters/a.txt",)))

    assert "These tell of trees, bags or lots of other lines as well:" in section.parts[0].paragraphs[1]  # type: ignore[union-attr]
    assert "evidence/letters/a.txt" == section.parts[1].items[0][0].text  # type: ignore[union-attr]


def test_several_lots_are_named_together() -> None:
    """Whose line it is stands in one phrase."""
    assert "lots A and B" == say_lots(PacketOptions(lots=("A", "B")))
