"""The questions about a lot's card: does its page follow from the facts inside, who signed its code, and do
the operation's records bear it out?

A card holds no records, so alone it shows only that nobody worked on it. Beside a packet, or a season's
folder, the lot's facts are taken from the records anew and compared one by one.
"""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import json
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from certgen import __version__
from certgen.exchange.lot_card.code import HEAD, TEXT_BYTES, CardCode, check_signature, read_code, write_code
from certgen.exchange.lot_card.facts import CardError, digest_facts, gather_facts
from certgen.exchange.lot_card.page import NAME, set_card
from certgen.exchange.signing.certificates import describe_holder, fingerprint, key_digest, names_key
from certgen.limits import Limits, run_limited
from certgen.manifest import NAME as MANIFEST
from certgen.manifest import PacketOptions, build_manifest, write_fingerprint
from certgen.report.packet import find_maker
from certgen.resources import code_digest, schemas_dir
from certgen.typeset.engines import list_engines
from certgen.verification.answers import Verification
from certgen.verification.attachments import PacketError, read_attachments, read_packet
from certgen.verification.packet_files import read_manifest
from certgen.verification.rebuilding import differences_in_json, reexamine

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from asn1crypto import x509

    from certgen.examination import Result

#: A card is one page; beside a packet its records are examined.
LIMITS: Final = Limits(seconds=300, megabytes=4096)
_ASK: Final = (
    "Whether the operation's records bear it out. Ask for the packet, and verify the card --against it."
)
#: What isn't taken from the records.
_NOT_RECORDED: Final = ("made_by", "page", "signature", "packet")


def verify_card(
    path: Path,
    *,
    key: str = "",
    certificates: Sequence[x509.Certificate] = (),
    against: Path | None = None,
    limits: Limits = LIMITS,
) -> Verification | None:
    """Verify a card, or a text that a telephone read off one, in a process of its own under limits.

    `key` names the key that must have signed it, `certificates` are those that whoever asks vouches for or
    holds beside it: a text holds none. `against` is a packet or a season's folder. Returns None for a PDF
    that holds no card's facts; raises `PacketError` where there is nothing to verify.
    """
    given = (read_packet(path), key, [one.dump() for one in certificates], against)
    outcome = run_limited(_verify_encoded, *given, seconds=limits.seconds, megabytes=limits.megabytes)
    if outcome.passed:
        raise PacketError(f"{path} {outcome.reason}: a lot's card doesn't, so nothing more was done")
    return outcome.value


def _verify_encoded(
    data: bytes, key: str, certificates: list[bytes], against: Path | None
) -> Verification | None:
    held = []
    if certificates:
        from asn1crypto import x509

        held = [x509.Certificate.load(one) for one in certificates]
    return verify_card_bytes(data, key=key, certificates=held, against=against)


def verify_card_bytes(
    data: bytes,
    *,
    key: str = "",
    certificates: Sequence[x509.Certificate] = (),
    against: Path | None = None,
) -> Verification | None:
    """Verify a card from its bytes, in this process; the rest is as in `verify_card`."""
    found = Verification()
    if not data.startswith(b"%PDF-"):
        code = _read_text(data)
        found.add(
            "Code",
            "holds",
            f"{code.lines[0].removeprefix(f'{HEAD}: ').capitalize()}; {code.lines[2]}.",
            leaves="The page that it was read from: this is the text alone.",
        )
        _judge_signature(found, code, key, certificates)
        _judge_records(found, _name_lot(code), code, None, against)
        return found
    inside = read_attachments(data)
    if NAME not in inside:
        return None
    facts = read_facts(inside)
    code = read_code(write_code(facts))
    _judge_page(found, data, facts)
    own = _own_certificate(facts)
    _judge_signature(found, code, key, certificates, own)
    _judge_records(found, facts["lot"], code, facts, against)
    return found


def read_facts(inside: Mapping[str, bytes]) -> dict[str, Any]:
    """The facts inside a card. Raises `PacketError` where they don't keep to their schema."""
    try:
        facts = json.loads(inside[NAME])
        json.dumps(facts, ensure_ascii=False).encode()
        sound = _form().is_valid(facts)
        for day in (facts["on"], facts["packed"], *_days_of_test(facts)):
            if day:
                dt.date.fromisoformat(day)
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError):
        sound = False
    if not sound:
        raise PacketError("the facts inside this card can't be read; certgen didn't write them as they are")
    return dict(facts)


def _days_of_test(facts: Mapping[str, Any]) -> tuple[str, ...]:
    tested = facts["germination"]
    return (tested["tested"], tested["holds_until"]) if tested else ()


@cache
def _form() -> Any:
    import jsonschema_rs

    schema = (schemas_dir() / "output" / "lot_card.json").read_text(encoding="utf-8")
    return jsonschema_rs.Draft202012Validator(json.loads(schema))


def _read_text(data: bytes) -> CardCode:
    try:
        return read_code(data[:TEXT_BYTES].decode())
    except (UnicodeDecodeError, CardError) as fault:
        raise PacketError(str(fault) if isinstance(fault, CardError) else "this text is not UTF-8") from fault


def _name_lot(code: CardCode) -> str:
    return code.lines[0].removeprefix(f"{HEAD}: lot ")


def _own_certificate(facts: Mapping[str, Any]) -> x509.Certificate | None:
    """The certificate inside a signed card; None where there is none that can be read."""
    if not facts["signature"]:
        return None
    from asn1crypto import x509

    try:
        certificate = x509.Certificate.load(
            base64.b64decode(facts["signature"]["certificate"], validate=True)
        )
        # It is parsed only as far as somebody asks.
        certificate.native  # noqa: B018
    except (ValueError, TypeError, KeyError):
        return None
    return certificate


def _judge_page(found: Verification, pdf: bytes, facts: Mapping[str, Any]) -> None:
    """Set the page again from the facts inside and hold every byte against the file."""
    from certgen.typeset.typst_pages import SettingError

    here = {"version": __version__, "code": code_digest(), "setting": dict(list_engines())}
    try:
        again = set_card(facts)
    except SettingError:
        again = b""
    if again == pdf:
        found.add(
            "Page",
            "holds",
            f"Lot {facts['lot']}: set anew from the facts inside, the page is the same to the last byte.",
            shows="Page, code and facts belong together; nobody drew over the page.",
            leaves=f"Who made it: anybody can make such a file. {_ASK}",
        )
    elif facts["made_by"] != here:
        then, now = facts["made_by"]["code"][:8], code_digest()[:8]
        found.add(
            "Page",
            "unknown",
            f"The card was made by other code ({then}, here {now}), so it can't come out the same to the byte"
            " here.",
            leaves="Whether somebody changed the page. Its facts can be held against records all the same.",
        )
    else:
        behind = bool(again) and pdf.startswith(again.rstrip()[:-64])
        found.add(
            "Page",
            "fails",
            "Something was added behind the page that its facts give."
            if behind
            else "The page isn't the one that the facts inside give.",
        )


def _judge_signature(
    found: Verification,
    code: CardCode,
    key: str,
    held: Sequence[x509.Certificate],
    own: x509.Certificate | None = None,
) -> None:
    """Say who signed the code's lines. A key that was named must have."""
    known = [own] if own is not None else list(held)
    if not code.signature:
        _tell_unsigned(found, key)
    elif not known:
        words = "The code is signed, and no certificate is with it: name the signer's .pub file with --key."
        found.add("Signature", "unknown" if key else "unasked", words)
    elif (signer := next((one for one in known if check_signature(code, one)), None)) is None:
        found.add("Signature", "fails", "The signature is not over these lines, or not by this key.")
    elif key and not names_key(key, key_digest(signer)):
        words = f"It isn't signed by the key that was asked for, {fingerprint(key)}."
        found.add("Signature", "fails", words)
    else:
        _tell_signer(found, signer, vouched=any(key_digest(one) == key_digest(signer) for one in held))


def _tell_unsigned(found: Verification, key: str) -> None:
    words = f" It should be, by the key {fingerprint(key)}." if key else ""
    found.add("Signature", "fails" if key else "unasked", f"Nobody signed this card's code.{words}")


def _tell_signer(found: Verification, signer: x509.Certificate, *, vouched: bool) -> None:
    """Whom the certificate names; a name that nobody vouches for is only claimed."""
    claimed = "" if vouched else "somebody whose certificate claims to be "
    found.add(
        "Signature",
        "holds",
        f"Signed by {claimed}{describe_holder(signer)}. Key {fingerprint(key_digest(signer))}.",
        shows="Whoever holds this key stood behind these lines, and by the card's digest behind all it says.",
        leaves=""
        if vouched
        else "Whose key it is: compare its fingerprint with one that the signer gave you.",
    )


def _judge_records(
    found: Verification,
    lot: str,
    code: CardCode,
    facts: Mapping[str, Any] | None,
    against: Path | None,
) -> None:
    """Take the lot's facts from a packet's records, or a folder's, and compare."""
    if against is None:
        found.add("Records", "unasked", "No records were held against it.", leaves=_ASK)
        return
    try:
        again, packet = _take_anew(lot, code, against)
    except CardError as fault:
        found.add("Records", "fails", f"{against.name}: {fault}.")
        return
    faults = list(_compare(facts, code, again, packet))
    leaves = (
        "Whether that packet is whole: verify it by itself."
        if packet
        else "Which packet the card goes with: a folder bears no fingerprint."
    )
    if faults:
        found.add("Records", "fails", "The records don't come to what the card says.", faults, leaves=leaves)
    else:
        shows = "The lot's standing, grams, parents, tests and label are what those records come to."
        found.add("Records", "holds", "The records come to what the card says.", shows=shows, leaves=leaves)


def _take_anew(lot: str, code: CardCode, against: Path) -> tuple[dict[str, Any], str]:
    """The lot's facts from other records, and their packet's SHA-256, empty for a folder."""
    if against.is_dir():
        from certgen.examination import examine

        result = examine(against, code.on)
        packet = build_manifest(result, find_maker(result), PacketOptions()).sha256
        return _gather(result, lot, packet), ""
    from certgen.exchange.signing.signature import read_signatures

    inside = read_attachments(read_signatures(read_packet(against)).base)
    manifest = read_manifest(inside)
    packet = hashlib.sha256(inside[MANIFEST]).hexdigest()
    with reexamine(manifest, inside) as result:
        return _gather(result, lot, packet), packet


def _gather(result: Result, lot: str, packet: str) -> dict[str, Any]:
    # On the code a lot's blanks are drawn together.
    known = {" ".join(name.split()): name for name in result.lots}
    return gather_facts(result, known.get(lot, lot), packet, find_maker(result))


def _compare(
    facts: Mapping[str, Any] | None, code: CardCode, again: dict[str, Any], packet: str
) -> Iterator[str]:
    if packet and not packet.startswith(code.packet):
        yield (
            f"packet: the card goes with {write_fingerprint(code.packet)}, this one bears"
            f" {write_fingerprint(packet)}"
        )
    if facts is not None:
        yield from differences_in_json(_recorded(facts), _recorded(again))
        return
    expected = read_code(write_code(again)).lines
    for line, other in zip(code.lines[:5], expected, strict=False):
        if line != other:
            yield f"it says “{line}”, the records give “{other}”"
    if packet and packet.startswith(code.packet) and not digest_facts(again).startswith(code.card):
        yield "what else the card says isn't what the records come to"


def _recorded(facts: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in facts.items() if name not in _NOT_RECORDED}
