"""Whether a packet of less than the season was made from a full packet, or from a season's folder."""

from __future__ import annotations

import hashlib
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.disclosure.disclosing import DisclosureError, disclose_lot
from certgen.disclosure.line_season import cut_to_lots
from certgen.manifest import (
    NAME,
    REPLACED,
    PacketOptions,
    build_manifest,
    list_attachments,
    write_fingerprint,
)
from certgen.report.packet import find_maker
from certgen.report.wording import count_of
from certgen.rules.wording import join, noun
from certgen.verification.packet_files import files_outside, stated_maker, stated_options
from certgen.verification.supplied import reader_inside

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.examination import Result
    from certgen.manifest import Maker
    from certgen.verification.answers import Verification

#: The question about a packet that withholds something, and about one of some lots' line alone.
WITHHELD, LEFT_OUT = "Withheld", "Left out"


class _Words(NamedTuple):
    """What is said of either question: where it holds, what that shows and leaves, where it fails, and what
    another version may do."""

    says: str
    shows: str
    leaves: str
    fails: str
    may: str


_LEAVES: Final = "What the records there don't tell: verify the full packet by itself."
_WORDS: Final = {
    WITHHELD: _Words(
        "Made anew from those records, what was disclosed is the same to the last byte.",
        "Each code stands for a record there, each digest for a file there, and the lot comes out the same in"
        " the whole season.",
        _LEAVES,
        "It isn't what these records disclose.",
        "withhold otherwise",
    ),
    LEFT_OUT: _Words(
        "Cut down anew from those records, it holds the same files to the last byte.",
        "Every record and paper in it is one of theirs, nothing of the line is missing, and each lot comes"
        " out the same in the whole season.",
        _LEAVES,
        "It isn't what these records come to, cut down to that line.",
        "cut otherwise",
    ),
}


def tell_withheld(found: Verification) -> None:
    """Say of a packet of less than the season what it can't show by itself; nothing of a full one."""
    options = stated_options(found.manifest)
    origin = f"It says that it comes from the full packet {write_fingerprint(options.full)}."
    if options.withholds:
        found.add(
            WITHHELD,
            "unasked",
            f"This packet is for {options.party}. Names and numbers are codes, and other lots, other parties"
            f" and all files are withheld. {origin}",
            leaves="Whether it does, whether codes stand for real records, and what was left out. Whoever has"
            " the full packet can tell, with --against.",
        )
    elif options.left_out is not None:
        count = sum(number for _, number in options.left_out.records)
        found.add(
            LEFT_OUT,
            "unasked",
            f"This packet is about {_say_lots(options)} and its line alone: by its own word"
            f" {count_of('record', count)} and {count_of('file', options.left_out.files)} of the season are"
            f" not in it. {origin}",
            leaves="Whether it does, and whether anything left out bears on the lot. Whoever has the full"
            " packet can tell, with --against.",
        )


def _say_lots(options: PacketOptions) -> str:
    lots = options.lots or ()
    return f"{noun('lots', len(lots))} {join(lots)}"


@contextmanager
def _make_anew(
    result: Result, options: PacketOptions, outside: Mapping[str, tuple[str, int]]
) -> Iterator[tuple[Result, PacketOptions]]:
    """The part of a whole season's result that a packet is of, and the packet's options as they should be."""
    lots = options.lots or ("",)
    if options.withholds:
        with disclose_lot(result, lots[0], options.party, outside) as shown:
            yield shown, options
    else:
        with cut_to_lots(result, lots, packets=reader_inside()) as (shown, left_out):
            yield shown, replace(options, left_out=left_out)


def compare_disclosed(
    found: Verification, inside: Mapping[str, bytes], result: Result, full: Mapping[str, Any] | None
) -> None:
    """Make a packet's files anew from the whole season's result, and hold them against the files inside.

    `full` is the manifest of the full packet that the records came from, None for a folder.
    """
    options = stated_options(found.manifest)
    subject = WITHHELD if options.withholds else LEFT_OUT
    found.answers[:] = [answer for answer in found.answers if answer.subject != subject]
    unknown = [lot for lot in options.lots or ("",) if lot not in result.lots]
    if unknown:
        found.add(subject, "fails", f"The records that it is held against know no lot {unknown[0]}.")
        return
    outside = {} if full is None else files_outside(full)
    maker = stated_maker(found.manifest)
    try:
        differing = list(_find_otherwise(inside, result, options, maker, outside))
    except DisclosureError as fault:
        found.add(subject, "unknown", f"By these records nothing would be given out: {fault}.")
        return
    words = _WORDS[subject]
    if not differing:
        found.add(subject, "holds", words.says, shows=words.shows, leaves=words.leaves)
    elif maker.code == find_maker(result).code:
        found.add(subject, "fails", words.fails, differing)
    else:
        says = f"Made anew here it differs; it was made by another version, which may {words.may}."
        found.add(subject, "unknown", says, differing)


def _find_otherwise(
    inside: Mapping[str, bytes],
    result: Result,
    options: PacketOptions,
    maker: Maker,
    outside: Mapping[str, tuple[str, int]],
) -> Iterator[str]:
    """Where a packet isn't what a whole season's result gives, in words."""
    with _make_anew(result, options, outside) as (shown, made_options):
        made = build_manifest(shown, maker, options)
        files = {one.name: one.data for one in list_attachments(shown, made)}
    yield from _find_differing(inside, files, outside)
    if made_options != options:
        yield "of what isn't in it, it tells other numbers or papers than these records"
    origin = build_manifest(result, maker, PacketOptions(options.page), outside=outside).sha256
    if origin != options.full:
        yield (
            f"it names the full packet {write_fingerprint(options.full)}, and of these records, that day and"
            f" paper comes {write_fingerprint(origin)}"
        )


def _find_differing(
    inside: Mapping[str, bytes], made: Mapping[str, bytes], outside: Mapping[str, tuple[str, int]]
) -> Iterator[str]:
    """Each file but the manifest that isn't the same in both. Of a paper that the full packet had no room
    for the digest is known."""
    for name in sorted({*inside, *made} - {NAME, REPLACED}):
        if name not in made:
            yield f"{name[:80]} is inside, and these records give no such file"
        elif name not in inside:
            yield f"{name} is missing, which these records give"
        elif name in outside:
            if hashlib.sha256(inside[name]).hexdigest() != outside[name][0]:
                yield f"{name} isn't the paper that the full packet names"
        elif inside[name] != made[name]:
            yield f"{name} isn't what these records give"
