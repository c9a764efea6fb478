"""Which clause is met where: by rules, by a page of the report, or by a person.

Subjects say which clauses of different rulebooks ask about one and the same thing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from certgen.standards.loader import RULEBOOKS, load_rulebook
from certgen.standards.reading import FrozenMapping, Section, StandardError, read_data

_SLUG = re.compile(r"[a-z]+(-[a-z]+)+")


@dataclass(frozen=True, slots=True)
class Coverage:
    """How one clause is met: by rules (slugs), on pages of the report (keys), by what is left to a person."""

    clause: str
    rules: tuple[str, ...]
    pages: tuple[str, ...]
    person: str


@lru_cache(maxsize=1)
def pages() -> Mapping[str, str]:
    """Key -> title of the report's pages that a clause may be answered on."""
    return _read()[0]


@lru_cache(maxsize=1)
def coverage() -> Mapping[str, Coverage]:
    """How each clause of every rulebook is met, by its key. Raises `StandardError` as `parse_coverage`
    does.
    """
    return _read()[1]


def clauses_of(rule: str) -> tuple[str, ...]:
    """Keys of the clauses that a rule, named by its slug, helps to meet."""
    return tuple(entry.clause for entry in coverage().values() if rule in entry.rules)


@lru_cache(maxsize=1)
def _read() -> tuple[Mapping[str, str], Mapping[str, Coverage]]:
    return parse_coverage(read_data("coverage"))


def parse_coverage(file: Section) -> tuple[Mapping[str, str], Mapping[str, Coverage]]:
    """Page titles and coverage out of the data, checked against the rulebooks.

    Raises `StandardError` for a clause that is left out or unknown, met by nothing, or on an unknown page.
    """
    with file:
        known_pages = FrozenMapping(dict(_titles(file)))
        wanted = [clause for key in RULEBOOKS for clause in load_rulebook(key).clauses]
        found = {}
        for clause, entry in file.sections("clauses"):
            if clause not in wanted:
                raise StandardError(f"{entry.where}: no rulebook has this clause")
            with entry:
                found[clause] = _parse_entry(clause, entry, known_pages)
        if left := [clause for clause in wanted if clause not in found]:
            raise StandardError(f"{file.where}.clauses: nothing says how these are met: {', '.join(left)}")
        return known_pages, FrozenMapping(found)


def _titles(file: Section) -> list[tuple[str, str]]:
    section = file.section("pages")
    return [(key, section.text(key)) for key in section.names()]


def _parse_entry(clause: str, entry: Section, known_pages: Mapping[str, str]) -> Coverage:
    met = Coverage(clause, entry.words("rules", ()), entry.words("pages", ()), entry.text("person", ""))
    for slug in met.rules:
        if not _SLUG.fullmatch(slug):
            raise StandardError(f"{entry.where}.rules: '{slug}' is no rule's slug")
    for page in met.pages:
        if page not in known_pages:
            raise StandardError(
                f"{entry.where}.pages: unknown page '{page}'; known are {', '.join(known_pages)}"
            )
    if not (met.rules or met.pages or met.person):
        raise StandardError(f"{entry.where}: name a rule, a page or what a person has to see to")
    return met


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
