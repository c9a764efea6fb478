"""Examined members compared with one another: one result of the co-op, and each member as it sees them."""

from __future__ import annotations

import hashlib
import json
from collections import Counter, defaultdict
from dataclasses import asdict, dataclass, replace
from functools import partial, reduce
from typing import TYPE_CHECKING, Final

from certgen import __version__
from certgen.coop.between.balance import combine
from certgen.coop.between.control import compare_control
from certgen.coop.between.disagreements import KINDS, WEIGHTS, Disagreement
from certgen.coop.between.equipment import compare_equipment
from certgen.coop.between.numbers import (
    Directory,
    compare_lot_numbers,
    compare_papers,
    compare_reports,
    qualify,
)
from certgen.coop.between.origins import Origins
from certgen.coop.between.reasons import explain_lot
from certgen.coop.between.result import Chase, CoopResult, LotLine, MemberView
from certgen.coop.between.stops import Stops, find_stopped
from certgen.coop.between.transfers import Transfer, compare_transfers, find_transfers
from certgen.coop.between.visits import (
    LOTS_EACH,
    Risk,
    draw_two_stages,
    list_figures,
    size_sample,
    standards_of,
)
from certgen.coop.between.yields import ask_about, compare_yields
from certgen.coop.members.facts import Grams
from certgen.dossier.spot_check import DrawKey
from certgen.figures.draws import freeze

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.coop.between.visits import Sample
    from certgen.coop.members.facts import GapFact, LotFact, MemberSummary
    from certgen.coop.members.member_list import Coop, Member

#: Points of risk, certgen's own choice: what a visit would look at first.
_POINTS: Final = {
    "its records couldn't be read": 4,
    "a record speaks against the claim": 4,
    "evidence is missing": 2,
    "disagrees with other members": 2,
    "its yield is far from the others'": 1,
    "the co-op's own control of it is open": 1,
    "joined less than a year ago": 1,
}
#: Members with so many points are visited without a draw.
HIGH_RISK: Final = 5
_NEW_DAYS: Final = 365
#: What mends most, and members not read or disagreements of a kind, among the things to chase.
_CHASES, _OF_A_KIND = 40, 8


@dataclass(frozen=True, slots=True)
class VisitDraw:
    """What decides whom to visit: a `text` (empty: the office's own), whether the fingerprint was `noted`
    before it was told, and how many lots of `each` member are looked at.
    """

    text: str = ""
    noted: bool = False
    each: int = LOTS_EACH


def compare_members(
    coop: Coop,
    on: date,
    summaries: Mapping[str, MemberSummary],
    *,
    visits: VisitDraw | None = None,
    examined: int = 0,
) -> CoopResult:
    """Hold examined members against one another, and draw whom to visit: by a text of the office's own unless
    `visits` brings one.
    """
    directory = Directory(coop.members, summaries)
    transfers = find_transfers(summaries, directory)
    yields = compare_yields(summaries)
    stops = Stops(coop, on)
    of_papers = (
        *compare_papers(coop.members, summaries, coop.certificate),
        *compare_transfers(transfers, directory),
        *find_stopped(stops, summaries, transfers, directory),
        *compare_lot_numbers(directory, transfers),
        *compare_reports(summaries),
        *compare_equipment(summaries, coop.shared_equipment),
        *compare_control(coop, summaries, on),
    )
    reach = [reached for one in of_papers for reached in one.reach]
    moved = (*transfers, *find_transfers(summaries, directory, earlier=True))
    origins = Origins(summaries, directory, moved, stops, reach)
    disagreements = sorted(
        (*of_papers, *origins.compare(), *ask_about(yields)),
        key=lambda one: (WEIGHTS.index(one.weight), list(KINDS).index(one.kind), one.members, one.records),
    )
    views = _Views(coop, on, summaries, origins, transfers, disagreements).build()
    standards = standards_of(coop.standards, {key: one.stated.standards for key, one in summaries.items()})
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
        figures=list_figures(standards, len(_growers(views))),
        sample=_draw_visits(coop, on, summaries, views, visits or VisitDraw()),
        chase=tuple(_chase(views, disagreements, origins)),
        varieties=dict(sorted(varieties.items())),
        examined=examined,
    )


def _draw_visits(
    coop: Coop,
    on: date,
    summaries: Mapping[str, MemberSummary],
    views: Sequence[MemberView],
    asked: VisitDraw,
) -> Sample:
    """Whom to visit, and which lots, with the fingerprint of all that decides it but the text.

    Frozen are the list of members, what each handed in (record files by their bytes, other files by name),
    its points and lots as they were found, the day, and how many lots of each. So no limit of time or memory
    that sets a member aside can be chosen once the text is known.
    """
    standards = standards_of(coop.standards, {key: one.stated.standards for key, one in summaries.items()})
    growers = _growers(views)
    size, basis = size_sample(standards, len(growers))
    lots = {view.member.key: [line.name for line in view.lots] for view in views}
    found = [
        [view.member.key, view.summary.fingerprint, view.risk.points, view.risk.high, lots[view.member.key]]
        for view in views
    ]
    written = json.dumps([asdict(coop), found, size], sort_keys=True, separators=(",", ":"), default=str)
    records = hashlib.sha256(written.encode("ascii")).hexdigest()
    key = DrawKey(
        asked.text or f"{coop.name} {on.isoformat()}",
        freeze(records, kind="members", on=on.isoformat(), lots=str(asked.each)),
        bool(asked.text and asked.noted),
    )
    basis = f"{size} of {len(growers)} members: {basis}"
    return draw_two_stages(key, [view.risk for view in growers], lots, (size, basis), asked.each)


def _growers(views: Sequence[MemberView]) -> list[MemberView]:
    """The members of the group: all but the co-op's own office, which is visited whoever is drawn."""
    return [view for view in views if not view.member.office]


class _Views:
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
        #: The disagreements' positions by member.
        self._concerned: dict[str, dict[int, Disagreement]] = defaultdict(dict)
        for position, disagreement in enumerate(disagreements):
            for key in disagreement.members:
                self._concerned[key][position] = disagreement
        self._forward: dict[tuple[str, str], dict[str, None]] = defaultdict(dict)
        for transfer in transfers:
            move, received = transfer.sent or transfer.received, transfer.received
            if move is not None:
                to = transfer.receiver
                name = qualify(to, "movements", received.movement) if received else to
                self._forward[transfer.sender, move.lot][name] = None
        for link in origins.links.links:
            for record in link.records if link.holder is not None else ():
                if record.table in {"plantings", "lots"}:
                    name = qualify(link.member, record.table, record.id)
                    self._forward[str(link.holder), link.lot][name] = None

    def build(self) -> tuple[MemberView, ...]:
        """The views in the order of the list."""
        return tuple(self._view(member) for member in self._coop.members)

    def _view(self, member: Member) -> MemberView:
        key, summary = member.key, self._summaries[member.key]
        answered = tuple(gap for gap in summary.gaps if self._origins.answers(key, gap))
        gaps = tuple(gap for gap in summary.gaps if gap not in answered)
        lots = tuple(self._line(key, lot, gaps) for lot in summary.lots if lot.current)
        standing = reduce(Grams.plus, (line.standing for line in lots), Grams())
        concerned = self._concerned[key]
        weights = {disagreement.weight for disagreement in concerned.values()}
        is_missing = bool(_count_unproven(summary, answered) or summary.error_count)
        is_open = is_missing or bool(weights & {"unproven", "control"})
        readiness = _judge(summary, standing, is_missing=is_open)
        risk = self._weigh(member, readiness, weights, is_missing=is_missing)
        view = MemberView(member, summary, readiness, standing, gaps, answered, tuple(concerned), lots, risk)
        return replace(view, waiting=tuple(filter(partial(self._origins.is_found, key), gaps)))

    def _weigh(self, member: Member, readiness: str, weights: set[str], *, is_missing: bool) -> Risk:
        reasons = {
            "its records couldn't be read": readiness == "not read",
            "a record speaks against the claim": readiness == "against the claim",
            "evidence is missing": is_missing and readiness != "not read",
            "disagrees with other members": "unproven" in weights,
            "its yield is far from the others'": "question" in weights,
            "the co-op's own control of it is open": "control" in weights,
            "joined less than a year ago": (self._on - member.joined).days < _NEW_DAYS,
        }
        counted = tuple((reason, _POINTS[reason]) for reason, holds in reasons.items() if holds)
        return Risk(member.key, counted, sum(points for _, points in counted) >= HIGH_RISK)

    def _explain(self, key: str, lot: LotFact, gaps: Sequence[GapFact]) -> tuple[str, ...]:
        if self._origins.standing(key, lot).standing == "traced":
            return ()
        own = [gap for gap in gaps if not self._origins.is_found(key, gap)]
        return explain_lot(key, lot, own, self._origins.links, self._concerned[key].values())

    def _line(self, key: str, lot: LotFact, gaps: Sequence[GapFact]) -> LotLine:
        plantings = {fact.planting: fact for fact in self._summaries[key].plantings}
        back: dict[str, None] = {}
        for name in lot.plantings:
            back[qualify(key, "plantings", name)] = None
            if name in plantings:
                back.update(dict.fromkeys(self._origins.trail(key, plantings[name])))
        back.update(dict.fromkeys(self._origins.trail_of_lot(key, lot)))
        return LotLine(
            member=key,
            fact=lot,
            standing=self._origins.standing(key, lot),
            back=tuple(back),
            forward=tuple(self._forward.get((key, lot.lot), ())),
            gaps=sum(lot.lot in gap.lots for gap in gaps),
            parents=self._origins.parents(key, lot),
            reasons=self._explain(key, lot, gaps),
        )


def _count_unproven(summary: MemberSummary, answered: Sequence[GapFact]) -> int:
    """The member's gaps that leave seed unproven and that nobody else's records answer."""
    return summary.numbers.gaps.get("unproven", 0) - sum(gap.weight == "unproven" for gap in answered)


def _judge(summary: MemberSummary, standing: Grams, *, is_missing: bool) -> str:
    """How ready a member is: one of `READINESS`."""
    if summary.state != "read":
        return "not read"
    if summary.numbers.gaps.get("rejects", 0) or standing.rejected_mg:
        return "against the claim"
    # A season without a lot claims nothing, so there is nothing to be ready with.
    is_shown = any(lot.current for lot in summary.lots) and standing.standing == "traced"
    return "ready" if is_shown and not is_missing else "evidence missing"


def _chase(
    views: Sequence[MemberView], disagreements: Sequence[Disagreement], origins: Origins
) -> Iterator[Chase]:
    """What to chase first: whom nothing is known of, then what proves most, then what disagrees."""
    yield from _chase_unread([view for view in views if view.readiness == "not read"])
    mends = [
        (mend.proves_mg, view.member.key, mend)
        for view in views
        for mend in view.summary.mend
        if not origins.spares(view.member.key, mend)
    ]
    for mass, key, mend in sorted(mends, key=lambda proving: (-proving[0], proving[1]))[:_CHASES]:
        yield Chase((key,), f"{mend.text[:1].upper()}{mend.text[1:]}", mass)
    counts: Counter[str] = Counter()
    for position, disagreement in enumerate(disagreements):
        counts[disagreement.kind] += 1
        if counts[disagreement.kind] <= _OF_A_KIND:
            text = f"{disagreement.message} {KINDS[disagreement.kind].remedy}"
            yield Chase(disagreement.members, text, 0, position)


def _chase_unread(unread: Sequence[MemberView]) -> Iterator[Chase]:
    for view in unread[:_OF_A_KIND]:
        reason = view.summary.errors[0] if view.summary.errors else "nothing could be read"
        yield Chase((view.member.key,), f"Get records that can be read: {reason}", 0)
    rest = tuple(view.member.key for view in unread[_OF_A_KIND:])
    if rest:
        yield Chase(rest, "Get records that can be read; each member's letter says what is wrong", 0)
