"""The questions about a packet, asked in order: its records, what it states, its pages, who signed it."""

from __future__ import annotations

import hashlib
from contextlib import nullcontext
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.signing.signature import read_signatures
from certgen.manifest import NAME, REPLACED, Maker
from certgen.verification.answers import Verification
from certgen.verification.attachments import PacketError, read_attachments
from certgen.verification.disclosed import compare_disclosed, tell_withheld
from certgen.verification.earlier import compare_packet
from certgen.verification.packet_files import (
    parse_manifest,
    read_manifest,
    stated_maker,
    stated_options,
)
from certgen.verification.pages import judge_pages
from certgen.verification.rebuilding import (
    differences_in_json,
    open_rebuilding_pool,
    rebuild_manifest,
    reexamine,
)
from certgen.verification.signers import judge_signatures

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from asn1crypto import x509

    from certgen.examination import Result
    from certgen.exchange.signing.signature import Signatures

    Progress = Callable[[str, int, int], None]

#: Parts of a manifest that say what was chosen and what it was made by: to these the rest is held.
_GIVEN: Final = frozenset({"version", "code", "setting", "options"})
#: What other rules may come to otherwise.
_JUDGED: Final = "statements"


def compare_with_packet(found: Verification, pdf: bytes, other: bytes) -> None:
    """Hold a packet against another: a full one that it may come from, or an earlier one of its kind."""
    if stated_options(found.manifest).is_full:
        compare_packet(found, other)
        return
    there = read_attachments(read_signatures(other).base)
    full = read_manifest(there)
    if not stated_options(full).is_full:
        compare_packet(found, other)
        return
    if list(_find_lacking(full, there)):
        words = "The full packet doesn't hold the files that its manifest names; verify it by itself."
        found.add("Withheld", "unknown", words)
        return
    from certgen.examination import ReadFailure

    inside = read_attachments(read_signatures(pdf).base)
    then = {**full, "on": found.manifest["on"], "version": found.manifest["version"]}
    try:
        with reexamine(then, there) as result:
            compare_disclosed(found, inside, result, full)
    except ReadFailure as failure:
        raise PacketError(f"the full packet: {failure.errors[0].text()}") from failure


def verify_bytes(
    pdf: bytes,
    *,
    key: str = "",
    trusted: Sequence[x509.Certificate] = (),
    quick: bool = False,
    extract: Callable[[Result], object] | None = None,
    progress: Progress = lambda _what, _done, _all: None,
) -> Verification:
    """Verify a packet from its bytes alone.

    `key` names the key that must have signed it (`certificates.load_key_digest`), `trusted` are certificates
    that whoever asks vouches for. With `quick` the pages aren't made anew. `extract` is given the result of
    examining the records inside. Raises `PacketError` where there is nothing to verify: no PDF, no records of
    certgen's.
    """
    signatures = read_signatures(pdf, trusted)
    inside = read_attachments(signatures.base)
    manifest = read_manifest(inside)
    found = Verification(manifest, hashlib.sha256(inside[NAME]).hexdigest())
    whole = _judge_records(found, manifest, inside)
    _judge_statements_and_pages(
        found, signatures, manifest, inside, whole=whole, quick=quick, extract=extract, progress=progress
    )
    tell_withheld(found)
    judge_signatures(found, signatures, key)
    return found


def _judge_records(found: Verification, manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> bool:
    """Hold each file inside against the manifest. Returns whether all that it names as attached is there."""
    outside = [file["name"] for file in manifest["files"] if not file["attached"]]
    lacking = [*_find_lacking(manifest, inside), *_judge_replaced(manifest, inside)]
    faults = [*lacking, *_find_surplus(manifest, inside)]
    count = len(manifest["files"]) - len(outside)
    leaves = "That what was written down is true: nobody's word is made truer by being kept."
    if outside:
        names = ", ".join(outside[:3]) + (" …" if len(outside) > 3 else "")
        leaves += f" {len(outside)} evidence files were too large to put inside and weren't seen: {names}."
    if faults:
        found.add("Records", "fails", "The files inside aren't those that the manifest names.", faults)
    else:
        found.add(
            "Records",
            "holds",
            f"The {count} files inside are those that the manifest names, each by its SHA-256.",
            shows="Manifest and files belong together. Whoever changes both is found by the pages, or by a"
            " fingerprint that you have on paper.",
            leaves=leaves,
        )
    return not lacking


def _find_lacking(manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> Iterator[str]:
    """What the manifest names and the file doesn't hold."""
    named: set[str] = set()
    for file in manifest["files"]:
        name = file["name"]
        if name in named:
            yield f"{name} is named twice by the manifest"
        named.add(name)
        if file["attached"] and name not in inside:
            yield f"{name} is named by the manifest and not inside"
        elif file["attached"] and hashlib.sha256(inside[name]).hexdigest() != file["sha256"]:
            yield f"{name} is not the file that the manifest names"


def _find_surplus(manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> Iterator[str]:
    """What the file holds and the manifest doesn't name."""
    named = {NAME, *(file["name"] for file in manifest["files"] if file["attached"])}
    if manifest["replaces"]:
        named.add(REPLACED)
    for name in sorted({*inside} - named):
        yield f"{ascii(name)[1:-1][:80]} is inside and no part of what was reported on"


def _judge_replaced(manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> list[str]:
    """What is wrong with the manifest of the packet that this one says it replaces."""
    if not manifest["replaces"]:
        return []
    if hashlib.sha256(inside.get(REPLACED, b"")).hexdigest() != manifest["replaces"]:
        return ["the manifest of the packet that this one replaces isn't inside, or isn't that one"]
    try:
        parse_manifest(inside[REPLACED])
    except PacketError:
        return ["the manifest of the packet that this one replaces can't be read"]
    return []


def _judge_statements_and_pages(
    found: Verification,
    signatures: Signatures,
    manifest: Mapping[str, Any],
    inside: Mapping[str, bytes],
    *,
    whole: bool,
    quick: bool,
    extract: Callable[[Result], object] | None,
    progress: Progress,
) -> None:
    from certgen.examination import ReadFailure
    from certgen.report.packet import find_maker

    is_asked = whole and not quick
    try:
        with (
            open_rebuilding_pool(manifest) if is_asked else nullcontext() as pool,
            reexamine(manifest, inside) as result,
        ):
            here = find_maker(result)
            _judge_statements(found, result, manifest, inside, here)
            if extract is not None:
                found.extract = extract(result)
            if not whole:
                found.add(
                    "Pages",
                    "unknown",
                    "They weren't made anew: the files inside aren't those that they were made from.",
                )
            elif quick:
                found.add(
                    "Pages",
                    "unasked",
                    "Left out, as was asked (--quick).",
                    leaves="Whether the pages say what the records inside say: anything may have been"
                    " changed, added or drawn over on any of them. Leave --quick out to know.",
                )
            else:
                judge_pages(found, signatures, result, inside, here, progress, pool)
    except ReadFailure as fault:
        found.add("Statements", "fails", "The records inside can't be read.", [fault.errors[0].text()])


def _judge_statements(
    found: Verification,
    result: Result,
    manifest: Mapping[str, Any],
    inside: Mapping[str, bytes],
    here: Maker,
) -> None:
    """Hold the manifest against the one that these records give; its statements may change with the rules."""
    made = rebuild_manifest(result, manifest, inside)
    same_rules = stated_maker(manifest).code == here.code
    plain: list[str] = []
    judged: list[str] = []
    for key in dict.fromkeys((*made.content, *manifest)):
        if key in _GIVEN:
            continue
        differing = list(differences_in_json(manifest.get(key), _as_json(made.content.get(key)), key))
        (judged if key == _JUDGED else plain).extend(differing)
    if not (plain or judged) and made.text != inside[NAME]:
        plain.append("it isn't written as certgen writes it, though it says the same")
    if plain or (judged and same_rules):
        found.add(
            "Statements",
            "fails",
            "The manifest doesn't say what these records give.",
            [*plain, *judged],
        )
    elif judged:
        found.add(
            "Statements",
            "unknown",
            "The rules here come to other findings on these records than those that the packet states; it was"
            f" made by {_name_code(stated_maker(manifest))}, whose rules may differ.",
            judged,
            leaves="Whether that version came to what is stated: only it can say.",
        )
    else:
        found.add(
            "Statements",
            "holds",
            "The rules, run anew on these files as of that day, come to the standings and findings stated.",
            shows="The standings and findings follow from the records inside."
            + ("" if same_rules else " Two versions' rules agree on them: the packet's own and this one's."),
            leaves="What no record tells. certgen has seen no tree, no bag and no seed.",
        )


def _name_code(maker: Maker) -> str:
    return f"certgen {maker.version} (code {maker.code[:8]})"


def _as_json(value: Any) -> Any:
    """A manifest's part as it comes back from its bytes: tuples as lists."""
    import json

    return json.loads(json.dumps(value))
