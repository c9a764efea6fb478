"""Keys are made once, kept secret and never overwritten."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from certgen.exchange.sealing.seal import SealError, fingerprint, load_key, load_public_key, make_key

if TYPE_CHECKING:
    from pathlib import Path

COVERS = ("certgen.exchange.sealing.seal",)


def test_a_key_is_read_back(tmp_path: Path) -> None:
    """The secret and the public file belong together, and the secret one is for its owner's eyes only."""
    public = make_key(tmp_path / "seal.key")

    assert public == load_key(tmp_path / "seal.key").public_key().public_bytes_raw().hex()
    assert public == load_public_key(str(tmp_path / "seal.key.pub")) == load_public_key(public.upper())
    assert 0o600 == (tmp_path / "seal.key").stat().st_mode & 0o777


def test_a_key_is_never_overwritten(tmp_path: Path) -> None:
    """Making a key where one lies leaves the first as it was."""
    first = make_key(tmp_path / "seal.key")

    with pytest.raises(FileExistsError):
        make_key(tmp_path / "seal.key")

    assert first == load_public_key(str(tmp_path / "seal.key.pub"))


def test_no_key_is_a_clear_error(tmp_path: Path) -> None:
    """A missing file, and a file that is something else, say what to do."""
    (tmp_path / "note").write_text("hello")

    with pytest.raises(SealError, match="cannot be read"):
        load_key(tmp_path / "absent")
    with pytest.raises(SealError, match="certgen seal --new-key"):
        load_key(tmp_path / "note")
    with pytest.raises(SealError, match="neither a public key"):
        load_public_key(str(tmp_path / "absent"))


def test_fingerprint_is_short_enough_to_read_out() -> None:
    """The SHA-256 of 32 zero bytes, from a published test value, cut to its first 128 bits."""
    assert "6668 7aad f862 bd77 6c8f c18b 8e9f 8e20" == fingerprint("00" * 32)
