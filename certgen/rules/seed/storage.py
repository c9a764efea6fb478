"""What packed seed lies in, where, and for how long."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.figures.validity import keeps_until
from certgen.records.columns import is_in
from certgen.rules.findings import Finding
from certgen.rules.ranges import compare, outside
from certgen.rules.registry import rule
from certgen.rules.seed.departures import TOLD, is_of_kind
from certgen.rules.wording import day, name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.records.columns import Array, Columns
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


def contains_banned(lots: Columns) -> Array:
    """Which lots lie in packaging that is said to contain what is barred, in a word or in its description."""
    told = lots["packaging"]
    named = lots.known("packaging_contains") & ~is_in(lots["packaging_contains"], (_NOTHING, "unknown"))
    return (_match(BANNED, told) & ~_match(_ONCE, told)) | named


def held_banned(lots: Columns) -> Array:
    """Which lots lie in packaging that once held what is barred, whether or not it was cleaned since."""
    told = lots["packaging"]
    return _match(BANNED, lots["previous_contents"]) | (_match(BANNED, told) & _match(_ONCE, told))


def _match(pattern: re.Pattern[str], texts: Array) -> Array:
    found = (text is not None and pattern.search(text) is not None for text in texts.tolist())
    return np.fromiter(found, dtype=bool, count=len(texts))


def is_cleaned(lots: Columns) -> Array:
    """Which lots' containers show a cleaning for this filling."""
    found: Array = lots["container_cleaned"] <= lots["packed"]
    return found


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
    lots = case.columns("lots")
    claimed, banned = lots["status"] != "conventional", contains_banned(lots)
    yield from _containing(lots, claimed, banned)
    yield from _unsaid(lots, claimed)
    yield from _used_before(lots, claimed & ~banned)


def _containing(lots: Columns, claimed: Array, banned: Array) -> Iterator[Finding]:
    """Packaging that contains what is barred, or of which nobody knows whether it does."""
    for row, lot, packaging, word in lots.rows(
        "lot", "packaging", "packaging_contains", where=claimed & banned
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
    unknown = claimed & ~banned & (lots["packaging_contains"] == "unknown")
    for row, lot in lots.rows("lot", where=unknown):
        yield Finding(
            "lots",
            lot,
            row,
            ("packaging_contains",),
            f"Whether the packaging of lot {lot} contains a fungicide, preservative or fumigant isn't known.",
            remedy="Ask whoever made or sold the packaging, and name the answer under `evidence`.",
            supply=f"what the packaging of lot {lot} contains",
        )


def _unsaid(lots: Columns, claimed: Array) -> Iterator[Finding]:
    """Lots of which nothing says what they lie in, or whether it was new."""
    for field, told in (
        ("packaging", "what seed is packed in"),
        ("container_use", "whether its containers were new"),
    ):
        absent = claimed & lots.absent(field)
        named = name("lots", lots.values("lot", absent)) if absent.any() else ""
        for row, lot in lots.rows("lot", where=absent):
            yield Finding(
                "lots",
                lot,
                row,
                (field,),
                f"Nothing says of {named} {told}.",
                cause=field,
                remedy="Write `packaging` and `container_use` at the lot, or once under `routine` in "
                "the `season` mapping if it is always the same.",
                supply=f"{told} of {named}",
            )


def _used_before(lots: Columns, chosen: Array) -> Iterator[Finding]:
    """Containers that held what is barred and show no cleaning, or that held nobody says what."""
    held = chosen & held_banned(lots) & ~is_cleaned(lots)
    for row, lot, packaging, contents in lots.rows("lot", "packaging", "previous_contents", where=held):
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
    silent = chosen & ~held & (lots["container_use"] == "re-used") & lots.absent("previous_contents")
    for row, lot in lots.rows("lot", where=silent):
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
    lots = case.columns("lots")
    used = (lots["container_use"] == "re-used") & (lots["status"] != "conventional")
    if not used.any():
        return
    # What held something barred, and wasn't cleaned, has a rule of its own.
    dirty = used & ~is_cleaned(lots) & ~held_banned(lots)
    for row, lot, packed, cleaned in lots.rows("lot", "packed", "container_cleaned", where=dirty):
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
    lots = case.columns("lots")
    harmed = is_in(lots["storage"], case.profile.role("harmful_storage"))
    for row, lot, storage in lots.rows("lot", "storage", where=harmed):
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
    lots = case.columns("lots")
    values = np.round(lots["storage_temperature_c"], 2)
    told = outside(values, practice)
    for row, lot, typed in lots.rows("lot", "storage_temperature", where=told):
        yield Finding(
            "lots",
            lot,
            row,
            ("storage_temperature",),
            f"{compare(f'Lot {lot} is kept at {typed}', practice, float(values[row]))}.",
        )
    for word in case.profile.words["storage"]:
        called = (lots["storage"] == word) & ~told
        known = case.profile.practice_for("storage_c", word) if called.any() else None
        named = case.practice(known.key) if known is not None else None
        if named is not None:
            yield from _misnamed(lots, called & outside(values, named), word, named)
            yield from _unmeasured(lots, called, word, named, practice)


def _misnamed(lots: Columns, chosen: Array, word: str, named: Practice) -> Iterator[Finding]:
    """Lots whose temperature is another than the storage's name stands for."""
    for row, lot, typed in lots.rows("lot", "storage_temperature", where=chosen):
        yield Finding(
            "lots",
            lot,
            row,
            ("storage",),
            f"Lot {lot} is kept at {typed} in storage called '{word}', which stands for {named.text()}.",
            clauses=(f"practice:{named.key}",),
        )


def _unmeasured(
    lots: Columns, called: Array, word: str, named: Practice, usual: Practice
) -> Iterator[Finding]:
    """Lots without a temperature whose storage's name stands for one that is wholly unusual."""
    if named.range[1] < usual.range[0] or named.range[0] > usual.range[1]:
        for row, lot in lots.rows("lot", where=called & lots.absent("storage_temperature_c")):
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
    moves, since, end = case.moves, _oldest(case), cache(keeps_until)
    gone = (moves["left"] | is_of_kind(moves, "sown")) & is_in(moves["lot"], since)
    for row, movement, when, lot, kind, kept in moves.rows(
        "movement", "date", "lot", "kind", "storage", where=gone
    ):
        if when is None or when < since[lot]:
            continue
        practice = case.practice(f"storage_months_{str(kept).replace(' ', '_')}")
        if practice is not None and practice.high and when > end(since[lot], practice.high):
            yield Finding(
                "movements",
                movement,
                row,
                ("date",),
                f"Seed of lot {lot} was {TOLD[kind]} on {day(when)}, having been packed on {day(since[lot])};"
                f" in storage called '{kept}' practice is {practice.told()}.",
                cause=lot,
                clauses=(f"practice:{practice.key}",),
            )


def _oldest(case: Case) -> dict[str, date]:
    """By lot, the day on which the oldest of its seed was packed: its own, or that of a lot blended in."""
    lots, parts = case.columns("lots"), case.joined("packed")
    days, rows = lots.values("packed"), lots.first("lot")
    found = {lot: days[row] for lot, row in rows.items() if days[row]}
    into: dict[str, list[str]] = {}
    for _, lot, source in parts.rows("lot", "source_lot", where=parts.known("source_lot")):
        into.setdefault(source, []).append(lot)
    settled: set[str] = set()
    # The oldest first, so that each lot is settled once.
    for start in sorted(found, key=found.__getitem__) if into else ():
        ahead, packed = [start], found[start]
        while ahead:
            lot = ahead.pop()
            if lot not in settled:
                settled.add(lot)
                found[lot] = packed
                ahead += into.get(lot, ())
    return found
