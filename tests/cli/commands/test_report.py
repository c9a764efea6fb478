from __future__ import annotations

from datetime import date
from pathlib import Path

import pikepdf
import pytest

from certgen import cli
from certgen.rules.example_seasons import load_example
from certgen.verification.attachments import read_attachments
from certgen.verification.packet_files import read_manifest, stated_options

pytestmark = pytest.mark.all_cores

ON = ["--on", date(2026, 10, 31).isoformat()]


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A small season of two lots, one of them with a torn bag."""
    return str(load_example("bag-failed", "bad").write(tmp_path_factory.mktemp("season")))


def options_in(file: Path):
    """What a packet says was chosen for it."""
    return stated_options(read_manifest(read_attachments(file.read_bytes())))


def test_one_lot_is_reported_on_alone(season: str, tmp_path: Path, capsys) -> None:
    """The packet and the binder are about it, the last line says so, and the exit code is the lot's."""
    out, html = tmp_path / "lot.pdf", tmp_path / "lot.html"
    asked = [
        "report",
        season,
        "--lot",
        "L1,L1",
        "--registers",
        "lots",
        "--out",
        str(out),
        "--html",
        str(html),
    ]

    assert 0 == cli.run([*asked, *ON])
    assert "About lot L1 and nothing else. Lots: 1 traced." in capsys.readouterr().out
    options = options_in(out)
    assert (("L1",), "lots", "certifier") == (options.lots, options.registers, options.reader)
    assert options.left_out is not None
    text = html.read_text(encoding="utf-8")
    assert [True, False] == ['"B1"' in text, '"B3"' in text]


def test_the_short_packet_has_few_pages_and_all_files(season: str, tmp_path: Path) -> None:
    """No contents, no index, no registers; what verify needs is inside."""
    out = tmp_path / "short.pdf"

    assert 1 == cli.run(["report", season, "--short", "--page", "Letter", "--out", str(out), *ON])
    with pikepdf.open(out) as pdf:
        assert len(pdf.pages) <= 5
        assert {"records/bad.yaml", "evidence/letters/BF-2201.txt"} <= {*pdf.attachments}
    assert options_in(out).short
    assert 0 == cli.run(["verify", str(out)])


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--lot", "L7"], "There is no 'L7'. Choose one of: L1, L2."),
        (["--lot", "L1", "--for", "buyer", "--short"], "It is for the certifier"),
    ],
)
def test_what_cannot_be_reported_is_refused(season: str, capsys, more: list[str], says: str) -> None:
    """With a sentence, before anything is made."""
    assert 2 == cli.run(["report", season, *more, *ON])
    assert says in capsys.readouterr().err


def test_a_lot_of_an_earlier_season_is_sent_there(capsys, example_season: Path) -> None:
    """Of AK-25-1 this season tells nothing; the season that packed it has its packet."""
    assert 2 == cli.run(["report", str(example_season), "--lot", "AK-25-1", "--on", "2026-11-25"])
    said = capsys.readouterr().err
    assert "Lot 'AK-25-1' is of season 2025" in said
    assert f"certgen report {example_season / '.season-2025'} --lot AK-25-1" in said


def test_a_packet_takes_the_place_of_one_about_the_same(season: str, tmp_path: Path, capsys) -> None:
    """The manifest of the one replaced travels inside, so it may not be about other lots."""
    old = tmp_path / "old.pdf"
    assert 1 == cli.run(["report", season, "--lot", "L2", "--short", "--out", str(old), *ON])
    asked = ["report", season, "--short", "--replaces", str(old), "--out", str(tmp_path / "new.pdf"), *ON]

    assert 2 == cli.run(asked)
    assert "is about lots L2; a packet takes the place of one about the same" in capsys.readouterr().err
    assert 1 == cli.run([*asked, "--lot", "L2"])
