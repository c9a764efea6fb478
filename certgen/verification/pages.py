"""Whether a packet's pages are those that its records give: to the byte, or as far as versions allow."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from certgen.rules.wording import noun
from certgen.verification.appearance import read_appearances, say_words
from certgen.verification.attachments import PacketError
from certgen.verification.comparison import compare_files, first_difference
from certgen.verification.packet_files import stated_maker
from certgen.verification.rebuilding import rebuild_pages

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from certgen.examination import Result
    from certgen.exchange.signing.signature import Signatures
    from certgen.manifest import Maker
    from certgen.process_pool import Pool
    from certgen.verification.answers import Verification
    from certgen.verification.comparison import Difference

    Progress = Callable[[str, int, int], None]

#: What another version may write otherwise without a reader seeing it.
_UNSEEN: Final = (
    "what a page's drawing is made of, the tags for screen readers, the bookmarks, the file's properties"
)


def judge_pages(
    found: Verification,
    signatures: Signatures,
    result: Result,
    inside: Mapping[str, bytes],
    here: Maker,
    progress: Progress,
    pool: Pool | None = None,
) -> None:
    """Make the pages anew from the records inside, with the `pool`'s help, and hold the file against them."""
    from certgen.manifest import ManifestError

    try:
        made = rebuild_pages(result, found.manifest, inside, progress, pool)
    except (ValueError, KeyError, ManifestError) as fault:
        words = f"no packet can be made as the manifest says: {fault}"
        found.add("Pages", "fails", "They can't have been made from these records.", [words])
        return
    stated = stated_maker(found.manifest)
    if signatures.base == made:
        found.add(
            "Pages",
            "holds",
            "Made anew from the records inside, the packet is the same to the last byte.",
            shows="Every page, drawing, link, title and file inside follows from these records; nobody has"
            " changed, added or drawn over anything. No key is needed to know that.",
            leaves="Who made it and when: anybody who has these records can make the same file.",
        )
    elif signatures.unread and signatures.base.startswith(made):
        found.add(
            "Pages",
            "unknown",
            "The packet's own bytes are those that these records give."
            f" {len(signatures.base) - len(made):,} bytes follow that can't be looked at here: they may be a"
            " signature, or pages that take the others' place.",
        )
    elif stated == here:
        differences = tuple(_say_differences(signatures.base, made))
        found.add(
            "Pages",
            "fails",
            "The file isn't the packet that these records give.",
            differences,
            shows="It was changed after it was made, or made by something else than certgen.",
        )
    else:
        _judge_appearance(found, signatures.base, made, _compare_makers(stated, here))


def _say_differences(given: bytes, made: bytes) -> Iterator[str]:
    """Where the file differs, by page, with the words that were changed where a page reads otherwise."""
    try:
        differences = compare_files(given, made)
    except PacketError as fault:
        yield str(fault)
        return
    words = _changed_words(given, made, {one.page for one in differences if one.page})
    yield from _group(
        [
            *words.items(),
            *((one.page, one.words) for one in differences if not (one.page in words and _is_drawing(one))),
        ]
    )
    if not differences:
        place = first_difference(given, made)
        yield f"bytes that no page shows differ, from byte {place + 1:,} of {len(given):,} on"


def _group(told: Iterable[tuple[int, str]]) -> Iterator[str]:
    """What is told of pages, once for all pages of which the same is told."""
    pages: dict[str, list[int]] = {}
    for page, words in told:
        pages.setdefault(words, []).append(page)
    yield from (f"{_name_pages(numbers)}{words}" for words, numbers in pages.items())


def _name_pages(pages: Sequence[int]) -> str:
    """`page 3: `, `pages 1, 2, 5 to 21: `; empty for what belongs to no page."""
    stretches: list[list[int]] = []
    for page in sorted({*pages} - {0}):
        if stretches and page == stretches[-1][-1] + 1:
            stretches[-1].append(page)
        else:
            stretches.append([page])
    if not stretches:
        return ""
    named = ", ".join(
        f"{one[0]} to {one[-1]}" if len(one) > 2 else ", ".join(map(str, one)) for one in stretches
    )
    return f"{noun('page', len({*pages}))} {named}: "


def _is_drawing(one: Difference) -> bool:
    return one.words.startswith("what is drawn")


def _changed_words(given: bytes, made: bytes, pages: set[int]) -> dict[int, str]:
    if not pages:
        return {}
    try:
        here, there = (dict(read_appearances(pdf, pages)) for pdf in (given, made))
    except PacketError:
        return {}
    return {
        number: say_words(here[number].words, there[number].words)
        for number in sorted({*here} & {*there})
        if here[number].words != there[number].words
    }


def _compare_makers(stated: Maker, here: Maker) -> str:
    """What the packet was made with that differs from what is here."""
    one, other = ({**asdict(maker)["setting"], "certgen": maker.version} for maker in (stated, here))
    parts = [
        f"{name} {one.get(name, 'unnamed')} (here {other.get(name, 'none')})"
        for name in sorted({*one, *other})
        if one.get(name) != other.get(name)
    ]
    if stated.code != here.code:
        parts.insert(0, f"certgen's code {stated.code[:8]} (here {here.code[:8]})")
    return ", ".join(parts)


def _judge_appearance(found: Verification, given: bytes, made: bytes, differing: str) -> None:
    """A packet of another version: hold what a reader sees against what this version makes of the records."""
    try:
        unknown, foreign, count = _compare_appearance(given, made)
    except PacketError as fault:
        found.add("Pages", "fails", "The pages can't be compared.", [str(fault)])
        return
    other = f"The packet was made with {differing}, so it can't come out the same to the byte here."
    if foreign:
        found.add(
            "Pages", "fails", f"{other} It holds what no version of certgen writes.", [*foreign, *unknown]
        )
    elif unknown:
        found.add(
            "Pages",
            "unknown",
            f"{other} Made anew, some of it differs; whether by the version or by somebody's hand, only that"
            " version can tell.",
            unknown,
            leaves=f"Whether the pages named were changed. Also not compared: {_UNSEEN}.",
        )
    else:
        found.add(
            "Pages",
            "holds",
            f"{other} Made anew, its {count} pages read and look the same, with the same links and files.",
            shows="What a reader sees on each page follows from the records inside.",
            leaves=f"Not compared: {_UNSEEN}. Only the version that made it can compare every byte.",
        )


def _compare_appearance(given: bytes, made: bytes) -> tuple[list[str], list[str], int]:
    """What differs and may come from the version; what no version writes; how many pages there are."""
    unknown: list[tuple[int, str]] = []
    foreign: list[tuple[int, str]] = []
    here, there = (dict(read_appearances(pdf)) for pdf in (given, made))
    # How many pages there are is told by `compare_files`.
    for number in sorted({*here} & {*there}):
        one, other = here[number], there[number]
        if one.words != other.words:
            unknown.append((number, say_words(one.words, other.words)))
        elif one.picture != other.picture:
            unknown.append((number, "it reads the same and looks otherwise"))
    for difference in compare_files(given, made):
        if difference.is_foreign:
            foreign.append((difference.page, difference.words))
        elif difference.is_seen:
            unknown.append((difference.page, difference.words))
    return list(_group(unknown)), list(_group(foreign)), len(here)
