"""What is handed on about one lot: its packet's records, its card."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest

from certgen.disclosure.disclosing import DisclosureError
from certgen.disclosure.lot_papers import cut_packet, gather_own_card
from certgen.examination import Result, examine
from certgen.manifest import PacketOptions, build_manifest
from certgen.report.packet import find_maker


@pytest.fixture(scope="module")
def whole(seasons: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Result:
    """Two lots out of one batch."""
    folder = tmp_path_factory.mktemp("season")
    tables = seasons.one_line()
    tables["lots"] = [
        seasons.lot("L1", [{"batch": "X1", "weight": "2 g"}], 2),
        seasons.lot("L2", [{"batch": "X1", "weight": "2 g"}], 2),
    ]
    seasons.write_season(folder, **tables)
    return examine(folder, date(2026, 12, 1))


def test_a_packet_of_a_lot_says_of_what_it_is_less(whole: Result) -> None:
    """The lot once, the digest of the full packet of the same paper, what was left out."""
    full = build_manifest(whole, find_maker(whole), PacketOptions("Letter")).sha256

    with cut_packet(whole, PacketOptions("Letter", lots=("L1", "L1"), short=True)) as (cut, options):
        folder = cut.season.folder
        assert (["L1"], ("L1",), full, True) == (list(cut.lots), options.lots, options.full, options.short)
        assert options.left_out is not None

    assert not Path(folder).exists()


def test_a_season_that_can_t_be_read_whole_is_not_cut(whole: Result, tmp_path: Path) -> None:
    """Nobody knows whether what wasn't read is of the lot's line."""
    shutil.copytree(whole.season.folder, tmp_path, dirs_exist_ok=True)
    (tmp_path / "more.yaml").write_text("trees: [{tree: }]\n", encoding="utf-8")
    broken = examine(tmp_path, date(2026, 12, 1))

    with (
        pytest.raises(DisclosureError, match="can't be read"),
        cut_packet(broken, PacketOptions(lots=("L1",))),
    ):
        pass


def test_a_card_goes_with_the_packet_of_its_records(whole: Result) -> None:
    """The digest on it is that of the whole season's packet on the same paper."""
    card = gather_own_card(whole, "L2", "Letter")

    assert build_manifest(whole, find_maker(whole), PacketOptions("Letter")).sha256 == card["packet"]
    assert "L2" == card["lot"]
