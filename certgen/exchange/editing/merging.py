"""A change made to one state of a record file, laid over what the file holds by now.

Lines are exchanged where they still stand. Lines that two wrote in at one place stand one behind the other,
for the order of records means nothing. Then the records are asked: what the merged file does to what is there
must be what the change did to what it was made for, to the last field, or nothing is merged.

Of lines that are alike in many records only those beside others that are unique tell anything, as the library
has it by itself: to hold all against all would take minutes in a long file.
"""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Final

from certgen.exchange.editing.differences import UntoldError, compare_files, list_records

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.exchange.editing.differences import RecordChange


#: Where more lines lie between the first and the last that was changed again, nothing is merged: to hold them
#: against one another takes time by the square of their number.
_MOST_LINES: Final = 5_000


def merge_change(file: str, base: bytes, wanted: bytes, there: bytes) -> bytes | None:
    """What is `there` with the change that made `wanted` of `base`; None where the two touch one another.

    `file` is the name by which errors would call it; none is raised.
    """
    lines = _merge(*(data.splitlines(keepends=True) for data in (base, wanted, there)))
    if lines is None:
        return None
    merged = b"".join(lines)
    try:
        asked = compare_files({file: base}, {file: wanted})
        done = compare_files({file: there}, {file: merged})
        known = list_records(file, there) if any(one.what == "added" for one in asked) else frozenset()
    except UntoldError:
        return None
    if any(one.what == "added" and one.record and (one.table, one.record) in known for one in asked):
        # Both wrote the same record in.
        return None
    return merged if _list_plainly(asked) == _list_plainly(done) else None


def _list_plainly(changes: Sequence[RecordChange]) -> list[tuple[str, ...]]:
    """The changes in an order of their own, whatever that of records and fields is."""
    told = (
        (
            one.table,
            one.record,
            one.what,
            *sorted(f"{part.field} {part.old!r} {part.new!r}" for part in one.fields),
        )
        for one in changes
    )
    return sorted(told)


def _merge(base: list[bytes], wanted: list[bytes], there: list[bytes]) -> list[bytes] | None:
    """The lines that are there with those of `base` exchanged for those of `wanted` where these differ; None
    where such lines were changed again.
    """
    # The beginning is a line of a kind.
    stands = {-1: -1, **_match(base, there)}
    merged: list[bytes] = []
    at = 0
    for start, stop, first, last in _list_exchanges(base, wanted):
        before = stands.get(start if stop > start else start - 1)
        if before is None:
            return None
        here = before if stop > start else before + 1
        if here < at or any(stands.get(line) != here + line - start for line in range(start, stop)):
            return None
        merged += [*there[at:here], *wanted[first:last]]
        at = here + stop - start
    return [*merged, *there[at:]]


def _list_exchanges(base: list[bytes], wanted: list[bytes]) -> list[tuple[int, int, int, int]]:
    """Which lines of `base` give way to which of `wanted`, in order."""
    lead, tail = _common_ends(base, wanted)
    between = SequenceMatcher(None, base[lead : len(base) - tail], wanted[lead : len(wanted) - tail])
    return [
        (start + lead, stop + lead, first + lead, last + lead)
        for kind, start, stop, first, last in between.get_opcodes()
        if kind != "equal"
    ]


def _match(base: list[bytes], there: list[bytes]) -> dict[int, int]:
    """Where each line of `base` that is still there stands now."""
    lead, tail = _common_ends(base, there)
    found = {line: line for line in range(lead)}
    if len(base) - lead - tail > _MOST_LINES:
        return found
    # The ends of two records may be alike where the records aren't: they are looked for with the rest.
    between = SequenceMatcher(None, base[lead:], there[lead:])
    for start, place, length in between.get_matching_blocks():
        found |= {lead + start + line: lead + place + line for line in range(length)}
    return found


def _common_ends(one: list[bytes], other: list[bytes]) -> tuple[int, int]:
    """How many lines at the beginning are alike, and of the others how many at the end."""
    most = min(len(one), len(other))
    lead = next((at for at in range(most) if one[at] != other[at]), most)
    most -= lead
    tail = next((at for at in range(most) if one[-1 - at] != other[-1 - at]), most)
    return lead, tail
