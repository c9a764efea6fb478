"""Recalls, drills and complaints: whom seed went to, who was told of how much, and what came back."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.lineage.custody import fold
from certgen.records.quantities import format_mass
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.deliveries import UNNAMED, list_handed
from certgen.rules.seed.departures import tell_movement
from certgen.rules.seed.holds import list_holds, list_sound_tests, reach_lots
from certgen.rules.wording import count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.rules.case import Case
    from certgen.rules.seed.deliveries import Delivery, Handed

_TRAIL: Final = ("us-nop:205.103(b)(2)", "eu:2018/848 27")
_ACCOUNTS: Final = ("us-nop:205.103(b)(2)", "us-nop:205.403(d)(4)")
#: Where the grams of a notice went, by its answer.
ANSWERS: Final = ("still_there", "sown", "passed_on", "sent_back")


@dataclass(frozen=True, slots=True)
class Called:
    """A record of a recall, with the lots that hold seed of what it is about. `shown` says whether a file
    shows how it was settled; each notice is what was typed, masses in milligrams beside it.
    """

    row: int
    name: str
    kind: str
    opened: date
    about: tuple[str, ...]
    lots: tuple[str, ...]
    notices: tuple[Mapping[str, Any], ...]
    closed: date | None
    shown: bool

    def find(self, message: str, field: str, position: int | None = None) -> Finding:
        """Advice at one of its fields, or at a field of one of its notices."""
        at: tuple[str | int, ...] = (field,) if position is None else ("notices", position, field)
        return Finding("recalls", self.name, self.row, at, f"{self.title} {message}", reaches=())

    @property
    def title(self) -> str:
        """ "Recall RC1"."""
        return f"{self.kind.capitalize()} {self.name}"


def list_recalls(case: Case) -> tuple[Called, ...]:
    """The recalls, drills and complaints of all years, this season's first."""
    recalls = case.columns("recalls")
    if not len(recalls):
        return ()
    shown = case.filed(recalls["evidence"])
    fields = ("recall", "kind", "opened", "about", "notices", "closed")
    # Thousands of recalls may be about the same: then they share the lots.
    lots_of = cache(lambda about: reach_lots(case, about))
    return tuple(
        Called(row, recall, kind, opened, tuple(about), lots_of(tuple(about)), tuple(notices), closed,
               bool(shown[row]))
        for row, recall, kind, opened, about, notices, closed in recalls.rows(*fields)
    )  # fmt: skip


def _name(lots: Sequence[Node]) -> str:
    # Of thousands of lots a sentence names five.
    return name("lots", [node.id for node in lots])


def holder_of(notice: Mapping[str, Any]) -> tuple[str, str]:
    """Whom a notice was for, spelled alike wherever the name stands, and of which lot."""
    return fold(notice["party"]), notice["lot"]


def add_answers(notice: Mapping[str, Any]) -> int:
    """What an answer says of the grams, all together, in milligrams."""
    return sum(int(notice.get(f"{part}_mg") or 0) for part in ANSWERS)


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.400(f)", "eu:2018/848 27"),
    remedy="Name under `evidence` what shows how it ended: a test, a letter, the answer that satisfied the "
    "buyer. Closing it or telling everybody shows nothing of the seed.",
)
def recall_unresolved(case: Case) -> Iterator[Finding]:
    """Seed was called back or complained of, and nothing shows how it ended.

    While a lot is in question it isn't proved, nor is any lot that holds seed of what was called back. A
    paper settles it, or a test of each lot made since. A drill questions nothing.
    """
    tested = list_sound_tests(case)
    found: dict[tuple[int, date], tuple[Node, ...]] = {}
    for called in list_recalls(case):
        if called.kind == "drill" or called.shown:
            continue
        asked = (id(called.lots), called.opened)
        if asked not in found:
            found[asked] = tuple(
                Node("lots", lot) for lot in called.lots if tested.get(lot, date.min) < called.opened
            )
        doubtful = found[asked]
        if doubtful:
            yield Finding(
                "recalls",
                called.name,
                called.row,
                ("evidence",),
                f"{called.title} is about {_name(doubtful)}, and no paper or test shows how it ended.",
                reaches=doubtful,
                supply=f"what shows how {called.kind} {called.name} ended",
            )


@rule(
    weight="advice",
    clauses=_TRAIL,
    remedy="Write an incident about the lots with the day under `held_from`, and under `action` where what "
    "is left was set apart.",
)
def recall_without_hold(case: Case) -> Iterator[Finding]:
    """Seed was called back, and nothing says that what was left of it on the farm was set apart.

    The recall itself forbids that more of it leaves. That somebody put the jars away on that day is a fact of
    its own, and the first that an inspector asks for.
    """
    holds = list_holds(case, recalls=False)
    is_held = cache(lambda lot, when: any(hold.holds_on(when) for hold in holds.get(lot, ())))
    found: dict[tuple[int, date], list[str]] = {}
    for called in list_recalls(case):
        if called.kind != "recall":
            continue
        asked = (id(called.lots), called.opened)
        if asked not in found:
            found[asked] = [lot for lot in called.lots if not is_held(lot, called.opened)]
        loose = found[asked]
        if loose:
            said = f"of {day(called.opened)} is about {name('lots', loose)}, and no incident says that"
            yield called.find(f"{said} what was left of it was held back by that day.", "opened")


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.400(f)", "eu:2018/848 27"),
    remedy="Tell them now (`certgen recall` prints the notices), and write under `notices` who was told of "
    "how much, on which day and how.",
)
def recall_holder_untold(case: Case) -> Iterator[Finding]:
    """Seed was called back, and somebody who has some of it was not told.

    Whoever isn't told goes on sowing and selling it. What came back needs no notice.
    """
    for called in list_recalls(case):
        if called.kind != "recall":
            continue
        handed = list_handed(case, called.lots)
        told = {holder_of(one) for one in called.notices if one.get("told_on")}
        number = len(handed.keeping) - len(told & handed.keeping.keys())
        if number:
            # Of thousands of recalls each may leave thousands of buyers untold.
            untold = list(islice((holder for holder in handed.keeping if holder not in told), 6))
            named = _name_holders(handed, untold, number)
            yield called.find(f"names no day on which {named} was told.", "notices")


def _name_holders(handed: Handed, holders: Sequence[tuple[str, str]], number: int) -> str:
    """Who holds how much of which lot, six at most; where they are more the first five, and how many more."""
    told = [
        f"{handed.by_holder[holder][-1].party or UNNAMED} "
        f"({format_mass(handed.weighed[holder][1])} of lot {holder[1]})"
        for holder in (holders if number <= 6 else holders[:5])
    ]
    return join(told if number <= 6 else [*told, f"{number - 5} others"], "or")


@rule(
    weight="advice",
    clauses=_ACCOUNTS,
    remedy="Look at the invoice and the stock book, and send a corrected notice. `certgen recall` prints "
    "what each holder has had.",
)
def recall_weight_differs(case: Case) -> Iterator[Finding]:
    """A notice speaks of more or less seed than the stock book says that its reader has had.

    Told of too little, somebody keeps the rest; told of too much, nobody can answer. What had come back
    before may be left out or counted in.
    """
    for called in list_recalls(case):
        by_holder = list_handed(case, called.lots).by_holder
        for (party, lot, paper), places in _group(called).items():
            had = by_holder.get((party, lot), [])
            meant = [one for one in had if _is_meant(fold(one.document), paper, called)]
            known = [int(weight) for at in places if (weight := called.notices[at].get("weight_mg"))]
            if had and len(known) == len(places) and _differs(sum(known), meant, case.scale_step_mg):
                said = _tell_difference(called.notices[places[0]], sum(known), meant)
                yield called.find(said, "weight", places[0])


def _group(called: Called) -> Mapping[tuple[str, str, str], list[int]]:
    """The places of the notices to one party about one lot and paper."""
    groups: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for at, notice in enumerate(called.notices):
        groups[*holder_of(notice), _paper(notice)].append(at)
    return groups


def _paper(notice: Mapping[str, Any]) -> str:
    return fold(notice.get("document") or "")


def _tell_difference(notice: Mapping[str, Any], told_mg: int, meant: Sequence[Delivery]) -> str:
    paper = f" on document {notice['document']}" if notice.get("document") else ""
    book = format_mass(sum(one.gross_mg for one in meant))
    return (
        f"told {notice['party']} of {format_mass(told_mg)} of lot {notice['lot']}{paper}; by the stock "
        f"book it is {book}."
    )


def _is_meant(document: str, paper: str, called: Called) -> bool:
    """Whether a notice about a paper means a delivery; one that names none means those no other one names."""
    if paper:
        return document == paper
    return not document or document not in {_paper(one) for one in called.notices}


def _differs(told_mg: int, meant: Sequence[Delivery], step_mg: int) -> bool:
    """Whether it is neither what was delivered nor what of that has not come back."""
    gross, kept = sum(one.gross_mg for one in meant), sum(one.kept_mg for one in meant)
    return min(abs(told_mg - gross), abs(told_mg - kept)) > max(step_mg, len(meant))


@rule(
    weight="advice",
    clauses=_ACCOUNTS,
    remedy="Correct the party or the lot. If the seed did go there, the stock book lacks a movement.",
)
def recall_party_unsupplied(case: Case) -> Iterator[Finding]:
    """A notice went to somebody who never had seed of that lot, by the stock book, or it names another lot.

    Either somebody was alarmed for nothing while the holder wasn't told, or a delivery was never booked.
    """
    for called in list_recalls(case):
        held = list_handed(case, called.lots).by_holder
        for at, notice in enumerate(called.notices):
            party, lot = notice["party"], notice["lot"]
            if lot not in called.lots:
                said = f"told {party} of lot {lot}, which holds no seed of what it is about."
                yield called.find(said, "lot", at)
            elif holder_of(notice) not in held:
                said = f"told {party} of lot {lot}, and no movement says that they had any of it."
                yield called.find(said, "party", at)


@rule(
    weight="advice",
    clauses=_ACCOUNTS,
    remedy="Ask again until each gram is still there, sown, passed on to somebody with a name, or on its way "
    "back, and write what was said.",
)
def recall_answer_differs(case: Case) -> Iterator[Finding]:
    """An answer to a notice accounts for more or less seed than the notice speaks of.

    What an answer leaves out is seed that is somewhere. Of what was passed on it has to say to whom.
    """
    for called in list_recalls(case):
        for at, notice in enumerate(called.notices):
            answered, weight = notice.get("answered_on"), notice.get("weight_mg")
            told = add_answers(notice)
            if notice.get("passed_on_mg") and not notice.get("passed_to"):
                said = f"doesn't say to whom {notice['party']} passed on {notice['passed_on']}"
                yield called.find(f"{said} of lot {notice['lot']}.", "passed_on", at)
            elif (answered or told) and weight is not None and abs(told - weight) > case.scale_step_mg:
                said = f"spoke of {notice['weight']} of lot {notice['lot']}, and {notice['party']}'s answer"
                said = f"{said} accounts for {format_mass(told)}."
                yield called.find(said, "answered_on", at)


@rule(
    weight="advice",
    clauses=_ACCOUNTS,
    remedy="Book what came back as a movement of the kind `returned` with its paper, say whether a packet "
    "had been opened, and name the movement under `returned`. If it is still under way, wait for it.",
)
def recall_return_unbooked(case: Case) -> Iterator[Finding]:
    """Seed was sent back, by an answer, and no movement books it.

    Seed that lies on the farm again without an entry can be sold a second time without anybody seeing.
    """
    booked = case.moves.first("movement")
    for called in list_recalls(case):
        for at, notice in enumerate(called.notices):
            back, movement = int(notice.get("sent_back_mg") or 0), notice.get("returned")
            if not back and movement is None:
                continue
            what = f"{format_mass(back)} of lot {notice['lot']} as sent back by {notice['party']}"
            if movement is None:
                yield called.find(f"has {what}, and names no movement.", "sent_back", at)
            elif movement in booked and not _books(case, movement, notice, back):
                said = f"has {what}; movement {movement} doesn't book that."
                yield called.find(said, "returned", at)


def _books(case: Case, movement: str, notice: Mapping[str, Any], back_mg: int) -> bool:
    """Whether a movement books what an answer says came back."""
    kind, party, lot, mass_mg = tell_movement(case, movement, "kind", "party", "lot", "weight_mg")
    same = kind == "returned" and (fold(party or ""), lot) == holder_of(notice)
    return same and abs(mass_mg - back_mg) <= max(case.scale_step_mg, 1)


@rule(
    weight="advice",
    clauses=_TRAIL,
    remedy="Ask again, and write under `answered_on` and the fields below it what was said. If nobody can be "
    "reached, say so in a `note`, and leave the recall open until the certifier has decided.",
)
def recall_closed_unanswered(case: Case) -> Iterator[Finding]:
    """A recall was closed before everybody had answered.

    Closed is a word. Where the seed is, only the answers say.
    """
    for called in list_recalls(case):
        silent = [one["party"] for one in called.notices if one.get("told_on") and not one.get("answered_on")]
        if called.kind == "recall" and called.closed and silent:
            parties = join(list(dict.fromkeys(silent)))
            said = f"was closed on {day(called.closed)}, and no answer of {parties} is on record."
            yield called.find(said, "closed")


@rule(
    weight="advice",
    clauses=("practice:complaint_answer_days", "us-nop:205.103(b)(2)"),
    remedy="Answer the buyer, name the answer under `evidence`, and write the day under `closed`.",
    after=("recall-unresolved",),
)
def complaint_unanswered(case: Case) -> Iterator[Finding]:
    """A complaint has waited for longer than is usual, without an answer on paper or a day of closing.

    How long is no standard, only what buyers put up with.
    """
    usual = case.practice("complaint_answer_days")
    if usual is None or usual.high is None:
        return
    for called in list_recalls(case):
        waited = ((called.closed if called.closed and called.shown else case.on) - called.opened).days
        if called.kind == "complaint" and waited > usual.high:
            lacks = [
                word
                for word, there in (("answer on paper", called.shown), ("day of closing", called.closed))
                if not there
            ]
            said = f"waited {count(waited, 'day')} for its answer" if not lacks else (
                f"is {count(waited, 'day')} old and has no {join(lacks, 'or')}"
            )  # fmt: skip
            field = "closed" if called.shown else "evidence"
            yield called.find(f"{said}; practice is {usual.told()}.", field)


@rule(
    weight="advice",
    clauses=("practice:recall_drill_months",),
    remedy="Choose a lot that was sold, run `certgen recall` on it, ask its holders, and write down when you "
    "began, when you had the last answer, and what was found.",
)
def drill_outdated(case: Case) -> Iterator[Finding]:
    """The last drill of a recall is older than is usual.

    A drill shows whether the holders of a lot can be found in hours. No standard here asks for one.
    """
    usual = case.practice("recall_drill_months")
    drills = [one for one in list_recalls(case) if one.kind == "drill" and one.opened <= case.on]
    if usual is None or usual.high is None or not drills:
        return
    last = max(drills, key=lambda one: one.opened)
    months = (case.on - last.opened).days / 30.4375
    if months > usual.high:
        said = f"of {day(last.opened)} was the last one; practice is {usual.told()} between two."
        if case.own("recalls")[last.row]:
            yield last.find(said, "opened")
        else:
            told = f"Drill {last.name} {said}"
            yield Finding("season", case.season.details.label, None, (), told, reaches=())
