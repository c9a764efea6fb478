"""The report's pages out of the co-op's result: finished text for the templates of the season's packet."""

from __future__ import annotations

from collections import Counter
from functools import reduce
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import KINDS, WEIGHTS
from certgen.coop.between.result import READINESS
from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.members.facts import Grams
from certgen.records.quantities import format_mass
from certgen.report.wording import cell, fact, figure, whole
from certgen.rules import WEIGHTS as GAP_WEIGHTS
from certgen.rules.wording import day
from certgen.typeset.parts import Cell, Chapter, Cover, Grid, Head, Listing, Prose, Row, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.typeset.parts import Part

_CHASED: Final = 8
#: Disagreements of a kind, and yields, in print; the attached data and the CSV form hold all.
_SAID: Final = 100
#: A readiness as the standing whose shape it wears.
READINESS_MARKS: Final = {
    "ready": "traced",
    "evidence missing": "unproven",
    "against the claim": "rejected",
    "not read": "rejected",
}
_IS: Final = (
    "What the records of a co-op’s members show, each examined on its own, and whether their papers agree "
    "with one another’s. It supports a certifier's decision and the office's own work."
)


def build_cover(result: CoopResult) -> Cover:
    """The first page."""
    coop, totals = result.coop, result.totals
    whole_ = reduce(Grams.plus, (view.standing for view in result.members), Grams())
    facts = [
        fact("Members", whole(len(result.members))),
        fact("Certifier", coop.certifier or "not recorded"),
        fact("Group’s certificate", coop.certificate or "none: each member has its own"),
        fact("Records as of", day(result.on)),
    ]
    standing = [Cell((Run(f"{format_mass(mass)} {word}"),), mark=word) for mass, word in whole_.split()]
    ready = [
        Cell((Run(f"{whole(count)} {word}"),), mark=READINESS_MARKS[word])
        for word, count in result.readiness.items()
        if count
    ]
    count = sum(one.weight == "unproven" for one in result.disagreements)
    return Cover(
        title="Seed traceability report of a co-op",
        operation=coop.name,
        season=f"{whole(len(result.members))} members · records as of {day(result.on)}",
        facts=tuple(facts),
        verdict=(*ready, *standing),
        is_text=_IS,
        is_not_text=NOT_CERTIFICATION,
        seal=(
            fact("Records", f"{whole(sum(totals.records.values()))} in {whole(totals.seasons)} seasons"),
            fact("Between members", f"{whole(count)} disagreements"),
            fact("Made by", f"certgen {result.version}; the same records give the same file"),
        ),
    )


def build_front(result: CoopResult) -> Iterator[Chapter]:
    """The chapters before the members' own pages."""
    yield Chapter(
        "overview",
        (
            Section("overview", "The co-op on a page", 1, tuple(_overview(result)), style="chapter"),
            Section("chase", "What to chase first", 2, (_chase(result),)),
        ),
    )
    yield Chapter("between members", tuple(_between(result)))
    yield Chapter("stock", (_balance(result), _yields(result)))


def _overview(result: CoopResult) -> Iterator[Part]:
    yield Grid(
        "How ready members are",
        (Head("Readiness"), Head("Members", "number"), Head("Traced", "number"), Head("Unproven", "number"),
         Head("Rejected", "number")),
        tuple(
            Row((cell(word, mark=READINESS_MARKS[word]), figure(whole(len(views))), *_masses(views)))
            for word in READINESS
            if (views := [view for view in result.members if view.readiness == word])
        ),
    )  # fmt: skip
    if result.varieties:
        yield Grid(
            "Seed by variety, with the other members’ records at hand",
            (Head("Variety"), Head("Standing"), Head("All", "number"), Head("Traced", "number"),
             Head("Unproven", "number"), Head("Rejected", "number")),
            tuple(
                Row((
                    cell(name or "no variety written"),
                    cell(standing.standing, mark=standing.standing),
                    figure(format_mass(standing.whole_mg)),
                    *(figure(format_mass(mass)) for mass in standing),
                ))
                for name, standing in result.varieties.items()
            ),
        )  # fmt: skip
    yield from _stages(result)


def _masses(views: Sequence[MemberView]) -> Iterator[Cell]:
    for number in range(3):
        yield figure(format_mass(sum(view.standing[number] for view in views)))


def _stages(result: CoopResult) -> Iterator[Part]:
    counts: dict[str, Counter[str]] = {}
    members: Counter[str] = Counter()
    for view in result.members:
        for stage, by_weight in view.summary.stages.items():
            counts.setdefault(stage, Counter()).update(by_weight)
            members[stage] += 1
    if counts:
        yield Grid(
            "Gaps by stage of the job",
            (Head("Stage"), Head("Members", "number"),
             *(Head(word.capitalize(), "number") for word in GAP_WEIGHTS)),
            tuple(
                Row((
                    cell(stage.replace("_", " ").capitalize()),
                    figure(whole(members[stage])),
                    *(figure(whole(one[weight])) for weight in GAP_WEIGHTS),
                ))
                for stage, one in sorted(counts.items(), key=lambda item: -item[1].total())
            ),
        )  # fmt: skip


def _chase(result: CoopResult) -> Part:
    if not result.chase:
        return Prose(("Nothing: every member is ready, and their papers agree.",))
    items = [(*_members(one.members), Run(f": {one.sentence}")) for one in result.chase[:_CHASED]]
    hidden = len(result.chase) - len(items)
    if hidden > 0:
        items.append((Run(f"and {whole(hidden)} more, which the JSON form lists"),))
    return Listing(tuple(items))


def _members(keys: Sequence[str]) -> Iterator[Run]:
    for number, name in enumerate(keys[:6]):
        if number:
            yield Run(", ")
        yield Run(name, f"member/{name}")
    if len(keys) > 6:
        yield Run(f" and {len(keys) - 6} more")


def _between(result: CoopResult) -> Iterator[Section]:
    found = result.disagreements
    lead = "What one member writes about another is held against what the other writes."
    opening: tuple[Part, ...] = (
        () if found else (Prose(("Wherever members’ records speak of one another, they agree.",)),)
    )
    yield Section("between", "What disagrees between members", 1, opening, lead=lead, style="chapter")
    for weight in WEIGHTS:
        for kind, what in KINDS.items():
            same = [one for one in found if one.kind == kind and what.weight == weight]
            if same:
                items = [(*_members(one.members), Run(f": {one.message}")) for one in same[:_SAID]]
                if len(same) > _SAID:
                    items.append((Run(f"and {whole(len(same) - _SAID)} more, which the JSON form lists"),))
                parts = (
                    Listing(tuple(items)),
                    Prose((f"What helps: {what.remedy}",), "; ".join(what.clauses)),
                )
                yield Section(f"between/{kind}", what.title, 2, parts)


def _balance(result: CoopResult) -> Section:
    grid = Grid(
        "All members together",
        (Head("Variety"), Head("Came", "number"), Head("Went", "number"), Head("To members", "number"),
         Head("From members", "number"), Head("Difference", "number"), Head("In store", "number")),
        tuple(
            Row(
                (
                    cell("Everything" if one.variety is None else one.variety or "lots without a record"),
                    *(
                        figure(format_mass(mass))
                        for mass in (
                            one.came_mg,
                            one.went_mg,
                            one.sent_mg,
                            one.received_mg,
                            one.difference_mg,
                            one.closing_mg,
                        )
                    ),
                ),
                tone="total" if one.variety is None else "plain",
            )
            for one in result.balance
        ),
        note="Came − went − difference = in store, to the milligram. The difference is what members booked "
        "out to members and nobody booked in; it is nought where their books agree.",
    )  # fmt: skip
    return Section("balance", "The combined mass balance", 1, (grid,), style="chapter")


def _yields(result: CoopResult) -> Section:
    rows = []
    ordered = sorted(result.yields, key=lambda one: (not one.is_far, one.variety, one.member))
    for one in ordered[:_SAID]:
        middle = "–" if one.median is None else f"{one.median:.1f} g"
        asked = "a question" if one.is_far else "" if one.median is not None else "too few to compare"
        cells = (cell(one.member, f"member/{one.member}"), cell(one.variety), figure(whole(one.trees)),
                 figure(format_mass(one.seed_mg)), figure(f"{one.grams_a_tree:.1f} g"), figure(middle),
                 cell(asked))  # fmt: skip
        rows.append(Row(cells, tone="faulty" if one.is_far else "plain"))
    heads = (Head("Member", "key"), Head("Variety"), Head("Trees", "number"), Head("Seed", "number"),
             Head("A tree", "number"), Head("Middle", "number"), Head("Asked"))  # fmt: skip
    note = "Computed; how a figure counts as far from the others stands under “How this was found”."
    parts: tuple[Part, ...] = (Grid("Seed packed for each screened tree", heads, tuple(rows), note=note),)
    return Section(
        "yields", "Yields", 2, parts if rows else (Prose(("No member packed seed from batches.",)),)
    )
