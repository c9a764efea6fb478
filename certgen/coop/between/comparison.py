"""Examined members compared with one another: one result of the co-op, and each member as it sees them."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from functools import partial, reduce
from itertools import starmap
from typing import TYPE_CHECKING, Final

from certgen import __version__
from certgen.coop.between.balance import combine
from certgen.coop.between.chase import list_chases
from certgen.coop.between.control import compare_control
from certgen.coop.between.equipment import compare_equipment
from certgen.coop.between.kinds import KINDS, WEIGHING, WEIGHTS
from certgen.coop.between.listing import compare_listing, leave_consequences
from certgen.coop.between.numbers import Directory, compare_lot_numbers, qualify
from certgen.coop.between.origins import Origins
from certgen.coop.between.outsiders import compare_outsiders
from certgen.coop.between.reasons import explain_lot
from certgen.coop.between.result import CoopResult, HeldLine, LotLine, MemberView
from certgen.coop.between.shared_papers import compare_evidence, compare_measures, compare_reports
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
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from datetime import date

    from certgen.coop.between.disagreements import Disagreement
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
    of_papers = tuple(_compare_papers(coop, on, summaries, directory, transfers, stops))
    reach = [reached for one in of_papers for reached in one.reach]
    moved = (*transfers, *find_transfers(summaries, directory, earlier=True))
    origins = Origins(summaries, directory, moved, stops, reach)
    disagreements = sorted(
        # Two entries of one handing over may say the same.
        dict.fromkeys((*of_papers, *origins.compare(), *ask_about(yields))),
        key=lambda one: (WEIGHTS.index(one.weight), list(KINDS).index(one.kind), one.members, one.records),
    )
    views = _Views(coop, on, summaries, origins, transfers, disagreements).build()
    looked = {one.question: one for one in coop.looked_at if one.counts_on(on)}
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
        chase=tuple(list_chases(views, disagreements, origins, looked)),
        answer_by=_answer_day(coop, on),
        looked=looked,
        places={key: summary.places for key, summary in summaries.items()},
        varieties=dict(sorted(varieties.items())),
        examined=examined,
    )


def _compare_papers(
    coop: Coop,
    on: date,
    summaries: Mapping[str, MemberSummary],
    directory: Directory,
    transfers: Sequence[Transfer],
    stops: Stops,
) -> Iterator[Disagreement]:
    """All that papers say of one another, but for where seed came from."""
    found = (
        *compare_listing(coop, summaries, on),
        *compare_transfers(transfers, directory),
        *compare_outsiders(summaries, directory),
        *find_stopped(stops, summaries, transfers, directory),
        *compare_lot_numbers(directory, transfers),
        *compare_reports(summaries),
        *compare_evidence(summaries, transfers),
        *compare_measures(summaries),
        *compare_equipment(summaries, coop.shared_equipment),
        *compare_control(coop, summaries, on),
    )
    return leave_consequences(found)


def _answer_day(coop: Coop, on: date) -> date | None:
    try:
        return None if coop.answer_days is None else on + timedelta(days=coop.answer_days)
    except OverflowError:
        return None


def _draw_visits(
    coop: Coop,
    on: date,
    summaries: Mapping[str, MemberSummary],
    views: Sequence[MemberView],
    asked: VisitDraw,
) -> Sample:
    """Whom to visit, and which lots, with the fingerprint of all that decides it but the text.

    Frozen are the list of members, what each handed in (record files and packets by their bytes, other files
    by both ends), its points and lots as they were found, the day, and how many lots of each. So no limit of
    time or memory that sets a member aside can be chosen once the text is known.
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
            to = transfer.receiver
            names = [qualify(to, "movements", move.movement) for move in transfer.received] or [to]
            self._forward[transfer.sender, transfer.moves[0].lot].update(dict.fromkeys(names))
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
        kinds = {disagreement.kind for disagreement in concerned.values()}
        is_missing = bool(_count_unproven(summary, answered) or summary.error_count)
        is_open = is_missing or bool(weights - {"question"})
        readiness = _judge(summary, standing, weights, is_missing=is_open)
        risk = self._weigh(member, readiness, weights | kinds, is_missing=is_missing)
        view = MemberView(member, summary, readiness, standing, gaps, answered, tuple(concerned), lots, risk)
        waiting = tuple(filter(partial(self._origins.is_found, key), gaps))
        held = tuple(starmap(HeldLine, self._origins.held(key)))
        return replace(view, waiting=waiting, held=held)

    def _weigh(self, member: Member, readiness: str, open_: set[str], *, is_missing: bool) -> Risk:
        reasons = {
            "its records couldn't be read": readiness == "not read",
            "a record speaks against the claim": readiness == "against the claim",
            "evidence is missing": is_missing and readiness != "not read",
            "disagrees with other members": bool(open_ & WEIGHING),
            "its yield is far from the others'": "yield-unusual" in open_,
            "the co-op's own control of it is open": "control" in open_,
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


def _judge(summary: MemberSummary, standing: Grams, weights: Collection[str], *, is_missing: bool) -> str:
    """How ready a member is: one of `READINESS`."""
    if summary.state != "read":
        return "not read"
    if summary.numbers.gaps.get("rejects", 0) or standing.rejected_mg or "rejects" in weights:
        return "against the claim"
    # A season without a lot claims nothing, so there is nothing to be ready with.
    is_shown = any(lot.current for lot in summary.lots) and standing.standing == "traced"
    return "ready" if is_shown and not is_missing else "evidence missing"
