"""A rule's findings by their cause: what each gap is made of.

Of thousands of findings each may reach thousands of records, and no two the same: an input on a block stands
at every picking since. Lists for each would be a square of the records, so beyond a bound the findings that
come later are one, which stands at all that any of them reaches. So are findings beyond a number that
nobody reads: five hundred rounds may have looked at five hundred bags on a wrong day. No lot is better off.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, overload

from certgen.lineage.node_lists import Union

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.lineage import Node
    from certgen.rules.findings import Finding

#: So many records may all findings of a rule reach, counted at each list of its own, and still be told apart.
MOST_LISTED: Final = 200_000
#: So many findings of a rule are told apart.
MOST_TOLD: Final = 60_000

#: So many letters may a finding have, and what it asks to be supplied.
MOST_LETTERS: Final = 4_000


class Causes:
    """Findings of one rule, in the order in which each cause was found first."""

    def __init__(self) -> None:
        self._found: dict[object, list[Finding]] = {}
        #: What findings beyond the bound reach, by what they must share to be told together.
        self._unions: dict[object, Union] = {}
        #: How many findings beyond the number are told with a cause's, and by cause the records they are at.
        self._more: dict[object, int] = {}
        self._at: set[tuple[object, str, int | None]] = set()
        self._listed = self._told = 0
        #: Lists that are counted: the same one costs nothing a second time. A finding holds each of them.
        self._known: set[int] = set()

    def add(self, finding: Finding) -> None:
        """Takes down a finding."""
        cause = object() if finding.cause is None else finding.cause
        if len(finding.message) > MOST_LETTERS or len(finding.supply or "") > MOST_LETTERS:
            finding = finding._replace(message=_shorten(finding.message), supply=_shorten(finding.supply))
        nodes = finding.reaches
        # What has a cause is told together already.
        if finding.cause is None and nodes is not None and len(nodes) > 1 and self._is_beyond(nodes):
            cause = (finding.weight, finding.touches, finding.take_out, finding.clauses)
            self._unions.setdefault(cause, Union()).add(nodes)
            finding = finding._replace(reaches=())
        elif finding.cause is None and self._told >= MOST_TOLD:
            self._add_to_others(finding)
            return
        self._told += 1
        self._found.setdefault(cause, []).append(finding)

    def _add_to_others(self, finding: Finding) -> None:
        """Tells a finding with others like it: it adds its record, and what it reaches, if they are new."""
        cause = (finding.weight, finding.touches, finding.take_out, finding.clauses, finding.table)
        self._more[cause] = self._more.get(cause, -1) + 1
        at = (cause, finding.id, finding.row)
        # Where it stands and what it touches is never left out.
        if at not in self._at or finding.reaches is not None or finding.names or finding.place is not None:
            self._at.add(at)
            self._found.setdefault(cause, []).append(finding)

    def _is_beyond(self, nodes: Sequence[Node]) -> bool:
        """Whether a list is one too many to be kept."""
        # Faults at a run or a lot are told apart there, whatever list they share.
        if id(nodes) in self._known and nodes[0].table not in {"batches", "lots"}:
            return False
        if self._listed + len(nodes) > MOST_LISTED:
            return True
        self._listed += len(nodes)
        self._known.add(id(nodes))
        return False

    def __iter__(self) -> Iterator[list[Finding]]:
        """The findings of each cause; where some are told together, the first of them says so."""
        for cause, findings in self._found.items():
            union = self._unions.get(cause)
            if union is not None:
                why = "since the records that each of them reaches would be too many to list"
                told = _tell_together(findings[0], len(findings) - 1, why)
                findings[0] = told._replace(reaches=union.list())
            elif self._more.get(cause):
                # A season's own records stand first in a table: the gap is this season's if any of it is.
                findings.sort(key=lambda one: -1 if one.row is None else one.row)
                findings[0] = _tell_together(findings[0], self._more[cause], "as there are too many to list")
            yield findings


@overload
def _shorten(text: str) -> str: ...
@overload
def _shorten(text: None) -> None: ...
def _shorten(text: str | None) -> str | None:
    """A text without its middle where it is too long: each of thousands may quote one name of a page."""
    if text is None or len(text) <= MOST_LETTERS:
        return text
    part = MOST_LETTERS // 2
    return f"{text[:part]} […, {len(text) - 2 * part:,} letters left out, …] {text[-part:]}"


def _tell_together(first: Finding, more: int, why: str) -> Finding:
    if not more:
        return first
    times = f"{more:,} more {'time, which is' if more == 1 else 'times, which are'} told here as one with it"
    return first._replace(
        message=f"{first.message} So it is {times}, {why}.",
        supply=first.supply and f"{first.supply}, and {more:,} more like it",
    )
