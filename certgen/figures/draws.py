"""A draw that whoever keeps the records can't steer, and nobody where the text is bound too: what is fixed
before what, how the items are shared out among strata, and what the sample can miss at worst.

Who moves when. The records are the grower's, and each of them can be written so or otherwise; a draw that
follows from the records alone, or from them and a text that the grower knows, can be tried at home until it
spares whatever has to be spared. So the records are frozen first: one SHA-256 stands for every byte of them
and for what is asked (which kind of item, of which day, in which groups). Whoever inspects notes it, and only
then says the text. Items are ordered by a SHA-256 over both.

- The grower moves first and last hears the text. Before it, no set of records is better than another: the
  order of the items can't be told. After it, no record can change without another fingerprint than the one
  noted. Two sets of records with one fingerprint would take about 2^128 tries: therefore all 64 digits count,
  and not the 20 that stand on a packet's pages.
- The inspector moves last. One who holds the records and the fingerprint can try texts as well. Where that
  matters, the text is written down and folded away before the fingerprint is known, or it is agreed to be
  something that neither can choose and that comes out later: dice thrown then, a figure of the next day.
- Of the text only letters and digits count, in small letters. Blanks, stops, capitals and accents, which
  whoever types it could turn as they like, have no say. A text short enough to be prepared for is refused.
- How many are drawn isn't part of what is frozen: a larger sample begins with the smaller one, so that an
  inspector who found something looks at more, and nobody gains by asking for less without its being seen.

A draw whose text the grower chose too proves nothing, whatever the fingerprint; the sheet says which it was.

The miss chance of a stratified draw depends on where the faults are. Printed is the worst: the product over
strata of the hypergeometric chances with the faults placed where the draw is thinnest.

Whatever decides a draw, but its text, belongs into what is frozen before the text is told (`freeze_draw`,
`_draw_visits`).
"""

from __future__ import annotations

import hashlib
import heapq
import json
import math
import unicodedata
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from certgen.figures.arguments import check_confidence, check_count, check_proportion, exact
from certgen.figures.sampling import draw, miss_chance

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

#: Letters and digits that a text has at least: fewer can all be tried, or are guessed.
TEXT_LEAST: Final = 8
#: As many items as anybody looks at, or finds fault with.
MOST_DRAWN: Final = 1_000_000
#: Hexadecimal digits of a fingerprint.
DIGITS: Final = 64


def digest_json(content: object) -> str:
    """The SHA-256 of what JSON writes of it in ASCII, keys sorted, without blanks."""
    return hashlib.sha256(
        json.dumps(content, sort_keys=True, separators=(",", ":")).encode("ascii")
    ).hexdigest()


def freeze(records: str, **asked: str) -> str:
    """The fingerprint to note: SHA-256 of the records' own digest and of what is asked, 64 hexadecimal
    digits.

    It is taken of the JSON object {"records": digest, and what is asked by name}, keys sorted, without
    blanks, in ASCII.
    """
    return digest_json({"records": records, **asked})


def read_fingerprint(typed: str) -> str:
    """A noted fingerprint as it is compared: without blanks, in small letters.

    Raises ValueError unless it has 64 hexadecimal digits: fewer could be met by other records.
    """
    written = "".join(typed.split()).casefold()
    if len(written) != DIGITS or set(written) - set("0123456789abcdef"):
        raise ValueError(f"A fingerprint has {DIGITS} digits, 0 to 9 and a to f, all of which are needed.")
    return written


def write_fingerprint(fingerprint: str) -> tuple[str, str]:
    """The 64 digits in groups of four, as two lines of eight groups."""
    groups = [fingerprint[start : start + 4] for start in range(0, DIGITS, 4)]
    return " ".join(groups[:8]), " ".join(groups[8:])


def plain_text(text: str) -> str:
    """A text's letters and digits in small letters, without accents: what the draw hashes of it.

    What isn't a to z or 0 to 9 stands as its code, [U+0430]: a letter of another alphabet that looks the same
    is seen. Raises ValueError for a text with fewer than `TEXT_LEAST` letters and digits.
    """
    folded = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    signs = [sign for sign in folded if unicodedata.category(sign)[0] in "LN"]
    if len(signs) < TEXT_LEAST:
        raise ValueError(
            f"The text that decides a draw needs {TEXT_LEAST} letters or digits: a shorter one can be "
            "prepared for. Take a sentence, or throw dice."
        )
    return "".join(sign if sign.isascii() else f"[U+{ord(sign):04X}]" for sign in signs)


def mix_key(fingerprint: str, text: str) -> str:
    """What stands before the bar when an item is hashed: fingerprint, a bar, the plain text."""
    return f"{fingerprint}|{plain_text(text)}"


def allot(sizes: Mapping[str, int], size: int) -> dict[str, int]:
    """A sample shared out among strata: one to each that has any, the rest in proportion to their sizes.

    The next always goes to the stratum with the largest N/(2n + 1), N its size and n what it has (Webster,
    or Sainte-Laguë; standard), of equal ones to the larger and then to the first by name. So a larger sample
    holds the smaller one, which largest remainders don't promise. No stratum gets more than it has: full, its
    N/(2n + 1) is below one half, and above it while something is left.
    Raises ValueError if the sample exceeds the total, or leaves a stratum without any.
    """
    filled = {name: count for name, count in _check_sizes(sizes).items() if count}
    total, least = sum(filled.values()), len(filled)
    size = check_count(size, "The size of the sample", most=MOST_DRAWN)
    if size > total:
        raise ValueError(f"A sample of {size} cannot be drawn from {total} items.")
    if size < least:
        raise ValueError(
            f"A sample of {size} leaves some of the {least} groups without any: take {least} or more, or "
            "draw from all together."
        )
    taken = dict.fromkeys(filled, 1)
    heap = [(-Fraction(count, 3), -count, name) for name, count in filled.items()]
    heapq.heapify(heap)
    for _ in range(size - least):
        _, negative, name = heapq.heappop(heap)
        taken[name] += 1
        heapq.heappush(heap, (Fraction(negative, 2 * taken[name] + 1), negative, name))
    return {name: taken.get(name, 0) for name in sizes}


def draw_in_strata(key: str, strata: Mapping[str, Iterable[str]], size: int) -> dict[str, tuple[str, ...]]:
    """The sample drawn within each stratum, in the shares that `allot` gives; by the SHA-256 of 'key|item',
    the smallest first.
    """
    pools = {name: list(items) for name, items in strata.items()}
    shares = allot({name: len(items) for name, items in pools.items()}, size)
    return {name: draw(key, items, shares[name]) for name, items in pools.items()}


def place_worst(sizes: Mapping[str, int], taken: Mapping[str, int], faults: int) -> dict[str, int]:
    """Where so many faults are missed most likely, for a sample of `taken` of `sizes` in each stratum.

    One more fault in a stratum with d multiplies the chance to miss by (N - d - n) / (N - d). That factor
    falls with each fault, so the chance is log-concave in each stratum, and putting each next fault where the
    factor is largest is the best of all placements.
    Raises ValueError if there are more faults than items.
    """
    sizes = _check_sizes(sizes)
    taken = _check_taken(sizes, taken)
    total = sum(sizes.values())
    faults = check_count(faults, "The number of faults", most=MOST_DRAWN)
    if faults > total:
        raise ValueError(f"{faults} out of {total} items: there are not so many.")
    placed = dict.fromkeys(sizes, 0)
    heap = [(_spare(count, taken[name], 0), name) for name, count in sizes.items() if count]
    heapq.heapify(heap)
    for _ in range(faults):
        _, name = heapq.heappop(heap)
        placed[name] += 1
        if placed[name] < sizes[name]:
            heapq.heappush(heap, (_spare(sizes[name], taken[name], placed[name]), name))
    return placed


def _check_sizes(sizes: Mapping[str, int]) -> dict[str, int]:
    """The sizes of the strata, each a count."""
    return {name: check_count(count, f"The size of {_cut(name)}") for name, count in sizes.items()}


def _check_taken(sizes: Mapping[str, int], taken: Mapping[str, int]) -> dict[str, int]:
    """How many are drawn of each stratum, no more than it has."""
    found = {}
    for name, count in sizes.items():
        drawn = check_count(taken.get(name, 0), f"The number drawn of {_cut(name)}")
        if drawn > count:
            raise ValueError(f"{drawn} cannot be drawn from the {count} of {_cut(name)}.")
        found[name] = drawn
    return found


def _cut(name: object) -> str:
    text = str(name)
    return text if len(text) <= 40 else f"{text[:40]}…"


def _spare(items: int, taken: int, faults: int) -> Fraction:
    """The factor of one more fault, below nought so that the largest comes first."""
    return -Fraction(max(0, items - faults - taken), items - faults)


def worst_miss(sizes: Mapping[str, int], taken: Mapping[str, int], faults: int) -> Fraction:
    """The largest chance, over all places of the faults, that a stratified sample shows none of them.

    Formula: max over d with sum d = D of the product of C(N - d, n) / C(N, n) over strata. Exact.
    """
    placed = place_worst(sizes, taken, faults)
    sizes = _check_sizes(sizes)
    taken = _check_taken(sizes, taken)
    chance = Fraction(1)
    for name, count in sizes.items():
        if placed[name]:
            chance *= miss_chance(count, placed[name], taken[name])
    return chance


def count_in_strata(sizes: Mapping[str, int], share: float, confidence: float = 0.95) -> int:
    """The smallest sample that finds a share of faults or more with the confidence, wherever they are.

    Smallest n, at least one a stratum, with worst_miss(sizes, allot(sizes, n), D) <= 1 - c; D is the share of
    all items, rounded up: 5 % of 143 are 8. None is needed of nothing.
    Raises ValueError outside (0, 1).
    """
    check_proportion(share, "The share to detect", zero=False, one=False)
    allowed = 1 - exact(check_confidence(confidence))
    sizes = _check_sizes(sizes)
    total = sum(sizes.values())
    if total == 0:
        return 0
    faults = max(1, math.ceil(exact(share) * total))
    low, high = 0, sum(1 for count in sizes.values() if count)
    # A larger sample takes no less of any stratum, so the worst chance only falls. From below: where there is
    # much to find little has to be drawn, and chances of large draws are long to work out.
    while high < total and worst_miss(sizes, allot(sizes, high), faults) > allowed:
        low, high = high, min(total, 2 * high)
    while high - low > 1 and low:
        middle = (low + high) // 2
        if worst_miss(sizes, allot(sizes, middle), faults) <= allowed:
            high = middle
        else:
            low = middle
    return high
