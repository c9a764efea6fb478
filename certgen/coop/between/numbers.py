"""Numbers and papers that belong to one member only: lots, laboratory reports, certificates, folders.

The directory says whom a name in somebody's stock book means, and what each member's records hold under a
number.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from certgen.coop.between.result import Disagreement
from certgen.rules.wording import day, join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import MemberSummary, ReportFact
    from certgen.coop.members.member_list import Coop, Member

    #: The member that claims a report, and what for.
    Claim = tuple[str, ReportFact]

    from certgen.coop.members.facts import LotFact

_SHOWN = 5
#: Days after which an inspection is more than a year old, whichever years lie between.
_YEAR = 366


def compare_lot_numbers(directory: Directory, transfers: Sequence[Transfer]) -> Iterator[Disagreement]:
    """Lots of one number at two members, unless the one had the seed from the other."""
    handed = {
        (move.lot, frozenset((transfer.sender, transfer.receiver)))
        for transfer in transfers
        for move in (transfer.sent, transfer.received)
        if move is not None
    }
    for lot, keys in directory.shared_numbers().items():
        apart = [
            key
            for key in keys
            if any((lot, frozenset((key, other))) not in handed for other in keys if other != key)
        ]
        if len(apart) < 2:
            continue
        users = join(f"{key} ({_variety(directory, key, lot)})" for key in _some(apart))
        yield Disagreement(
            "lot-number-shared",
            tuple(apart),
            tuple(qualify(key, "lots", lot) for key in apart),
            f"Lot number {lot} is used by {users}. A buyer's label can't say which seed it is.",
        )


def _variety(directory: Directory, key: str, lot: str) -> str:
    fact = directory.lot(key, lot)
    return fact.variety if fact is not None and fact.variety else "no variety written"


def _some(names: Sequence[str]) -> list[str]:
    return list(names) if len(names) <= _SHOWN + 1 else [*names[:_SHOWN], f"{len(names) - _SHOWN} more"]


def compare_reports(summaries: Mapping[str, MemberSummary]) -> Iterator[Disagreement]:
    """One laboratory's report number claimed by two members. A laboratory left out may be any."""
    by_number: dict[str, list[Claim]] = defaultdict(list)
    for key, summary in summaries.items():
        for report in summary.reports:
            by_number[fold(report.report)].append((key, report))
    for claims in by_number.values():
        for group in _by_laboratory(claims):
            keys = tuple(dict.fromkeys(key for key, _ in group))
            if len(keys) > 1:
                yield _tell_report(keys, group)


def _by_laboratory(claims: Sequence[Claim]) -> list[list[Claim]]:
    unnamed = [claim for claim in claims if not claim[1].laboratory]
    named: dict[str, list[Claim]] = defaultdict(list)
    for claim in claims:
        if claim[1].laboratory:
            named[fold(claim[1].laboratory)].append(claim)
    return [[*group, *unnamed] for group in named.values()] or [unnamed]


def _tell_report(keys: tuple[str, ...], group: Sequence[Claim]) -> Disagreement:
    laboratory = next((report.laboratory for _, report in group if report.laboratory), "")
    of = f" of {laboratory}" if laboratory else ""
    claims = join(f"{key} for {_about(report)}" for key, report in group[:_SHOWN])
    return Disagreement(
        "report-claimed-twice",
        keys,
        tuple(qualify(key, report.table, name) for key, report in group for name in report.about[:_SHOWN]),
        f"Report {group[0][1].report}{of} is claimed by {claims}. Unless the letter names the samples of all "
        "of them, it can speak for one only.",
    )


def _about(report: ReportFact) -> str:
    names = [*report.about[:_SHOWN], *([f"{report.things - _SHOWN} more"] if report.things > _SHOWN else [])]
    return f"{noun(report.table, report.things)} {join(names)}"


def ask_about_inspections(coop: Coop, on: date) -> Iterator[Disagreement]:
    """Members whom a group that holds the certificate has not inspected within a year, as its list says.

    A co-op without a certificate of its own inspects nobody, and is asked nothing.
    """
    for member in coop.members if coop.certificate else ():
        last = member.inspected
        if last is None or last > on or (on - last).days > _YEAR:
            told = "no day of an inspection" if last is None else f"{day(last)} as the day of the last"
            yield Disagreement(
                "member-not-inspected",
                (member.key,),
                (qualify(member.key, "season", "inspected"),),
                f"The list of members gives {told} for {member.key}.",
            )


def compare_papers(
    members: Sequence[Member], summaries: Mapping[str, MemberSummary], group_certificate: str
) -> Iterator[Disagreement]:
    """The list of members against their records, and folders that two of them share to the letter."""
    same: dict[str, list[str]] = defaultdict(list)
    for member in members:
        summary = summaries[member.key]
        if summary.state != "read":
            continue
        same[summary.fingerprint].append(member.key)
        written = summary.stated.certificate
        if written and fold(written) not in {fold(member.certificate), fold(group_certificate)}:
            yield Disagreement(
                "certificate-differs",
                (member.key,),
                (qualify(member.key, "season", "certificate"),),
                f"The list of members gives {member.key} certificate {member.certificate}; its records say "
                f"{written}.",
            )
    for keys in same.values():
        if len(keys) > 1:
            yield Disagreement(
                "records-handed-in-twice",
                tuple(keys),
                tuple(qualify(key, "season", "folder") for key in keys),
                f"{join(_some(keys))} handed in the same records, to the letter.",
            )


def fold(name: str) -> str:
    """A name without what people write differently: letter case and spaces."""
    return " ".join(name.casefold().split())


def qualify(member: str, table: str, identifier: str) -> str:
    """A record's name in the whole co-op: `HOLLOW:lots/L1`."""
    return f"{member}:{table}/{identifier}"


class Directory:
    """The members by every name they go by, and their lots by number."""

    def __init__(self, members: Sequence[Member], summaries: Mapping[str, MemberSummary]) -> None:
        named: dict[str, set[str]] = defaultdict(set)
        for member in members:
            stated = summaries[member.key].stated
            for name in (member.key, member.name, member.certificate, stated.operation, stated.certificate):
                if name:
                    named[fold(name)].add(member.key)
        # A name that two members bear, like a group's certificate, means neither.
        self._named = {name: next(iter(keys)) for name, keys in named.items() if len(keys) == 1}
        self._lots = {key: {lot.lot: lot for lot in summary.lots} for key, summary in summaries.items()}
        self._holders: dict[str, list[str]] = defaultdict(list)
        for key, lots in self._lots.items():
            for lot in lots:
                self._holders[lot].append(key)
        self._read = {key for key, summary in summaries.items() if summary.state == "read"}

    def find(self, name: str) -> str | None:
        """The key of the member that a name means; None for somebody outside."""
        return self._named.get(fold(name))

    def was_read(self, member: str) -> bool:
        """Whether the member's records are there to be checked against."""
        return member in self._read

    def lot(self, member: str, lot: str) -> LotFact | None:
        """A member's own lot of that number."""
        return self._lots.get(member, {}).get(lot)

    def holders(self, lot: str) -> list[str]:
        """The members that have a lot of that number."""
        return self._holders.get(lot, [])

    def shared_numbers(self) -> Mapping[str, list[str]]:
        """Numbers that more than one member gave to a lot."""
        return {lot: keys for lot, keys in self._holders.items() if len(keys) > 1}
