"""What packed seed lies in, where, and for how long."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from certgen.figures.validity import keeps_until
from certgen.lineage import Node
from certgen.records.rows import indexed_rows, look_up
from certgen.rules.findings import Finding
from certgen.rules.ranges import compare, outside
from certgen.rules.registry import rule
from certgen.rules.seed.departures import TOLD, departures
from certgen.rules.wording import day, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series

    from certgen.rules.case import Case
    from certgen.standards import Practice

#: What packaging must not contain, as a grower would write it.
BANNED: Final = re.compile(
    r"(?<!\bno )(?<!\bnon-)(?<!without )(?<!without a )(?<!free of )(?<!never )"
    r"\b(?:fungicid\w*|"
    r"pesticid\w*|herbicid\w*|insecticid\w*|preservativ\w*|fumigan\w*|fumigat\w*|treated seed)",
    re.IGNORECASE,
)
#: Words for packaging that tell what was in it once, and not what is in it.
_ONCE: Final = re.compile(
    r"\b(?:old|former\w*|previous\w*|once|ex|used|held|had|empty|emptied|washed|rinsed|cleaned|boiled)\b",
    re.IGNORECASE,
)
#: Answers of `packaging_contains` that leave packaging fit.
_NOTHING: Final = "nothing"
_CONTAINERS: Final = (
    "us-nop:205.272(b)(2)",
    "us-nop:205.201(a)(5)",
    "eu:2018/848 28",
    "eu:2018/848 annex III 7",
)


def contains_banned(lots: DataFrame) -> Series[Any]:
    """Which lots lie in packaging that is said to contain what is barred, in a word or in its description."""
    told = lots["packaging"].fillna("")
    return (told.str.contains(BANNED) & ~told.str.contains(_ONCE)) | (
        lots["packaging_contains"].notna() & ~lots["packaging_contains"].isin([_NOTHING, "unknown"])
    )


def held_banned(lots: DataFrame) -> Series[Any]:
    """Which lots lie in packaging that once held what is barred, whether or not it was cleaned since."""
    told = lots["packaging"].fillna("")
    return lots["previous_contents"].fillna("").str.contains(BANNED) | (
        told.str.contains(BANNED) & told.str.contains(_ONCE)
    )


def is_cleaned(lots: DataFrame) -> Series[Any]:
    """Which lots' containers show a cleaning for this filling."""
    return (lots["container_cleaned"] <= lots["packed"]).fillna(value=False).astype(bool)


@rule(
    weight="unproven",
    clauses=(
        "us-nop:7 USC 6510(a)(5)",
        "us-nop:7 USC 6510(a)(6)",
        "us-nop:205.272(b)(1)",
        "us-nop:205.272(b)(2)",
    ),
    remedy="Write under `previous_contents` what the containers held before, under `container_cleaned` when "
    "they were cleaned for this filling, and under `packaging_contains` whether anything is in the "
    "material itself. Seed in packaging that contains a fungicide, preservative or fumigant is taken out.",
)
def packaging_reused(case: Case) -> Iterator[Finding]:
    """Nothing says what seed lies in, or that what forbidden things it held are gone.

    Packaging that contains a synthetic fungicide, preservative or fumigant is barred, and speaks against the
    lot. Packaging that once held one and shows a cleaning for this filling is not; without the cleaning it is
    unproven. Of new packaging that is named nothing more is asked.
    """
    frame = case.season.table("lots")
    frame = frame[frame["status"] != "conventional"]
    yield from _containing(frame)
    yield from _unsaid(frame)
    yield from _used_before(frame[~contains_banned(frame)])


def _containing(frame: DataFrame) -> Iterator[Finding]:
    """Packaging that contains what is barred, or of which nobody knows whether it does."""
    for row, lot, packaging, word in indexed_rows(
        frame[contains_banned(frame)], "lot", "packaging", "packaging_contains"
    ):
        by_word = word is not None and word not in {_NOTHING, "unknown"}
        yield Finding(
            "lots",
            lot,
            row,
            ("packaging_contains",) if by_word else ("packaging",),
            f"The packaging of lot {lot} contains a {word}."
            if by_word
            else f"The packaging of lot {lot} is described as: {packaging}.",
            weight="rejects",
        )
    unknown = frame[(frame["packaging_contains"] == "unknown") & ~contains_banned(frame)]
    for row, lot in indexed_rows(unknown, "lot"):
        yield Finding(
            "lots",
            lot,
            row,
            ("packaging_contains",),
            f"Whether the packaging of lot {lot} contains a fungicide, preservative or fumigant isn't known.",
            remedy="Ask whoever made or sold the packaging, and name the answer under `evidence`.",
            supply=f"what the packaging of lot {lot} contains",
        )


def _unsaid(frame: DataFrame) -> Iterator[Finding]:
    """Lots of which nothing says what they lie in, or whether it was new."""
    lacks = {
        "packaging": (frame["packaging"].isna(), "what seed is packed in"),
        "container_use": (frame["container_use"].isna(), "whether its containers were new"),
    }
    for field, (absent, told) in lacks.items():
        lots = frame["lot"][absent].tolist()
        for row, lot in indexed_rows(frame[absent], "lot"):
            yield Finding(
                "lots",
                lot,
                row,
                (field,),
                f"Nothing says of {name('lots', lots)} {told}.",
                cause=field,
                remedy="Write `packaging` and `container_use` at the lot, or once under `routine` in "
                "the `season` mapping if it is always the same.",
                supply=f"{told} of {name('lots', lots)}",
            )


def _used_before(frame: DataFrame) -> Iterator[Finding]:
    """Containers that held what is barred and show no cleaning, or that held nobody says what."""
    held = frame[held_banned(frame) & ~is_cleaned(frame)]
    for row, lot, packaging, contents in indexed_rows(held, "lot", "packaging", "previous_contents"):
        in_it = BANNED.search(contents or "") is not None
        yield Finding(
            "lots",
            lot,
            row,
            ("previous_contents",) if in_it else ("packaging",),
            f"The containers of lot {lot} {'held before' if in_it else 'are described as'}: "
            f"{contents if in_it else packaging}; no cleaning for this filling is written down.",
            supply=f"the cleaning of the containers of lot {lot}, by which nothing of it is left",
        )
    silent = frame[(frame["container_use"] == "re-used") & frame["previous_contents"].isna()]
    for row, lot in indexed_rows(silent[~silent.index.isin(held.index)], "lot"):
        yield Finding(
            "lots",
            lot,
            row,
            ("previous_contents",),
            f"Lot {lot} lies in containers that were used before, and nothing says for what.",
            supply=f"what the containers of lot {lot} held before",
        )


@rule(
    weight="unproven",
    clauses=_CONTAINERS,
    remedy="Write under `container_cleaned` the day on which the containers were cleaned for this filling.",
)
def container_not_cleaned(case: Case) -> Iterator[Finding]:
    """Seed was filled into used containers, and no cleaning is written down for this filling.

    A few seeds left in a jar's shoulder are a mixture. A cleaning after the filling is none.
    """
    frame = case.season.table("lots")
    used = frame[(frame["container_use"] == "re-used") & (frame["status"] != "conventional")]
    # What held something barred, and wasn't cleaned, has a rule of its own.
    dirty = used[~is_cleaned(used) & ~held_banned(used)]
    for row, lot, packed, cleaned in indexed_rows(dirty, "lot", "packed", "container_cleaned"):
        told = f"were cleaned on {day(cleaned)}, after it" if cleaned else "show no cleaning"
        yield Finding(
            "lots",
            lot,
            row,
            ("container_cleaned",),
            f"Lot {lot} was packed on {day(packed)} into containers that were used before and {told}.",
            supply=f"the cleaning of the containers of lot {lot}",
        )


@rule(
    weight="advice",
    clauses=("practice:storage_c",),
    remedy="Move the seed to where it keeps, and test its germination again before any of it is sold.",
)
def stored_frozen(case: Case) -> Iterator[Finding]:
    """A lot is kept in a way that kills this kind of seed.

    Not every seed stands frost: what helps one kind for decades ends another within weeks.
    """
    frame = case.season.table("lots")
    harmed = frame[frame["storage"].isin(case.profile.role("harmful_storage"))]
    for row, lot, storage in indexed_rows(harmed, "lot", "storage"):
        yield Finding(
            "lots",
            lot,
            row,
            ("storage",),
            f"Lot {lot} is kept in the {storage}, which harms seed of this crop.",
        )


@rule(
    weight="advice",
    clauses=("practice:storage_c",),
    remedy="Correct the temperature if it was misread; otherwise mind the store and test germination sooner.",
    after=("stored-frozen",),
)
def storage_temperature_out_of_range(case: Case) -> Iterator[Finding]:
    """A lot is kept warmer or colder than is usual, or than its storage's name says.

    How fast seed ages in warmth and cold differs from crop to crop, and colder is not always better. Where
    no temperature is written down, the one that the storage's name stands for counts.
    """
    practice = case.practice("storage_c")
    if practice is None:
        return
    frame = case.season.table("lots")
    values = frame["storage_temperature_c"].round(2)
    told = outside(values, practice)
    for row, lot, typed, value in indexed_rows(
        frame[told], "lot", "storage_temperature", "storage_temperature_c"
    ):
        yield Finding(
            "lots",
            lot,
            row,
            ("storage_temperature",),
            f"{compare(f'Lot {lot} is kept at {typed}', practice, value)}.",
        )
    for word in case.profile.words["storage"]:
        known = case.profile.practice_for("storage_c", word)
        named = case.practice(known.key) if known is not None else None
        if named is not None:
            rest = frame[(frame["storage"] == word) & ~told]
            yield from _misnamed(rest, values, word, named)
            yield from _unmeasured(rest, word, named, practice)


def _misnamed(frame: DataFrame, values: Series[Any], word: str, named: Practice) -> Iterator[Finding]:
    """Lots whose temperature is another than the storage's name stands for."""
    for row, lot, typed in indexed_rows(
        frame[outside(values.loc[frame.index], named)], "lot", "storage_temperature"
    ):
        yield Finding(
            "lots",
            lot,
            row,
            ("storage",),
            f"Lot {lot} is kept at {typed} in storage called '{word}', which stands for {named.text()}.",
            clauses=(f"practice:{named.key}",),
        )


def _unmeasured(frame: DataFrame, word: str, named: Practice, usual: Practice) -> Iterator[Finding]:
    """Lots without a temperature whose storage's name stands for one that is wholly unusual."""
    if named.range[1] < usual.range[0] or named.range[0] > usual.range[1]:
        for row, lot in indexed_rows(frame[frame["storage_temperature_c"].isna()], "lot"):
            yield Finding(
                "lots",
                lot,
                row,
                ("storage",),
                f"Lot {lot} is kept in storage called '{word}', which stands for {named.text()}, where "
                f"practice is {usual.told()}.",
                clauses=("practice:storage_c", f"practice:{named.key}"),
            )


@rule(
    weight="advice",
    clauses=("practice:storage_c",),
    remedy="Test germination before more of it goes out, and say on the label how old it is. If "
    "your own seed keeps longer, set the figure under `practice` with the reason.",
    after=("stored-frozen",),
)
def storage_too_long(case: Case) -> Iterator[Finding]:
    """Seed left the farm that was older than its storage keeps it.

    A lot that another was blended into is as old as the oldest of them.
    """
    frame = departures(case, "sown")
    frame = frame.assign(since=look_up(frame["lot"], _oldest(case)))
    frame = frame[frame["since"] <= frame["date"]]
    for row, movement, when, lot, kind, kept, since in indexed_rows(
        frame, "movement", "date", "lot", "kind", "storage", "since"
    ):
        practice = case.practice(f"storage_months_{str(kept).replace(' ', '_')}")
        if practice is not None and practice.high and when > keeps_until(since, practice.high):
            yield Finding(
                "movements",
                movement,
                row,
                ("date",),
                f"Seed of lot {lot} was {TOLD[kind]} on {day(when)}, having been packed on {day(since)}; in "
                f"storage called '{kept}' practice is {practice.told()}.",
                cause=lot,
                clauses=(f"practice:{practice.key}",),
            )


def _oldest(case: Case) -> Series[Any]:
    """By lot, the day on which the oldest of its seed was packed: its own, or that of a lot blended in."""
    packed = case.keyed("lots")["packed"].copy()
    for lot in dict.fromkeys(case.packed["lot"][case.packed["source_lot"].notna()].tolist()):
        ahead, found = [Node("lots", lot)], set()
        while ahead:
            node = ahead.pop()
            if node not in found:
                found.add(node)
                ahead += [link.source for link in case.lineage.sources(node) if link.kind == "blended"]
        packed[lot] = packed.reindex([node.id for node in found]).min()
    return packed
