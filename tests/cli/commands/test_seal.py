"""`certgen seal` makes keys and signs packets, and says what it did in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from signed import small_pdf

from certgen import cli
from certgen.exchange.signing import offline
from certgen.exchange.signing.certificates import fingerprint, key_digest, load_signer, load_trusted
from certgen.exchange.signing.signature import read_signatures

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def no_passphrase(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever stands in the environment of whoever runs the tests."""
    monkeypatch.delenv("CERTGEN_PASSPHRASE", raising=False)


@pytest.fixture
def packet(tmp_path: Path) -> Path:
    """A packet of two pages."""
    path = tmp_path / "packet.pdf"
    path.write_bytes(small_pdf())
    return path


def test_a_key_is_made_and_its_fingerprint_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The certificate bears the name; that nothing locks the key is said, and how to lock it."""
    key = tmp_path / "orchard.key"
    code = cli.run(["seal", "--new-key", str(key), "--name", "Invented Seed Garden"])
    said = capsys.readouterr().out

    (certificate,) = load_trusted(tmp_path / "orchard.key.pub")
    assert (0, True) == (code, fingerprint(key_digest(certificate)) in said)
    assert "Invented Seed Garden" == certificate.subject.native["common_name"]
    assert "isn't encrypted" in said
    assert "CERTGEN_PASSPHRASE" in said


def test_a_passphrase_in_the_environment_locks_the_key(
    tmp_path: Path, packet: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is said of encryption then; without the passphrase nothing is signed."""
    key = tmp_path / "orchard.key"
    monkeypatch.setenv("CERTGEN_PASSPHRASE", "cold frame")
    cli.run(["seal", "--new-key", str(key)])
    assert "encrypted" not in capsys.readouterr().out
    assert 0 == cli.run(["seal", str(packet), "--key", str(key), "--out", str(tmp_path / "signed.pdf")])
    monkeypatch.delenv("CERTGEN_PASSPHRASE")

    assert 2 == cli.run(["seal", str(packet), "--key", str(key), "--out", str(tmp_path / "second.pdf")])
    assert "CERTGEN_PASSPHRASE" in capsys.readouterr().err
    assert not (tmp_path / "second.pdf").exists()


def test_a_key_is_never_lost(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With it would go the proof of all that it signed: forced, it is kept beside, for its owner's eyes."""
    key = tmp_path / "orchard.key"
    cli.run(["seal", "--new-key", str(key)])
    before = key.read_bytes()

    assert 2 == cli.run(["seal", "--new-key", str(key)])
    assert "nothing was written" in capsys.readouterr().err
    assert before == key.read_bytes()
    assert 0 == cli.run(["seal", "--new-key", str(key), "--force"])
    (kept,) = (path for path in tmp_path.iterdir() if path.read_bytes() == before)
    assert kept.name in capsys.readouterr().err
    assert 0o600 == kept.stat().st_mode & 0o777


@pytest.mark.parametrize("option", ["--key", "--certificate"])
def test_a_packet_is_signed_in_a_file_of_its_own(tmp_path: Path, packet: Path, option: str) -> None:
    """The packet stays; the other file is the packet with a signature behind it."""
    key = tmp_path / "orchard.key"
    cli.run(["seal", "--new-key", str(key)])
    code = cli.run(["seal", str(packet), option, str(key), "--out", str(tmp_path / "signed.pdf")])
    found = read_signatures((tmp_path / "signed.pdf").read_bytes())

    assert (0, small_pdf(), small_pdf(), ()) == (code, packet.read_bytes(), found.base, found.faults)
    assert [(True, key_digest(load_signer(key).signing_cert))] == [
        (one.holds, one.key) for one in found.signatures
    ]


def test_what_is_needed_is_said(tmp_path: Path, packet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No file, no key, a file that is no key, one that is no PDF: each error says what to do."""
    (tmp_path / "note.txt").write_text("hello")
    key = tmp_path / "orchard.key"
    cli.run(["seal", "--new-key", str(key)])
    capsys.readouterr()
    wrong = {
        (): "--new-key FILE",
        (str(packet),): "--key FILE",
        (str(packet), "--key", str(tmp_path / "note.txt")): "certgen seal --new-key FILE",
        (str(packet), "--key", str(tmp_path / "absent")): "cannot be read: No such file",
        (str(tmp_path / "note.txt"), "--key", str(key), "--out", str(tmp_path / "out.pdf")): "no PDF",
    }

    for arguments, words in wrong.items():
        assert (2, True) == (cli.run(["seal", *arguments]), words in capsys.readouterr().err), arguments
    assert {"note.txt", "orchard.key", "orchard.key.pub", "packet.pdf"} == {
        one.name for one in tmp_path.iterdir()
    }


def test_without_its_packages_it_is_said_how_to_get_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Signing is an extra; nothing is left behind."""
    monkeypatch.setattr(offline, "_NEEDED", ("no_such_package",))

    assert 2 == cli.run(["seal", "--new-key", str(tmp_path / "orchard.key")])
    assert "pip install 'certgen[signing]'" in capsys.readouterr().err
    assert [] == list(tmp_path.iterdir())
