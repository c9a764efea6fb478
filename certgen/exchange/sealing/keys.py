"""Sealing keys: made once, kept by the grower, shown to others as a short line of letters."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.exchange.sealing.seal import SealError
from certgen.whole_files import write_all

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


def make_key(path: Path) -> str:
    """Make a new Ed25519 key: the secret half in `path`, the public half beside it in `path.pub`.

    Returns the public key as hexadecimal. An existing file is never overwritten (`FileExistsError`):
    a lost key cannot be made again, and with it goes the proof of every report sealed by it.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    key = Ed25519PrivateKey.generate()
    secret = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    public = key.public_key().public_bytes_raw().hex()
    beside = path.with_name(path.name + ".pub")
    write_all({path: secret, beside: f"{public}\n".encode()}, replace=False, mode=0o600)
    beside.chmod(0o644)
    return public


def load_key(path: Path) -> Ed25519PrivateKey:
    """Read a secret key made by `make_key`. Raises `SealError` with what to do."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except OSError as fault:
        raise SealError(f"the key file {path} cannot be read: {fault.strerror}") from fault
    except (ValueError, TypeError, UnsupportedAlgorithm) as fault:
        raise SealError(f"{path} holds no sealing key; make one with: certgen seal --new-key FILE") from fault
    if not isinstance(key, Ed25519PrivateKey):
        raise SealError(f"{path} holds a key of another kind; a seal takes an Ed25519 key")
    return key


def load_public_key(text: str) -> str:
    """Return a public key, given as hexadecimal or as the path of a `.pub` file, as 64 hexadecimal digits."""
    candidate = text.strip().lower()
    if len(candidate) != 64:
        try:
            candidate = Path(text).read_text(encoding="ascii").strip().lower()
        except (OSError, UnicodeDecodeError) as fault:
            raise SealError(
                f"{text!r} is neither a public key (64 letters and digits) nor a .pub file"
            ) from fault
    if len(candidate) != 64 or any(c not in "0123456789abcdef" for c in candidate):
        raise SealError(f"{text!r} does not hold a public key of 64 hexadecimal digits")
    return candidate


def fingerprint(public: str) -> str:
    """A public key as eight groups of four letters, short enough to read over the telephone.

    The first 128 bits of the SHA-256 of the key's bytes.
    """
    digest = hashlib.sha256(bytes.fromhex(public)).hexdigest()[:32]
    return " ".join(digest[i : i + 4] for i in range(0, 32, 4))
