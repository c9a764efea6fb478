"""The inspector's working papers, as data: what she may want before her, and what she writes on.

Nothing here is an inspection. The certifier's own forms come first; these sheets save looking things up, and
hold what she finds so that it is typed once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.spot_check import (
    CONFIDENCE,
    DETECT,
    DrawKey,
    draw_check,
    freeze_draw,
    list_strata,
    own_asked,
    own_draw,
    plan_size,
)
from certgen.dossier.visits import OpenItem, list_open, next_visit
from certgen.records.quantities import format_mass
from certgen.records.rows import plain_rows
from certgen.rules.registry import load_rules
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.dossier.spot_check import Kind, SpotCheck
    from certgen.examination import Result
    from certgen.rules.record_keeping.visit_entries import Visit

#: What the papers are, at their head and in every form.
ABOUT: Final = (
    "Working papers for whoever inspects, out of the operation's own records. The certifier's own forms come "
    "first, and what they ask. Nothing here was seen by anybody but the records; nothing here decides."
)
KINDS: Final[tuple[Kind, ...]] = ("lots", "trees", "bags")
#: Questions of one sort; the rest are counted.
_MOST: Final = 8


@dataclass(frozen=True, slots=True)
class ListedFinding:
    """A gap that wants an eye on the spot: its number, its rule, what it says and where it stands.

    `of_stock` says that it may tell what the book holds, which is not to be seen before the count.
    """

    number: int
    rule: str
    weight: str
    message: str
    place: str
    lots: tuple[str, ...]
    of_stock: bool


@dataclass(frozen=True, slots=True)
class LotToCheck:
    """A lot with its grams: what came in, where it is now, and the papers that its own records name."""

    lot: str
    variety: str
    standing: str
    weight_mg: int
    traced_mg: int
    on_hand_mg: int
    kept: str
    papers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """Something that the records leave open, to be asked; `about` names the records."""

    text: str
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VisitPapers:
    """Everything on the working papers, as of the day of the examination."""

    visit: Visit | None
    left_open: tuple[OpenItem, ...]
    findings: tuple[ListedFinding, ...]
    lots: tuple[LotToCheck, ...]
    draws: tuple[SpotCheck, ...]
    questions: tuple[Question, ...]

    @property
    def in_store(self) -> tuple[LotToCheck, ...]:
        """The lots of which the book says that some is there: the sheet on which stock is counted."""
        return tuple(one for one in self.lots if one.on_hand_mg > 0)


def gather_papers(result: Result, text: str | None = None, records: str = "") -> VisitPapers:
    """The papers as of the day. Bags, trees and lots are drawn as `certgen sample` draws them: with a `text`
    by that and the digest of the `records`, without as the packet does by itself.

    Raises ValueError for a text that decides nothing.
    """
    stock = {slug for slug, one in load_rules().items() if one.stage == "stock"}
    places = result.locate(gap.place for gap in result.gaps)
    findings = tuple(
        ListedFinding(
            number,
            gap.rule,
            gap.weight,
            gap.message,
            f"{gap.place.file}:{places[gap.place][0]}" if gap.place in places else gap.place.file,
            tuple(lot for lot in gap.lots if lot in result.lots),
            of_stock=gap.rule in stock,
        )
        for number, gap in enumerate(result.gaps, 1)
    )
    return VisitPapers(
        visit=next_visit(result.case),
        left_open=list_open(result.case),
        findings=findings,
        lots=tuple(_list_lots(result)),
        draws=tuple(_draw_all(result, text, records)),
        questions=tuple(_ask(result)),
    )


def _draw_all(result: Result, text: str | None, records: str) -> Iterator[SpotCheck]:
    for kind in KINDS:
        if text is None:
            check = own_draw(result, kind)
            if check is not None:
                yield check
            continue
        asked = own_asked(kind)
        key = DrawKey(text, freeze_draw(result, asked, records))
        key.hashed  # noqa: B018 (a text that decides nothing is refused whatever there is to draw from)
        sizes = [len(group) for group in list_strata(result, asked).values()]
        if sizes:
            yield draw_check(result, asked, key, plan_size(sizes, DETECT, CONFIDENCE))


def _list_lots(result: Result) -> Iterator[LotToCheck]:
    names = ("lot", "storage", "packaging", "containers", "evidence")
    records = {lot: rest for lot, *rest in plain_rows(result.farm.table("lots"), *names)}
    tested = _papers_of_tests(result)
    for lot, standing in result.lots.items():
        storage, packaging, containers, evidence = records.get(lot, (None, None, None, ()))
        boxes = f"{containers} containers" if containers else ""
        book = result.books.get(lot)
        yield LotToCheck(
            lot=lot,
            variety=standing.variety or "",
            standing=standing.standing,
            weight_mg=standing.weight_mg,
            traced_mg=standing.traced_mg,
            on_hand_mg=int((book.stock_on(result.on) if book else 0) or 0),
            kept=", ".join(part for part in (storage, packaging, boxes) if part),
            papers=tuple(dict.fromkeys([*(evidence or ()), *tested.get(lot, ())])),
        )


def _papers_of_tests(result: Result) -> dict[str, list[str]]:
    """By lot the files that its tests name, or the numbers of their reports."""
    found: dict[str, list[str]] = {}
    for lot, files, report in plain_rows(result.farm.table("tests"), "lot", "evidence", "report"):
        found.setdefault(lot, []).extend(files or ([f"report {report}"] if report else []))
    return found


def _ask(result: Result) -> Iterator[Question]:
    """What a person has to tell, because records only state it."""
    for questions in (
        _ask_of_statements(result),
        _ask_of_rounds(result),
        _ask_of_explanations(result),
        _ask_of_incidents(result),
        _ask_of_land(result),
        _ask_of_other_seed(result),
        _ask_of_inputs(result),
    ):
        found = list(questions)
        yield from found[:_MOST]
        if len(found) > _MOST:
            rest = tuple(name for one in found[_MOST:] for name in one.about)
            yield Question(f"And {len(rest)} more of the same sort.", rest)


def _ask_of_statements(result: Result) -> Iterator[Question]:
    raw = result.season.details.raw
    routine = raw.get("routine") or {}
    told = {key: value for key, value in routine.items() if key not in {"stated_by", "date", "note"}}
    if told:
        said = join([f"{name.replace('_', ' ')} {_plain(value)}" for name, value in told.items()])
        by = routine.get("stated_by") or "Nobody named"
        yield Question(f"{by} states for the whole season: {said}. By what can one see it?", ())
    for name, figure in (raw.get("practice") or {}).items():
        reason = figure.get("reason") if isinstance(figure, dict) else None
        yield Question(
            f"The season goes by a figure of its own, {name.replace('_', ' ')}"
            f"{f' (“{reason}”)' if reason else ''}. What shows that it holds?", (),
        )  # fmt: skip


def _plain(value: object) -> str:
    if isinstance(value, list | tuple):
        return join([str(one) for one in value])
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def _ask_of_rounds(result: Result) -> Iterator[Question]:
    walked: dict[str, list[str]] = {}
    for name, by in plain_rows(result.season.table("rounds"), "round", "by"):
        walked.setdefault(by or "nobody named", []).append(name)
    for by, names in walked.items():
        some = f"{len(names)} rounds" if len(names) > 1 else f"round {names[0]}"
        yield Question(
            f"{some} rest on the word of {by}. How was it done, and where was it noted?", (*names,)
        )


def _ask_of_explanations(result: Result) -> Iterator[Question]:
    frame = result.season.table("explanations")
    for rule, about, reason, by in plain_rows(frame, "rule", "about", "reason", "by"):
        yield Question(f"{by} explains {rule} at {join(about)}: “{reason}”. What shows it?", tuple(about))


def _ask_of_incidents(result: Result) -> Iterator[Question]:
    frame = result.season.table("incidents")
    for incident, kind, when, files in plain_rows(frame, "incident", "kind", "date", "evidence"):
        if not files:
            told = f"Incident {incident} of {day(when)} ({kind}) has no paper."
            yield Question(f"{told} What happened, and how was it settled?", (incident,))


def _ask_of_land(result: Result) -> Iterator[Question]:
    for block, status, boundary in plain_rows(result.season.table("blocks"), "block", "status", "boundary"):
        if status != "organic":
            text = (
                f"Block {block} is {status}. How is what grows there kept apart, in the rows and in the shed?"
            )
            yield Question(text, (block,))
        elif not boundary:
            yield Question(f"What parts block {block} from its neighbours? Nothing is on record.", (block,))


def _ask_of_other_seed(result: Result) -> Iterator[Question]:
    frame = result.season.table("batches")
    for batch, other, when in plain_rows(frame, "batch", "other_seed", "date"):
        if other:
            text = f"Run {batch} of {day(when)} was of {other}. What was cleaned after it, and who looked?"
            yield Question(text, (batch,))


def _ask_of_inputs(result: Result) -> Iterator[Question]:
    frame = result.season.table("inputs")
    for name, material, allowed, files in plain_rows(frame, "input", "material", "allowed_by", "evidence"):
        if not files:
            basis = f"allowed by {allowed}" if allowed else "nothing says what allows it"
            told = f"{capital(material)} (input {name}), {basis}"
            yield Question(f"{told}: what shows what it was: label, invoice, sheet of the heap?", (name,))


def say_grams(mass_mg: int) -> str:
    """A weight as the papers print it."""
    return format_mass(mass_mg)


def say_lead(visit: Visit | None, when: date) -> str:
    """Who comes, when, and how it was announced."""
    if visit is None:
        return f"No visit is announced on record. These papers are as of {day(when)}."
    announced = f"announced on {day(visit.announced)}" if visit.announced else "not announced"
    days = day(visit.first) + (f" to {day(visit.until)}" if visit.until and visit.until > visit.first else "")
    who = ", ".join(part for part in (visit.inspector, visit.certifier) if part) or "nobody named"
    return f"Visit {visit.visit} ({visit.kind}) on {days}, {announced}; by {who}."
