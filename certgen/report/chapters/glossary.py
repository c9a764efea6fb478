"""The words that a reader needs before anything else, in plain English; which of them are common practice."""

from __future__ import annotations

from typing import Final

from certgen.typeset.parts import Listing, Run, Section

#: Each word with what is meant by it here. Words of the trade, explained as growers use them.
WORDS: Final = (
    (
        "traced",
        ("Of these grams a record shows every step back to screened parents, and none speaks against it."),
    ),
    (
        "unproven",
        "Something isn’t shown. The claim may be true; more evidence can make the grams traced.",
    ),
    ("rejected", "A record speaks against these grams. Only taking that part out mends the lot."),
    (
        "unaccounted",
        "Grams that a count did not find and no record says where they went. Never traced.",
    ),
    (
        "standing",
        ("Which of the four a lot’s grams are. A lot has the worst standing that any of its grams has."),
    ),
    (
        "finding",
        ("What a check found: a contradiction, a hole or a departure. Its number is the same everywhere."),
    ),
    ("rejects, unproven, advice", "How heavy a finding is. Advice changes no lot’s standing."),
    ("lot", "Seed packed together under one number; what is sold."),
    ("batch", "One run of extraction, washing and drying; a lot is packed from one or several."),
    ("picking", "Fruit taken from bagged flowers on one day."),
    (
        "parent",
        (
            "A tree that a lot’s seed comes from: the mother that bore the fruit, and where pollen"
            " was brought, the father."
        ),
    ),
    (
        "hermaphrodite",
        (
            "A tree whose flowers have both sexes and set seed by their own pollen: the usual seed"
            " parent of papaya. Females need pollen from elsewhere; males give it and bear no fruit."
        ),
    ),
    (
        "bag, covering",
        (
            "A bag tied over a closed bud so that no foreign pollen comes in; how long it must stay"
            " whole is common practice."
        ),
    ),
    ("transgene", "A gene put in by engineering. Growing organic seed, nobody may use such plants."),
    (
        "screening",
        "Testing a tree’s leaf or seed for known transgenes; a letter of the laboratory shows it.",
    ),
    ("pool", "Leaves of several trees tested as one sample."),
    (
        "blind spot",
        (
            "What a test can’t see: a kind of transgene that it does not look for, or a share that is"
            " too small for it."
        ),
    ),
    (
        "own figure",
        "A figure of practice that the operation set for itself in place of the crop’s usual one.",
    ),
    ("routine", "What the operation states once for the whole season instead of in each record."),
    ("round", "One walk or session written down once for many bags, trees or samples."),
    (
        "book, count",
        "The book adds up what came in and went out of a lot; a count weighs what is there.",
    ),
    ("balance", "In and out beside one another: both sides must come to the same."),
    ("carried over", "Packed in an earlier season and still there when this one began."),
    (
        "supplier’s packet",
        "Another operation’s report like this one, sealed, by which bought seed is traced on.",
    ),
    (
        "read, from memory",
        (
            "How a clause of a standard was known when the check was written: its text was read, read"
            " in part, or remembered. What is remembered must be looked up."
        ),
    ),
    ("common practice", "What growers usually do. It is no rule, and nobody is in breach of it."),
    (
        "fingerprint",
        ("Twenty digits that follow from every record and file inside. If they match, it is this packet."),
    ),
)


def build_glossary() -> tuple[Section, ...]:
    """The words used in the report, for the page of the contents."""
    items = tuple((Run(word, field=True), Run(f" {meaning}")) for word, meaning in WORDS)
    return (Section("glossary", "Words used here", 1, (Listing(items),), style="follow glossary"),)
