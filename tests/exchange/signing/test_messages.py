"""The message of a signature holds nothing that the signature doesn't cover."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

import pytest
from asn1crypto import cms
from asn1crypto import x509 as asn1
from signed import issue_signer, new_signer

from certgen.exchange.signing.messages import check_message

if TYPE_CHECKING:
    from collections.abc import Callable

UNCOVERED = "the signature holds parts that it does not cover"


def make_message() -> tuple[Any, asn1.Certificate]:
    """A signature's message with its issuer's certificate, and the signer's certificate."""
    signer, _ = issue_signer()
    return asyncio.run(signer.async_sign(bytes(32), "sha256", use_pades=True)), signer.signing_cert


def test_a_message_as_it_is_made_holds_nothing_else() -> None:
    """The certificate that the signer's was issued under is part of it; the room behind is empty."""
    message, certificate = make_message()

    assert "" == check_message(message.dump() + bytes(200), certificate)
    assert 2 == len(message["content"]["certificates"])


def add_certificate(signed: Any) -> None:
    """A certificate that has nothing to do with the signer."""
    signed["certificates"].append(cms.CertificateChoices("certificate", new_signer("Certifier").signing_cert))


def add_digest(signed: Any) -> None:
    """Another way of reckoning digests than the one used."""
    signed["digest_algorithms"].append({"algorithm": "sha512"})


def change_version(signed: Any) -> None:
    """Another version of the message."""
    signed["version"] = "v3"


def change_signers_version(signed: Any) -> None:
    """Another version of the signer's part."""
    signed["signer_infos"][0]["version"] = "v3"


def add_content(signed: Any) -> None:
    """A text inside the message, beside the file that was signed."""
    signed["encap_content_info"] = {"content_type": "data", "content": b"certified"}


def add_revocation(signed: Any) -> None:
    """An answer of somebody on whether the certificate is valid still."""
    other = cms.OtherRevocationInfoFormat(
        {"other_rev_info_format": "1.2.3.4", "other_rev_info": cms.Any(cms.OctetString(b"certified"))}
    )
    signed["crls"] = [cms.RevocationInfoChoice("other", other)]


def add_attribute(signed: Any) -> None:
    """An attribute beside those that are covered."""
    extra = cms.CMSAttribute({"type": "1.2.3.4", "values": [cms.Any(cms.OctetString(b"certified"))]})
    signed["signer_infos"][0]["unsigned_attrs"] = cms.CMSAttributes([extra])


CHANGES = (
    add_certificate,
    add_digest,
    change_version,
    change_signers_version,
    add_content,
    add_revocation,
    add_attribute,
)


@pytest.mark.parametrize("change", CHANGES, ids=[change.__name__ for change in CHANGES])
def test_what_a_message_holds_besides_is_found(change: Callable[[Any], None]) -> None:
    """Anybody could put it in afterwards, and the signature would hold."""
    message, certificate = make_message()
    change(message["content"])

    assert UNCOVERED == check_message(message.dump(force=True), certificate)


def test_bytes_behind_a_message_are_found() -> None:
    """Its room in the file is empty but for the message."""
    message, certificate = make_message()

    assert "the space behind the signature was written to" == check_message(
        message.dump() + b"\0\1", certificate
    )


def test_another_spelling_of_the_same_message_is_found() -> None:
    """A length written with more bytes than it takes says the same, and is a change all the same."""
    message, certificate = make_message()
    data = message.dump()
    assert b"\x30\x82" == data[:2]

    assert UNCOVERED == check_message(b"\x30\x83\0" + data[2:], certificate)
