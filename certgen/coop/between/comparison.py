"""Examined members held against one another: the co-op's one result, and each member as the co-op sees it."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import timedelta
from typing import TYPE_CHECKING, Final

from certgen import __version__
from certgen.coop.between.balance import combine
from certgen.coop.between.directory import Directory, qualify
from certgen.coop.between.disagreements import KINDS, WEIGHTS, Disagreement
from certgen.coop.between.equipment import compare_equipment
from certgen.coop.between.numbers import compare_lot_numbers, compare_papers, compare_reports
from certgen.coop.between.origins import Origins
from certgen.coop.between.result import Chase, CoopResult, LotLine, MemberView
from certgen.coop.between.transfers import Transfer, compare_transfers, find_transfers
from certgen.coop.between.visits import Risk, draw_sample, list_figures, size_sample, standards_of
from certgen.coop.between.yields import ask_about, compare_yields
from certgen.coop.members.facts import Grams

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.coop.members.facts import LotFact, MemberSummary
    from certgen.coop.members.member_list import Coop, Member

#: Points of risk, certgen's own choice: what a visit would look at first.
_POINTS: Final = {
    "its records couldn't be read": 4,
    "a record speaks against the claim": 4,
    "evidence is missing": 2,
    "disagrees with other members": 2,
    "its yield is far from the others'": 1,
    "joined less than a year ago": 1,
}
#: Members with so many points are visited without a draw.
HIGH_RISK: Final = 5
_NEW_DAYS: Final = 365
#: What mends most, and members not read or disagreements of a kind, among the things to chase.
_CHASES, _OF_A_KIND = 40, 8


def compare_members(
    coop: Coop, on: date, summaries: Mapping[str, MemberSummary], *, seed: str = "", examined: int = 0
) -> CoopResult:
    """Hold examined members against one another."""
    directory = Directory(coop.members, summaries)
    transfers = find_transfers(summaries, directory)
    origins = Origins(summaries, directory)
    yields = compare_yields(summaries)
    disagreements = sorted(
        (
            *compare_papers(coop.members, summaries, coop.certificate),
            *compare_transfers(transfers, directory),
            *compare_lot_numbers(directory, transfers),
            *origins.compare(),
            *compare_reports(summaries),
            *compare_equipment(summaries, coop.shared_equipment),
            *ask_about(yields),
        ),
        key=lambda one: (WEIGHTS.index(one.weight), list(KINDS).index(one.kind), one.members, one.records),
    )
    views = _View(coop, on, summaries, origins, transfers, disagreements).members()
    standards = standards_of(coop.standards, {key: one.stated.standards for key, one in summaries.items()})
    size, basis = size_sample(standards, len(views))
    seed = seed or f"{coop.name} {on.isoformat()}"
    varieties: dict[str, Grams] = defaultdict(Grams)
    for view in views:
        for line in view.lots:
            varieties[line.fact.variety] = varieties[line.fact.variety].plus(line.standing)
    return CoopResult(
        coop=coop,
        on=on,
        version=__version__,
        members=views,
        disagreements=tuple(disagreements),
        transfers=transfers,
        yields=yields,
        balance=combine(summaries.values(), transfers),
        figures=list_figures(standards, len(views)),
        sample=draw_sample(seed, [view.risk for view in views], size),
        sample_seed=seed,
        sample_basis=f"{size} of {len(views)} members: {basis}",
        chase=tuple(_chase(views, disagreements, origins)),
        varieties=dict(sorted(varieties.items())),
        examined=examined,
    )


class _View:
    """Each member with what the co-op makes of it."""

    def __init__(
        self,
        coop: Coop,
        on: date,
        summaries: Mapping[str, MemberSummary],
        origins: Origins,
        transfers: Sequence[Transfer],
        disagreements: Sequence[Disagreement],
    ) -> None:
        self._coop, self._on, self._summaries, self._origins = coop, on, summaries, origins
        self._disagreements = disagreements
        self._concerned: dict[str, list[int]] = defaultdict(list)
        for position, one in enumerate(disagreements):
            for key in one.members:
                self._concerned[key].append(position)
        self._forward: dict[tuple[str, str], dict[str, None]] = defaultdict(dict)
        for transfer in transfers:
            move, received = transfer.sent or transfer.received, transfer.received
            if move is not None:
                to = transfer.receiver
                told = qualify(to, "movements", received.movement) if received else to
                self._forward[transfer.sender, move.lot][told] = None
        for named in origins.named:
            if named.holder is not None and named.table == "plantings":
                name = qualify(named.member, "plantings", named.record)
                self._forward[named.holder, named.lot][name] = None

    def members(self) -> tuple[MemberView, ...]:
        return tuple(self._member(member) for member in self._coop.members)

    def _member(self, member: Member) -> MemberView:
        summary = self._summaries[member.key]
        answered = tuple(gap for gap in summary.gaps if self._origins.answers(member.key, gap))
        concerned = tuple(self._concerned[member.key])
        lots = tuple(self._line(member.key, lot) for lot in summary.lots if lot.current)
        standing = Grams()
        for line in lots:
            standing = standing.plus(line.standing)
        unproven = summary.numbers.gaps.get("unproven", 0) - sum(gap.weight == "unproven" for gap in answered)
        weights = {self._disagreements[position].weight for position in concerned}
        if summary.state != "read":
            readiness = "not read"
        elif summary.numbers.gaps.get("rejects", 0) or standing.rejected_mg:
            readiness = "against the claim"
        elif unproven or summary.error_count or standing.standing != "traced" or "unproven" in weights:
            readiness = "evidence missing"
        else:
            readiness = "ready"
        gaps = tuple(gap for gap in summary.gaps if gap not in answered)
        reasons = {
            "its records couldn't be read": readiness == "not read",
            "a record speaks against the claim": readiness == "against the claim",
            "evidence is missing": bool(unproven or summary.error_count) and readiness != "not read",
            "disagrees with other members": "unproven" in weights,
            "its yield is far from the others'": "question" in weights,
            "joined less than a year ago": member.joined > self._on - timedelta(days=_NEW_DAYS),
        }
        counted = tuple((reason, _POINTS[reason]) for reason, holds in reasons.items() if holds)
        risk = Risk(member.key, counted, sum(points for _, points in counted) >= HIGH_RISK)
        return MemberView(member, summary, readiness, standing, gaps, answered, concerned, lots, risk)

    def _line(self, key: str, lot: LotFact) -> LotLine:
        summary = self._summaries[key]
        plantings = {one.planting: one for one in summary.plantings}
        back: dict[str, None] = {}
        for name in lot.plantings:
            back[qualify(key, "plantings", name)] = None
            if name in plantings:
                back.update(dict.fromkeys(self._origins.trail(key, plantings[name])))
        return LotLine(
            member=key,
            fact=lot,
            standing=self._origins.standing(key, lot),
            back=tuple(back),
            forward=tuple(self._forward.get((key, lot.lot), ())),
            gaps=sum(lot.lot in gap.lots for gap in summary.gaps if not self._origins.answers(key, gap)),
        )


def _chase(
    views: Sequence[MemberView], disagreements: Sequence[Disagreement], origins: Origins
) -> Iterator[Chase]:
    """What to chase first: whom nothing is known of, then what proves most, then what disagrees."""
    unread = [view for view in views if view.readiness == "not read"]
    for view in unread[:_OF_A_KIND]:
        reason = view.summary.errors[0] if view.summary.errors else "nothing could be read"
        yield Chase((view.member.key,), f"Get records that can be read: {reason}", 0)
    if len(unread) > _OF_A_KIND:
        rest = tuple(view.member.key for view in unread[_OF_A_KIND:])
        yield Chase(rest, "Get records that can be read; each member's letter says what is wrong", 0)
    mends = [
        (mend.proves_mg, view.member.key, mend)
        for view in views
        for mend in view.summary.mend
        if not origins.spares(view.member.key, mend)
    ]
    for mass, key, mend in sorted(mends, key=lambda one: (-one[0], one[1]))[:_CHASES]:
        yield Chase((key,), f"{mend.text[:1].upper()}{mend.text[1:]}", mass)
    told: Counter[str] = Counter()
    for one in disagreements:
        told[one.kind] += 1
        if told[one.kind] <= _OF_A_KIND:
            yield Chase(one.members, f"{one.message} {KINDS[one.kind].remedy}", 0)
