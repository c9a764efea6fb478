"""How everything was computed: formulas, figures and their sources, clause by clause, and the declaration."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.report.chapters.figures.formulas import build_formulas
from certgen.report.chapters.land import build_cautions
from certgen.report.wording import cell, figure, whole
from certgen.rules.meaning import CANNOT_KNOW, MEANS, TITLE
from certgen.standards import coverage, pages
from certgen.typeset.parts import Cell, Chapter, Grid, Head, Prose, Row, Run, Section, Signature

if TYPE_CHECKING:
    from certgen.report.context import Context
    from certgen.standards import Practice

METHOD = (
    (
        "Every mass is read with the unit it was written in and kept in whole milligrams; sums are exact,"
        " and a page and"
        " a file of figures made from the same records cannot disagree. Temperatures, lengths and times are"
        " converted to"
        " SI units for comparison and printed as they were written."
    ),
    (
        "The line of a lot is the closure of what the records name: a lot names its batches, a batch its"
        " pickings, a"
        " picking its bags, a bag its tree, a tree its planting, and a sample its tree. It runs through lots"
        " that were"
        " blended in, and through own seed into earlier seasons."
    ),
    (
        "A batch is one mixed quantity: all of it takes the worst standing of anything on its line. A lot"
        " takes each part"
        " as its batch hands it on. Traced + unproven + rejected + unaccounted ="
        " the lot’s weight, exactly."
    ),
    (
        "The balance of a period is: brought forward + opening stock + produced + blended in + received +"
        " returned + gains"
        " at counts = sold + transferred + sown + sampled + retained + downgraded + discarded + blended out"
        " + lost in"
        " packing + losses at counts + left at the end. The two sides are computed apart."
    ),
    (
        "A tree’s results are taken together: a result whose controls failed or were not run counts as "
        "none; a negative pool no larger than the method allows clears each of its trees, a positive pool "
        "leaves each of them inconclusive; a later result by another method that sees at least as much "
        "settles one that contradicts it."
    ),
)
MARKS_TEXT = (
    "‘Read’ means that the clause was read in a copy; ‘partly read’ in part; ‘from memory’ that it was"
    " recalled and must"
    " be looked up before anything is built on it; ‘derived’ that it follows from another. A practice or"
    " plausibility"
    " figure is a range outside which a record is worth a question. It is no standard."
)


def build_method(context: Context) -> tuple[Chapter, ...]:
    """The chapters after the registers."""
    sections = [
        Section("method", "How everything was computed", 1, (Prose(METHOD, MARKS_TEXT),), style="chapter"),
        Section("traced", TITLE, 2, (Prose((*MEANS, *CANNOT_KNOW)),), style="part"),
        build_formulas(context),
        Section("methods", "What each test can see", 2, (_methods(context),), style="part"),
        Section("practice", "Figures of practice", 2, (_practice(context),), style="part"),
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
            (_clauses(context, book.key),),
            lead=f"{book.edition}. {book.scope}",
            style="part",
        )
        for book in context.result.rulebooks
    ]
    lead = (
        "What each clause asks, in our words, and where this packet answers it. Where a person has to"
        " look, it says so;"
        " the clause itself is what counts."
    )
    clauses.insert(0, Section("standards", "Clause by clause", 1, (Prose((lead,)),), style="chapter"))
    clauses.append(_declaration(context))
    chapters.append(Chapter("standards", tuple(clauses)))
    return tuple(chapters)


def _methods(context: Context) -> Grid:
    return Grid(
        "Ways of testing a leaf or seed",
        (
            Head("Method", share="15%"),
            Head("A negative means", share="28%"),
            Head("It cannot see", share="33%"),
            Head("Source"),
        ),
        tuple(
            Row(
                (
                    Cell((Run(method.title),), "long"),
                    cell(method.negative_means),
                    cell(method.cannot_see),
                    cell(f"{method.source} ({method.mark})"),
                )
            )
            for method in context.profile.methods.values()
        ),
    )


def _practice(context: Context) -> Grid:
    rows = []
    case = context.result.case
    for key in context.profile.practice:
        figure_ = case.practice(key)
        if figure_ is None:
            continue
        rows.append(
            Row(
                (
                    Cell((Run(figure_.title),), "long"),
                    figure(_range(figure_)),
                    cell(figure_.unit),
                    cell(figure_.source),
                    cell(figure_.mark),
                )
            )
        )
    return Grid(
        "Ranges that records are held against",
        (
            Head("Figure", share="34%"),
            Head("Usual", "number", "11%"),
            Head("Unit", share="10%"),
            Head("Source"),
            Head("Kind", share="12%"),
        ),
        tuple(rows),
        note="A season’s own figures, where it gives any with a reason, stand in place of the crop’s.",
    )


def _range(one: Practice) -> str:
    if one.low is not None and one.high is not None:
        return f"{one.low:g} to {one.high:g}"
    if one.low is not None:
        return f"from {one.low:g}"
    if one.high is not None:
        return f"up to {one.high:g}"
    return f"{one.usual:g}" if one.usual is not None else "–"


def _clauses(context: Context, book: str) -> Grid:
    titles = pages()
    found: dict[str, int] = {}
    for gap in context.result.gaps:
        found[gap.rule] = found.get(gap.rule, 0) + 1
    rows = []
    for key, clause in next(one for one in context.result.rulebooks if one.key == book).clauses.items():
        met = coverage().get(key)
        answers = []
        gaps = 0
        if met is not None:
            answers += [titles[page] for page in met.pages]
            gaps = sum(found.get(rule, 0) for rule in met.rules)
            if met.person:
                answers.append(f"a person: {met.person}")
        rows.append(
            Row(
                (
                    cell(key.partition(":")[2]),
                    cell(clause.asks),
                    cell("; ".join(answers) or "–"),
                    figure(whole(gaps) if met is not None and met.rules else "–"),
                    cell(clause.mark),
                )
            )
        )
    return Grid(
        "Clauses",
        (
            Head("Clause", share="15%"),
            Head("Asks", share="37%"),
            Head("Answered in"),
            Head("Gaps", "number", "6%"),
            Head("How read", share="10%"),
        ),
        tuple(rows),
        note="Gaps: how many gaps of the checks that rest on the clause were found in these records.",
    )


def _declaration(context: Context) -> Section:
    operation = context.season.details.operation
    words = (
        f"The records attached to this file are those of {operation.name} for season"
        f" {context.season.details.label},"
        " as far as the undersigned know complete and true. This declaration is the operation’s own;"
        " certgen makes none."
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
