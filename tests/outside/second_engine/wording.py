"""What free words say: whether a container held something forbidden, a label says organic, a bench is the
farm's own, neighbours are organic, or a material is prohibited by its common name."""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from second_engine.contract import prohibited_names
from second_engine.values import plain, silent

_DENIED = re.compile(r"\b(?:no|not|never|nor|without|free (?:of|from)|neither)\b(?:\W+\w+){0,3}\W*$")
_FORBIDDEN = re.compile(r"\b(?:fungicid|preservativ|fumigant|fumigat)\w*")
_BAG_FORBIDDEN = re.compile(
    r"\b(?:fungicid|preservativ|fumigant|fumigat|pesticid|herbicid|insecticid|spray|treated)\w*"
)
_ONCE = re.compile(
    r"\b(?:old|former\w*|previous\w*|once|ex|used|held|had|empty|emptied|washed|rinsed|cleaned|boiled)\b"
)
_OWN = re.compile(r"\b(?:own|in[- ]?house|home|self|ourselves|our|bench|farm lab\w*)\b")
_BESIDE = re.compile(
    r"\b(?:neighbou?r\w*|adjoin\w*|adjacent|bordering|borders|surround\w*|next (?:door|to))\b"
)


def _says(pattern: re.Pattern[str], text: str) -> bool:
    """Whether words stand in a text without being denied there ('no fungicide', 'fungicide-free')."""
    for clause in re.split(r"[,;.]", plain(text)):
        for found in pattern.finditer(clause):
            denied = _DENIED.search(clause[: found.start()]) or re.match(r"[- ]free\b", clause[found.end() :])
            if not denied:
                return True
    return False


def holds_forbidden(text: str) -> bool:
    """A container that held or contains a fungicide, preservative or fumigant."""
    return _says(_FORBIDDEN, text)


def was_once(text: str) -> bool:
    """Packaging described by what was in it, not by what is."""
    return bool(_ONCE.search(plain(text)))


def bag_held_forbidden(text: str) -> bool:
    """A bag that held treated seed or a spray."""
    return _says(_BAG_FORBIDDEN, text)


def says_organic(text: str) -> bool:
    """A label that calls seed organic, and not 'non-organic' or 'in transition to organic'."""
    told = plain(text)
    if re.search(r"transition|conversion|convert", told):
        return False
    return bool(re.search(r"(?<!non-)(?<!non )(?<!not )(?<!un)\borganic\b", told))


def own_bench(laboratory: str, operation: dict[str, str]) -> bool:
    """A laboratory that is the operation itself, its responsible person, or called one's own."""
    told = plain(laboratory)
    people = {plain(operation.get(key, "")) for key in ("name", "responsible")} - {""}
    return not silent(laboratory) and (told in people or bool(_OWN.search(told)))


def neighbours_organic(text: str) -> bool:
    """A boundary whose words say that the neighbours are organic."""
    told = plain(text)
    if re.search(
        r"conventional|spray(?!-?free)(?<!un)|non-?organic|not organic|isn't organic|in transition", told
    ):
        return False
    return bool(_BESIDE.search(told)) and bool(re.search(r"\borganic(?:ally)?\b", told))


def prohibited(material: str) -> bool:
    """A material that is prohibited, by its common name; what is said to be without it is cut out first."""
    told = plain(unicodedata.normalize("NFKC", material))
    told = re.sub("[\u00ad\u200b-\u200d\u2060\ufeff]", "", re.sub("[\u2010-\u2014\u2212]", "-", told))
    one = f"(?:{_prohibited()})s?"
    told = re.sub(
        rf"\b(?:free (?:of|from)|without|no|not|never|non)[ -]+{_FILLERS}{one}(?!\w)"
        rf"(?: (?:or|nor|and) {_FILLERS}{one}(?!\w))*",
        "",
        told,
    )
    told = re.sub(rf"(?<!\w){one}[ -]free\b(?![ -](?:of|from|sample|gift|trial|bag)\b)", "", told)
    return re.search(rf"(?<!\w){one}(?!\w)", told) is not None


_FILLERS = "(?:(?:any|added|use of|residues? of|traces? of|synthetic|chemical) )*"


@cache
def _prohibited() -> str:
    names = sorted((plain(name) for name in prohibited_names()), key=len, reverse=True)
    parted = (re.split(r"([ ,-])", name) for name in names)
    between = {" ": "[ _-]*", ",": "[,.]", "-": "[ -]?"}
    return "|".join("".join(between.get(part, re.escape(part)) for part in parts) for parts in parted)
