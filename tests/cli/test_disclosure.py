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
        (["--for", "public"], "The public is shown a lot's card: certgen card SEASON LOT."),
        (["--for", "member"], "A member is shown what passed between the two of you, and no line"),
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


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["balance", "--for", "buyer"], "A balance tells what everybody had"),
        (["check", "--for", "buyer", "--lot", "AK-26-1"], "Text is for your own terminal"),
        (["check", "--for", "public", "--format", "json"], "The public is shown the lot's card"),
        (["export", "--for", "member"], "is written as json or csv"),
        (["export", "--for", "member", "--format", "json"], "Name them with --to."),
        (
            ["export", "--for", "member", "--format", "json", "--to", "X"],
            "No movement of this season names 'X'",
        ),
        (["export", "--for", "public", "--format", "json"], "The public is shown one lot."),
        (["export", "--lot", "AK-26-1"], "the certifier is given all records"),
    ],
)
def test_other_outputs_say_what_there_is_for_whom(capsys, asked, said):
    """Where an output makes no sense for a reader, one sentence says which does."""
    command, *rest = asked
    assert 2 == cli.run([command, "example_season", "--on", "2026-11-25", *rest])
    assert said in " ".join(capsys.readouterr().err.split())
