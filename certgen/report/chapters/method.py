"""How everything was computed: formulas, figures and their sources, clause by clause, and the declaration."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.report.chapters.figures.chapter import build_grounds
from certgen.report.chapters.land import build_cautions
from certgen.report.chapters.spot_check import build_draw_ground
from certgen.report.dense_sections import set_small
from certgen.report.tables import Column, table
from certgen.rules.obligations import CANNOT_KNOW, MEANS, TITLE
from certgen.standards import coverage, pages
from certgen.typeset.entries import Entries
from certgen.typeset.parts import Chapter, Prose, Section, Signature

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.report.context import Context
    from certgen.standards import Clause, Practice, Rulebook
    from certgen.typeset.parts import Grid

METHOD = (
    (
        "Masses. Every mass is read with the unit it was written in and kept in whole milligrams; sums are"
        " exact, and a page and a file of figures made from the same records cannot disagree."
        " Temperatures, lengths and times are converted to SI units for comparison and printed as they"
        " were written."
    ),
    (
        "The line. The line of a lot is the closure of what the records name: a lot names its batches, a"
        " batch its pickings, a picking its bags, a bag its tree, a tree its planting, and a sample its"
        " tree. It runs through lots that were blended in, and through own seed into earlier seasons."
    ),
    (
        "Standing by gram. A batch is one mixed quantity: all of it takes the worst standing of anything on"
        " its line. A lot takes each part as its batch hands it on. Traced + unproven + rejected +"
        " unaccounted = the lot’s weight, exactly."
    ),
    (
        "The balance. Of a period it is: brought forward + opening stock + produced + blended in + received"
        " + returned + gains at counts = sold + transferred + sown + sampled + retained + downgraded +"
        " discarded + blended out + lost in packing + losses at counts + left at the end. The two sides"
        " are computed apart. Of a variety, and in all, seed that one lot took from another is on neither"
        " side."
    ),
    (
        "Results. A tree’s results are taken together: a result whose controls failed or were not run"
        " counts as none; a negative pool no larger than the method allows clears each of its trees, a"
        " positive pool leaves each of them inconclusive; a later result by another method that sees at"
        " least as much settles one that contradicts it."
    ),
)
MARKS_TEXT = (
    "Marks. ‘Read’ means that the clause was read in a copy; ‘partly read’ in part; ‘from memory’ that it was"
    " recalled and must be looked up before anything is built on it; ‘derived’ that it follows from"
    " another. A practice or plausibility figure is a range outside which a record is worth a question."
    " It is no standard."
)


#: What the report is not, in one place of the appendix.
IS_NOT: Final = (
    "What this report is not. It is no certificate, no test report and no decision: it supports the"
    " decision of a certifier, who sees more than records. It has not seen a tree, a bag or a seed. It says"
    " nothing of what nobody wrote down, and cannot know whether what was written is so. Its figures of"
    " odds are plans and no proof, its ranges of practice are common and no standard, and its words for"
    " clauses are ours and no law."
)


def build_method(context: Context) -> tuple[Chapter, ...]:
    """The chapters after the registers: the appendix with the declaration, and the clauses."""
    opening = Section("computed", "How everything was computed", 2, (Prose((*METHOD, MARKS_TEXT, IS_NOT)),))
    traced = Section("traced", TITLE, 2, (Prose((*MEANS, *CANNOT_KNOW)),))
    methods = Section("methods", "What each test can see", 2, (_show_methods(context), _show_hits(context)))
    practice = Section("practice", "Figures of practice", 2, (_show_practice(context),))
    drawn = build_draw_ground(context)
    small = (opening, traced, *build_grounds(context), *([drawn] if drawn else []), methods, practice)
    lead = "For those who compute it again, and for looking up; nothing here changes a lot’s standing."
    sections = [
        Section(
            "method",
            "Appendix",
            1,
            (Entries(tuple(map(set_small, small)), level=2, small=True),),
            lead=lead,
            style="chapter",
        )
    ]
    cautions = build_cautions(context)
    if cautions is not None:
        sections.append(cautions)
    # Between the cautions and the clauses it never stands alone on a page.
    sections.append(build_declaration(context))
    return Chapter("method", tuple(sections)), Chapter("standards", (*_build_clauses(context),))


def _build_clauses(context: Context) -> Iterator[Section]:
    """Each standard's clauses, those that findings rest on first."""
    lead = (
        "What each clause asks, in our words, and where this packet answers it. Where a person has to look,"
        " it says so; the clause itself is what counts. An arrow leads to the answer; how each was read is"
        " last."
    )
    books = (
        Section(f"standards/{book.key}", book.title, 2, _show_clauses(context, book), lead=_say_book(book))
        for book in context.result.rulebooks
    )
    part = Entries(tuple(map(set_small, books)), level=2, small=True)
    yield Section("standards", "Clause by clause", 1, (part,), lead=lead, style="chapter")


def _say_book(book: Rulebook) -> str:
    return f"{book.edition}. {book.scope}"


def _show_methods(context: Context) -> Grid:
    return table(
        "Ways of testing a leaf or seed",
        (
            Column("Method", "long", lambda method: method.title),
            Column("A negative means", "text", lambda method: method.negative_means),
            Column("It cannot see", "text", lambda method: method.cannot_see),
            Column("Source", "text", lambda method: f"{method.source} ({method.mark})"),
        ),
        list(context.profile.methods.values()),
    )


def _show_hits(context: Context) -> Grid:
    """The targets that tests look for; an event's own junction means that event and needs no line."""
    profile = context.profile
    return table(
        "What a positive may mean",
        (
            Column("Target", "long", lambda target: target.title, "22%"),
            Column("A positive may mean", "text", lambda target: target.positive_means),
        ),
        [target for key, target in profile.targets.items() if key not in profile.events],
    )


def _show_practice(context: Context) -> Grid:
    figures = [context.result.case.practice(key) for key in context.profile.practice]
    return table(
        "",
        (
            Column("Figure", "long", lambda usual: usual.title),
            Column("Usual", "text", lambda usual: f"{_range(usual)} {usual.unit}".strip()),
            Column("Source", "text", _say_source),
            Column("Kind", "text", lambda usual: usual.mark),
        ),
        [usual for usual in figures if usual is not None],
        note="Ranges that records are checked against. A season’s own figures, where it gives any with a"
        " reason, stand in place of the crop’s.",
    )


def _say_source(usual: Practice) -> str:
    return f"{usual.source}. {usual.say_opinions()}" if usual.opinions else usual.source


def _range(usual: Practice) -> str:
    if usual.low is not None and usual.high is not None:
        return f"{usual.low:g} to {usual.high:g}"
    if usual.low is not None:
        return f"from {usual.low:g}"
    if usual.high is not None:
        return f"up to {usual.high:g}"
    return f"{usual.usual:g}" if usual.usual is not None else "–"


class _Answer(NamedTuple):
    """A clause, and where the packet answers it; `gaps` counts those that rest on it."""

    number: str
    clause: Clause
    pages: str
    gaps: int


def _show_clauses(context: Context, book: Rulebook) -> tuple[Grid, ...]:
    """The clauses that findings of this season rest on, and the others."""
    titles = pages()
    counts = Counter(gap.rule for gap in context.result.gaps)

    def answer(key: str, clause: Clause) -> _Answer:
        met = coverage().get(key)
        number = key.partition(":")[2]
        if met is None:
            return _Answer(number, clause, "", 0)
        answers = [titles[page] for page in met.pages]
        if met.person:
            answers.append(f"a person: {met.person}")
        return _Answer(number, clause, "; ".join(answers), sum(counts[rule] for rule in met.rules))

    answers = [answer(key, clause) for key, clause in book.clauses.items()]
    columns: tuple[Column[_Answer], ...] = (
        Column("Clause", "text", lambda row: row.number),
        Column("Asks", "text", lambda row: row.clause.asks.removesuffix(".")),
        Column("", "text", lambda row: f"→ {row.pages.removesuffix('.')}" if row.pages else None),
        Column("Findings", "text", lambda row: str(row.gaps) if row.gaps else None),
        Column("", "text", lambda row: row.clause.mark),
    )
    kinds = (
        ("Findings of this season rest on", [row for row in answers if row.gaps]),
        ("No finding rests on", [row for row in answers if not row.gaps]),
    )
    return tuple(table(caption, columns, rows) for caption, rows in kinds if rows)


def build_declaration(context: Context) -> Section:
    """What the operation declares of these records, and where to sign."""
    operation = context.season.details.operation
    words = (
        f"The records attached to this file are those of {operation.name} for season"
        f" {context.season.details.label}, as far as the undersigned know complete and true. This"
        " declaration is the operation’s own; certgen makes none."
    )
    return Section(
        "declaration",
        "Declaration and signatures",
        2,
        (
            Signature(
                words, ("For the operation: name, signature", "Inspector: name, signature", "Place and date")
            ),
        ),
        style="part",
    )
