"""The message of a signature (CMS, RFC 5652), held to what a signature needs.

The signature covers the file, and of its own message only what is called signed attributes. The rest of the
message could hold anything, changed by anybody afterwards: so it is made anew from what it must say, and
compared.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from asn1crypto import cms
    from asn1crypto import x509 as asn1

#: Kinds of signature whose algorithm has no settings of its own.
_SETTLED = ("rsassa_pkcs1v15", "sha256_rsa", "sha384_rsa", "sha512_rsa")


def check_message(content: bytes, certificate: asn1.Certificate) -> str:
    """What a message holds besides the signature by `certificate`, in words; `""` for nothing."""
    from asn1crypto import cms

    message = cms.ContentInfo.load(content)
    size = len(message.dump())
    if any(content[size:]):
        return "the space behind the signature was written to"
    attributes = message["content"]["signer_infos"][0]["signed_attrs"]
    # What is signed must also be spelled in the one way that it is signed in.
    spelled = attributes.copy().dump(force=True) == attributes.dump()
    if not spelled or _rebuild(message["content"], certificate).dump() != content[:size]:
        return "the signature holds parts that it does not cover"
    return ""


def _rebuild(given: cms.SignedData, certificate: asn1.Certificate) -> cms.ContentInfo:
    """The message that says no more than `given` must."""
    from asn1crypto import cms, core

    signer = given["signer_infos"][0]
    digest = {"algorithm": signer["digest_algorithm"]["algorithm"].native}
    method = {"algorithm": signer["signature_algorithm"]["algorithm"].native}
    if isinstance(signer["digest_algorithm"]["parameters"], core.Null):
        digest["parameters"] = core.Null()
    if method["algorithm"] in _SETTLED and isinstance(signer["signature_algorithm"]["parameters"], core.Null):
        method["parameters"] = core.Null()
    elif method["algorithm"] == "rsassa_pss":
        method["parameters"] = signer["signature_algorithm"]["parameters"]
    place = cms.IssuerAndSerialNumber(
        {"issuer": certificate.issuer, "serial_number": certificate.serial_number}
    )
    bare = {
        "version": "v1",
        "sid": cms.SignerIdentifier("issuer_and_serial_number", place),
        "digest_algorithm": digest,
        "signed_attrs": signer["signed_attrs"],
        "signature_algorithm": method,
        "signature": signer["signature"].native,
    }
    chain = [cms.CertificateChoices("certificate", one) for one in _find_chain(given, certificate)]
    signed = {
        "version": "v1",
        "digest_algorithms": [digest],
        "encap_content_info": {"content_type": "data"},
        "certificates": chain,
        "signer_infos": [bare],
    }
    return cms.ContentInfo({"content_type": "signed_data", "content": cms.SignedData(signed)})


def _find_chain(given: cms.SignedData, certificate: asn1.Certificate) -> list[Any]:  # certificates
    """The signer's certificate and those that it was issued under, one after another, as they were given."""
    certificates = [one.chosen for one in given["certificates"] if one.name == "certificate"]
    wanted, chain = [certificate], []
    while wanted:
        one = wanted.pop()
        chain.append(one.dump())
        issuers = (other for other in certificates if other.subject == one.issuer)
        wanted += [other for other in issuers if other.dump() not in chain]
    return [one for one in certificates if one.dump() in chain]
