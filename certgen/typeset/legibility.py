"""Letters of every script on the page: each is set, or spelled out; none vanishes or upsets its neighbours.

A name written from right to left is set apart from the words around it, so that a number or comma beside it
stays in its place. A letter that no face has stands as its code point, and the cover says so.
"""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, Final, TypeVar

from certgen.typeset.faces import is_known, spell_out
from certgen.typeset.first_page import Cover
from certgen.typeset.parts import Chapter, Fact, Run

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

Legible = TypeVar("Legible", Chapter, Cover)

#: Names inside the file, never shown: they must stay what links and drawings call them.
_UNSEEN: Final = frozenset(
    {"href", "anchor", "name", "kind", "mark", "style", "tone", "width", "share", "template"}
)
#: Letters up to here are in every face of certgen's own; a test holds this.
LAST_PLAIN: Final = 0x17F
_RIGHT_TO_LEFT: Final = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff"
#: A stretch, or one that is set apart already.
_STRETCH: Final = re.compile(
    f"\u2068[^\u2068\u2069]*\u2069|[{_RIGHT_TO_LEFT}]+(?:[^\\w{_RIGHT_TO_LEFT}<>]*[{_RIGHT_TO_LEFT}]+)*"
)
#: What brings faces of scripts that don't come with certgen.
_EXTRA: Final = (
    "Faces for Hebrew, Arabic and scripts of India and South-East Asia come with certgen’s extra ‘scripts’,"
    " those for Chinese, Japanese and Korean with ‘cjk’."
)
_FIRST_STRONG_ISOLATE: Final = "\u2068"
_END_OF_ISOLATE: Final = "\u2069"


def set_apart(text: str) -> str:
    """The text with each stretch that runs from right to left isolated from what stands beside it."""

    def isolate(stretch: re.Match[str]) -> str:
        apart = stretch[0].startswith(_FIRST_STRONG_ISOLATE)
        return stretch[0] if apart else f"{_FIRST_STRONG_ISOLATE}{stretch[0]}{_END_OF_ISOLATE}"

    return _STRETCH.sub(isolate, text)


def fit_to_set(text: str) -> str:
    """One text fit to be set: its unknown letters spelled out, its stretches from right to left set apart."""
    return text if text.isascii() and text.isprintable() else set_apart(spell_out(text))


def make_legible(value: Legible) -> Legible:
    """A chapter or cover with every text fit to be set.

    Registers spell out letters themselves. Titles in the file's own description stay as written.
    """
    strange = _strange(value)
    unset = not all(map(is_known, strange))
    turned = _STRETCH.search(strange) is not None
    if not unset and not turned:
        return value

    def fit(text: str) -> str:
        if text.isascii():
            return text
        spelled = spell_out(text) if unset else text
        return set_apart(spelled) if turned and not text.startswith("<svg") else spelled

    fitted: Legible = _walk(value, fit)
    return fitted


def unset_letters(value: Chapter | Cover) -> set[str]:
    """The letters of a chapter or cover that no face has, so that they are spelled out."""
    return {letter for letter in _strange(value) if not is_known(letter)}


def tell_unset(cover: Cover, unset: Iterable[str]) -> Cover:
    """The cover, which says so where letters are spelled out."""
    listed = sorted(unset)
    return replace(cover, facts=(*cover.facts, _note(listed))) if listed else cover


def _strange(value: Chapter | Cover) -> str:
    """The letters that certgen's own faces may lack; signs that nobody sees are none. What stands in several
    places is gone through once."""
    letters: set[str] = set()
    seen: set[int] = set()
    named: dict[type, list[str]] = {}
    waiting: list[Any] = [value]
    while waiting:
        one = waiting.pop()
        if isinstance(one, str):
            if not one.isascii():
                letters.update(one)
        elif isinstance(one, tuple):
            waiting += one
        elif id(one) not in seen:
            seen.add(id(one))
            if type(one) not in named:
                named[type(one)] = _name_shown(one)
            waiting += [getattr(one, name) for name in named[type(one)]]
    return "".join(sorted(letter for letter in letters if ord(letter) > LAST_PLAIN and letter.isprintable()))


def _name_shown(value: Any) -> list[str]:
    """The fields of a part in which letters may stand; registers look to theirs themselves."""
    return [field.name for field in fields(value) if field.repr] if is_dataclass(value) else []


def say_unset(texts: Iterable[str]) -> str:
    """What there is to know where texts hold letters that no face has; else nothing."""
    unset = sorted({letter for text in texts for letter in text if not is_known(letter)})
    if not unset:
        return ""
    count = "One letter" if len(unset) == 1 else f"{len(unset)} letters"
    return (
        f"{count} that no installed face has stand in it as a code point, such as {spell_out(unset[0])}."
        f" {_EXTRA}"
    )


def _note(unset: list[str]) -> Fact:
    count = "One letter" if len(unset) == 1 else f"{len(unset)} letters"
    words = (
        f"{count} that no installed face has stand in this file as a code point, such as"
        f" {spell_out(unset[0])}. The attached records hold them as they were written. {_EXTRA}"
    )
    return Fact("Letters", (Run(words),))


def _walk(value: Any, fit: Callable[[str], str]) -> Any:
    """The value with every text that is shown made fit; what did not change is kept as it is."""
    if isinstance(value, str):
        return fit(value)
    if isinstance(value, tuple):
        walked = tuple(_walk(item, fit) for item in value)
        return walked if any(new is not old for new, old in zip(walked, value, strict=True)) else value
    if is_dataclass(value) and not isinstance(value, type):
        changed = {}
        for field in fields(value):
            if field.name in _UNSEEN:
                continue
            old = getattr(value, field.name)
            new = _walk(old, fit)
            if new is not old:
                changed[field.name] = new
        return replace(value, **changed) if changed else value
    return value
