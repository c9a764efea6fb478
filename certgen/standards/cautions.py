"""Cautions where work can hurt someone, by piece of work: what sheets, forms, lists and pages print of them.

A caution defers to labels, data sheets, codes and licensed practice; it never gives doses, hours or law.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from certgen.standards.reading import Section, StandardError, read_data


@dataclass(frozen=True, slots=True)
class Caution:
    """A reminder where work can hurt someone; it defers to `defers_to` and replaces none of it.

    `work` names the pieces of work at which it stands, `crops` the crops (empty: all of them). `short` is
    one or two lines for paper in hand and lists, `long` the text of the method chapter.
    """

    key: str
    title: str
    work: tuple[str, ...]
    crops: tuple[str, ...]
    short: str
    long: str
    defers_to: str

    @property
    def line(self) -> str:
        """The short form as it stands on a sheet, a form or a terminal."""
        return f"{self.title}: {self.short} This defers to {self.defers_to}."


@dataclass(frozen=True, slots=True)
class Work:
    """A piece of work: the tables filled in at it, what of `certgen due` it is, what a sample of it draws."""

    key: str
    title: str
    tables: tuple[str, ...]
    due: tuple[str, ...]
    draws: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """The cautions of one crop's work, each once and in the order of the job."""

    all: tuple[Caution, ...]

    def at(self, *work: str) -> tuple[Caution, ...]:
        """Those that stand at any of these pieces of work; `StandardError` for a piece that nobody knows."""
        if unknown := sorted(set(work) - set(pieces_of_work())):
            raise StandardError(f"unknown work '{unknown[0]}'; known are {', '.join(pieces_of_work())}")
        return tuple(one for one in self.all if set(work) & set(one.work))

    def of_table(self, table: str) -> tuple[Caution, ...]:
        """Those that stand where a table's records are written: its sheet of a workbook, its form."""
        return self.at(*(one.key for one in pieces_of_work().values() if table in one.tables))

    def of_due(self, subject: str) -> tuple[Caution, ...]:
        """Those of the work that a subject of `certgen due` calls for."""
        return self.at(*(one.key for one in pieces_of_work().values() if subject in one.due))

    def of_draw(self, kind: str) -> tuple[Caution, ...]:
        """Those of the work that a sample of `bags`, `trees` or `seed` makes."""
        return self.at(*(one.key for one in pieces_of_work().values() if kind in one.draws))


@lru_cache(maxsize=1)
def pieces_of_work() -> dict[str, Work]:
    """Each piece of work at which a caution can stand, by its name and in the order of the job."""
    return _read()[0]


@lru_cache(maxsize=8)
def cautions_of(crop: str) -> Cautions:
    """The cautions of a crop's work: those of every crop, and its own."""
    return Cautions(tuple(one for one in _read()[1] if not one.crops or crop in one.crops))


@lru_cache(maxsize=1)
def _read() -> tuple[dict[str, Work], tuple[Caution, ...]]:
    with read_data("cautions") as file:
        return parse_cautions(file)


def parse_cautions(file: Section) -> tuple[dict[str, Work], tuple[Caution, ...]]:
    """The pieces of work and the cautions out of their data; `StandardError` for what is unknown or
    missing.
    """
    work = {}
    for key, entry in file.sections("work"):
        with entry:
            work[key] = Work(
                key, entry.text("title"), entry.words("tables"), entry.words("due"), entry.words("draws")
            )
    found = []
    for key, entry in file.sections("cautions"):
        with entry:
            at = entry.words("work")
            if not at or set(at) - set(work):
                raise StandardError(f"{entry.where}.work: name some of {', '.join(work)}")
            found.append(
                Caution(
                    key=key,
                    title=entry.text("title"),
                    work=at,
                    crops=entry.words("crops", ()),
                    short=entry.text("short"),
                    long=entry.text("long"),
                    defers_to=entry.text("defers_to"),
                )
            )
    order = list(work)
    return work, tuple(sorted(found, key=lambda one: min(map(order.index, one.work))))
