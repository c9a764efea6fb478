"""Clauses that many rules rest on, by what they ask. A gap cites those of its season's standards."""

from __future__ import annotations

from typing import Final

#: Records show every step, so that seed can be traced back.
RECORDS: Final = (
    "us-nop:205.103(b)(2)",
    "eu:2018/848 34(5)",
    "codex:annex 3 A accounts",
    "canada:4.4",
)
#: Nothing engineered.
EXCLUDED: Final = (
    "us-nop:205.105(e)",
    "eu:2018/848 11",
    "codex:genetic engineering",
    "canada:1.4",
)
#: What could bring in something that doesn't belong is known, and kept out.
KEPT_APART: Final = ("us-nop:205.201(a)(5)", "eu:2018/848 28", "canada:5.2")
#: Organic seed isn't mixed with other seed.
NOT_MIXED: Final = (
    "us-nop:205.272(a)",
    "us-nop:205.2 commingling",
    "eu:2018/848 28",
    "eu:2018/848 annex III 7",
)
#: What a lot is called is true of all its seed. Seed of another variety, organic as well, makes the name
#: false; it is no commingling.
TRUE_NAME: Final = ("us-nop:205.103(b)(2)", "seed-law:7 USC 1571(b)", "seed-law:201.2 lot")
#: The plan says what is done, and how.
PLAN: Final = ("us-nop:205.201(a)(1)",)
#: What came in, what is there and what went out agree.
BALANCE: Final = ("us-nop:205.403(d)(4)", "eu:2021/771 1(5)(a)-(i)", "codex:annex 3 A accounts")
#: Seed and stock that was planted.
MATERIAL: Final = ("us-nop:205.204(a)", "eu:2018/848 annex II 1.8.2", "canada:5.3")
#: The years of conversion.
LAND: Final = (
    "us-nop:205.202(b)",
    "eu:2018/848 annex II 1.7.1",
    "codex:annex 1 A conversion",
    "canada:5.1",
)
