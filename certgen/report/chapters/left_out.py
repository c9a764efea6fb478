"""What a packet about some lots' line alone says of itself: on its cover, and of what isn't in it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.manifest import list_folders, write_fingerprint
from certgen.records.tables import TABLE_NAMES
from certgen.report.wording import count_of, fact
from certgen.rules.wording import join, noun
from certgen.typeset.parts import Listing, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.manifest import LeftOut, PacketOptions
    from certgen.report.context import Context
    from certgen.typeset.first_page import Cover
    from certgen.typeset.parts import Part

IS_TEXT: Final = (
    "A report, for the certifier, on what the records show of {lots} and nothing else. The season’s records"
    " were cut down to that line and examined by the same rules; standing, grams and findings came out the"
    " same, or this file would not have been written."
)
RECORDS: Final = (
    "In it is what {lots} came out of, what was written of that, where the seed went, and what bears on any"
    " of it. The record files are the operation’s own. Where records were left out a comment says how many,"
    " and the lines of the others stay where they were: a line named here is the same line of the operation’s"
    " own file. A list that names other records as well, such as a round over forty bags, names those of the"
    " line alone. Of comments only those in a record and right above it are kept."
)
PAPERS: Final = (
    "A paper that a record here names is inside whole, to the byte: a laboratory’s letter is the"
    " laboratory’s, and cut it would be no evidence."
)
SHARED: Final = "These tell of trees, bags or lots of other lines as well:"
NUMBERS: Final = (
    "Findings are numbered within this packet; the full packet has more, and other numbers. Its fingerprint"
    " is {full}. Whoever has it can make this packet’s files anew from it: certgen verify, with --against."
    " How everything is computed, and what each clause asks, stands in the full packet."
)


def say_lots(options: PacketOptions) -> str:
    """`lot L`, or `lots L and M`."""
    lots = options.lots or ()
    return f"{noun('lots', len(lots))} {join(lots)}"


def tell_line(cover: Cover, options: PacketOptions) -> Cover:
    """The cover of a packet that is about some lots' line alone."""
    if options.left_out is None:
        return cover
    left, lots = options.left_out, say_lots(options)
    count = sum(number for _, number in left.records)
    said = (
        f"{lots} and {'its' if len(options.lots or ()) == 1 else 'their'} line only;"
        f" {count_of('record', count)} and {count_of('file', left.files)} of the season are not in it"
    )
    return replace(
        cover,
        season=f"{cover.season} · {lots}",
        facts=(fact("About", said), *cover.facts),
        is_text=IS_TEXT.format(lots=lots),
        file=(
            *cover.file,
            fact("Full packet", f"{write_fingerprint(options.full)}, of the same records, day and paper"),
        ),
    )


def build_left_out(context: Context, options: PacketOptions, left: LeftOut) -> Section:
    """How much of the season isn't in the packet, and which of its papers tell of other lots too."""
    lots = say_lots(options)
    parts: list[Part] = [
        Prose((RECORDS.format(lots=lots), PAPERS + (f" {SHARED}" if left.shared else ""))),
    ]
    if left.shared:
        parts.append(Listing(tuple((Run(name, name),) for name in left.shared)))
    outside = dict(left.records)
    seasons = [one for _, _, one in list_folders(context.season)]
    inside = {name: sum(len(season.columns(name)) for season in seasons) for name in TABLE_NAMES}
    parts.append(
        Prose(
            (
                f"Of all the seasons in reach, in it: {_count(inside)}. Not in it: {_count(outside)}.",
                NUMBERS.format(full=write_fingerprint(options.full)),
            )
        )
    )
    return Section("left-out", "What of the season is not in this packet", 1, tuple(parts), style="follow")


def _count(records: Mapping[str, int]) -> str:
    """`12 trees, 17 bags and 2 pickings`."""
    return join([count_of(name, records[name]) for name in TABLE_NAMES if records.get(name)]) or "no record"
