"""Findings: each with its record, what to do first, and the field that mends it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.desk.answering import address
from certgen.desk.entry_kinds import usual_units
from certgen.desk.entry_pages import offer_names
from certgen.desk.form_fields import build_field, value_at
from certgen.exchange.spreadsheets.rows import is_child
from certgen.records.tables import load_tables
from certgen.report.wording import say_thing
from certgen.rules import RULES
from certgen.typeset.design import WEIGHT_MARKS, WEIGHTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.form_fields import FormField
    from certgen.desk.held_season import Snapshot
    from certgen.records.tables import Column
    from certgen.rules import Gap

#: So many stand on a page; the rest is a link away.
_SHOWN: Final = 60
_PAPER: Final = "Add a paper"
#: Where what a finding asks for is entered, by the words that the asking begins with: what to press, the
#: page, and the field there that takes the number.
_SUPPLIES: Final = (
    ("a screening result", "Sampled", ("enter", "sampled"), "tree"),
    ("a confirming test", "Sampled", ("enter", "sampled"), "tree"),
    ("an earlier look at bag", "Check", ("enter", "check"), "bags"),
    ("a look at bag", "Check", ("enter", "check"), "bags"),
    ("the day on which bag", "Bag off", ("enter", "bag-off"), "bags"),
    ("what became of bag", "Bag off", ("enter", "bag-off"), "bags"),
    ("a germination test", "New test", ("tables", "tests", "new"), "lot"),
    ("a purity test", "New test", ("tables", "tests", "new"), "lot"),
    ("a clean test", "New test", ("tables", "tests", "new"), "lot"),
    ("a sound transgene test", "New test", ("tables", "tests", "new"), "lot"),
    ("the cleaning of", "New cleaning", ("tables", "cleaning", "new"), ""),
    ("the entry", "New movement", ("tables", "movements", "new"), "lot"),
    ("the opening stock", "New movement", ("tables", "movements", "new"), "lot"),
    ("the report on sample", _PAPER, ("papers",), "records"),
    ("the papers of movement", _PAPER, ("papers",), "records"),
    ("an approval of material", "New approved material", ("tables", "materials", "new"), ""),
)
#: How a finding asks for another value than the one that is there.
_CORRECTS: Final = ("the right ", "the true ", "an earlier day", "one variety's name", "what '")
#: The tables whose numbers a field takes.
_TAKES: Final = {"tree": "trees", "bags": "bagging", "lot": "lots"}


@dataclass(frozen=True, slots=True)
class ShownFinding:
    """A finding as its page shows it. `field` is the one that mends it, None where no single one does."""

    number: int
    gap: Gap
    mark: str
    title: str
    rule: str
    record: str
    address: str
    place: str
    field: FormField | None
    steps: tuple[tuple[str, str], ...]


def show_findings(desk: Desk, ask: Ask) -> Response:
    """The findings, what speaks against seed first, chosen by weight, lot and words."""
    snapshot = desk.held.look()
    weight, lot, words = (ask.query.get(name, "").strip() for name in ("weight", "lot", "words"))
    chosen = sorted(
        _choose(snapshot, weight, lot, words.casefold()), key=lambda one: list(WEIGHTS).index(one[1].weight)
    )
    typed = ask.query.get("from", "0")
    start = int(typed) if typed.isdecimal() and len(typed) < 9 else 0
    shown = [_build(snapshot, number, gap) for number, gap in chosen[start : start + _SHOWN]]
    query = {name: text for name, text in (("weight", weight), ("lot", lot), ("words", words)) if text}
    more = start + _SHOWN < len(chosen)
    return desk.show(
        "findings",
        snapshot,
        page="findings",
        findings=shown,
        total=len(chosen),
        weights=WEIGHTS,
        lots=list(snapshot.result.lots),
        chosen={"weight": weight, "lot": lot, "words": words},
        later=address("findings", **query, **{"from": str(start + _SHOWN)}) if more else "",
        earlier=address("findings", **query, **{"from": str(max(0, start - _SHOWN))}) if start else "",
        offered=offer_names([one.field for one in shown if one.field is not None], snapshot),
        said=ask.query,
    )


def _choose(snapshot: Snapshot, weight: str, lot: str, words: str) -> Iterator[tuple[int, Gap]]:
    for number, gap in enumerate(snapshot.result.gaps, start=1):
        text = " ".join((gap.headline, gap.message, gap.id, gap.rule, *gap.ids)).casefold()
        if (not weight or gap.weight == weight) and (not lot or lot in gap.lots) and words in text:
            yield number, gap


def _build(snapshot: Snapshot, number: int, gap: Gap) -> ShownFinding:
    table = load_tables().get(gap.table)
    is_own = table is not None and bool(table.key) and snapshot.season.row(gap.table, gap.id) is not None
    line = snapshot.result.locate([gap.place]).get(gap.place)
    return ShownFinding(
        number,
        gap,
        WEIGHT_MARKS[gap.weight],
        gap.headline or gap.message,
        RULES[gap.rule].title if gap.rule in RULES else gap.rule,
        say_thing(gap).strip(),
        address("record", gap.table, gap.id) if is_own else "",
        f"{gap.place.file}, line {line[0]}" if line else gap.place.file,
        _find_field(snapshot, gap) if is_own else None,
        tuple(_list_steps(gap)),
    )


def _find_field(snapshot: Snapshot, gap: Gap) -> FormField | None:
    """The field at which the finding stands, if one field of a form can take what mends it.

    None is offered where nothing that is written can mend it, where an entry of its own does, or where the
    field says something that isn't itself in doubt: nobody is to be led into changing a sale's day or a count
    so that it fits.
    """
    column = find_column(gap)
    if not gap.supply or any(title != _PAPER for title, _ in _list_steps(gap)):
        return None
    if column is None or is_child(column) or column.name == load_tables()[gap.table].key:
        return None
    record = snapshot.season.record(gap.table, gap.id) or {}
    if value_at(record, column.path) is not None and not gap.supply.startswith(_CORRECTS):
        return None
    return build_field(column, snapshot.result.profile.words, record, usual_units(snapshot))


def find_column(gap: Gap) -> Column | None:
    """The column of its table that a finding stands at, None for the record as a whole."""
    steps = [step for step in gap.field if isinstance(step, str)]
    columns = {column.name: column for column in load_tables()[gap.table].columns}
    for length in range(len(steps), 0, -1):
        if (name := ".".join(steps[:length])) in columns:
            return columns[name]
    return None


def _list_steps(gap: Gap) -> Iterator[tuple[str, str]]:
    """Entries that would mend it, by what the finding says is to be supplied: the words and the address."""
    for begins, title, page, takes in _SUPPLIES:
        if (gap.supply or "").startswith(begins):
            yield title, address(*page, **_name_record(gap, takes))
            return


def _name_record(gap: Gap, takes: str) -> dict[str, str]:
    """The number that a form begins with, as far as the finding tells it."""
    if takes == "records":
        return {"table": gap.table, "records": ", ".join(gap.ids or (gap.id,))}
    if takes and gap.table == _TAKES[takes]:
        return {takes: gap.id}
    return {"lot": gap.lots[0]} if takes == "lot" and len(gap.lots) == 1 else {}
