"""The inspector's working papers as sheets: what the records say, and room for what she sees.

What is to be found out stands before what the book says of it: the count of stock is blind, and the book's
figures are on the last sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.spot_check import say_draw, say_order
from certgen.dossier.visit_papers import ABOUT, say_grams, say_lead
from certgen.dossier.visits import say_deadline
from certgen.figures.draws import plain_text, write_fingerprint
from certgen.rules.wording import capital, count, day, join
from certgen.typeset.design import SANS, SERIF
from certgen.typeset.faces import families
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import UNDATED, compile_typst

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.dossier.spot_check import SpotCheck
    from certgen.dossier.visit_papers import ListedFinding, VisitPapers
    from certgen.examination import Result

#: Lines to write on at the exit, and for samples.
_LINES: Final = 6
_SAMPLES: Final = 5
_WEIGHTS: Final = {"rejects": "against", "unproven": "missing", "advice": "advice"}
#: What is done on things drawn, and which cautions belong to it.
_DRAWN: Final = {
    "lots": ("Lots to trace back, balance and count", "treated seed"),
    "trees": ("Trees to look at and to sample again", "leaf round"),
    "bags": ("Bags whose tag, log and fruit are to agree", "bag round"),
}


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the papers: a heading, what stands under it, cautions by their work, and a table. An empty
    cell is written on; `spare` rows more follow. `apart` begins a page, `signed` ends with two signatures."""

    title: str
    lead: str = ""
    work: tuple[str, ...] = ()
    heads: tuple[str, ...] = ()
    widths: tuple[float, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    spare: int = 0
    apart: bool = False
    signed: bool = False


def build_sections(result: Result, papers: VisitPapers) -> tuple[Section, ...]:
    """The papers in the order in which a visit goes."""
    return (
        _opening(result, papers),
        _left_open(papers),
        _listed(papers),
        _lots(papers),
        *(_drawn(check) for check in papers.draws),
        _stock(papers),
        _questions(papers),
        _samples(),
        _exit(),
        _book(result, papers),
        *_of_stock(papers),
    )


def _opening(result: Result, papers: VisitPapers) -> Section:
    details = result.season.details
    operation = details.operation
    facts = (
        ("Operation", operation.name),
        ("Certificate, certifier", _and(operation.certificate, operation.certifier)),
        ("Where", operation.address or "not recorded"),
        ("Responsible", operation.responsible or "not recorded"),
        ("Records", str(details.raw.get("operation", {}).get("records_kept") or "not recorded")),
        ("Season", f"{details.label}, {day(details.start)} to {day(details.end)}"),
        ("Standards", join([book.title for book in result.rulebooks]) or "none named"),
        ("Present", ""),
        ("Came, began, left", ""),
    )
    rows = tuple((name, text) for name, text in facts)
    return Section(
        "Notice and opening", say_lead(papers.visit, result.on), (), ("", "On record, or to be written"),
        (0, 1), rows,
    )  # fmt: skip


def _and(*parts: str) -> str:
    return ", ".join(part for part in parts if part) or "not recorded"


def _left_open(papers: VisitPapers) -> Section:
    rows = tuple(
        (
            f"{one.kind.capitalize()} {one.number}, visit {one.visit.visit}",
            _and(one.severity, one.ground) if one.kind == "finding" else "",
            one.says,
            f"{say_deadline(one)}; {one.state}",
            "",
        )
        for one in papers.left_open
    )
    lead = (
        "Looked at first. What was handed in stands in that visit's record."
        if rows
        else "Nothing that earlier visits on record found or asked for is open."
    )
    heads = ("What", "Ground", "Found or asked", "Until, and now", "Seen: accepted, open, by when")
    return Section("Left open by earlier visits", lead, (), heads, (0.9, 0.7, 1.6, 1, 1.2), rows)


def _listed(papers: VisitPapers) -> Section:
    shown = [one for one in papers.findings if not one.of_stock]
    left = len(papers.findings) - len(shown)
    told = f"The records' own check lists {count(len(papers.findings), 'gap')}, numbered as in the report."
    if left:
        told += (
            f" {'One of them speaks' if left == 1 else f'{left} of them speak'} of stock, on the last sheet."
        )
    if not papers.findings:
        told = "The records' own check finds nothing wanting. That says nothing of what isn't on record."
    return Section("What the check lists", told, (), *_tabulate_gaps(shown))


def _tabulate_gaps(gaps: Sequence[ListedFinding]) -> tuple[Any, ...]:
    heads = ("No.", "Weight", "What the check says", "Where", "Seen: accepted or open", "By when")
    rows = tuple((str(one.number), _WEIGHTS[one.weight], one.message, one.place, "", "") for one in gaps)
    return heads, (0, 0, 2.4, 1, 1, 0.6), rows


def _lots(papers: VisitPapers) -> Section:
    rows = tuple(
        (
            one.lot,
            one.variety,
            one.standing,
            say_grams(one.weight_mg),
            say_grams(one.traced_mg),
            join([path.rpartition("/")[2] for path in one.papers]) or "none named",
            "",
        )
        for one in papers.lots
    )
    lead = "What came into each lot, and how much of it the records lead back to screened parents."
    heads = ("Lot", "Variety", "Standing", "In", "Traced", "Papers that its records name", "Seen")
    return Section("Lots to check on the spot", lead, (), heads, (0, 0.8, 0, 0, 0, 1.5, 0.9), rows)


def _drawn(check: SpotCheck) -> Section:
    title, work = _DRAWN[check.kind]
    # What is in store is told after the count; a column that says nothing of any would only take room.
    told = [
        name
        for at, (name, _) in enumerate(check.drawn[0].says)
        if name != "in store" and any(item.says[at][1] for item in check.drawn)
    ]
    placed = {"bags": ("Row", "Place", "Tree"), "trees": ("Row", "Place"), "lots": ()}[check.kind]
    rows = tuple(
        (
            item.stratum,
            *(item.row, item.position, item.tree)[: len(placed)],
            item.identifier,
            *(text for name, text in item.says if name in told),
            "",
        )
        for item in check.drawn
    )
    by = f"Drawn by the text “{check.key.text}”, hashed as {plain_text(check.key.text)}"
    if check.key.fingerprint:
        by += f", with the fingerprint {' '.join(write_fingerprint(check.key.fingerprint))}"
    heads = ("Group", *placed, check.kind[:-1].capitalize(), *map(capital, told), "Agrees, differs: figures")
    widths = (*(0.0,) * (len(heads) - 1), 1.0)
    return Section(title, f"{say_draw(check)} {by}. {say_order(check)}", (work,), heads, widths, rows)


def _stock(papers: VisitPapers) -> Section:
    rows = tuple((one.lot, one.variety, one.kept, "", "", "") for one in papers.in_store)
    lead = "Count before looking at the book: its figures stand on the last sheet."
    heads = ("Lot", "Variety", "Where and in what", "Containers", "Counted, with its unit", "By")
    return Section("Count of stock", lead, (), heads, (0, 0.8, 1.4, 0.7, 1, 0.7), rows, spare=3, apart=True)


def _questions(papers: VisitPapers) -> Section:
    rows = tuple((str(at), one.text, "") for at, one in enumerate(papers.questions, 1))
    lead = "What the records only state, or leave out. Whoever did the work tells best."
    return Section("To be asked", lead, (), ("No.", "Question", "Answer, by whom"), (0, 1.2, 1), rows)


def _samples() -> Section:
    lead = (
        "Each sample is split and sealed before those present: one part goes along, one stays. Both receipts "
        "bear both seals' numbers and both signatures."
    )
    heads = (
        "Sample",
        "Taken of",
        "Amount",
        "Seal, certifier's part",
        "Seal, part that stays",
        "Sheet, receipt",
    )
    rows = tuple(("",) * len(heads) for _ in range(_SAMPLES))
    return Section("Samples taken", lead, ("leaf round", "laboratory"), heads, (0.8, 1.2, 0.7, 1, 1, 1), rows)


def _exit() -> Section:
    lead = (
        "Read out to those present. A signature says that the finding was understood, not that it is agreed "
        "to; the certifier decides. What is typed from this sheet goes into `visits` (certgen visit --form)."
    )
    heads = ("No.", "Ground", "About", "Found", "Severity", "By when")
    rows = tuple(("",) * len(heads) for _ in range(_LINES))
    return Section("Exit: findings and requests", lead, (), heads, (0.5, 0.8, 0.8, 2.4, 0.7, 0.7), rows,
                   apart=True, signed=True)  # fmt: skip


def _book(result: Result, papers: VisitPapers) -> Section:
    rows = tuple((one.lot, say_grams(one.on_hand_mg), "", "") for one in papers.in_store)
    lead = f"What the book holds on {day(result.on)}. Not to be shown before the count is written down."
    heads = ("Lot", "By the book", "Counted", "Difference")
    return Section("The book, after the count", lead, (), heads, (0.8, 1, 1, 1), rows, apart=True)


def _of_stock(papers: VisitPapers) -> Iterator[Section]:
    gaps = [one for one in papers.findings if one.of_stock]
    if gaps:
        yield Section("What the check lists of stock", "", (), *_tabulate_gaps(gaps))


def set_visit_sheets(result: Result, papers: VisitPapers, page: str = "A4") -> bytes:
    """The working papers as PDF, on A4 or Letter. Raises `SettingError`."""
    details = result.season.details
    operation = fit_to_set(details.operation.name)
    cautions = result.profile.cautions
    sections = [
        {
            "title": one.title,
            "lead": fit_to_set(one.lead),
            "cautions": [
                {"title": told.title, "text": told.short, "defers": told.defers_to}
                for told in cautions.at(*one.work)
            ]
            if one.work
            else [],
            "heads": one.heads,
            "widths": one.widths,
            "rows": [[fit_to_set(text) for text in row] for row in one.rows],
            "spare": one.spare,
            "apart": one.apart,
            "signed": one.signed,
        }
        for one in build_sections(result, papers)
        if one.rows or one.lead
    ]
    data = {
        "sans": families(SANS),
        "serif": families(SERIF),
        "title": "Inspector's working papers",
        "operation": operation,
        "about": ABOUT,
        "under": f"{operation}, season {fit_to_set(details.label)}, as the records stood on "
        f"{result.on.isoformat()}",
        "sections": sections,
        "page": "us-letter" if page.casefold() == "letter" else "a4",
    }
    return compile_typst("visit.typ", data, epoch=UNDATED)
