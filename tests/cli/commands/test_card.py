"""`certgen card` writes a lot's card and says what it refuses; `certgen verify` knows it for one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from printed_packets import line_packet, write_line

from certgen import cli
from certgen.exchange.signing.certificates import make_certificate
from certgen.verification.files import looks_like_card
from certgen.verification.lot_cards import verify_card_bytes

if TYPE_CHECKING:
    from pathlib import Path

ON = ("--on", "2026-10-01")


@pytest.fixture
def season(tmp_path: Path) -> str:
    """A small season's folder."""
    return str(write_line(tmp_path / "season"))


def test_a_card_is_written_and_verified(
    season: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The exit code is the lot's: 0 where it is traced; the answers end in what was looked at."""
    out = tmp_path / "card.pdf"
    assert 0 == cli.run(["card", season, "L1", "--out", str(out), *ON])
    assert f"{out}\n" == capsys.readouterr().out
    assert looks_like_card(out)

    assert 0 == cli.run(["verify", str(out), "--against", season])
    assert "This card says what the records come to." in capsys.readouterr().out


def test_a_lot_that_is_not_traced_has_a_card_that_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its exit code is 1, as of a check with gaps."""
    season = str(write_line(tmp_path / "season", screening=[]))
    assert 1 == cli.run(["card", season, "L1", "--out", str(tmp_path / "card.pdf"), *ON])
    capsys.readouterr()


def test_the_packet_that_is_named_must_be_of_these_records(
    season: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of another day, or of other records, it is refused; its own is named on the card."""
    packet, out = tmp_path / "report.pdf", tmp_path / "card.pdf"
    packet.write_bytes(line_packet())
    named = ["--packet", str(packet), "--out", str(out)]
    assert 2 == cli.run(["card", season, "L1", *named, "--on", "2026-10-02"])
    assert "was made of other records, or as of another day (2026-10-01)" in capsys.readouterr().err
    assert not out.exists()

    assert 0 == cli.run(["card", season, "L1", *named, *ON])
    found = verify_card_bytes(out.read_bytes(), against=packet)
    assert found is not None
    assert ["holds", "unasked", "holds"] == [answer.verdict for answer in found.answers]


def test_the_key_signs_the_code(
    season: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Verified by the key that is named; another key fails, and the exit code with it."""
    monkeypatch.delenv("CERTGEN_PASSPHRASE", raising=False)
    out, key = tmp_path / "card.pdf", tmp_path / "orchard.key"
    make_certificate(key, "K. Wren")
    make_certificate(tmp_path / "other.key", "K. Wren")
    assert 0 == cli.run(["card", season, "L1", "--key", str(key), "--out", str(out), *ON])
    assert 0 == cli.run(["verify", str(out), "--key", f"{key}.pub"])
    assert "Signed by K. Wren." in capsys.readouterr().out
    assert 1 == cli.run(["verify", str(out), "--key", f"{tmp_path / 'other.key'}.pub"])
    assert "It isn't signed by the key that was asked for" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["L2"], "L1"),
        (["L1", "--packet", "nothing.pdf"], "nothing.pdf"),
        (["L1", "--key", "nothing.key"], "nothing.key"),
        (["L1", "--page", "A5"], "A5"),
    ],
)
def test_what_cannot_be_done_is_refused(
    season: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    """By name, with nothing written."""
    out = tmp_path / "card.pdf"
    assert 2 == cli.run(["card", season, *arguments, "--out", str(out), *ON])
    assert said in capsys.readouterr().err
    assert not out.exists()


def test_a_card_never_takes_the_place_of_something_else(
    season: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An earlier card gives way; a packet stays."""
    out = tmp_path / "card.pdf"
    for _ in range(2):
        assert 0 == cli.run(["card", season, "L1", "--out", str(out), *ON])
    out.write_bytes(line_packet())
    assert 2 == cli.run(["card", season, "L1", "--out", str(out), *ON])
    assert "is a packet, and this would be a lot card" in " ".join(capsys.readouterr().err.split())
