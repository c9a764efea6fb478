"""Honest variants of the clean seasons: nothing but advice may be said of them, and every lot is traced.

Some hold a fault, and say how far it reaches: what it doesn't touch stays traced.
"""

from __future__ import annotations

import frauds_packets
import honest_bounded
import honest_growing
import honest_keeping

HONEST = {
    one.slug: one
    for module in (honest_growing, honest_keeping, honest_bounded, frauds_packets)
    for one in module.VARIANTS
}
