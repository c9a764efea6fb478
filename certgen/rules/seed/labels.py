"""Labels: they say what the records say, and everything that the standard asks for."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.figures.distributions import round_half_up
from certgen.records.columns import is_in
from certgen.records.quantities import format_mass
from certgen.rules.findings import Finding, Weight
from certgen.rules.pollination.spelling import fold_name
from certgen.rules.registry import rule
from certgen.rules.seed.departures import left_lots
from certgen.rules.seed.germination import figures_of, germination_tests
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case

#: The items that a label's record can show, and how each is told. The status has a rule of its own.
_ITEMS: Final = {
    "lot": "the lot number",
    "variety": "the variety",
    "last_certified_operation": "the last certified operation",
    "germination": "the germination",
    "tested": "the date of the germination test",
}
#: What a label's record repeats of the season's operation, and how it is told.
_OF_THE_OPERATION: Final = {
    "last_certified_operation": _ITEMS["last_certified_operation"],
    "certified_by": "the certifier",
}
_LABELS: Final = (
    "us-nop:205.307(a)(2)",
    "eu:2018/848 annex III 2.1",
    "seed-law:7 USC 1571(b)",
    "seed-law:201.30b",
)
#: What packets for retail need besides, as a standard calls it: the field of the label, and its words.
_ON_PACKETS: Final = {
    "operation": ("last_certified_operation", "the operation that packed it"),
    "certifier": ("certified_by", "its certifier"),
}
#: A word before "organic" that turns its meaning round.
_NOT_YET: Final = re.compile(
    r"\b(non|not|in transition to|transitional|in-conversion)\b[\s-]*\w*$", re.IGNORECASE
)


def claims_organic(text: str) -> bool:
    """Whether a label's words tell a buyer that the seed is organic: "certified organic", not "
    ""non-organic"."""
    found = re.search(r"\borganic\b", text, re.IGNORECASE)
    return bool(found and not _NOT_YET.search(text[: found.start()]))


def _labelled(lots: Columns) -> Array:
    """Which lots have any word of a label on record."""
    found: Array = np.logical_or.reduce([lots.known(f"label.{item}") for item in ("status", *_ITEMS)])
    return found


@rule(
    weight="unproven",
    clauses=(*_LABELS, "us-nop:205.103(b)(2)"),
    remedy="Look at the container. Correct the record if it is wrong, or the labels if they are; tell "
    "whoever has a wrong one.",
)
def label_differs(case: Case) -> Iterator[Finding]:
    """A label says something else than the lot's record, or than the operation's.

    The label is all that travels with the seed. What stands on it must lead back to this record and no
    other, and containers hold no more between them than the lot weighs. A label that calls seed organic
    which isn't speaks against the lot itself.
    """
    lots = case.columns("lots")
    yield from _plain_differences(case, lots)
    yield from _operation_differences(case, lots)
    yield from _weight_differences(lots)
    yield from _germination_differences(case, lots)


def _differs(row: int, lot: str, item: str, named: str, said: object, right: object) -> Finding:
    return Finding(
        "lots",
        lot,
        row,
        (f"label.{item}",),
        f"The label of lot {lot} gives {named} as {said}; the records say {right}.",
        supply=f"{named} as it stands on the label of lot {lot}",
    )


def _plain_differences(case: Case, lots: Columns) -> Iterator[Finding]:
    other = lots.known("label.lot") & ~case.spelling.are_called(lots["label.lot"], lots["lot"])
    for row, lot, said in lots.rows("lot", "label.lot", where=other):
        yield _differs(row, lot, "lot", _ITEMS["lot"], said, lot)
    other = lots.known("label.variety") & lots.known("variety") & (lots["label.variety"] != lots["variety"])
    for row, lot, said, called in lots.rows("lot", "label.variety", "variety", where=other):
        if fold_name(said) != fold_name(called):
            yield _differs(row, lot, "variety", _ITEMS["variety"], said, called)
    lower = (lots["status"] != "organic") & lots.known("label.status")
    for row, lot, status, said in lots.rows("lot", "status", "label.status", where=lower):
        if claims_organic(said):
            yield Finding(
                "lots",
                lot,
                row,
                ("label.status",),
                f"The label of lot {lot} says '{said}'; the lot is {status}.",
                weight="rejects",
            )


def _operation_differences(case: Case, lots: Columns) -> Iterator[Finding]:
    """Labels that name another operation or certifier than the season does."""
    operation = case.season.details.operation
    for item, right in (
        ("last_certified_operation", operation.name),
        ("certified_by", operation.certifier),
    ):
        field = f"label.{item}"
        other = lots.known(field) & (lots[field] != right) & bool(right)
        for row, lot, said in lots.rows("lot", field, where=other):
            # Upper and lower case and blanks are the printer's.
            if fold_name(said) != fold_name(right):
                yield _differs(row, lot, item, _OF_THE_OPERATION[item], said, right)


def _weight_differences(lots: Columns) -> Iterator[Finding]:
    """Containers that would hold more, as they are labelled, than the lot weighs."""
    held = lots["net_weight_mg"] * np.fmax(lots["containers"], 1)
    over = held > lots["weight_mg"]
    for row, lot, number, net, weight in lots.rows(
        "lot", "containers", "net_weight_mg", "weight_mg", where=over
    ):
        yield Finding(
            "lots",
            lot,
            row,
            ("net_weight",),
            f"The containers of lot {lot} are labelled with {format_mass(net)} each; "
            f"{number or 1:,} of them would hold {format_mass(int(held[row]))}, and the lot weighs "
            f"{format_mass(weight)}.",
            supply=f"what the containers of lot {lot} hold",
        )


def _germination_differences(case: Case, lots: Columns) -> Iterator[Finding]:
    """Labels that name a test day without a test, or a figure above what that test found."""
    tests, by_lot = case.columns("tests"), germination_tests(case)
    labelled = _labelled(lots) & is_in(lots["lot"], by_lot)
    if not labelled.any():
        return
    days, meant = tests.values("date"), np.full(len(lots), -1)
    of_day = {(lot, days[one]): one for lot, rows in by_lot.items() for one in rows}
    for row, lot, tested in lots.rows("lot", "label.tested", where=labelled):
        meant[row] = of_day.get((lot, tested), -1) if tested else by_lot[lot][-1]
    for row, lot, tested in lots.rows("lot", "label.tested", where=labelled & (meant < 0)):
        yield Finding(
            "lots",
            lot,
            row,
            ("label.tested",),
            f"The label of lot {lot} names a germination test of {day(tested)}, and none of that day is "
            "entered.",
            supply=f"the test that the label of lot {lot} names",
        )
    tests = tests.adding(mean=figures_of(tests)[1])
    lots = lots.adding(test=tests.at("test", meant), mean=tests.at("mean", meant))
    for row, lot, figure, test, mean in lots.rows(
        "lot", "label.germination_pct", "test", "mean", where=lots["label.germination_pct"] > lots["mean"]
    ):
        # The label may round, half up.
        if figure > round_half_up(mean):
            yield Finding(
                "lots",
                lot,
                row,
                ("label.germination",),
                f"The label of lot {lot} says {figure:g} % germination; test {test} found {mean:.3g} %.",
                supply=f"the germination as it stands on the label of lot {lot}",
            )


@rule(
    weight="unproven",
    clauses=_LABELS,
    remedy="Copy the label into the record letter for letter (`label`). If the item is missing on the "
    "containers as well, put it there.",
)
def label_incomplete(case: Case) -> Iterator[Finding]:
    """A label lacks something that one of the season's standards asks for.

    While a lot without any label has not left the farm there is time, and it is advice. What only the
    printed label shows (address, net weight) can't be seen in the records.
    """
    lots = case.columns("lots")
    organic = lots["status"] == "organic"
    if not organic.any():
        return
    lacking = {
        item: organic & asked & lots.absent(f"label.{item}")
        for item, asked in _asked_items(case, lots).items()
    }
    labelled, left = _labelled(lots), left_lots(case)
    for row, lot in lots.rows("lot", where=np.logical_or.reduce(list(lacking.values()))):
        missing = [item for item, lacks in lacking.items() if lacks[row]]
        has_label, gone = labelled[row], lot in left
        if has_label:
            field = f"label.{missing[0]}"
            told = f"The label of lot {lot} lacks {join(_ITEMS[item] for item in missing)}."
        else:
            field, told = "label", f"Nothing says what the label of lot {lot} bears."
        yield Finding(
            "lots",
            lot,
            row,
            (field,),
            told,
            weight=None if has_label or gone else "advice",
            supply=f"the label of lot {lot}",
        )


#: What a standard calls an item, and the item of the record that shows it.
_CALLED: Final = {"operation": "last_certified_operation"}
_MG_IN_A_POUND: Final = 453_592.37


def _asked_items(case: Case, lots: Columns) -> dict[str, Array]:
    """By item of a label, of which lots the season's standards ask it.

    Seed law asks less of small containers: those of a lot whose number isn't told are taken to be one.
    """
    asked = {item: np.zeros(len(lots), dtype=bool) for item in _ITEMS}
    where: dict[str, Array | bool] = {"label_items": True}
    for _, demand in case.demand("small_container_lb"):
        each = lots["weight_mg"] / np.fmax(lots["containers"], 1)
        small = each <= float(str(demand.value)) * _MG_IN_A_POUND
        where |= {"label_items_to_1_lb": small, "label_items_over_1_lb": ~small}
    for key, chosen in where.items():
        for _, demand in case.demand(key):
            for item in {_CALLED.get(item, item) for item in _words(demand.value)} & set(_ITEMS):
                asked[item] |= chosen
    return asked


@rule(
    weight="advice",
    clauses=("us-nop:205.303(b)",),
    remedy="Put the certifier's name on the packets, below the operation's, and copy it into "
    "`label.certified_by`. If these are no packets for retail, say so under `packed_as`.",
    after=("label-incomplete",),
)
def retail_label_incomplete(case: Case) -> Iterator[Finding]:
    """Packets for retail don't name the operation, or below it the certifier.

    Containers to store and ship in need the status and the lot number. Packets that are sold as they are need
    to say who certified the operation that packed them as well.
    """
    asked = {item for _, demand in case.demand("retail_label_items") for item in _words(demand.value)}
    items = {item: told for item, told in _ON_PACKETS.items() if item in asked}
    lots = case.columns("lots")
    packets = (lots["status"] == "organic") & (lots["packed_as"] == "retail packets")
    if not packets.any():
        return
    told = _labelled(lots) | is_in(lots["lot"], left_lots(case))
    for row, lot, operation, certifier in lots.rows(
        "lot", "label.last_certified_operation", "label.certified_by", where=packets & told
    ):
        there = {"operation": operation, "certifier": certifier}
        missing = [item for item in items if there[item] is None]
        if missing:
            yield Finding(
                "lots",
                lot,
                row,
                (f"label.{items[missing[0]][0]}",),
                f"Lot {lot} is in packets for retail, whose label lacks "
                f"{join(items[item][1] for item in missing)}.",
                supply=f"the label of lot {lot}",
            )


def _words(value: object) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else ()


@rule(
    weight="unproven",
    clauses=("us-nop:205.307(a)(1)", "us-nop:205.103(b)(3)", "eu:2018/848 annex III 2.1"),
    remedy="Put the word on every container, also on those in the store, and copy it into `label.status`.",
)
def status_word_missing(case: Case) -> Iterator[Finding]:
    """The containers of an organic lot don't say that it is organic.

    Without the word one jar among many looks like any other, to a helper as to a buyer. Where none of the
    season's standards asks for it, it is advice.
    """
    weight: Weight | None = None if case.demand("container_words") else "advice"
    lots = case.columns("lots")
    organic = (lots["status"] == "organic") & _labelled(lots)
    for row, lot, said in lots.rows("lot", "label.status", where=organic):
        if said is None or not claims_organic(said):
            yield Finding(
                "lots",
                lot,
                row,
                ("label.status",),
                f"The label of lot {lot} doesn't say that the seed is organic."
                if said is None
                else f"The label of lot {lot} says '{said}', and the lot is organic.",
                weight=weight,
                supply=f"the word organic on the label of lot {lot}",
            )
