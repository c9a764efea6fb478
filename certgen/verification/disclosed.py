"""Whether a packet that withholds something was made from a full packet, or from a season's folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.disclosure.disclosing import DisclosureError, disclose_lot
from certgen.manifest import NAME, PacketOptions, build_manifest, list_attachments, write_fingerprint
from certgen.report.packet import find_maker
from certgen.verification.packet_files import files_outside, stated_maker, stated_options

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.examination import Result
    from certgen.verification.answers import Verification

SUBJECT = "Withheld"


def tell_withheld(found: Verification) -> None:
    """Say of a packet that withholds something what it can't show by itself; nothing of a full one."""
    options = stated_options(found.manifest)
    if not options.is_full:
        found.add(
            SUBJECT,
            "unasked",
            f"This packet is for {options.party}. Names and numbers are codes, and other lots, other parties"
            " and all files are withheld. It says that it comes from the full packet"
            f" {write_fingerprint(options.full)}.",
            leaves="Whether it does, whether codes stand for real records, and what was left out. Whoever has"
            " the full packet can tell, with --against.",
        )


def compare_disclosed(
    found: Verification, inside: Mapping[str, bytes], result: Result, full: Mapping[str, Any] | None
) -> None:
    """Make what was disclosed anew from the whole season's result, and hold it against the files inside.

    `full` is the manifest of the full packet that the records came from, None for a folder.
    """
    options = stated_options(found.manifest)
    found.answers[:] = [answer for answer in found.answers if answer.subject != SUBJECT]
    lot = (options.lots or ("",))[0]
    if lot not in result.lots:
        found.add(SUBJECT, "fails", f"The records that it is held against know no lot {lot}.")
        return
    outside = {} if full is None else files_outside(full)
    maker = stated_maker(found.manifest)
    try:
        with disclose_lot(result, lot, options.party, outside) as shown:
            made = build_manifest(shown, maker, options)
            files = {one.name: one.data for one in list_attachments(shown, made)}
    except DisclosureError as fault:
        found.add(SUBJECT, "unknown", f"By these records nothing would be given out: {fault}.")
        return
    differing = list(_find_differing(inside, files))
    origin = build_manifest(result, maker, PacketOptions(options.page), outside=outside).sha256
    if not differing and origin == options.full:
        found.add(
            SUBJECT,
            "holds",
            "Made anew from those records, what was disclosed is the same to the last byte.",
            shows="Each code stands for a record there, each digest for a file there, and the lot comes out"
            " the same in the whole season.",
            leaves="What the records there don't tell: verify the full packet by itself.",
        )
        return
    if origin != options.full:
        differing.append(
            f"it names the full packet {write_fingerprint(options.full)}, and of these records, that day and"
            f" paper comes {write_fingerprint(origin)}"
        )
    if maker.code == find_maker(result).code:
        found.add(SUBJECT, "fails", "It isn't what these records disclose.", differing)
    else:
        found.add(
            SUBJECT,
            "unknown",
            "Made anew here it differs; it was made by another version, which may withhold otherwise.",
            differing,
        )


def _find_differing(inside: Mapping[str, bytes], made: Mapping[str, bytes]) -> Iterator[str]:
    """Each file but the manifest that isn't the same in both."""
    for name in sorted({*inside, *made} - {NAME}):
        if name not in made:
            yield f"{name[:80]} is inside, and these records give no such file"
        elif name not in inside:
            yield f"{name} is missing, which these records give"
        elif inside[name] != made[name]:
            yield f"{name} isn't what these records give"
