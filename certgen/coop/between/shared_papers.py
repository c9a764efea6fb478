"""Papers that two members go by: laboratory reports, files handed in as evidence, whole books.

One letter may well be about both members' samples: then both have it on file, and no sample is claimed twice.
Whether it names the samples of both somebody has to read. What shows a grower's own work shows no other's.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from operator import ge
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import name_some, qualify
from certgen.coop.between.spelling import Spellings, fold
from certgen.coop.members.handed_papers import LETTERS, OWN_WORK
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import EvidenceFact, MeasuredFact, MemberSummary, ReportFact

    #: The member that claims a report, and what for.
    Claim = tuple[str, ReportFact]
    #: A file and who has it.
    Holding = tuple[str, EvidenceFact]

_SHOWN: Final = 5
_LOOKS: Final = "looks like one that another member names. Please send us the laboratory's letter."
_ON_FILE: Final = (
    "is on file at another member too. Please mark your own samples on the letter, and hand it in so."
)
_HANDED_IN: Final = "was handed in by another member too. Please tell us what it is about, and who made it."
#: Neighbours work on the same days and scales show whole grams, so a table may be the same by chance.
#: Certgen's own choice.
_TABLES, _ENTRIES = 3, 8


# Laboratory reports


def compare_reports(summaries: Mapping[str, MemberSummary]) -> Iterator[Disagreement]:
    """One laboratory's report number claimed by two members. A laboratory left out may be any."""
    by_number: dict[str, list[Claim]] = defaultdict(list)
    for key, summary in summaries.items():
        for report in summary.reports:
            by_number[fold(report.report)].append((key, report))
    for number, claims in by_number.items():
        if len({key for key, _ in claims}) < 2:
            continue
        groups = _by_laboratory(claims)
        yield from _ask_about_laboratories(groups)
        for group in groups.values():
            keys = tuple(dict.fromkeys(key for key, _ in group))
            if len(keys) > 1:
                shared = _covers_all(number, group, keys, summaries)
                yield _ask_about_report(keys, group) if shared else _tell_report(keys, group, summaries)


def _by_laboratory(claims: Sequence[Claim]) -> Mapping[str, list[Claim]]:
    """Claims by laboratory; those that name none stand with each."""
    unnamed = [claim for claim in claims if not claim[1].laboratory]
    named: dict[str, list[Claim]] = defaultdict(list)
    for claim in claims:
        if claim[1].laboratory:
            named[fold(claim[1].laboratory)].append(claim)
    return {name: [*group, *unnamed] for name, group in named.items()} or {"": unnamed}


def _ask_about_laboratories(groups: Mapping[str, list[Claim]]) -> Iterator[Disagreement]:
    """Reports of one number by two members' words for what may be one laboratory."""
    spellings = Spellings()
    first: dict[str, list[Claim]] = {}
    for group in groups.values():
        name = group[0][1].laboratory
        for other in spellings.find(name) if name else ():
            claims = [first[other][0], *(claim for claim in group if claim[0] != first[other][0][0])]
            keys = tuple(dict.fromkeys(key for key, _ in claims))
            if len(keys) > 1:
                written = join(f"{one.report} of {one.laboratory} ({key})" for key, one in claims[:2])
                text = f"Reports {written} look like the same."
                told = tuple(Told(key, f"Report {_claim_of(key, claims)} {_LOOKS}") for key in keys)
                yield Disagreement("reports-look-alike", keys, _records(claims), text, told)
        spellings.add(name)
        first[name] = group


def _claim_of(key: str, claims: Sequence[Claim]) -> str:
    report = next(one for of, one in claims if of == key)
    return f"{report.report} of {report.laboratory}"


def _covers_all(
    number: str, group: Sequence[Claim], keys: Sequence[str], summaries: Mapping[str, MemberSummary]
) -> bool:
    """Whether the letter itself may be about all of them: each has it on file, byte for byte the same, no
    sample is claimed by two, and its text, if it lists samples at all, leaves none of theirs out.
    """
    sent = [_fold_samples(key, group) for key in keys]
    if not all(sent) or any(one & other for one, other in combinations(sent, 2)):
        return False
    filed = [{one.digest: one.unnamed or 0 for one in _letters_of(summaries[key], number)} for key in keys]
    for digest in set.intersection(*map(set, filed)):
        left_out = [of[digest] for of in filed]
        if not any(left_out) or all(map(ge, left_out, map(len, sent))):
            return True
    return False


def _fold_samples(key: str, group: Sequence[Claim]) -> set[str]:
    """What a member claims the report for, as it went to the laboratory."""
    return {fold(name) for of, report in group if of == key for name in _sent(report)}


def _letters_of(summary: MemberSummary, number: str) -> Iterator[EvidenceFact]:
    return (one for one in summary.evidence if one.report and fold(one.report) == number)


def _sent(report: ReportFact) -> tuple[str, ...]:
    return report.samples if report.table == "trees" else report.about


def _number(group: Sequence[Claim]) -> str:
    laboratory = next((report.laboratory for _, report in group if report.laboratory), "")
    return f"{group[0][1].report}{f' of {laboratory}' if laboratory else ''}"


def _records(group: Sequence[Claim]) -> tuple[str, ...]:
    return tuple(qualify(key, report.table, name) for key, report in group for name in report.about[:_SHOWN])


def _tell_report(
    keys: tuple[str, ...], group: Sequence[Claim], summaries: Mapping[str, MemberSummary]
) -> Disagreement:
    claims = join(f"{key} for {_about(report)}" for key, report in group[:_SHOWN])
    told = tuple(
        Told(
            key,
            f"Report {_number(group)} you claim for {_claimed(key, group)}, and another member claims it "
            "too. Please send us the letter, with the list of its samples.",
        )
        for key in keys
    )
    reach = tuple(Reach(key, lot) for key, one in group for lot in _resting_on(one, summaries[key]))
    return Disagreement(
        "report-claimed-twice",
        keys,
        _records(group),
        f"Report {_number(group)} is claimed by {claims}{_other_spellings(group)}. Unless the letter names "
        "the samples of all of them, it can speak for one only.",
        told,
        tuple(dict.fromkeys(reach)),
    )


def _ask_about_report(keys: tuple[str, ...], group: Sequence[Claim]) -> Disagreement:
    claims = join(f"{key} for {_about(report)}" for key, report in group[:_SHOWN])
    return Disagreement(
        "report-covers-two",
        keys,
        _records(group),
        f"Report {_number(group)} is on file at {join(keys)}: {claims}. Does the letter name "
        "the samples of all?",
        tuple(Told(key, f"Report {_number(group)} {_ON_FILE}") for key in keys),
    )


def _other_spellings(group: Sequence[Claim]) -> str:
    written = dict.fromkeys(" of ".join(filter(None, (one.report, one.laboratory))) for _, one in group)
    return f" (written as {join(written)})" if len(written) > 1 else ""


def _claimed(key: str, group: Sequence[Claim]) -> str:
    return join(_about(one) for of, one in group if of == key)


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


# Files


def compare_evidence(
    summaries: Mapping[str, MemberSummary], transfers: Sequence[Transfer]
) -> Iterator[Disagreement]:
    """One file, byte for byte, as evidence of two members. What goes with goods from the one to the other
    is the same at both, and a letter of which both claim the report is told of there.
    """
    holders: dict[str, list[Holding]] = defaultdict(list)
    for key, summary in summaries.items():
        for one in summary.evidence:
            holders[one.digest].append((key, one))
    deal = {frozenset((one.sender, one.receiver)) for one in transfers}
    for held in holders.values():
        keys = _members(held)
        own = [(key, one) for key, one in held if one.table in OWN_WORK]
        if len(_members(own)) > 1:
            yield _tell_file(_members(own), own)
        elif len(keys) > 1 and not _is_told(held) and frozenset(keys) not in deal:
            yield _ask_about_file(keys, held)


def _members(held: Sequence[Holding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for key, _ in held))


def _is_told(held: Sequence[Holding]) -> bool:
    """Whether the reports that the file is about are claimed by several, which says more."""
    if any(one.table not in LETTERS for _, one in held):
        return False
    by_report: dict[str, set[str]] = defaultdict(set)
    for key, one in held:
        by_report[fold(one.report)].add(key)
    return any(report and len(keys) > 1 for report, keys in by_report.items())


def _say_files(held: Sequence[Holding]) -> str:
    first = dict(reversed(held))
    return join(f"{key} ({one.path}, {noun(one.table)} {one.id})" for key, one in sorted(first.items()))


def _tell_file(keys: tuple[str, ...], held: Sequence[Holding]) -> Disagreement:
    mine = dict(reversed(held))
    told = tuple(
        Told(
            key,
            f"The file {mine[key].path}, which shows your {noun(mine[key].table)} {mine[key].id}, is another "
            "member's too, to the byte. Please tell us who made it, when and where.",
        )
        for key in keys
    )
    return Disagreement(
        "paper-of-two",
        keys,
        tuple(qualify(key, one.table, one.id) for key, one in held[: 2 * _SHOWN]),
        f"One file shows work of {_say_files(held)}.",
        told,
        tuple(dict.fromkeys(Reach(key, lot) for key, one in held for lot in one.lots)),
    )


def _ask_about_file(keys: tuple[str, ...], held: Sequence[Holding]) -> Disagreement:
    paths = {key: one.path for key, one in reversed(held)}
    return Disagreement(
        "paper-shared",
        keys,
        tuple(qualify(key, one.table, one.id) for key, one in held[: 2 * _SHOWN]),
        f"One file is evidence of {_say_files(held)}. Is it about both?",
        tuple(Told(key, f"Your file {path} {_HANDED_IN}") for key, path in paths.items()),
    )


# Whole books


def compare_measures(summaries: Mapping[str, MemberSummary]) -> Iterator[Disagreement]:
    """Members whose books count and weigh the same on the same days, whatever their numbers are called:
    in _TABLES tables at least, and _ENTRIES records together.
    """
    alike: dict[tuple[MeasuredFact, ...], list[str]] = defaultdict(list)
    for key, summary in summaries.items():
        for some in combinations(summary.measured, _TABLES):
            if sum(one.entries for one in some) >= _ENTRIES:
                alike[some].append(key)
    same: dict[tuple[str, ...], dict[str, None]] = defaultdict(dict)
    for tables, keys in alike.items():
        if len(keys) > 1:
            same[tuple(keys)].update(dict.fromkeys(one.table for one in tables))
    for members, names in same.items():
        yield Disagreement(
            "books-alike",
            members,
            tuple(qualify(key, "season", "records") for key in members),
            f"{join(name_some(members))} have the same days, counts and weights under {join(names)}.",
        )
