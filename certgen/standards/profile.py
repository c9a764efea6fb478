"""Crop profiles: a crop's words and what each means for the job, its practice and its transgenes.

Names of materials that no rulebook allows on organic land, as people write them, stand here too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from certgen.standards.cautions import Cautions, cautions_of
from certgen.standards.practice import PRACTICE_MARKS, Practice, parse_practice
from certgen.standards.reading import FrozenMapping, Section, StandardError
from certgen.standards.rulebook import MARKS, Clause
from certgen.standards.screening import (
    EVENT_MARKS,
    Event,
    Method,
    Target,
    event_targets,
    fold,
    parse_events,
    parse_methods,
    parse_targets,
)

WORDS = (
    "sexes",
    "flowers",
    "flower_stages",
    "ripeness_stages",
    "assay_methods",
    "blades",
    "drying_methods",
    "materials",
    "storage",
)
"""The vocabularies that a record's words come from; each profile fills them all."""

ROLES = {
    "seed_parents": "sexes",
    "needs_pollen_parent": "sexes",
    "non_parents": "sexes",
    "unknown_sex": "sexes",
    "selfing_flowers": "flowers",
    "crossing_flowers": "flowers",
    "pollen_flowers": "flowers",
    "closed_stages": "flower_stages",
    "open_stages": "flower_stages",
    "harvest_stages": "ripeness_stages",
    "ripe_stages": "ripeness_stages",
    "unsafe_blades": "blades",
    "heated_drying": "drying_methods",
    "seed_materials": "materials",
    "stock_materials": "materials",
    "seedling_materials": "materials",
    "harmful_storage": "storage",
}
"""What a rule asks of a word -> the vocabulary in which the profile answers; the answer may be no word."""


@dataclass(frozen=True, slots=True)
class Inheritance:
    """A cross and the share (0..1) of its embryos that carry a single insert; `leaf_positive` is the
    mother's leaf.
    """

    key: str
    title: str
    leaf_positive: bool
    share: float
    mark: str


@dataclass(frozen=True, slots=True)
class Listing:
    """Whether a rulebook lists the crop among the kinds it sets figures for, and what to print about it."""

    rulebook: str
    listed: bool
    text: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class Profile:
    """Everything that depends on the crop: `life` is `perennial` or `annual`, the rest are mappings by
    key.
    """

    key: str
    title: str
    botanical: str
    life: str
    words: Mapping[str, tuple[str, ...]]
    roles: Mapping[str, tuple[str, ...]]
    practice: Mapping[str, Practice]
    targets: Mapping[str, Target]
    methods: Mapping[str, Method]
    events: Mapping[str, Event]
    inheritance: Mapping[str, Inheritance]
    cautions: Cautions
    listings: Mapping[str, Listing]

    @property
    def parent_sex(self) -> str:
        """The sex that is selfed for seed."""
        return self.roles["seed_parents"][0]

    @property
    def default_events(self) -> tuple[str, ...]:
        """Keys of the events to be ruled out unless a season names its own."""
        return tuple(event.key for event in self.events.values() if event.default)

    def role(self, name: str) -> tuple[str, ...]:
        """The words that play a role (see `ROLES`); `StandardError` for a role that nobody knows."""
        try:
            return self.roles[name]
        except KeyError:
            raise StandardError(f"unknown role '{name}'; known are {', '.join(ROLES)}") from None

    def practice_for(self, stem: str, word: str) -> Practice | None:
        """The figure for a word, as in `practice_for("storage_months", "open room")`; None when there is
        none.
        """
        return self.practice.get(f"{stem}_{word.replace(' ', '_')}")

    def event(self, text: str) -> Event | None:
        """The event that a text names, by key or OECD identifier, case and dashes aside; None when
        unknown.
        """
        wanted = fold(text.casefold().removeprefix("event "))
        if not wanted:
            return None
        return next((e for e in self.events.values() if wanted in (fold(e.key), fold(e.oecd))), None)

    def blind_spots(
        self, tests: Iterable[tuple[str, Iterable[str]]], events: Iterable[str] | None = None
    ) -> tuple[str, ...]:
        """Those of `events` (default: `default_events`) that no test among `(method key, targets)` can see.

        A method that the profile lacks sees nothing.
        """
        seen: set[str] = set()
        for method, targets in tests:
            if method in self.methods:
                seen |= self.methods[method].sees(targets)
        return tuple(
            event for event in (self.default_events if events is None else events) if event not in seen
        )

    def clause(self, key: str) -> Clause:
        """A practice figure as a clause to cite, by `practice:<key>`; `StandardError` when there is none
        such.
        """
        practice = self.practice.get(key.removeprefix("practice:"))
        if practice is None or not key.startswith("practice:"):
            raise StandardError(f"the crop profile {self.key} has no practice figure '{key}'")
        asks = f"Usual: {practice.text()}."
        if practice.opinions:
            asks += f" {practice.say_opinions()}."
        if practice.note:
            asks += f" {practice.note}"
        return Clause(key=key, title=practice.title, asks=asks, source=practice.source, mark=practice.mark)


def parse_profile(key: str, file: Section) -> Profile:
    """A profile out of its data; `StandardError` for anything unknown, missing, out of order or pointing
    nowhere.
    """
    with file:
        words = file.word_lists("words")
        _expect(set(WORDS), set(words), f"{file.where}.words")
        roles = file.word_lists("roles")
        _expect(set(ROLES), set(roles), f"{file.where}.roles")
        for role, chosen in roles.items():
            strange = [word for word in chosen if word not in words[ROLES[role]]]
            if strange:
                raise StandardError(
                    f"{file.where}.roles.{role}: {', '.join(strange)} is not among {ROLES[role]}"
                )
        if not roles["seed_parents"]:
            raise StandardError(f"{file.where}.roles.seed_parents: name the sex that bears seed")
        own_targets = parse_targets(file)
        events = parse_events(file, own_targets)
        targets = own_targets | event_targets(events)
        methods = parse_methods(file, targets, events)
        _expect(set(words["assay_methods"]), set(methods), f"{file.where}.methods")
        return Profile(
            key=key,
            title=file.text("title"),
            botanical=file.text("botanical"),
            life=file.word("life", ("perennial", "annual")),
            words=words,
            roles=roles,
            practice=FrozenMapping(parse_practice(file.sections("practice"))),
            targets=FrozenMapping(targets),
            methods=FrozenMapping(methods),
            events=FrozenMapping(events),
            inheritance=FrozenMapping(_parse_inheritance(file)),
            cautions=cautions_of(key),
            listings=FrozenMapping(_parse_listings(file)),
        )


def _expect(wanted: set[str], found: set[str], where: str) -> None:
    if missing := sorted(wanted - found):
        raise StandardError(f"{where}: missing {', '.join(missing)}")
    if unknown := sorted(found - wanted):
        raise StandardError(f"{where}: unknown {', '.join(unknown)}")


def _parse_inheritance(file: Section) -> dict[str, Inheritance]:
    found = {}
    for key, entry in file.sections("inheritance"):
        with entry:
            share = entry.number("share")
            if share is None or not 0 <= share <= 1:
                raise StandardError(f"{entry.where}.share: give a share from 0 to 1")
            found[key] = Inheritance(
                key=key,
                title=entry.text("title"),
                leaf_positive=entry.flag("leaf_positive"),
                share=share,
                mark=entry.word("mark", PRACTICE_MARKS),
            )
    return found


def _parse_listings(file: Section) -> dict[str, Listing]:
    found = {}
    for rulebook, entry in file.sections("listings"):
        with entry:
            found[rulebook] = Listing(
                rulebook=rulebook,
                listed=entry.flag("listed"),
                text=entry.text("text"),
                source=entry.text("source"),
                mark=entry.word("mark", tuple(dict.fromkeys((*MARKS, *EVENT_MARKS)))),
            )
    return found
