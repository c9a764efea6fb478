"""Which clauses of different rulebooks ask about one and the same subject."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from certgen.standards.loader import RULEBOOKS, load_rulebook
from certgen.standards.reading import FrozenMapping, Section, StandardError, read_data


@lru_cache(maxsize=1)
def subjects() -> Mapping[str, tuple[str, ...]]:
    """The clauses of each subject, by its name. Raises `StandardError` as `parse_subjects` does."""
    return parse_subjects(read_data("subjects"))


def parse_subjects(file: Section) -> Mapping[str, tuple[str, ...]]:
    """The subjects out of the data; `StandardError` for a clause that no rulebook has, or fewer than "
    "two of them."""
    known = {clause for key in RULEBOOKS for clause in load_rulebook(key).clauses}
    with file:
        found = file.word_lists("subjects")
        for name, clauses in found.items():
            if strange := [clause for clause in clauses if clause not in known]:
                raise StandardError(f"{file.where}.subjects.{name}: no rulebook has {', '.join(strange)}")
            if len({clause.partition(":")[0] for clause in clauses}) < 2:
                raise StandardError(f"{file.where}.subjects.{name}: name clauses of two rulebooks at least")
        return FrozenMapping(found)


def asked_by(clauses: Iterable[str]) -> frozenset[str]:
    """The rulebooks that ask about anything that the clauses ask about, their own rulebooks among them.

    Practice belongs to no rulebook: of practice alone nothing is known, and the set is empty.
    """
    cited = [clause for clause in clauses if not clause.startswith("practice:")]
    found = set(cited)
    for alike in subjects().values():
        if found.intersection(cited, alike):
            found.update(alike)
    return frozenset(clause.partition(":")[0] for clause in found)
