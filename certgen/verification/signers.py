"""Who signed a packet: what each signature shows, and how far its certificate can be believed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.exchange.signing.certificates import fingerprint, names_key

if TYPE_CHECKING:
    from certgen.exchange.signing.signature import Signatures, SignatureState
    from certgen.verification.answers import Verification

_NOBODY = (
    "Who made this file. If it matters, ask for a signed one, or match its fingerprint with the paper that"
    " was handed over."
)


def judge_signatures(found: Verification, signatures: Signatures, key: str) -> None:
    """Say who signed. `key` names the key that must have signed, or is empty."""
    if signatures.unread:
        found.add("Signature", "unknown" if key else "unasked", signatures.unread, leaves=_NOBODY)
        return
    if signatures.faults:
        found.add("Signature", "fails", "More was appended than signatures.", signatures.faults)
    for state in signatures.signatures:
        _judge_one(found, state)
    if not signatures.signatures and not signatures.faults and not key:
        found.add("Signature", "unasked", "Nobody signed this packet.", leaves=_NOBODY)
    if key and not any(state.holds and names_key(key, state.key) for state in signatures.signatures):
        found.add(
            "Signature",
            "fails",
            f"It isn't signed by the key that was asked for, {fingerprint(key)}.",
        )


def _judge_one(found: Verification, state: SignatureState) -> None:
    claimed = "" if state.trusted else "somebody whose certificate claims to be "
    issued = " and was made by its own holder" if state.self_made and not state.trusted else ""
    when = (
        f" The signer's own clock said {state.claimed_time:%Y-%m-%d %H:%M %Z}." if state.claimed_time else ""
    )
    key = f" Key {fingerprint(state.key)}." if state.key else ""
    if not state.holds:
        found.add("Signature", "fails", f"A signature doesn't hold: {state.fault}.{key}", state.notes)
        return
    leaves = (
        "Whether the certificate was revoked since: that can't be asked without a network."
        if state.trusted
        else "Whose key it is. Compare its fingerprint with one that the signer gave you, or vouch for the"
        " certificate with --trust."
    )
    found.add(
        "Signature",
        "holds",
        f"Signed by {claimed}{state.signer}{issued}.{key}{when}",
        state.notes,
        shows="Whoever holds this key stood behind exactly these bytes."
        + (" The certificate is one that you vouch for, or was issued under it." if state.trusted else ""),
        leaves=leaves,
    )
