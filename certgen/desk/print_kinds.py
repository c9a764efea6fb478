"""What can be printed at the desk, and what is chosen of each: as few choices as a person needs."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.desk.print_orders import Choice, PrintKind, PrintOrder
from certgen.exchange.editing.record_choice import expand_names
from certgen.exchange.field_paper.field_sheets import ROUNDS
from certgen.exchange.field_paper.paper_kinds import KINDS
from certgen.records.nouns import noun
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables
from certgen.rules.seed.recalls import list_recalls

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.desk.held_season import Snapshot


_PAGE: Final = Choice("page", "Paper", "word", "A4", options=(("A4", "A4"), ("Letter", "Letter")))
_SKIP: Final = Choice("skip", "Places already used on the first sheet", "whole", "0", most=5000)
_TEXT_SIGNS: Final = 400
_NAMES_SIGNS: Final = 20_000
#: Years between which days can be added and taken away at will.
_FIRST_YEAR, _LAST_YEAR = 1900, 2999
_SHEETS: Final = {
    "sample-round": ("Leaf sample round", "Standing trees in walking order, to write samples beside."),
    "submission-sheet": ("Leaves for the laboratory", "The samples that wait, to go with the leaves."),
    "split-receipt": ("Receipt for a split sample", "What was parted and handed over, signed by both."),
    "bagging-round": ("Bagging round", "The trees that are cleared, in walking order."),
    "check-round": ("Check round", "The bags that hang, to look at each."),
    "uncovering-round": ("Uncovering round", "The bags that are to come off."),
    "picking-list": ("Picking list", "The fruit that may be picked, by its tag."),
    "run-sheet": ("Run sheet", "To write down extraction, cleaning and drying beside the machine."),
    "drying-log": ("Drying log", "Weights and weather while seed dries."),
}  # fmt: skip


def list_kinds(snapshot: Snapshot) -> list[tuple[str, list[PrintKind]]]:
    """What can be printed of a season, by what it is for."""
    lots = tuple((lot, lot) for lot in snapshot.result.lots)
    groups = [
        ("For the inspector", [*_list_reports(lots), _VISIT]),
        ("About lots", [*_list_lot_papers(lots), *_list_notices(snapshot)]),
        ("For the rows", [_TAGS, _SAMPLES, *_list_sheets(snapshot.result.on)]),
        ("Before labels are printed", [_CALIBRATION]),
        ("For other programs", [_WORKBOOK, _CALENDAR]),
    ]
    return [(title, kinds) for title, kinds in groups if kinds]


def find_kinds(snapshot: Snapshot) -> dict[str, PrintKind]:
    """The same kinds by their names in addresses."""
    return {kind.slug: kind for _, kinds in list_kinds(snapshot) for kind in kinds}


def _list_reports(lots: tuple[tuple[str, str], ...]) -> Iterator[PrintKind]:
    about = Choice("lot", "About", "word", "", options=(("", "the whole season"), *lots))
    length = Choice(
        "length",
        "Length",
        "word",
        "full",
        "Short is eight pages or so: findings, lots, balance, signatures.",
        (("full", "whole"), ("short", "short")),
    )
    yield PrintKind(
        "report",
        "Report",
        "Cover, findings, a dossier for each lot, mass balance, registers, and the records inside, as PDF.",
        (about, length, _PAGE),
        handed_on=True,
    )
    yield PrintKind(
        "binder",
        "Binder",
        "The same for a browser or tablet, as one HTML file. Save it to tick and write in it.",
        (about,),
        handed_on=True,
    )


_VISIT: Final = PrintKind(
    "visit",
    "Inspector’s working papers",
    "What is open, what to check, what was drawn, room for findings.",
    (
        Choice(
            "seed",
            "Text that decides the draws",
            "text",
            hint="Told by whoever inspects. Left empty, the report’s own draws are taken.",
        ),
        _PAGE,
    ),
)


def _list_lot_papers(lots: tuple[tuple[str, str], ...]) -> Iterator[PrintKind]:
    if not lots:
        return
    yield PrintKind(
        "card",
        "Lot card",
        "One page for whoever buys: standing by gram, parents, tests, label. It holds nothing of other lots.",
        (Choice("lot", "Lot", "word", lots[0][0], options=lots), _PAGE),
        handed_on=True,
    )
    yield PrintKind(
        "lots",
        "Lot labels",
        "One for each container of a lot.",
        (
            Choice("only", "Which lots", "names", hint="Left empty, all of them.", table="lots"),
            *_of_labels("lots"),
        ),
    )


def _list_notices(snapshot: Snapshot) -> Iterator[PrintKind]:
    recalls = tuple(
        (one.name, f"{one.title}, about {', '.join(one.about)}") for one in list_recalls(snapshot.result.case)
    )
    if recalls:
        yield PrintKind(
            "recall",
            "Recall notices",
            "A draft to each holder, with an answer to tear off, and one to the certifier.",
            (Choice("recall", "Recall on record", "word", recalls[0][0], options=recalls), _PAGE),
        )


def _choose_trees(otherwise: str) -> Choice:
    hint = f"Numbers and ranges: T-1 to T-19, T-24. Left empty, {otherwise}."
    return Choice("only", "Which trees", "names", hint=hint, table="trees")


def _of_labels(kind: str) -> tuple[Choice, ...]:
    size = Choice(
        "size",
        "Size of one label",
        "text",
        KINDS[kind],
        "Width × height as you measure it: 70x37 (millimetres), or 2.75x1.5in.",
    )
    return (_PAGE, size, _SKIP)


_TAGS: Final = PrintKind(
    "tags",
    "Bag tags",
    "For trees that the screening clears; a tag’s code is the tree’s number.",
    (
        _choose_trees("all that are cleared"),
        Choice("each", "Tags for each tree", "whole", "1", least=1, most=200),
        Choice("bags", "Or anew, for bags on record", "names", hint="Numbers and ranges.", table="bagging"),
        Choice("blank", "Or so many blank ones, to write on", "whole", "0", most=5000),
        *_of_labels("tags"),
    ),
)
_SAMPLES: Final = PrintKind(
    "samples",
    "Sample labels",
    "The tree’s number, with room for the sample’s.",
    (
        _choose_trees("all that stand"),
        *_of_labels("samples"),
    ),
)
_CALIBRATION: Final = PrintKind(
    "calibration",
    "Calibration page",
    "The outline of each label and two rulers: hold it behind a sheet of labels against the light.",
    _of_labels("calibration")[:2],
)
_WORKBOOK: Final = PrintKind(
    "workbook", "Workbook", "All records as .xlsx, to fill in and import again.", (), handed_on=True
)
_CALENDAR: Final = PrintKind(
    "calendar",
    "Calendar",
    "What falls due, with its alarms, as .ics for a phone or computer; brought in again it is renewed.",
    (),
)


def _list_sheets(today: date) -> Iterator[PrintKind]:
    day = Choice("on", "For the day", "date", today.isoformat())
    form = Choice(
        "form",
        "As",
        "word",
        "paper",
        "The spreadsheet is filled in after the walk and imported: the round comes of it.",
        (("paper", "paper (.pdf)"), ("spreadsheet", "spreadsheet (.csv)")),
    )
    for kind, (title, says) in _SHEETS.items():
        yield PrintKind(kind, title, says, (day, form, _PAGE) if kind in ROUNDS else (day, _PAGE))


def read_order(
    kind: PrintKind, form: Mapping[str, str], snapshot: Snapshot
) -> tuple[PrintOrder, dict[str, str]]:
    """What a form asks for, and what is wrong with it by choice; there is no order while anything is."""
    chosen: dict[str, str] = {}
    names: dict[str, tuple[str, ...]] = {}
    faults: dict[str, str] = {}
    for one in kind.choices:
        text = form.get(one.name, one.value).strip()
        chosen[one.name] = text
        if one.asks == "names":
            known = plain_values(snapshot.season.tables[one.table][load_tables()[one.table].key])
            found, unknown = expand_names(known, text[:_NAMES_SIGNS])
            names[one.name] = tuple(found)
            if unknown:
                faults[one.name] = f"No {noun(one.table)} is called {', '.join(unknown[:5])}."
        if fault := _find_fault(one, text):
            faults[one.name] = fault
    return PrintOrder(kind, chosen, names), faults


def read_day(text: str) -> date | None:
    """A day as year-month-day, of a century that records can be of; None for any other text."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if _FIRST_YEAR <= day.year <= _LAST_YEAR else None


def _find_fault(choice: Choice, text: str) -> str:
    if choice.asks == "names":
        return "That is more than can be chosen at once." if len(text) > _NAMES_SIGNS else ""
    if choice.asks == "word":
        return "" if text in dict(choice.options) else "Choose one of those that are here."
    if choice.asks == "date":
        return "" if read_day(text) else "Write a day of these years, as year-month-day."
    if choice.asks == "whole":
        return "" if _fits(choice, text) else f"Write a whole number from {choice.least} to {choice.most}."
    is_line = len(text) <= _TEXT_SIGNS and text.isprintable()
    return "" if is_line else f"Write one line of at most {_TEXT_SIGNS} signs."


def _fits(choice: Choice, text: str) -> bool:
    is_number = text.isascii() and text.isdecimal() and len(text) < 9
    return is_number and choice.least <= int(text) <= choice.most
