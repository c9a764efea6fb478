"""A season's own figures in place of its crop's, and the assumed figures that only computations use."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from certgen.standards.practice import Practice
from certgen.standards.reading import StandardError

if TYPE_CHECKING:
    from certgen.standards.profile import Profile

PRIOR = "prior_transgene_pct"
SELFED_SHARE = "selfed_share_pct"
_MOTHER_SELFED = "hemizygous_selfed"
_START = 10.0


def list_assumed(profile: Profile) -> dict[str, Practice]:
    """The figures that the odds rest on, by the name that a season changes them by; all in per cent.

    The share of transgenic trees before any test, each method's sensitivity and specificity
    (`pcr_sensitivity_pct`), and the share of a selfed carrier's seed that carries (`selfed_share_pct`).
    """
    found = {
        PRIOR: profile.practice.get(PRIOR)
        or _assume(PRIOR, "Share of transgenic trees before any test", _START, "A starting value", "assumed")
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
            near = difflib.get_close_matches(key, found, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            faults[key] = f"'{key}' is no figure of practice for {profile.title}.{hint}"
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
