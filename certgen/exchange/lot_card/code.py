"""What a telephone reads off a lot's card without a network, and the signature on it.

A few lines of plain text: the lot, its variety, its standing by gram, the day, its name, which is no other
farm's lot's, the packet's fingerprint, and the digest of all that the card says. Signed, a last line holds
the signature over the lines before it, so that a text read off paper can be checked with the key alone.
"""

from __future__ import annotations

import base64
import binascii
import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.lot_card.facts import CardError, digest_facts
from certgen.exchange.signing.offline import SigningError, prepare_signing
from certgen.manifest import write_fingerprint
from certgen.records.quantities import format_mass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asn1crypto import x509
    from pyhanko.sign.signers import SimpleSigner

#: How the text begins, and what is signed before it, so that a signature serves for nothing else.
HEAD: Final = "Seed lot card"
_SIGNED: Final = b"certgen seed lot card 1\n"
_SIGNATURE: Final = "Signature "
#: More than any card's code holds.
TEXT_BYTES: Final = 4096
#: A longer name is cut, so that the code stays one that telephones read.
_LINE: Final = 120
#: A cut address is none, so a lot's has more room.
_NAME_LINE: Final = 400
#: The lines that every code has.
_EXPECTED: Final = ("lot", "variety", "standing", "operation", "name", "packet", "card")
_STANDINGS: Final = ("traced", "unproven", "rejected", "unaccounted")


@dataclass(frozen=True, slots=True)
class CardCode:
    """A card's code taken apart: the lines that are signed, the day, the digits of packet and card that they
    name, and the signature, empty where there is none.
    """

    lines: tuple[str, ...]
    on: date
    packet: str
    card: str
    signature: bytes

    @property
    def signed(self) -> bytes:
        """The bytes that a signature is over."""
        return _SIGNED + "\n".join(self.lines).encode()


def write_code(facts: Mapping[str, Any]) -> str:
    """The text of a card's code. A signature that the facts hold is its last line."""
    lines = _word_code(facts)
    if facts.get("signature"):
        lines.append(_SIGNATURE + facts["signature"]["value"])
    return "\n".join(lines)


def _word_code(facts: Mapping[str, Any]) -> list[str]:
    grams = [
        f"{format_mass(facts[f'{standing}_mg'])} {standing}"
        for standing in _STANDINGS
        if facts[f"{standing}_mg"]
    ]
    held = "; held back" if facts["held"] else ""
    lines = (
        f"{HEAD}: lot {facts['lot']}",
        f"{facts['variety'] or 'variety not recorded'}, {facts['botanical']}",
        f"{facts['standing']}: {', '.join(grams) or 'no seed'}{held}",
        f"{facts['operation']['name'][:80]}, records as of {facts['on']}",
        f"Name {facts['name']}",
        f"Packet {write_fingerprint(facts['packet'])}",
        f"Card {write_fingerprint(digest_facts(facts))}",
    )
    return [
        _draw_together(line)[: _NAME_LINE if what == "name" else _LINE]
        for what, line in zip(_EXPECTED, lines, strict=True)
    ]


def _draw_together(line: str) -> str:
    """One blank for all that stands between two words: a telephone may give back another than it read."""
    return " ".join(line.split())


def read_code(text: str) -> CardCode:
    """Take apart what a telephone read. Raises `CardError` for what is no card's code."""
    lines = [_draw_together(line) for line in text.strip().splitlines()]
    signature = b""
    if lines and lines[-1].startswith(_SIGNATURE):
        try:
            signature = base64.b64decode(lines.pop().removeprefix(_SIGNATURE), validate=True)
        except (binascii.Error, ValueError) as fault:
            raise CardError("the signature in this text was cut or mistyped; read the code anew") from fault
    digits = [
        re.fullmatch(rf"{word} ((?:[0-9a-f]{{4}} ){{4}}[0-9a-f]{{4}})", line)
        for word, line in zip(("Packet", "Card"), lines[-2:], strict=False)
    ]
    whole = len(lines) == len(_EXPECTED) and lines[0].startswith(f"{HEAD}: lot ") and all(digits)
    try:
        on = date.fromisoformat(lines[3][-10:] if whole else "")
    except ValueError:
        raise CardError(
            "this text isn't all that stands in the code of a lot's card; read the code anew"
        ) from None
    packet, card = (found[1].replace(" ", "") for found in digits if found)
    return CardCode(tuple(lines), on, packet, card, signature)


def sign_facts(facts: Mapping[str, Any], signer: SimpleSigner) -> dict[str, Any]:
    """The facts with a signature over their code's lines, and the certificate of the key that made it.

    Raises `SigningError` for a key that serves for no such signature.
    """
    prepare_signing()
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa
    from cryptography.hazmat.primitives.serialization import load_der_private_key

    if signer.signing_key is None or signer.signing_cert is None:
        raise SigningError("this key file holds no key with a certificate")
    secret = load_der_private_key(signer.signing_key.dump(), None)
    signed = _SIGNED + "\n".join(_word_code(facts)).encode()
    if isinstance(secret, ec.EllipticCurvePrivateKey):
        value = secret.sign(signed, ec.ECDSA(hashes.SHA256()))
    elif isinstance(secret, rsa.RSAPrivateKey):
        value = secret.sign(signed, padding.PKCS1v15(), hashes.SHA256())
    else:
        raise SigningError("a card is signed with an ECDSA or RSA key; this one is of another kind")
    return {
        **facts,
        "signature": {
            "value": base64.b64encode(value).decode("ascii"),
            "certificate": base64.b64encode(signer.signing_cert.dump()).decode("ascii"),
        },
    }


def check_signature(code: CardCode, certificate: x509.Certificate) -> bool:
    """Whether the key of a certificate signed these lines."""
    prepare_signing()
    from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa
    from cryptography.hazmat.primitives.serialization import load_der_public_key

    try:
        key = load_der_public_key(certificate.public_key.dump())
        if isinstance(key, ec.EllipticCurvePublicKey):
            key.verify(code.signature, code.signed, ec.ECDSA(hashes.SHA256()))
        elif isinstance(key, rsa.RSAPublicKey):
            key.verify(code.signature, code.signed, padding.PKCS1v15(), hashes.SHA256())
        else:
            return False
    except (InvalidSignature, UnsupportedAlgorithm, ValueError):
        return False
    return True
