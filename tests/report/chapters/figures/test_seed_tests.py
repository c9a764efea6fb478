"""Tests of the seed as they are printed, through the whole packet and what else is made of the records."""

from __future__ import annotations

import pytest
from pages import text_of
from printed import plain
from printed_packets import ON, packet_of, write_line

from certgen import cli
from certgen.dossier.seed_tests import compute_tests
from certgen.examination import examine, examine_season
from certgen.report.binder import compose_html
from certgen.report.chapters.figures.seed_tests import say_test

#: Replicates whose mean has no cell in the published table, and how they are told.
WITHOUT_A_CELL = [
    ((100, 100, 100, 100), "100 % of 400 seeds", "99.1 % to 100 %; replicates 0 points apart", 100),
    ((0, 0, 0, 0), "0 % of 400 seeds", "0 % to 0.918 %; replicates 0 points apart", 0),
    ((99, 98), "99 % of 200 seeds", "95.7 % to 99.7 %; replicates 1 point apart", 99),
    ((1, 1), "1 % of 200 seeds", "0.121 % to 3.57 %; replicates 0 points apart", 1),
    ((100, 99, 100, 100), "100 % of 400 seeds", "98.6 % to 100 %; replicates 1 point apart", 100),
]
NO_LIMIT = "and the published table sets no limit at a mean of {} %"


@pytest.mark.parametrize(("replicates", "found", "apart", "mean"), WITHOUT_A_CELL)
def test_a_mean_without_a_cell_is_told_in_plain_words(seasons, replicates, found, apart, mean):
    """The result, its exact limits, how far the replicates lie apart, and that no limit is published."""
    test = seasons.germination("G1", "L1", replicates=replicates, per_replicate=100)
    season = seasons.season_of(**{**seasons.one_line(), "tests": [test]})
    (computed,) = compute_tests(examine_season(season, ON))
    result, sure = map(plain, say_test(computed))

    assert found == result
    assert sure.startswith(f"{apart}, {NO_LIMIT.format(mean)}; 1 month old")


@pytest.mark.parametrize(("replicates", "found", "apart", "mean"), WITHOUT_A_CELL[:3])
def test_a_mean_without_a_cell_is_printed_everywhere(
    seasons, tmp_path, capsys, replicates, found, apart, mean
):
    """A dead lot, a perfect one, two replicates of 99 and 98: packet, binder, trace and JSON all come out."""
    test = seasons.germination("G1", "L1", replicates=replicates, per_replicate=100)
    folder = write_line(tmp_path / "season", tests=[test])
    packet = plain(text_of(packet_of(folder)))

    assert found in packet
    assert f"{apart}, {NO_LIMIT.format(mean)}" in packet
    assert "G1" in compose_html(examine(folder, ON))
    for command, *more in (["trace", "L1"], ["check"], ["due"], ["balance"]):
        for form in ("text", "json"):
            asked = [command, str(folder), *more, "--format", form, "--on", ON.isoformat()]
            assert cli.run(asked) in (0, 1)
            assert "None" not in capsys.readouterr().out
