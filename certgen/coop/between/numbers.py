"""Numbers and papers that belong to one member only: lots, laboratory reports, certificates, folders.

The directory says whom a name in somebody's stock book means, and what each member's records hold under a
number.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import MemberSummary, ReportFact
    from certgen.coop.members.member_list import Member

    #: The member that claims a report, and what for.
    Claim = tuple[str, ReportFact]

    from certgen.coop.members.facts import LotFact

_SHOWN = 5
_SAME_RECORDS = "What you handed in is another member's records, to the letter. Please hand in your own."


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
            _tell_number(apart, lot),
        )


def _tell_number(keys: Sequence[str], lot: str) -> tuple[Told, ...]:
    text = (
        f"Your lot number {lot} stands on another member's seed too, so a label can't say which it is. "
        "Please talk to us before you print labels: one of the two takes another number."
    )
    return tuple(Told(key, text) for key in keys)


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
                yield _tell_report(keys, group, summaries)


def _by_laboratory(claims: Sequence[Claim]) -> list[list[Claim]]:
    unnamed = [claim for claim in claims if not claim[1].laboratory]
    named: dict[str, list[Claim]] = defaultdict(list)
    for claim in claims:
        if claim[1].laboratory:
            named[fold(claim[1].laboratory)].append(claim)
    return [[*group, *unnamed] for group in named.values()] or [unnamed]


def _tell_report(
    keys: tuple[str, ...], group: Sequence[Claim], summaries: Mapping[str, MemberSummary]
) -> Disagreement:
    laboratory = next((report.laboratory for _, report in group if report.laboratory), "")
    number = f"{group[0][1].report}{f' of {laboratory}' if laboratory else ''}"
    claims = join(f"{key} for {_about(report)}" for key, report in group[:_SHOWN])
    told = tuple(
        Told(
            key,
            f"Report {number} you claim for {join(_about(one) for of, one in group if of == key)}, and "
            "another member claims it too. Please send us the letter, with the list of its samples.",
        )
        for key in keys
    )
    reach = tuple(Reach(key, lot) for key, one in group for lot in _resting_on(one, summaries[key]))
    return Disagreement(
        "report-claimed-twice",
        keys,
        tuple(qualify(key, report.table, name) for key, report in group for name in report.about[:_SHOWN]),
        f"Report {number} is claimed by {claims}. Unless the letter names the samples of all "
        "of them, it can speak for one only.",
        told,
        tuple(dict.fromkeys(reach)),
    )


def _resting_on(report: ReportFact, summary: MemberSummary) -> Iterator[str]:
    """The lots that a report's trees bore. What tests say of a lot's seed changes nothing about its line."""
    if report.table != "trees":
        return
    trees = set(report.about)
    for lot in summary.lots:
        # Of names that weren't kept any may be meant.
        if trees & set(lot.trees) or report.things > len(report.about) or lot.parents > len(lot.trees):
            yield lot.lot


def _about(report: ReportFact) -> str:
    names = [*report.about[:_SHOWN], *([f"{report.things - _SHOWN} more"] if report.things > _SHOWN else [])]
    return f"{noun(report.table, report.things)} {join(names)}"


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
                (
                    Told(
                        member.key,
                        f"Our list gives your certificate as {member.certificate}, your records {written}. "
                        "Please look at the certificate, and correct `season` or tell us.",
                    ),
                ),
            )
    for keys in same.values():
        if len(keys) > 1:
            yield Disagreement(
                "records-handed-in-twice",
                tuple(keys),
                tuple(qualify(key, "season", "folder") for key in keys),
                f"{join(_some(keys))} handed in the same records, to the letter.",
                tuple(Told(key, _SAME_RECORDS) for key in keys),
                tuple(Reach(key) for key in keys),
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
