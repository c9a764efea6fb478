"""Labels: they say what the records say, and everything that the standard asks for."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.distributions import round_half_up
from certgen.records.quantities import format_mass
from certgen.records.rows import indexed_rows, look_up
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.seed.departures import left_lots
from certgen.rules.seed.germination import figures_of
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series

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


def _labelled(frame: DataFrame) -> Series[Any]:
    """Which lots have any word of a label on record."""
    return frame[["label.status", *(f"label.{item}" for item in _ITEMS)]].notna().any(axis="columns")


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
    lots = case.season.table("lots")
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


def _plain_differences(case: Case, lots: DataFrame) -> Iterator[Finding]:
    printed, recorded = lots["label.lot"], lots["lot"]
    said, called = case.spelling.spell(lots["label.variety"]), case.spelling.spell(lots["variety"])
    compared = {
        "lot": printed.notna() & ~case.spelling.are_called(printed, recorded),
        "variety": said.notna() & called.notna() & (said != called),
    }
    for item, wrong in compared.items():
        for row, lot, told, right in indexed_rows(lots, "lot", f"label.{item}", item, where=wrong):
            yield _differs(row, lot, item, _ITEMS[item], told, right)
    lower = (lots["status"] != "organic") & lots["label.status"].notna()
    for row, lot, status, said in indexed_rows(lots, "lot", "status", "label.status", where=lower):
        if claims_organic(said):
            yield Finding(
                "lots",
                lot,
                row,
                ("label.status",),
                f"The label of lot {lot} says '{said}'; the lot is {status}.",
                weight="rejects",
            )


def _operation_differences(case: Case, lots: DataFrame) -> Iterator[Finding]:
    """Labels that name another operation or certifier than the season does."""
    operation = case.season.details.operation
    for item, right in (
        ("last_certified_operation", operation.name),
        ("certified_by", operation.certifier),
    ):
        # Upper and lower case and blanks are the printer's.
        said = lots[f"label.{item}"].str.casefold().str.replace(r"\s+", " ", regex=True).str.strip()
        if not right:
            continue
        wrong = said.notna() & (said != " ".join(right.casefold().split()))
        for row, lot, told in indexed_rows(lots, "lot", f"label.{item}", where=wrong):
            yield _differs(row, lot, item, _OF_THE_OPERATION[item], told, right)


def _weight_differences(lots: DataFrame) -> Iterator[Finding]:
    """Containers that would hold more, as they are labelled, than the lot weighs."""
    each, whole = lots["net_weight_mg"].astype("Float64"), lots["weight_mg"].astype("Float64")
    held = each * lots["containers"].astype("Float64").fillna(1).clip(lower=1)
    over = lots.assign(held=held)[(held > whole).fillna(value=False)]
    for row, lot, number, net, in_all, weight in indexed_rows(
        over, "lot", "containers", "net_weight_mg", "held", "weight_mg"
    ):
        yield Finding(
            "lots",
            lot,
            row,
            ("net_weight",),
            f"The containers of lot {lot} are labelled with {format_mass(int(net))} each; "
            f"{number or 1:,} of them would hold {format_mass(int(in_all))}, and the lot weighs "
            f"{format_mass(int(weight))}.",
            supply=f"what the containers of lot {lot} hold",
        )


def _germination_differences(case: Case, lots: DataFrame) -> Iterator[Finding]:
    """Labels that name a test day without a test, or a figure above what that test found."""
    tests = case.season.table("tests")
    tests = figures_of(tests[tests["kind"] == "germination"]).sort_values("date", kind="stable")
    tests = tests[["lot", "date", "test", "mean"]]
    last = tests[~tests["lot"].duplicated(keep="last")].set_index("lot")
    days = tests[~tests[["lot", "date"]].duplicated(keep="last")]
    labelled = lots[lots["lot"].isin(last.index) & _labelled(lots)]
    keys = labelled[["lot", "label.tested"]]
    of_day = keys.merge(days, how="left", left_on=["lot", "label.tested"], right_on=["lot", "date"])
    named = labelled["label.tested"].notna()
    for column in ("test", "mean"):
        there = of_day[column].set_axis(labelled.index)
        labelled = labelled.assign(**{column: there.where(named, look_up(labelled["lot"], last[column]))})
    absent = labelled[named & labelled["test"].isna()]
    for row, lot, when in indexed_rows(absent, "lot", "label.tested"):
        yield Finding(
            "lots",
            lot,
            row,
            ("label.tested",),
            f"The label of lot {lot} names a germination test of {day(when)}, and none of that day is "
            "entered.",
            supply=f"the test that the label of lot {lot} names",
        )
    # The label may round, half up.
    above = labelled[labelled["label.germination_pct"] > labelled["mean"]]
    for row, lot, figure, test, mean in indexed_rows(above, "lot", "label.germination_pct", "test", "mean"):
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
    lots = case.season.table("lots")
    lots = lots[lots["status"] == "organic"]
    wanted = _asked_items(case, lots)
    labelled, left = _labelled(lots), lots["lot"].isin(left_lots(case))
    lacking = lots[[f"label.{item}" for item in wanted.columns]].isna().set_axis(wanted.columns, axis=1)
    lacking &= wanted
    bare = lots.assign(labelled=labelled, left=left)[lacking.any(axis="columns")]
    for row, lot, has_label, gone in indexed_rows(bare, "lot", "labelled", "left"):
        missing = [item for item in wanted.columns if lacking[item][row]]
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


def _asked_items(case: Case, lots: DataFrame) -> DataFrame:
    """Which items of its label the season's standards ask of each lot, a column an item.

    Seed law asks less of small containers: those of a lot whose number isn't told are taken to be one.
    """
    import pandas as pd

    asked = pd.DataFrame(data=False, index=lots.index, columns=list(_ITEMS))
    whole = pd.Series(data=True, index=lots.index)
    containers = lots["containers"].astype("Float64").fillna(1).clip(lower=1)
    each = (lots["weight_mg"].astype("Float64") / containers).astype("float64")
    where = {"label_items": whole}
    for _, demand in case.demand("small_container_lb"):
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
    lots = case.season.table("lots")
    lots = lots[(lots["status"] == "organic") & (lots["packed_as"] == "retail packets")]
    lots = lots[_labelled(lots) | lots["lot"].isin(left_lots(case))]
    for row, lot, operation, certifier in indexed_rows(
        lots, "lot", "label.last_certified_operation", "label.certified_by"
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
    lots = case.season.table("lots")
    lots = lots[(lots["status"] == "organic") & _labelled(lots)]
    for row, lot, said in indexed_rows(lots, "lot", "label.status"):
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
