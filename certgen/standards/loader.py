"""Load rulebooks and crop profiles by name, each once in a process: nothing in them can change, so all
share one.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from certgen.standards.profile import Profile, parse_profile
from certgen.standards.reading import StandardError, read_data
from certgen.standards.rulebook import Clause, Rulebook, parse_rulebook

RULEBOOKS = ("us-nop", "eu", "codex", "canada", "seed-law")
"""The standards that a season may name."""

PROFILES = ("papaya", "squash")
"""The crops that a season may name."""


@lru_cache(maxsize=len(RULEBOOKS))
def load_rulebook(key: str) -> Rulebook:
    """The rulebook with this name. Raises `StandardError`, listing the known names, when there is none."""
    _known(key, RULEBOOKS, "standard")
    return parse_rulebook(key, read_data("rulebooks", key))


@lru_cache(maxsize=len(PROFILES))
def load_profile(key: str) -> Profile:
    """The crop profile with this name. Raises `StandardError`, listing known names, when there is none."""
    _known(key, PROFILES, "crop")
    return parse_profile(key, read_data("profiles", key))


def clause_of(key: str, profile: Profile | None = None) -> Clause:
    """The clause that a rule cites: `us-nop:205.202(b)`, or `practice:rinses` out of `profile`.

    Raises `StandardError` when no rulebook or profile has it.
    """
    rulebook, _, name = key.partition(":")
    if rulebook != "practice":
        return load_rulebook(rulebook).clause(key)
    if profile is None:
        raise StandardError(f"'{key}' is a practice figure ({name}): say which crop's profile to look in")
    return profile.clause(key)


def how_read(key: str, profile: Profile | None = None) -> str:
    """The mark of a clause or practice figure: how it is known, such as `read` or `from memory`.

    Empty for one that nothing here has.
    """
    try:
        return clause_of(key, profile).mark
    except StandardError:
        return ""


def cite(key: str, profile: Profile | None = None) -> str:
    """A clause's key as people are shown it: what was not read in full says how it was."""
    mark = how_read(key, profile)
    return key if mark in {"", "read"} else f"{key} ({mark})"


def _known(key: str, names: Sequence[str], kind: str) -> None:
    if key in names:
        return
    from difflib import get_close_matches

    near = get_close_matches(key.casefold(), names, n=1)
    hint = f"Did you mean '{near[0]}'? " if near else ""
    raise StandardError(f"unknown {kind} '{key}'. {hint}Known are {', '.join(names)}")
