"""What a test for transgenes looks for, which events it can see, and what its negative leaves open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from certgen.standards.reading import FrozenMapping, Section, StandardError

EVENT_MARKS = ("read", "partly read", "from memory", "assumed", "common practice", "published study")
"""How an event's or a method's data came into the profile."""


def fold(text: str) -> str:
    """A name as it is compared: without case, spaces and dashes, and with the slashed zero of
    identifiers as 0.
    """
    return "".join(char for char in text.casefold().replace("ø", "0") if char.isalnum())


@dataclass(frozen=True, slots=True)
class Target:
    """A piece of DNA, or its product, that a test looks for, and what a positive may mean."""

    key: str
    title: str
    aliases: tuple[str, ...]
    positive_means: str


@dataclass(frozen=True, slots=True)
class Event:
    """A transgenic event. `elements` are the targets it carries, each with how that is known.

    `oecd` is the OECD unique identifier, '' when none was found. `default` events are to be ruled out
    unless a season says otherwise.
    """

    key: str
    title: str
    oecd: str
    elements: Mapping[str, str]
    default: bool
    source: str
    mark: str
    note: str


@dataclass(frozen=True, slots=True)
class Method:
    """A way of testing. `targets` are what it can look for; one that needs some sees what a record names.

    `sensitivity` and `specificity` (0..1) hold for one tree and an event that the method sees;
    `performance_mark` says where they come from. `controls` must pass, or the run is void
    as `void_when` says.
    """

    key: str
    title: str
    needs_targets: bool
    targets: tuple[str, ...]
    seen_by: Mapping[str, frozenset[str]]
    names: Mapping[str, str]
    negative_means: str
    cannot_see: str
    sensitivity: float
    specificity: float
    performance_mark: str
    controls: tuple[str, ...]
    void_when: str
    source: str
    mark: str

    def sees(self, targets: Iterable[str] = ()) -> frozenset[str]:
        """Keys of the events that a clean result speaks to; none when the method needs targets and is
        given none.
        """
        looked_for = self._keys(targets) if self.needs_targets else self.targets
        return frozenset().union(*(self.seen_by[target] for target in looked_for if target in self.seen_by))

    def unknown_targets(self, targets: Iterable[str]) -> tuple[str, ...]:
        """Those of the named targets that this method has no entry for, as they were typed."""
        return tuple(target for target in targets if fold(target) not in self.names)

    def _keys(self, targets: Iterable[str]) -> list[str]:
        return [self.names[fold(target)] for target in targets if fold(target) in self.names]


def parse_targets(file: Section) -> dict[str, Target]:
    """The targets of a profile by key."""
    found = {}
    for key, entry in file.sections("targets"):
        with entry:
            found[key] = Target(
                key=key,
                title=entry.text("title"),
                aliases=entry.words("aliases", ()),
                positive_means=entry.text("positive_means"),
            )
    return found


def parse_events(file: Section, targets: Mapping[str, Target]) -> dict[str, Event]:
    """The events of a profile by key; `StandardError` when one carries a target that the profile lacks."""
    found = {}
    for key, entry in file.sections("events"):
        with entry:
            elements = {}
            with entry.section("elements") as carried:
                for target in targets:
                    if target in carried:
                        elements[target] = carried.word(target, EVENT_MARKS)
            found[key] = Event(
                key=key,
                title=entry.text("title"),
                oecd=entry.text("oecd", ""),
                elements=FrozenMapping(elements),
                default=entry.flag("default"),
                source=entry.text("source"),
                mark=entry.word("mark", EVENT_MARKS),
                note=entry.text("note", ""),
            )
    return found


def event_targets(events: Mapping[str, Event]) -> dict[str, Target]:
    """A target for each event: the junction that only an event-specific test looks for."""
    return {
        event.key: Target(
            key=event.key,
            title=f"event {event.key} itself",
            aliases=(f"event {event.key}", *((event.oecd,) if event.oecd else ())),
            positive_means=f"The sample carries event {event.key}.",
        )
        for event in events.values()
    }


def parse_methods(
    file: Section, targets: Mapping[str, Target], events: Mapping[str, Event]
) -> dict[str, Method]:
    """The methods of a profile by key. `targets: [event]` stands for every event-specific target.

    Raises `StandardError` when a method names a target that the profile lacks, or a share outside 0..1.
    """
    junctions = tuple(events)
    found = {}
    for key, entry in file.sections("methods"):
        with entry:
            named = entry.words("targets")
            looked_for = tuple(name for name in named if name != "event") + (
                junctions if "event" in named else ()
            )
            unknown = [name for name in looked_for if name not in targets]
            if unknown:
                raise StandardError(f"{entry.where}.targets: unknown target {', '.join(unknown)}")
            found[key] = Method(
                key=key,
                title=entry.text("title"),
                needs_targets=entry.flag("needs_targets"),
                targets=looked_for,
                seen_by=FrozenMapping({name: _carriers(name, events) for name in looked_for}),
                names=FrozenMapping(_names(looked_for, targets, entry.where)),
                negative_means=entry.text("negative_means"),
                cannot_see=entry.text("cannot_see"),
                sensitivity=_share(entry, "sensitivity"),
                specificity=_share(entry, "specificity"),
                performance_mark=entry.word("performance_mark", EVENT_MARKS),
                controls=entry.words("controls", ()),
                void_when=entry.text("void_when", ""),
                source=entry.text("source"),
                mark=entry.word("mark", EVENT_MARKS),
            )
        if bool(found[key].controls) != bool(found[key].void_when):
            raise StandardError(f"{entry.where}: controls and void_when go together")
    return found


def _carriers(target: str, events: Mapping[str, Event]) -> frozenset[str]:
    return frozenset(
        event.key for event in events.values() if target in event.elements or target == event.key
    )


def _names(keys: Iterable[str], targets: Mapping[str, Target], where: str) -> dict[str, str]:
    names: dict[str, str] = {}
    for key in keys:
        for name in (key, *targets[key].aliases):
            if names.setdefault(fold(name), key) != key:
                raise StandardError(f"{where}: '{name}' stands for two targets")
    return names


def _share(entry: Section, key: str) -> float:
    value = entry.number(key)
    if value is None or not 0 < value <= 1:
        raise StandardError(f"{entry.where}.{key}: give a share above 0 and at most 1")
    return float(value)
