"""A spot check that anybody can draw again, by hand or in any language, from a text both sides agreed on.

How to repeat it: for each item write the agreed text, a vertical bar and the item's identifier, with no
line end; take the SHA-256 of its UTF-8 bytes as 64 lower-case hexadecimal digits; sort the items by it,
smallest first; the first n are drawn. Neither the order of the items nor any machine has a say in it.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from certgen.figures.arguments import check_count
from certgen.figures.detection import count_items, miss_chance

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["allocate", "count_items", "digest_item", "draw", "draw_by_stratum", "miss_chance"]


def digest_item(seed: str, item: str) -> str:
    """SHA-256 of 'seed|item' in UTF-8, as 64 lower-case hexadecimal digits: what the draw sorts by."""
    return hashlib.sha256(f"{seed}|{item}".encode()).hexdigest()


def draw(seed: str, items: Iterable[str], size: int) -> tuple[str, ...]:
    """The `size` items with the smallest digests, smallest first; a larger sample begins with these.

    Raises ValueError if the seed is empty, an item stands twice, or fewer items than that are there.
    """
    pool = list(items)
    check_count(size, "The size of the sample")
    if not seed:
        raise ValueError("A draw needs a text to start from that both sides know.")
    if len(set(pool)) != len(pool):
        twice = next(item for item in pool if pool.count(item) > 1)
        raise ValueError(f"{twice} stands twice among the items to draw from.")
    if size > len(pool):
        raise ValueError(f"A sample of {size} cannot be drawn from {len(pool)} items.")
    return tuple(sorted(pool, key=lambda item: (digest_item(seed, item), item))[:size])


def allocate(sizes: Mapping[str, int], size: int) -> dict[str, int]:
    """A sample shared out among strata in proportion to their sizes, by largest remainder.

    Each gets the whole part of size·stratum/total; what is left goes to the largest remainders, of equal
    ones to the larger stratum and then to the first by name. Standard. Raises ValueError if the sample
    exceeds the total.
    """
    total = sum(check_count(count, f"The size of {name}") for name, count in sizes.items())
    if check_count(size, "The size of the sample") > total:
        raise ValueError(f"A sample of {size} cannot be drawn from {total} items.")
    if total == 0:
        return dict.fromkeys(sizes, 0)
    shares = {name: divmod(size * count, total) for name, count in sizes.items()}
    taken = {name: whole for name, (whole, _) in shares.items()}
    order = sorted(sizes, key=lambda name: (-shares[name][1], -sizes[name], name))
    for name in order[: size - sum(taken.values())]:
        taken[name] += 1
    return taken


def draw_by_stratum(seed: str, strata: Mapping[str, Iterable[str]], size: int) -> dict[str, tuple[str, ...]]:
    """The sample drawn within each stratum, in the shares that allocate gives; identifiers as in draw."""
    pools = {name: list(items) for name, items in strata.items()}
    shares = allocate({name: len(items) for name, items in pools.items()}, size)
    return {name: draw(seed, items, shares[name]) for name, items in pools.items()}
