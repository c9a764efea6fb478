"""The list of members against what the members' records say: told first, since more may follow from it."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import name_some, qualify
from certgen.coop.between.spelling import fold
from certgen.rules.wording import day, join
from certgen.standards import load_rulebook

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary, Stated
    from certgen.coop.members.member_list import Coop, Member

    Summaries = Mapping[str, MemberSummary]

_SHOWN: Final = 5
_SAME_RECORDS: Final = (
    "What you handed in is another member's records, to the letter. Please hand in your own."
)
#: Kinds that say two entries of the list are one farm.
_CAUSES: Final = frozenset({"records-handed-in-twice", "member-listed-twice"})
#: Kinds that follow from it when two entries are one farm, and say nothing more.
_FOLLOWS: Final = frozenset(
    {"lot-number-shared", "report-claimed-twice", "numbers-look-alike", "report-covers-two", "paper-shared"}
) | {"paper-of-two", "books-alike", "equipment-not-cleaned", "certificate-shared"}


def compare_listing(coop: Coop, summaries: Summaries, on: date) -> Iterator[Disagreement]:
    """Whom the list of members names twice or wrongly, and whose season, days or standards don't fit it."""
    read = [member for member in coop.members if summaries[member.key].state == "read"]
    yield from _compare_folders(read, summaries)
    yield from _compare_names(coop, read, summaries)
    yield from _compare_certificates(coop, read, summaries)
    yield from _compare_seasons(read, summaries)
    for member in read:
        yield from _compare_days(member, summaries[member.key], on)
        yield from _compare_standards(coop, member, summaries[member.key].stated)


def leave_consequences(found: Sequence[Disagreement]) -> Iterator[Disagreement]:
    """The disagreements without those that only say once more that two entries are one farm."""
    same = [set(one.members) for one in found if one.kind in _CAUSES]
    for one in found:
        if not (one.kind in _FOLLOWS and any(set(one.members) <= keys for keys in same)):
            yield one


def _compare_folders(members: Iterable[Member], summaries: Summaries) -> Iterator[Disagreement]:
    same: dict[str, list[str]] = defaultdict(list)
    for member in members:
        same[summaries[member.key].fingerprint].append(member.key)
    for keys in same.values():
        if len(keys) > 1:
            text = f"{join(name_some(keys))} handed in the same records, to the letter."
            records = tuple(qualify(key, "season", "folder") for key in keys)
            yield _all_of("records-handed-in-twice", keys, records, text, _SAME_RECORDS)


def _compare_names(coop: Coop, members: Iterable[Member], summaries: Summaries) -> Iterator[Disagreement]:
    """Entries that state one operation and one certificate are one farm, whatever they are called."""
    same: dict[tuple[str, str], list[str]] = defaultdict(list)
    for member in members:
        stated = summaries[member.key].stated
        if stated.operation and stated.certificate and not _is_groups(coop, stated.certificate):
            same[fold(stated.operation), fold(stated.certificate)].append(member.key)
    for keys in same.values():
        if len(keys) > 1:
            stated = summaries[keys[0]].stated
            text = (
                f"{join(name_some(keys))} are one farm by their records: all say {stated.operation}, "
                f"certificate {stated.certificate}."
            )
            told = (
                f"Your records say {stated.operation}, certificate {stated.certificate}, and so do another "
                "member's. Please tell us whether both are yours."
            )
            records = tuple(qualify(key, "season", "operation") for key in keys)
            yield _all_of("member-listed-twice", keys, records, text, told)


def _compare_certificates(
    coop: Coop, members: Sequence[Member], summaries: Summaries
) -> Iterator[Disagreement]:
    holders: dict[str, dict[str, str]] = defaultdict(dict)
    for member in members:
        written = summaries[member.key].stated.certificate
        both = (member.certificate, written)
        named = [number for number in both if number and not _is_groups(coop, number)]
        for number in named:
            holders[fold(number)][member.key] = number
        if written in named and fold(written) != fold(member.certificate):
            yield _tell_certificate(member, written)
    for of_one in holders.values():
        keys, shown = list(of_one), next(iter(of_one.values()))
        if len(keys) > 1:
            text = f"{join(name_some(keys))} go by certificate {shown}. A certificate is one operation's."
            told = (
                f"Certificate {shown}, which we have as yours, is another member's too. Please send us a "
                "copy of your certificate."
            )
            records = tuple(qualify(key, "season", "certificate") for key in keys)
            yield _all_of("certificate-shared", keys, records, text, told)


def _tell_certificate(member: Member, written: str) -> Disagreement:
    return Disagreement(
        "certificate-differs",
        (member.key,),
        (qualify(member.key, "season", "certificate"),),
        f"The list of members gives {member.key} certificate {member.certificate}; its records "
        f"say {written}.",
        (
            Told(
                member.key,
                f"Our list gives your certificate as {member.certificate}, your records {written}. "
                "Please look at the certificate, and correct `season` or tell us.",
            ),
        ),
    )


def _is_groups(coop: Coop, certificate: str) -> bool:
    return bool(coop.certificate) and fold(certificate) == fold(coop.certificate)


def _compare_seasons(members: Sequence[Member], summaries: Summaries) -> Iterator[Disagreement]:
    """Members whose season has no day in common with that of most others."""
    spans = {member.key: _span(summaries[member.key].stated) for member in members}
    counts = Counter(span for span in spans.values() if span is not None)
    if len(counts) < 2:
        return
    common = {span: sum(count for other, count in counts.items() if _meet(span, other)) for span in counts}
    start, end = max(counts, key=lambda span: (common[span], counts[span], span))
    for key, span in spans.items():
        if span is not None and not _meet(span, (start, end)):
            label = summaries[key].stated.label
            own = f"season {label}, from {_day(span[0])} to {_day(span[1])}"
            others = f"the others' are of {_day(start)} to {_day(end)}"
            told = (
                f"What you handed in is {own}; we are collecting the one of {_day(start)} to {_day(end)}. "
                "Please send us that folder."
            )
            yield Disagreement(
                "season-differs",
                (key,),
                (qualify(key, "season", "from"),),
                f"{key} handed in {own}, and {others}.",
                (Told(key, told),),
            )


def _span(stated: Stated) -> tuple[str, str] | None:
    return (stated.start, stated.last) if stated.start and stated.last else None


def _meet(one: tuple[str, str], other: tuple[str, str]) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]


def _compare_days(member: Member, summary: MemberSummary, on: date) -> Iterator[Disagreement]:
    """Whether the member was one when its seed was grown."""
    key, why = member.key, _explain_season(member, summary.stated, on)
    lots = [""]
    if not why and member.left is not None and member.left <= on:
        left = member.left.isoformat()
        # A lot that doesn't say when it was packed isn't shown to be of the days before.
        lots = [one.lot for one in summary.lots if one.current and not "" < one.packed <= left]
        if lots:
            shown = "aren't shown to be packed by then"
            why = f"left on {day(member.left)}, and lots {join(name_some(lots))} {shown}"
    if not why:
        return
    own = why.replace("that it handed in", "that you handed in")
    told = f"By our list you {own}. Please send us a copy of what you signed, with its day."
    named = tuple(qualify(key, "lots", lot) if lot else qualify(key, "season", "from") for lot in lots)
    reach = tuple(Reach(key, lot) for lot in lots)
    text = f"By the list {key} {why}."
    yield Disagreement("member-not-in-season", (key,), named, text, (Told(key, told),), reach)


def _explain_season(member: Member, stated: Stated, on: date) -> str:
    """Why the whole season isn't a member's; empty where it is, or may be."""
    joined, span = member.joined, _span(stated)
    if joined > on:
        return f"joined on {day(joined)}, which is still to come"
    if span is not None and joined.isoformat() > span[1]:
        return f"joined on {day(joined)}, and the season that it handed in ended on {_day(span[1])}"
    if span is not None and member.left is not None and member.left.isoformat() < span[0]:
        return f"left on {day(member.left)}, and the season that it handed in begins on {_day(span[0])}"
    return ""


def _compare_standards(coop: Coop, member: Member, stated: Stated) -> Iterator[Disagreement]:
    missing = [name for name in coop.standards if name not in stated.standards]
    if missing and stated.standards and not member.office:
        titles = join(load_rulebook(name).title for name in missing)
        own = join(load_rulebook(name).title for name in stated.standards)
        yield Disagreement(
            "standard-not-claimed",
            (member.key,),
            (qualify(member.key, "season", "standards"),),
            f"coop.yaml names {titles}; {member.key}'s records are held against {own} only.",
            (
                Told(
                    member.key,
                    f"The co-op's list names {titles}, and your records {own} only. If you work by it too, "
                    "write it under `standards` of `season`; if not, tell us.",
                ),
            ),
        )


def _all_of(kind: str, keys: Sequence[str], records: tuple[str, ...], text: str, told: str) -> Disagreement:
    """A disagreement that reaches all seed of all its members, told to each in the same words."""
    words = tuple(Told(key, told) for key in keys)
    return Disagreement(kind, tuple(keys), records, text, words, tuple(Reach(key) for key in keys))


def _day(text: str) -> str:
    return day(date.fromisoformat(text))
