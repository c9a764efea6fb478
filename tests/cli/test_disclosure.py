"""`--for` and `--to`: whom an output is for."""

from __future__ import annotations

import pytest

from certgen import cli

SEASON = ["report", "example_season", "--on", "2026-11-25"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--for", "buyer"], "A buyer is shown one lot. Name it with --lot"),
        (["--for", "buyer", "--lot", "AK-26-1,RC-26-1"], "A buyer is shown one lot."),
        (["--for", "buyer", "--lot", "AK-26-1"], "went to several. Name one of: Cobalt Fen Growers, Wick"),
        (["--for", "buyer", "--lot", "AK-26-1", "--to", "Nobody"], "'Nobody' had nothing of lot AK-26-1."),
        (["--for", "buyer", "--lot", "AK-26-9"], "There is no 'AK-26-9'."),
        (["--for", "neighbour"], "There is no 'neighbour'. Choose one of: certifier, buyer"),
        (["--to", "Cobalt Fen Growers"], "It goes with --for buyer"),
        (["--for", "buyer", "--lot", "AK-26-1", "--replaces", "old.pdf"], "What was withheld from one"),
    ],
)
def test_what_cannot_be_shown_is_refused_with_a_way_out(tmp_path, capsys, asked, said):
    """One sentence says what is missing, and nothing is written."""
    out = tmp_path / "lot.pdf"
    assert 2 == cli.run([*SEASON, "--out", str(out), *asked])
    assert said in " ".join(capsys.readouterr().err.split())
    assert not out.exists()


def test_a_buyer_is_named_as_the_records_name_them(tmp_path):
    """Letter case doesn't matter; the page says for whom it is, and the codes stand for everything else."""
    out = tmp_path / "lot.html"
    asked = ["--for", "buyer", "--lot", "AK-26-1", "--to", "cobalt fen growers", "--html", str(out)]
    assert 0 == cli.run([*SEASON, *asked])
    page = out.read_text(encoding="utf-8")
    assert "for Cobalt Fen Growers" in page
    for word in ("Wickerlight", "T-1", "B26-", "Verrall", "Cistern Lane", "Bracken Ford", "AK-26-2", "RC-26"):
        assert word not in page
