"""Seed of a lot that can still be offered: what is there, less what is promised, up to the traced."""

from __future__ import annotations

from dataclasses import dataclass

from certgen.figures.arguments import check_count


@dataclass(frozen=True, slots=True)
class Availability:
    """A lot's seed, in whole milligrams: what is free of promises, what may be offered as traced.

    `free_mg` may be below nothing: then more is promised, or taken by the test, than is there.
    `offered_mg` is never below nothing.
    """

    there_mg: int
    promised_mg: int
    test_mg: int
    free_mg: int
    offered_mg: int


def find_available(there_mg: int, traced_mg: int, promised_mg: int = 0, test_mg: int = 0) -> Availability:
    """What can be offered: max(0, min(there - promised - test, traced - promised - test)).

    `traced_mg` are those of the grams there that are traced, all of them or, of a lot whose traced grams
    can't be told from the others, none. What is promised or used up by a test comes out of the traced grams
    first, so that nothing is promised twice. Raises ValueError for a negative weight.
    """
    there = check_count(there_mg, "What is there, in milligrams")
    traced = check_count(traced_mg, "What is traced, in milligrams")
    promised = check_count(promised_mg, "What is promised, in milligrams")
    test = check_count(test_mg, "What the test uses up, in milligrams")
    free = there - promised - test
    return Availability(there, promised, test, free, max(0, min(free, traced - promised - test)))
