"""Practice figures of a crop: what is usual, what is not, and what cannot be. None of them is a standard.

A season's own figures stand in place of its crop's; some assumed figures serve computations alone.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING, Any

from certgen.records.nouns import agree
from certgen.standards.reading import Section, StandardError

if TYPE_CHECKING:
    from certgen.standards.profile import Profile

PRACTICE_MARKS = ("plausibility", "common practice", "published study", "from memory", "derived", "assumed")
"""Where a figure comes from. An `assumed` one is a start for a computation, until the operation has its
own.
"""

OWN_MARK = "set by the operation"
"""The mark of a figure that a season's records put in the place of the profile's."""

UNITS = {
    "s": ("time", 1.0),
    "min": ("time", 60.0),
    "h": ("time", 3600.0),
    "days": ("time", 86400.0),
    "mm": ("length", 0.001),
    "cm": ("length", 0.01),
    "m": ("length", 1.0),
    "mg": ("mass", 0.001),
    "g": ("mass", 1.0),
    "kg": ("mass", 1000.0),
    "months": ("months", 1.0),
    "°C": ("temperature", 1.0),
    "%": ("share", 1.0),
    "seeds": ("seeds", 1.0),
    "embryos": ("embryos", 1.0),
    "leaves": ("leaves", 1.0),
    "fruits": ("fruits", 1.0),
    "times": ("times", 1.0),
}
"""Unit -> (kind, size in the kind's own unit). Only units of one kind convert into one another."""


@dataclass(frozen=True, slots=True)
class Opinion:
    """What one side says of a figure where sides differ, in words, and the mark of where that is from."""

    says: str
    mark: str

    def text(self) -> str:
        """The words with their mark."""
        return f"{self.says} ({self.mark})"


@dataclass(frozen=True, slots=True)
class Practice:
    """A range in `unit`: outside `low`..`high` is unusual, outside the two impossible bounds cannot be.

    A bound that is None does not exist. `usual` is the figure to reckon with where one is needed.
    """

    key: str
    title: str
    low: float | None
    high: float | None
    impossible_low: float | None
    impossible_high: float | None
    usual: float | None
    unit: str
    source: str
    mark: str
    note: str = ""
    opinions: tuple[Opinion, ...] = ()

    @property
    def range(self) -> tuple[float, float]:
        """The usual range, an absent bound as infinity."""
        return _or(self.low, -inf), _or(self.high, inf)

    @property
    def limits(self) -> tuple[float, float]:
        """The possible range, an absent bound as infinity."""
        return _or(self.impossible_low, -inf), _or(self.impossible_high, inf)

    def grade(self, value: float) -> str:
        """`usual`, `unusual` or `impossible`; a figure on a bound is within it."""
        if not self.limits[0] <= value <= self.limits[1]:
            return "impossible"
        return "usual" if self.range[0] <= value <= self.range[1] else "unusual"

    def text(self) -> str:
        """The usual range in words, such as `112 to 210 days`, `at most 40 °C`, or `about 16 g`."""
        if self.low is not None and self.high is not None:
            shown = f"{self.low:g}" if self.low == self.high else f"{self.low:g} to {self.high:g}"
        elif self.low is not None:
            shown = f"at least {self.low:g}"
        elif self.high is not None:
            shown = f"at most {self.high:g}"
        else:
            shown = f"about {self.usual:g}"
        return agree(f"{shown} {self.unit}")

    def told(self) -> str:
        """The usual range in words as it stands beside a finding: it says so where it is from memory."""
        told = f"{self.text()} (from memory)" if self.mark == "from memory" else self.text()
        return f"{told}; {self.say_opinions()}" if self.opinions else told

    def say_opinions(self) -> str:
        """What is said of it on each side, or nothing."""
        return "; ".join(one.text() for one in self.opinions)

    def converted(self, unit: str) -> Practice:
        """The same range in another unit of its kind (hours in seconds); `StandardError` across kinds."""
        kind, size = UNITS[self.unit]
        other, other_size = UNITS.get(unit, ("", 1.0))
        if kind != other:
            raise StandardError(f"practice:{self.key}: {self.unit} cannot be given in '{unit}'")
        factor = size / other_size

        def scale(bound: float | None) -> float | None:
            return None if bound is None else bound * factor

        return replace(
            self,
            low=scale(self.low),
            high=scale(self.high),
            impossible_low=scale(self.impossible_low),
            impossible_high=scale(self.impossible_high),
            usual=scale(self.usual),
            unit=unit,
        )

    def changed(
        self, *, low: float | None = None, high: float | None = None, usual: float | None = None, reason: str
    ) -> Practice:
        """The operation's own range in the place of this one; a bound not given stays.

        Raises `StandardError` when no reason is given, or the new range is empty or leaves the possible one.
        """
        if not reason.strip():
            raise StandardError(f"practice:{self.key}: a changed range needs a reason")
        new = replace(
            self,
            low=self.low if low is None else low,
            high=self.high if high is None else high,
            usual=self.usual if usual is None else usual,
            source=reason.strip(),
            mark=OWN_MARK,
        )
        check_order(new, f"practice:{self.key}")
        return new


def _or(bound: float | None, absent: float) -> float:
    return absent if bound is None else bound


def check_order(practice: Practice, where: str) -> None:
    """Raise `StandardError` unless the bounds that are given rise: impossible low, low, usual, high,
    impossible high.
    """
    order = (practice.impossible_low, practice.low, practice.usual, practice.high, practice.impossible_high)
    given = [bound for bound in order if bound is not None]
    if given != sorted(given):
        shown = ", ".join("none" if bound is None else f"{bound:g}" for bound in order)
        raise StandardError(f"{where}: impossible_low, low, usual, high, impossible_high must rise: {shown}")


def _parse_opinions(entry: Section) -> tuple[Opinion, ...]:
    if "opinions" not in entry:
        return ()
    found = []
    with entry.section("opinions") as sides:
        for name in sides.names():
            with sides.section(name) as side:
                found.append(Opinion(side.text("says"), side.word("mark", PRACTICE_MARKS)))
    return tuple(found)


def parse_practice(entries: Iterable[tuple[str, Section]]) -> dict[str, Practice]:
    """The practice figures of a profile by key; `StandardError` for a range out of order or without a
    figure.
    """
    found = {}
    for key, entry in entries:
        with entry:
            practice = Practice(
                key=key,
                title=entry.text("title"),
                low=entry.number("low"),
                high=entry.number("high"),
                impossible_low=entry.number("impossible_low"),
                impossible_high=entry.number("impossible_high"),
                usual=entry.number("usual"),
                unit=entry.word("unit", tuple(UNITS)),
                source=entry.text("source"),
                mark=entry.word("mark", PRACTICE_MARKS),
                note=entry.text("note", ""),
                opinions=_parse_opinions(entry),
            )
        if practice.low is practice.high is practice.usual is None:
            raise StandardError(f"{entry.where}: give low, high or usual")
        check_order(practice, entry.where)
        found[key] = practice
    return found


PRIOR = "prior_transgene_pct"
HANDLING = "handling_error_pct"
SELFED_SHARE = "selfed_share_pct"
_MOTHER_SELFED = "hemizygous_selfed"
_START = 10.0


def list_assumed(profile: Profile) -> dict[str, Practice]:
    """The figures that the odds rest on, by the name that a season changes them by; all in per cent.

    The share of trees that carry an event before any test, leaves or labels that are another tree's
    (`handling_error_pct`; below its `low` no figure is told), each method's sensitivity and specificity
    (`pcr_sensitivity_pct`), and the share of a selfed carrier's seed that carries (`selfed_share_pct`).
    """
    found = {
        PRIOR: profile.practice.get(PRIOR)
        or _assume(
            PRIOR, "Share of trees with an event before any test", _START, "A starting value", "assumed"
        ),
        HANDLING: profile.practice.get(HANDLING) or _HANDLING,
    }
    for name, method in profile.methods.items():
        for kind, value in (("sensitivity", method.sensitivity), ("specificity", method.specificity)):
            key = f"{name}_{kind}_pct"
            found[key] = _assume(
                key, f"{method.title}: {kind}", 100 * value, method.source, method.performance_mark
            )
    selfed = profile.inheritance[_MOTHER_SELFED]
    found[SELFED_SHARE] = _assume(
        SELFED_SHARE,
        f"Seed that carries the insert: {selfed.title[0].lower()}{selfed.title[1:]}",
        100 * selfed.share,
        "Mendelian shares for one insert",
        selfed.mark,
    )
    return found


_HANDLING = Practice(
    HANDLING, "Leaves or labels that are another tree's", 0.1, None, 0.01, 50.0, 0.5, "%",
    "A starting value; no source was read", "assumed",
)  # fmt: skip


def _assume(key: str, title: str, percent: float, source: str, mark: str) -> Practice:
    # Rounded, since a share of 0.93 times a hundred is 93.00000000000001 in binary.
    usual = round(percent, 9)
    return Practice(key, title, None, None, 0.0, 100.0, usual, "%", source, mark)


def change_practice(
    profile: Profile, changes: Mapping[str, Any]
) -> tuple[dict[str, Practice], dict[str, str]]:
    """The crop's figures with the season's in place of them, and what is wrong with a change, by its name.

    A change that is wrong changes nothing: its name is unknown, it has no figure or no reason, or its bounds
    don't rise or leave what is possible.
    """
    found = {**list_assumed(profile), **profile.practice}
    faults = {}
    for key, change in changes.items():
        if not isinstance(change, Mapping):
            continue
        if key not in found:
            faults[key] = f"'{key}' is no figure of practice for {profile.title}.{_suggest(key, found)}"
            continue
        given = {name: change[name] for name in ("low", "high", "usual") if change.get(name) is not None}
        if not given:
            faults[key] = f"The practice '{key}' gives no figure: write low, high or usual."
            continue
        try:
            found[key] = found[key].changed(**given, reason=str(change.get("reason", "")))
        except StandardError:
            faults[key] = _say_range(found[key], given)
    return found, faults


def _suggest(key: str, known: Mapping[str, Practice]) -> str:
    from certgen.records.record_files.mistakes import tell_new_name

    if now := tell_new_name(key, known):
        return f" It is now called {now}."
    near = difflib.get_close_matches(key, known, n=1)
    return f" Did you mean '{near[0]}'?" if near else ""


def _say_range(known: Practice, given: Mapping[str, Any]) -> str:
    """Why a change doesn't fit, with the figures it has to fit."""
    names = {
        "impossible_low": "impossible below", "low": "low", "usual": "usual", "high": "high",
        "impossible_high": "impossible above",
    }  # fmt: skip
    kept = [
        f"{words} {getattr(known, name):g}"
        for name, words in names.items()
        if name not in given and getattr(known, name) is not None
    ]
    typed = ", ".join(f"{name} {value:g}" for name, value in given.items())
    rest = f" The crop's figures beside it: {', '.join(kept)}." if kept else ""
    return (
        f"The practice '{known.key}' with {typed} {known.unit} doesn't fit: low, usual and high must rise, "
        f"within what is possible, and need a reason.{rest} Give the other figures too, or mend this one."
    )
