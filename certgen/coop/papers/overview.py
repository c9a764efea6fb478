"""The report's first pages: cover, the co-op on a page, what to chase, what disagrees, stock and yields.

Its last chapters: whom to visit, what rulebooks ask of a group, how everything was found.
"""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING, Final

from certgen.coop.between.comparison import HIGH_RISK
from certgen.coop.between.disagreements import KINDS, WEIGHTS
from certgen.coop.between.result import READINESS
from certgen.coop.between.transfers import DAYS_UNDER_WAY
from certgen.coop.between.visits import (
    MISS_BASIS,
    NOT_CERTIFICATION,
    OWN_INSPECTIONS,
    say_order,
    say_visits,
)
from certgen.coop.between.yields import BOUND, LEAST_FACTOR, LEAST_MEMBERS
from certgen.coop.members.facts import Grams
from certgen.coop.papers.control_pages import build_control, build_duties
from certgen.dossier.spot_check import say_chance
from certgen.figures.draws import plain_text, write_fingerprint
from certgen.records.quantities import format_mass
from certgen.report.tables import Column, table
from certgen.report.wording import cell, count_of, fact, whole
from certgen.rules import WEIGHTS as GAP_WEIGHTS
from certgen.rules.wording import day
from certgen.standards.loader import cite
from certgen.typeset.parts import Cell, Chapter, Cover, Listing, Prose, Register, RegisterColumn, Run, Section

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.result import CoopResult
    from certgen.typeset.parts import Part

    Item = tuple[Run, ...]

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
    standing = reduce(Grams.plus, (view.standing for view in result.members), Grams())
    ready = [
        cell(f"{whole(count)} {word}", mark=READINESS_MARKS[word])
        for word, count in result.readiness.items()
        if count
    ]
    grams = [cell(f"{format_mass(mass)} {word}", mark=word) for mass, word in standing.split()]
    return Cover(
        title="Seed traceability report of a co-op",
        operation=coop.name,
        season=f"{count_of('member', len(result.members))} · records as of {day(result.on)}",
        facts=(
            fact("Members", whole(len(result.members))),
            fact("Certifier", coop.certifier or "not recorded"),
            fact("Group’s certificate", coop.certificate or "none: each member has its own"),
            fact("Records as of", day(result.on)),
        ),
        verdict=(*ready, *grams),
        is_text=_IS,
        is_not_text=NOT_CERTIFICATION,
        file=(
            fact(
                "Records",
                f"{whole(sum(totals.records.values()))} in {count_of('season', totals.seasons)}",
            ),
            fact("Between members", result.agreement.rstrip(".")),
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
    yield from build_control(result)
    yield Chapter("stock", (_balance(result), _yields(result)))


def show_readiness(readiness: str) -> Cell:
    """How ready a member is, with the shape of the standing."""
    return cell(readiness, mark=READINESS_MARKS[readiness])


def list_first(items: Sequence[Item], count: int, where: str = "") -> Listing:
    """The first of `count` things, and how many there are besides, which are found `where`."""
    hidden = count - len(items)
    rest = [(Run(f"and {whole(hidden)} more{where}"),)] if hidden > 0 else []
    return Listing((*items, *rest))


def _overview(result: CoopResult) -> Iterator[Part]:
    ready = [
        (word, views, reduce(Grams.plus, (view.standing for view in views)))
        for word in READINESS
        if (views := [view for view in result.members if view.readiness == word])
    ]
    yield table(
        "How ready members are",
        (
            Column("Readiness", "text", lambda row: show_readiness(row[0])),
            Column("Members", "number", lambda row: len(row[1])),
            Column("Traced", "number", lambda row: format_mass(row[2].traced_mg)),
            Column("Unproven", "number", lambda row: format_mass(row[2].unproven_mg)),
            Column("Rejected", "number", lambda row: format_mass(row[2].rejected_mg)),
        ),
        ready,
    )
    if result.varieties:
        yield table(
            "Seed by variety, with the other members’ records at hand",
            (
                Column("Variety", "text", lambda row: row[0] or "no variety written"),
                Column("Standing", "standing", lambda row: row[1].standing),
                Column("All", "number", lambda row: format_mass(row[1].whole_mg)),
                Column("Traced", "number", lambda row: format_mass(row[1].traced_mg)),
                Column("Unproven", "number", lambda row: format_mass(row[1].unproven_mg)),
                Column("Rejected", "number", lambda row: format_mass(row[1].rejected_mg)),
                Column("Unaccounted", "number", lambda row: format_mass(row[1].unaccounted_mg)),
            ),
            list(result.varieties.items()),
        )
    if result.stages:
        yield _stages(result)


def _stages(result: CoopResult) -> Part:
    def gaps(weight: str) -> Column[tuple[str, Counter[str]]]:
        return Column(weight.capitalize(), "number", lambda row: row[1][weight])

    def count_members(stage: str) -> int:
        return sum(stage in view.summary.stages for view in result.members)

    return table(
        "Gaps by stage of the job",
        (
            Column("Stage", "text", lambda row: row[0].replace("_", " ").capitalize()),
            Column("Members", "number", lambda row: count_members(row[0])),
            *map(gaps, GAP_WEIGHTS),
        ),
        list(result.stages.items()),
    )


def _chase(result: CoopResult) -> Part:
    if not result.chase:
        ready = all(view.readiness == "ready" for view in result.members)
        first = "every member is ready. " if ready else "no one thing proves more than another. "
        return Prose((f"Nothing: {first}{result.agreement}",))
    items = [(*_members(one.members), Run(f": {one.sentence}")) for one in result.chase[:_CHASED]]
    return list_first(items, len(result.chase), ", which the JSON form lists")


def _members(keys: Sequence[str]) -> Iterator[Run]:
    for number, name in enumerate(keys[:6]):
        if number:
            yield Run(", ")
        yield Run(name, f"member/{name}")
    if len(keys) > 6:
        yield Run(f" and {len(keys) - 6} more")


def _between(result: CoopResult) -> Iterator[Section]:
    disagreements = result.disagreements
    said = "Wherever members’ records speak of one another, they agree."
    agreed = Prose((said if result.is_agreed else result.agreement,))
    yield Section(
        "between",
        "What disagrees between members",
        1,
        (agreed,) if not disagreements or result.unread or result.read_in_part else (),
        lead="What one member writes about another is compared with what the other writes.",
        style="chapter",
    )
    yield from _kinds(result)


def _kinds(result: CoopResult) -> Iterator[Section]:
    """A section a kind; what the control has open stands in a chapter of its own, where there is one."""
    hidden = "control" if result.coop.control is not None else ""
    by_kind: dict[str, list[Disagreement]] = {}
    for one in result.disagreements:
        by_kind.setdefault(one.kind, []).append(one)
    order = sorted(KINDS.items(), key=lambda item: WEIGHTS.index(item[1].weight))
    for slug, kind in order:
        same = by_kind.get(slug, [])
        if same and kind.weight != hidden:
            items = [(*_members(one.members), Run(f": {one.message}")) for one in same[:_SAID]]
            listing = list_first(items, len(same), ", which the JSON form lists")
            help_ = Prose((f"What helps: {kind.remedy}",), "; ".join(map(cite, kind.clauses)))
            yield Section(f"between/{slug}", kind.title, 2, (listing, help_))


def _balance(result: CoopResult) -> Section:
    grid = table(
        "All members together",
        (
            Column("Variety", "text", lambda row: row.title),
            Column("Came", "number", lambda row: format_mass(row.came_mg)),
            Column("Went", "number", lambda row: format_mass(row.went_mg)),
            Column("To members", "number", lambda row: format_mass(row.sent_mg)),
            Column("From members", "number", lambda row: format_mass(row.received_mg)),
            Column("Difference", "number", lambda row: format_mass(row.difference_mg)),
            Column("In store", "number", lambda row: format_mass(row.closing_mg)),
        ),
        result.balance,
        note="Came − went − difference = in store, to the milligram. The difference is what members booked "
        "out to members and nobody booked in; it is nought where their books agree.",
        tone=lambda row: "total" if row.variety is None else "plain",
    )
    return Section("balance", "The combined mass balance", 1, (grid,), style="chapter")


def _yields(result: CoopResult) -> Section:
    ordered = sorted(result.yields, key=lambda one: (not one.is_far, one.variety, one.member))
    grid = table(
        "Seed packed for each screened tree",
        (
            Column("Member", "key", lambda row: cell(row.member, f"member/{row.member}")),
            Column("Variety", "text", lambda row: row.variety),
            Column("Trees", "number", lambda row: row.trees),
            Column("Seed", "number", lambda row: format_mass(row.seed_mg)),
            Column("A tree", "number", lambda row: f"{row.grams_a_tree:.1f} g"),
            Column("Middle", "number", lambda row: None if row.median is None else f"{row.median:.1f} g"),
            Column("Asked", "text", lambda row: row.asked),
        ),
        ordered[:_SAID],
        note="Computed; how a figure counts as far from the others stands under “How this was found”.",
        tone=lambda row: "faulty" if row.is_far else "plain",
    )
    nothing = Prose(("No member packed seed from batches.",))
    return Section("yields", "Yields", 2, (grid if ordered else nothing,))


MANIFEST_LEAD: Final = (
    "What each member handed in, as one SHA-256 over the bytes of its record files and the names of "
    "all its files. The same records give the same figure; anything changed since gives another."
)
_DRAW: Final = (
    f"Members with {HIGH_RISK} points or more are all visited. The others are drawn: u is the SHA-256 of "
    "“fingerprint|text|key” divided by 2 to the 256th, the text as it is hashed, w is 1 and the points, and "
    "those with the smallest −ln(u)/w are drawn (Efraimidis and Spirakis, 2006). Of each member’s lots those "
    "with the smallest SHA-256 of “fingerprint|text|KEY:lots/LOT” are looked at. Anyone can draw them again."
)
_WEIGHING: Final = "The points are certgen’s own weighing, and no standard’s."
_METHOD: Final = (
    (
        "Each member’s folder was examined on its own, by the same rules as a single season and "
        "without sight of any other. What is compared here are the summaries: stock book entries with "
        "a party, lot numbers, plantings’ origins, report numbers, uses of shared equipment, weights."
    ),
    (
        "Transfers are paired by document number, then lot, then weight and day. Seed that is more "
        f"than {DAYS_UNDER_WAY} days under way is asked about; that figure is certgen’s choice."
    ),
    (
        "A lot packed from another member’s lot takes each part as that member’s records leave it, gram by "
        "gram, if both stock books agree on the way it came and nothing stopped it on that day. Trees grown "
        "from another member’s lot are led back only if every gram of that lot is traced."
    ),
    (
        "Yields: grams packed from batches for each seed parent whose screening cleared it, on a "
        f"logarithmic scale. A member is asked when it lies more than {BOUND} robust standard "
        f"deviations (1.4826 times the median deviation) and a factor of {LEAST_FACTOR} from the "
        f"median of at least {LEAST_MEMBERS} members. The bound is that of Iglewicz and Hoaglin, from "
        "memory. An unusual yield is a question, and no finding."
    ),
)


def build_last_chapter(result: CoopResult) -> Chapter:
    """Visits, group figures and method, set together."""
    return Chapter("group and method", (_visits(result), _figures(result), _method()))


def _visits(result: CoopResult) -> Section:
    views = {view.member.key: view for view in result.members}
    sample = result.sample
    how = f"{sample.basis}. {OWN_INSPECTIONS} {_DRAW}"
    key = (
        f"The text of this draw: “{sample.key.text}”, hashed as {plain_text(sample.key.text)}. Fingerprint:"
        f" {' '.join(write_fingerprint(sample.key.fingerprint))}. {say_order(sample)} {_WEIGHING}"
    )
    missed = "; ".join(f"{what}: {say_chance(chance)}" for what, chance in sample.misses)
    return Section(
        "visits",
        "Whom to visit",
        1,
        (
            Prose((how, key)),
            table(
                "Members to visit",
                (
                    Column("Member", "key", lambda visit: cell(visit.member, f"member/{visit.member}")),
                    Column("Name", "text", lambda visit: views[visit.member].member.name),
                    Column("Why", "text", lambda visit: visit.why),
                    Column("Points", "number", lambda visit: str(visit.points)),
                    Column(
                        "What the points are for",
                        "text",
                        lambda visit: ", ".join(reason for reason, _ in views[visit.member].risk.reasons),
                    ),
                    Column("Lots to look at", "text", say_visits),
                ),
                sample.visits,
                note=f"The chance, at worst, that these visits miss it: {missed}. {MISS_BASIS}",
            ),
        ),
        style="chapter",
    )


def _figures(result: CoopResult) -> Section:
    grid = table(
        "Figures for groups of producers",
        (
            Column("Clause", "text", lambda figure: figure.clause),
            Column("What", "text", lambda figure: figure.title),
            Column("Figure", "text", lambda figure: figure.value),
            Column("Here", "text", lambda figure: figure.here),
            Column("How it was come by", "text", lambda figure: figure.mark),
            Column("Only", "text", lambda figure: figure.note),
        ),
        result.figures,
        note="A figure marked “from memory” was not read in a copy of the rule; look it up before you rely "
        "on it.",
    )
    known = grid if result.figures else Prose(("The rulebooks named here set none.",))
    return Section(
        "group",
        "What rulebooks ask of a group",
        2,
        (Prose((NOT_CERTIFICATION,)), known, build_duties(result)),
    )


def _method() -> Section:
    return Section("method", "How this was found", 2, (Prose(_METHOD),))


def build_manifest(result: CoopResult) -> Register:
    """Every member with its state and fingerprint."""
    columns = (
        RegisterColumn("Member", 0.12),
        RegisterColumn("Name", 0.2),
        RegisterColumn("Readiness", 0.14),
        RegisterColumn("Handed in", 0.2),
        RegisterColumn("SHA-256", 0.34),
    )
    rows = tuple(
        (
            f"manifest/{view.member.key}",
            (
                ((view.member.key, f"member/{view.member.key}"),),
                ((view.member.name, ""),),
                ((view.readiness, ""),),
                ((view.member.path, ""),),
                ((view.summary.fingerprint or "not read", ""),),
            ),
        )
        for view in result.members
    )
    return Register("members", "Members", "", columns, rows)
