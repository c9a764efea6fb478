"""How everything was computed: formulas, figures and their sources, clause by clause, and the declaration."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from certgen.report.chapters.figures.formulas import build_formulas
from certgen.report.chapters.figures.odds_appendix import build_odds_appendix
from certgen.report.chapters.land import build_cautions
from certgen.report.tables import Column, table
from certgen.rules.obligations import CANNOT_KNOW, MEANS, TITLE
from certgen.standards import coverage, pages
from certgen.typeset.parts import Chapter, Prose, Section, Signature

if TYPE_CHECKING:
    from certgen.report.context import Context
    from certgen.standards import Clause, Practice, Rulebook
    from certgen.typeset.parts import Grid

METHOD = (
    (
        "Every mass is read with the unit it was written in and kept in whole milligrams; sums are"
        " exact, and a page and a file of figures made from the same records cannot disagree."
        " Temperatures, lengths and times are converted to SI units for comparison and printed as they"
        " were written."
    ),
    (
        "The line of a lot is the closure of what the records name: a lot names its batches, a batch"
        " its pickings, a picking its bags, a bag its tree, a tree its planting, and a sample its tree."
        " It runs through lots that were blended in, and through own seed into earlier seasons."
    ),
    (
        "A batch is one mixed quantity: all of it takes the worst standing of anything on its line. A"
        " lot takes each part as its batch hands it on. Traced + unproven + rejected + unaccounted ="
        " the lot’s weight, exactly."
    ),
    (
        "The balance of a period is: brought forward + opening stock + produced + blended in + received"
        " + returned + gains at counts = sold + transferred + sown + sampled + retained + downgraded +"
        " discarded + blended out + lost in packing + losses at counts + left at the end. The two sides"
        " are computed apart. Of a variety, and in all, seed that one lot took from another is on neither"
        " side."
    ),
    (
        "A tree’s results are taken together: a result whose controls failed or were not run counts as"
        " none; a negative pool no larger than the method allows clears each of its trees, a positive"
        " pool leaves each of them inconclusive; a later result by another method that sees at least as"
        " much settles one that contradicts it."
    ),
)
MARKS_TEXT = (
    "‘Read’ means that the clause was read in a copy; ‘partly read’ in part; ‘from memory’ that it was"
    " recalled and must be looked up before anything is built on it; ‘derived’ that it follows from"
    " another. A practice or plausibility figure is a range outside which a record is worth a question."
    " It is no standard."
)


def build_method(context: Context) -> tuple[Chapter, ...]:
    """The chapters after the registers."""
    sections = [
        Section("method", "How everything was computed", 1, (Prose(METHOD, MARKS_TEXT),), style="chapter"),
        Section("traced", TITLE, 2, (Prose((*MEANS, *CANNOT_KNOW)),), style="part"),
        build_formulas(context),
        build_odds_appendix(context),
        Section(
            "methods",
            "What each test can see",
            2,
            (_show_methods(context), _show_hits(context)),
            style="part",
        ),
        Section("practice", "Figures of practice", 2, (_show_practice(context),), style="part"),
    ]
    cautions = build_cautions(context)
    if cautions is not None:
        sections.append(cautions)
    chapters = [Chapter("method", tuple(sections))]
    clauses = [
        Section(
            f"standards/{book.key}",
            f"{book.title}",
            2,
            (_show_clauses(context, book),),
            lead=f"{book.edition}. {book.scope}",
            style="part",
        )
        for book in context.result.rulebooks
    ]
    lead = (
        "What each clause asks, in our words, and where this packet answers it. Where a person has to"
        " look, it says so; the clause itself is what counts."
    )
    clauses.insert(0, Section("standards", "Clause by clause", 1, (Prose((lead,)),), style="chapter"))
    clauses.append(build_declaration(context))
    chapters.append(Chapter("standards", tuple(clauses)))
    return tuple(chapters)


def _show_methods(context: Context) -> Grid:
    return table(
        "Ways of testing a leaf or seed",
        (
            Column("Method", "long", lambda method: method.title, "15%"),
            Column("A negative means", "text", lambda method: method.negative_means, "28%"),
            Column("It cannot see", "text", lambda method: method.cannot_see, "33%"),
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
        "Ranges that records are checked against",
        (
            Column("Figure", "long", lambda usual: usual.title, "34%"),
            Column("Usual", "number", _range, "11%"),
            Column("Unit", "text", lambda usual: usual.unit, "10%"),
            Column("Source", "text", _say_source),
            Column("Kind", "text", lambda usual: usual.mark, "12%"),
        ),
        [usual for usual in figures if usual is not None],
        note="A season’s own figures, where it gives any with a reason, stand in place of the crop’s.",
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
    """A clause, and where the packet answers it; `gaps` counts those that rest on it (None: no check)."""

    number: str
    clause: Clause
    pages: str
    gaps: int | None


def _show_clauses(context: Context, book: Rulebook) -> Grid:
    titles = pages()
    counts = Counter(gap.rule for gap in context.result.gaps)

    def answer(key: str, clause: Clause) -> _Answer:
        met = coverage().get(key)
        number = key.partition(":")[2]
        if met is None:
            return _Answer(number, clause, "", None)
        answers = [titles[page] for page in met.pages]
        if met.person:
            answers.append(f"a person: {met.person}")
        gaps = sum(counts[rule] for rule in met.rules) if met.rules else None
        return _Answer(number, clause, "; ".join(answers), gaps)

    return table(
        "Clauses",
        (
            Column("Clause", "text", lambda row: row.number, "15%"),
            Column("Asks", "text", lambda row: row.clause.asks, "37%"),
            Column("Answered in", "text", lambda row: row.pages or None),
            Column("Gaps", "number", lambda row: row.gaps, "6%"),
            Column("How read", "text", lambda row: row.clause.mark, "10%"),
        ),
        [answer(key, clause) for key, clause in book.clauses.items()],
        note="Gaps: how many gaps of the checks that rest on the clause were found in these records.",
    )


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
