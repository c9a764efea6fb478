"""What disagrees between members, by number, and what to chase first."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from certgen.coop.between.kinds import KINDS
from certgen.coop.papers.readiness import name_members
from certgen.records.quantities import format_mass
from certgen.report.tables import Column, table
from certgen.report.wording import cell, linked, say, whole
from certgen.rules.wording import day
from certgen.standards.loader import cite
from certgen.typeset.parts import Cell, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.result import Chase, CoopResult
    from certgen.typeset.parts import Part

    Numbered = tuple[int, Disagreement]

#: The shape of each weight.
_MARKS: Final = {"rejects": "rejected", "unproven": "unproven", "control": "unproven", "question": "advice"}


def list_numbered(result: CoopResult) -> tuple[Numbered, ...]:
    """Disagreements with the numbers that all pages call them by. What the control has open stands in its
    own table, where the co-op keeps such records, and has no number.
    """
    hidden = "control" if result.coop.control is not None else ""
    shown = [one for one in result.disagreements if KINDS[one.kind].weight != hidden]
    return tuple(enumerate(shown, 1))


def link_numbers(result: CoopResult, positions: Sequence[int]) -> tuple[Run, ...]:
    """The numbers of disagreements by their positions, each leading to its row."""
    wanted = {id(result.disagreements[position]) for position in positions}
    return linked("between", [str(number) for number, one in list_numbered(result) if id(one) in wanted])


def build_between(result: CoopResult) -> Section:
    """Every disagreement in one table; what helps and its rule stand at the first of each kind."""
    numbered = list_numbered(result)
    said = "Wherever members’ records speak of one another, they agree."
    agreed = Prose((said if result.is_agreed else result.agreement,))
    parts: list[Part] = []
    if not result.disagreements or result.unread or result.read_in_part:
        parts.append(agreed)
    if numbered:
        parts.append(_tabulate(result, numbered))
    return Section(
        "between",
        "What disagrees between members",
        1,
        tuple(parts),
        lead="What one member writes about another is compared with what the other writes.",
        style="follow",
    )


def _tabulate(result: CoopResult, numbered: Sequence[Numbered]) -> Part:
    first: dict[str, int] = {}
    for number, one in numbered:
        first.setdefault(one.kind, number)

    def help_(row: Numbered) -> Cell:
        number, one = row
        looked = result.looked.get(one.code)
        if looked is not None and result.is_settled(one):
            return Cell(say(f"Looked at by {looked.by} on {day(looked.date)}: {looked.found}."))
        if first[one.kind] != number:
            return cell(f"as {first[one.kind]}", f"between/{first[one.kind]}")
        return Cell(say(KINDS[one.kind].remedy))

    def rule(row: Numbered) -> str:
        number, one = row
        return "; ".join(map(cite, KINDS[one.kind].clauses)) if first[one.kind] == number else ""

    grid = table(
        "By number, as other pages name them",
        (
            Column("No.", "text", lambda row: cell(str(row[0])), "4%"),
            Column("Members", "text", lambda row: Cell(tuple(name_members(row[1].members))), "11%"),
            Column("Weight", "text", lambda row: cell(row[1].weight, mark=_MARKS[row[1].weight]), "11%"),
            Column("What", "text", lambda row: Cell(say(row[1].message)), "37%"),
            Column("What helps", "text", help_, "24%"),
            Column("Rule", "text", rule, "13%"),
        ),
        numbered,
    )
    anchored = zip(grid.rows, numbered, strict=True)
    return replace(
        grid, rows=tuple(replace(row, anchor=f"between/{number}") for row, (number, _) in anchored)
    )


def build_chase(result: CoopResult) -> Section:
    """All that is worth chasing, member by member, whoever proves most first."""
    parts = tuple(_list_chase(result))
    return Section("chase", "What to chase first", 1, parts, style="follow")


def _list_chase(result: CoopResult) -> Iterator[Part]:
    if not result.chase:
        ready = all(view.readiness == "ready" for view in result.members)
        first = "every member is ready. " if ready else "no one thing proves more than another. "
        yield Prose((f"Nothing: {first}{result.agreement}",))
        return
    numbers = {id(one): number for number, one in list_numbered(result)}

    def what(row: tuple[int, Chase]) -> Cell:
        one = row[1]
        about = None if one.about is None else result.disagreements[one.about]
        number = None if about is None else numbers.get(id(about))
        if about is None:
            return Cell(say(one.text))
        if number is None:
            return Cell((Run("The co-op’s own control", "control"), Run(f": {KINDS[about.kind].title}")))
        return Cell((Run(f"Disagreement {number}", f"between/{number}"), Run(f": {KINDS[about.kind].title}")))

    yield table(
        "Member by member, in this order",
        (
            Column("No.", "text", lambda row: whole(row[0]), "5%"),
            Column("Members", "text", lambda row: Cell(tuple(name_members(row[1].members))), "18%"),
            Column("What", "text", what, "65%"),
            Column(
                "Proves",
                "number",
                lambda row: format_mass(row[1].proves_mg) if row[1].proves_mg else "",
                "12%",
            ),
        ),
        list(enumerate(result.chase, 1)),
    )
