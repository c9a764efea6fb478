"""What `traced` means and what it can't know, in words: for the rules' pages and the report alike."""

from __future__ import annotations

from typing import Final

from certgen.rules.obligations import OBLIGATIONS
from certgen.rules.wording import noun

TITLE: Final = "What traced means, and what it can’t know"

#: What the word says, and what it rests on.
MEANS: Final = (
    (
        "A gram is called traced only where the records show everything that the claim needs: that it is "
        "seed of this variety, organic, of parents that were screened before their flowers were covered, "
        "and that nothing was mixed in from bud to jar. The claim is held as a table of obligations; each "
        "is shown, on each record of the lot’s line, or it is open. What is open leaves the grams behind "
        "it unproven, and is said, by the check that knows why or by one that only says that nothing "
        "shows it."
    ),
    (
        "Evidence in, standing out. An explanation, a closed incident, a reason or a figure of one’s own "
        "never lifts a gram. Silence never passes where a word would fail. Something may be said once for "
        "many: by a round, by whoever walked it; by a laboratory’s letter, of its samples; by the "
        "season’s routine, which is the operation’s own statement and is counted as such beside each lot. "
        "A record that says otherwise goes before all three. Records that couldn’t be read count against "
        "every lot that they could touch."
    ),
    (
        "All seasons in reach are one farm. A result of this year that speaks against a tree takes last "
        "year’s seed of that tree with it. Unproven grams lack evidence, and more evidence can mend them. "
        "Rejected grams have a record against them; only taking their part out helps. Unaccounted grams "
        "are missing from a count. The four add up to the lot, to the milligram."
    ),
)

#: What no record can show.
CANNOT_KNOW: Final = (
    (
        "The records say what somebody wrote. Whether the leaf came from the tree whose number stands on "
        "its stalk, whether a bag was as whole as its check says, whether a weight was read right: only "
        "somebody who stands there can see it. A story that is invented without a contradiction would "
        "pass. That is what the spot check is for: the records say what must be found at the tree, the "
        "bag and the jar."
    ),
    (
        "A negative test rules out what its method can see, on the leaf that was taken, and nothing else. "
        "Bags keep out foreign pollen only as well as they are made and tied. Seed that was sold is "
        "followed to its buyer and no further. What a supplier, a laboratory or another operation says is "
        "taken as said."
    ),
    (
        "Traced is no certificate, and neither is a report without gaps: both support a decision that is "
        "the certifier’s."
    ),
)


def render_meaning() -> str:
    """The page as Markdown: the meaning, the table of obligations, and the limits."""
    rows = [
        f"| {_say(one.says, one.table)} | `{one.table}`: {', '.join(f'`{field}`' for field in one.fields)} |"
        f" {', '.join(f'[{slug}]({slug}/README.md)' for slug in one.rules)} |"
        for one in OBLIGATIONS
    ]
    table = "\n".join(["| what must be shown | by what | where it isn’t |", "|---|---|---|", *rows])
    means, limits = ("\n\n".join(texts) for texts in (MEANS, CANNOT_KNOW))
    return f"# {TITLE}\n\n{means}\n\n## The obligations\n\n{table}\n\n## What it can’t know\n\n{limits}\n"


def _say(says: str, table: str) -> str:
    told = says.format(names=f"each {noun(table)}", was="was")
    return f"{told[0].upper()}{told[1:]}"
