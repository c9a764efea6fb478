"""What must be shown for a gram to be traced, as a table; and what shows it.

The claim: this gram is organic seed of its variety, from screened parents, and nothing was mixed in. Each
obligation is a sentence about the records of one table on a lot's line, with the fields that show it and the
rules that explain it where it isn't shown. Nothing else discharges one: not an explanation, not a closed
incident, not a figure of practice. What an obligation leaves open without a rule's word becomes a gap of its
own (`rules.claim`), so that whatever nobody thought of is unproven and said.

Beside them what `traced` means and what it can't know, in words, for the rules' pages and the report alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.tables import load_tables
from certgen.rules import evidence as shows
from certgen.rules.record_keeping.attestation import find_nobodys
from certgen.rules.wording import noun

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from certgen.records.columns import Array
    from certgen.rules.case import Case


@dataclass(frozen=True, slots=True)
class Obligation:
    """One thing that the claim needs: about which records, in words, what shows it, and what explains it.

    `shown` gives for each row of `table` whether it is shown. `fields` are the columns that show it, whose
    words may come from a round, a letter or the routine; `by` gives for each row whose word it is where
    another table shows it. `rules` explain it when it isn't shown.
    """

    key: str
    table: str
    says: str
    fields: tuple[str, ...]
    rules: tuple[str, ...]
    shown: Callable[[Case], Array]
    by: Callable[[Case], Sequence[str]] | None = None


#: Rules that may explain anything: records that nobody can tell apart, or that couldn't be read.
GENERAL: Final = (
    "reference-unknown", "identifier-repeated", "record-unread", "records-disagree", "rule-crashed",
    "date-in-future", "date-out-of-order", "date-outside-season", "evidence-absent",
    "round-unattested", "season-before-of-another",
)  # fmt: skip

#: Rules that say why a supplier's packet shows nothing.
OF_PACKETS: Final = (
    "packet-unsound", "packet-circular", "packet-of-another", "packet-signer-unknown", "packet-outdated",
    "packet-lot-differs", "packet-lot-untraced", "packet-grams-exceeded",
)  # fmt: skip

OBLIGATIONS: Final = (
    Obligation(
        "lot-sources", "lots", "every gram of {names} came from a named run or lot", ("sources",),
        ("lot-without-source", "bought-seed-unproven", "blend-circular", "source-ambiguous", *OF_PACKETS),
        shows.lot_sources, shows.lot_through_packet,
    ),
    Obligation(
        "lot-variety", "lots", "all that went into {names} is of the variety it is called", ("sources",
        "variety"),
        ("lot-mixed", "batch-mixed-variety", "batch-without-picking", "bought-seed-unproven",
        "lot-without-source", *OF_PACKETS),
        shows.lot_variety, shows.lot_through_packet,
    ),
    Obligation(
        "lot-status", "lots", "all that went into {names} has the status it is called", ("sources", "status"),
        ("lot-mixed", "batch-mixed-status", "bought-seed-unproven", "lot-without-source", *OF_PACKETS),
        shows.lot_status, shows.lot_through_packet,
    ),
    Obligation(
        "lot-packaging", "lots", "{names} lies in packaging that holds nothing forbidden and no other seed",
        ("packaging", "container_use"), ("packaging-reused", "container-not-cleaned"), shows.lot_packaging,
    ),
    Obligation(
        "lot-undisturbed", "lots", "nothing came into {names} after it was packed", ("lot",),
        (
            "received-into-own-lot", "returned-seed-mixed", "receipt-without-document",
            "ledger-does-not-close", "carry-over-differs", "incident-of-mixing",
        ),
        shows.lot_undisturbed,
    ),
    Obligation(
        "lot-accounted", "lots", "each gram of {names} is accounted for", ("weight",),
        (
            "ledger-does-not-close", "carry-over-differs", "lot-overdrawn", "lot-packing-differs",
            "sold-before-packed",
        ),
        shows.lot_accounted,
    ),
    Obligation(
        "run-pickings", "batches", "all that went into {names} is fruit of named pickings", ("harvests",),
        ("batch-without-picking", "batch-with-other-seed"), shows.run_pickings,
    ),
    Obligation(
        "run-weight", "batches", "{names} gave no more seed than its fruit holds, and its lots took no more",
        ("dry_weight",),
        (
            "record-incomplete", "batch-overdrawn", "batch-weight-impossible", "harvest-weight-impossible",
            "batch-without-picking",
        ),
        shows.run_weight,
    ),
    Obligation(
        "run-unmixed", "batches", "{names} held fruit of one variety and status", ("harvests", "status"),
        ("batch-mixed-variety", "batch-mixed-status", "batch-without-picking"), shows.run_unmixed,
    ),
    Obligation(
        "run-equipment", "batches", "the equipment of {names} held no other seed", ("equipment",),
        ("equipment-not-cleaned", "equipment-unnamed", "batch-mixed-variety", "batch-mixed-status"),
        shows.run_equipment,
    ),
    Obligation(
        "run-remainder", "batches", "what of {names} was not packed is accounted for",
        ("never_packed.weight",),
        ("batch-remainder-unaccounted", "batch-overdrawn", "record-incomplete"), shows.run_remainder,
    ),
    Obligation(
        "picking-bags", "harvests", "each fruit of {names} grew under a bag", ("bags", "fruits"),
        ("fruit-unbagged", "more-fruit-than-bags", "bag-harvested-twice"), shows.picking_bags,
    ),
    Obligation(
        "picking-land", "harvests", "the land of {names} was organic on that day", ("status",),
        (
            "block-not-organic", "land-too-recent", "land-history-missing", "boundary-undescribed",
            "buffer-narrow", "mother-plant-too-young", "fruit-unbagged",
        ),
        shows.picking_land,
    ),
    Obligation(
        "bag-tag", "bagging", "the tags of {names} say what the log says", ("tag.date", "tag.variety",
        "tag.tree"),
        ("bag-untagged", "bag-tag-differs", "bag-undated"), shows.bag_tag,
    ),
    Obligation(
        "bag-bud", "bagging", "{names} {was} put over closed buds", ("stage",),
        ("bag-stage-unknown", "bag-over-open-flower"), shows.bag_bud,
    ),
    Obligation(
        "bag-flower", "bagging", "the flowers under {names} can have set this seed", ("flower",
        "pollen_parent"),
        ("bag-on-wrong-flower", "female-without-pollen-parent", "pollen-parent-unfit"), shows.bag_flower,
    ),
    Obligation(
        "bag-tied", "bagging", "{names} {was} tied", ("secured",), ("bag-not-secured",), shows.bag_tied
    ),
    Obligation(
        "bag-held", "bagging", "{names} stayed whole while the flower took pollen",
        ("checks", "uncovered", "petal_fall"),
        ("bag-failed", "bag-unwatched", "uncovered-early", "bag-in-storm", "bag-undated"), shows.bag_held,
    ),
    Obligation(
        "bag-clean", "bagging", "{names} {was} new, or clean of what it held before", ("bag_use",),
        ("bag-reused", "bag-undated"), shows.bag_clean,
    ),
    Obligation(
        "bag-tag-own", "bagging", "the fruit of {names} can be told from that of a bag that failed",
        ("tag.bag",),
        ("bag-tag-shared",), shows.bag_tag_own,
    ),
    Obligation(
        "bag-fruit", "bagging", "the fruit picked of {names} is the fruit that it covered", ("fruit_marked",),
        (
            "fruit-unmarked", "bag-outcome-differs", "bag-harvested-twice", "harvest-interval-unlikely",
            "bag-undated",
        ),
        shows.bag_fruit,
    ),
    Obligation(
        "bag-tree", "bagging", "the trees of {names} stood there and could flower", ("tree", "covered"),
        ("bag-on-absent-tree", "tree-too-young", "pollen-parent-unfit", "bag-undated"), shows.bag_tree,
    ),
    Obligation(
        "bag-screened", "bagging", "the parents of {names} were cleared of every event before the "
        "flower was covered",
        ("tree",),
        (
            "parent-unscreened", "parent-positive", "parent-inconclusive", "parent-conflicting",
            "screened-after-covering", "screening-before-planting", "sample-mark-differs", "sample-unmarked",
            "sample-seal-broken", "sample-undated", "report-missing", "controls-unwritten",
            "method-does-not-cover", "pool-unresolved",
            "pool-too-large", "pool-conflicting", "sample-out-of-range", "bag-undated",
            "female-without-pollen-parent", "bag-on-wrong-flower",
        ),
        shows.bag_screened,
        shows.bag_screened_by,
    ),
    Obligation(
        "planting-origin", "plantings", "the seed of {names} is known and fit for organic land",
        ("origin.supplier",),
        (
            "planting-without-origin", "supplier-certificate-missing", "planting-search-missing",
            "non-gm-statement-missing", "planting-treated", "planting-differs-from-lot", "block-not-organic",
            *OF_PACKETS,
        ),
        shows.planting_origin, shows.planting_through_packet,
    ),
    Obligation(
        "block-status", "blocks", "{names} is in the register with its status and edges", ("status",
        "boundary"),
        ("block-not-organic", "boundary-undescribed", "buffer-narrow", "input-unlisted"), shows.block_edges,
    ),
)  # fmt: skip


def shown_by(case: Case) -> Mapping[str, Any]:
    """For each obligation, by key, which rows of its table are shown; the whole table at once.

    What a round says that nobody answers for shows nothing.
    """
    found = {
        one.key: one.shown(case) if len(case.columns(one.table)) else np.zeros(0, dtype=bool)
        for one in OBLIGATIONS
    }
    for one in OBLIGATIONS:
        found[one.key][find_nobodys(case, one.table, *one.fields)] = False
    return found


def open_rows(case: Case, one: Obligation) -> list[tuple[int, str]]:
    """The rows on some lot's line on which an obligation isn't shown, with what the records are called."""
    names = case.columns(one.table)[load_tables()[one.table].key]
    missing = np.flatnonzero(~case.shown[one.key])
    behind = case.lineage.behind_lots(one.table)
    return [(row, name) for row in missing.tolist() if (name := names[row]) in behind]


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
        "Bought seed is traced through its supplier’s packet where that is made anew to the last byte and a "
        "known key signed it. Whose key it is, is this operation’s own statement, and what the supplier "
        "wrote down is the supplier’s. What is drawn on one delivery is added up over the seasons in reach; "
        "of others nothing is known here."
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
