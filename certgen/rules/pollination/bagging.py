"""Bags over flower buds: that each can be told apart, and that it kept foreign pollen out."""

from __future__ import annotations

from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import IN_A_LOT, capital, count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array
    from certgen.rules.case import Case

_KEPT_APART = ("us-nop:205.201(a)(5)", "us-nop:205.272(a)", "eu:2018/848 11")
#: What a tag must say, and what its columns are called.
_TAG = {"tag.date": "date", "tag.variety": "variety", "tag.tree": "tree"}
#: What a tag can say otherwise than the log.
_DIFFERING = ("other_tree", "other_date", "other_variety", "other_bag")


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.201(a)(5)"),
    remedy="Write what the tag on the bag says: its date, variety and tree. If there was no tag, say in a "
    "note what else tells this fruit apart, and keep the evidence.",
)
def bag_untagged(case: Case) -> Iterator[Finding]:
    """A bag bears no whole tag, so nothing ties the fruit under it to the log.

    The tag goes with the fruit from the tree to the packing shed. Without date, variety and tree on it,
    one fruit is as good as another.
    """
    bags = case.columns("bagging")
    missing = np.logical_or.reduce([bags.absent(name) for name in _TAG])
    for row, bag, tree, *tag in bags.rows("bag", "tree", *_TAG, where=missing):
        absent = list(compress(_TAG.values(), (value is None for value in tag)))
        bare = len(absent) == len(_TAG)
        yield Finding(
            "bagging",
            bag,
            row,
            ("tag",),
            f"Bag {bag} on tree {tree} has no tag."
            if bare
            else f"The tag of bag {bag} on tree {tree} doesn't say its {join(absent, 'or')}.",
            supply=f"the tag of bag {bag}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.103(b)(5)"),
    remedy="Look at the tag, a photo of it or the field book, and correct whichever is wrong.",
    after=("bag-untagged", "reference-unknown"),
)
def bag_tag_differs(case: Case) -> Iterator[Finding]:
    """A bag's tag says something else than the log or the tree register.

    One of the two is wrong, and the fruit went by the tag.
    """
    differs = case.joined("tags_that_differ")
    bags = case.joined("bags").adding(**{one: differs[one] for one in _DIFFERING})
    columns = ("bag", "tree", "covered", "variety", "tag.date", "tag.variety", "tag.tree", "tag.bag")
    for row, bag, tree, covered, variety, *tag in bags.rows(*columns, *_DIFFERING, where=_tag_differs(case)):
        date_, variety_, tree_, bag_, by_tree, by_date, by_variety, by_bag = tag
        told = []
        if by_tree:
            told.append(("tag.tree", f"tree {tree_} where the log says {tree}"))
        if by_variety:
            told.append(("tag.variety", f"variety {variety_} where tree {tree} is {variety}"))
        if by_date:
            log = f"where the log says {day(covered)}" if covered else "where the log says nothing"
            told.append(("tag.date", f"{day(date_)} {log}"))
        if by_bag:
            told.append(("tag.bag", f"bag {bag_} where the log says {bag}"))
        yield Finding(
            "bagging",
            bag,
            row,
            (told[0][0],),
            f"The tag of bag {bag} says {join(part for _, part in told)}.",
            supply=f"the right tag or log entry for bag {bag}",
        )


@rule(
    weight="rejects",
    clauses=(*_KEPT_APART, "us-nop:205.105(e)"),
    remedy="Keep this fruit's seed out of every lot. If it was in fact a closed bud, correct the entry.",
    packed=f"If it was in fact a closed bud, correct the entry. Otherwise: {IN_A_LOT}",
)
def bag_over_open_flower(case: Case) -> Iterator[Finding]:
    """A bag was put over a flower that was already open, when foreign pollen may have reached it.

    The stigma takes pollen even before the flower opens. A bag over an open flower keeps in what has come.
    """
    bags = case.columns("bagging")
    opened = is_in(bags["stage"], case.profile.role("open_stages"))
    for row, bag, tree, stage in bags.rows("bag", "tree", "stage", where=opened):
        yield Finding(
            "bagging",
            bag,
            row,
            ("stage",),
            f"Bag {bag} on tree {tree} was put over a flower that was already {stage}.",
        )


@rule(
    weight="rejects",
    clauses=(*_KEPT_APART, "practice:days_covered", "us-nop:205.105(e)"),
    remedy="Keep this fruit's seed out of every lot.",
    after=("date-out-of-order",),
    packed=capital(IN_A_LOT),
)
def bag_failed(case: Case) -> Iterator[Finding]:
    """A bag was found torn, loose or gone while the flower could still take foreign pollen.

    Until the stigma has withered, an open bag protects nothing. What a look finds was so for an unknown time,
    back to the look before it: where that reaches into the days in which the flower took pollen, the fruit
    isn't proved, and where the look itself falls within them it is refused. The crop profile says how many
    days the cover has to stay on; a day on which the petals were seen to have fallen ends them.
    """
    bags, cover = case.joined("bags"), case.joined("protection")
    found = is_in(cover["state"], ("failed", "doubtful"))
    bags = bags.adding(**{name: cover[name] for name in ("failure", "failed", "looked", "state")})
    for row, bag, tree, how, when, covered, picked, looked, state in bags.rows(
        "bag", "tree", "failure", "failed", "covered", "picked", "looked", "state", where=found
    ):
        since = f", {count((when - covered).days, 'day')} after it was put on" if when and covered else ""
        before = f" The last look that found it whole was on {day(looked)}." if looked else ""
        before = before or " Nobody is known to have looked at it before."
        fate = "" if picked else " No picking took its fruit."
        weight: Weight | None = None
        if state == "doubtful":
            weight = "unproven" if case.lineage.lots_reached(Node("bagging", bag)) else "advice"
        yield Finding(
            "bagging",
            bag,
            row,
            ("checks",),
            f"Bag {bag} on tree {tree} was found"
            f" {how}{f' on {day(when)}' if when else ''}{since}.{before}{fate}",
            weight=weight,
            supply=f"an earlier look at bag {bag}" if state == "doubtful" else None,
            headline=f"Bag {bag} found {how}{since.replace(',', '').replace('it was put on', 'tying')}",
        )


@rule(
    weight="unproven",
    clauses=(*_KEPT_APART, "practice:days_covered"),
    remedy="Write the looks at the bag under `checks`, or the walk on which they were made under "
    "`rounds`; and under `uncovered` the day on which it came off.",
    after=("bag-failed", "date-out-of-order", "date-in-future"),
)
def bag_unwatched(case: Case) -> Iterator[Finding]:
    """Nothing shows that a bag stayed whole for as long as its flower could take pollen.

    A bag that nobody looked at may have come off the next day. What shows it is a look that found it whole
    when the petals had fallen, or the day on which it was taken off.
    """
    bags, cover = case.joined("bags"), case.joined("protection")
    unwatched = (cover["state"] == "unwatched") & (bags["picked"] | bags["behind_lot"])
    looks = cover.values("looked")
    for row, bag, tree in bags.rows("bag", "tree", where=unwatched):
        looked = looks[row]
        told = f"was last seen whole on {day(looked)}" if looked else "was looked at by nobody"
        yield Finding(
            "bagging",
            bag,
            row,
            ("checks",),
            f"Bag {bag} on tree {tree} {told}, and nothing says when it came off.",
            supply=f"a look at bag {bag}, or the day on which it came off",
        )


@rule(
    weight="unproven",
    clauses=_KEPT_APART,
    remedy="Write the first look after the storm under `checks`, or the walk under `rounds`.",
    after=("bag-failed",),
)
def bag_in_storm(case: Case) -> Iterator[Finding]:
    """A storm went over a bag while its flower could take pollen, and nobody looked at the bag since.

    Wind and rain tear bags. From the last look before the storm until the next one nobody knows whether it
    was whole.
    """
    bags, cover = case.joined("bags"), case.joined("protection")
    stormy = (cover["state"] == "storm") & (bags["picked"] | bags["behind_lot"])
    bags = bags.adding(storm=cover["storm"], storm_source=cover["storm_source"])
    for row, bag, tree, when, source in bags.rows("bag", "tree", "storm", "storm_source", where=stormy):
        yield Finding(
            "bagging",
            bag,
            row,
            ("checks",),
            f"Bag {bag} on tree {tree} hung through the storm of {day(when)} ({source}), and no look at it"
            " is written down since.",
            supply=f"a look at bag {bag} after {day(when)}",
        )


@rule(
    weight="unproven",
    clauses=(*_KEPT_APART, "us-nop:205.103(b)(2)"),
    remedy="Give each tag the bag's number and write it under `tag.bag`, or mark the fruit itself. For this "
    "season, find what else tells the fruit of these bags apart.",
)
def bag_tag_shared(case: Case) -> Iterator[Finding]:
    """Two bags bear the same tag, and something is wrong with one of them: whose fruit was picked?

    Once the fruit is in the crate only its tag tells where it hung. Bags that bear the same day, variety and
    tree share the worse fate.
    """
    bags = case.joined("bags")
    uncovered, refused = faulty_covers(case)
    # Where tag and log disagree, nobody knows which of the two is the bag's.
    wrong = uncovered | _tag_differs(case)
    if not wrong.any():
        return
    texts = case.tag_texts
    alike = group_rows(texts, where=is_in(texts, set(texts[wrong]) - {None}))
    asked = ~wrong & (bags["picked"] | bags["behind_lot"])
    for _, rows in sorted(alike.items()):
        bad = [row for row in rows if wrong[row]]
        sound = [row for row in rows if asked[row]]
        if not sound:
            continue
        worst = refused[bad].any()
        others = bags["bag"][bad].tolist()
        fault = _say_fault(uncovered[bad])
        for row in sound:
            bag = bags["bag"][row]
            yield Finding(
                "bagging",
                bag,
                row,
                ("tag",),
                f"Bag {bag} bears the same tag as {name('bagging', others)}, {fault}; nothing tells their "
                "fruit apart.",
                weight=("rejects" if worst else None)
                if case.lineage.lots_reached(Node("bagging", bag))
                else "advice",
                supply=None
                if worst
                else f"what tells the fruit of bag {bag} from that of {name('bagging', others)}",
            )


def _say_fault(uncovered: Array) -> str:
    """What is wrong with bags of one tag, in words that follow their numbers."""
    if uncovered.all():
        return f"which {'was' if len(uncovered) == 1 else 'were'} not whole over a closed flower"
    return "with which something is wrong" if uncovered.any() else "whose log says something else"


def _tag_differs(case: Case) -> Array:
    differs = case.joined("tags_that_differ")
    found: Array = np.logical_or.reduce([differs[one] for one in _DIFFERING])
    return found


def faulty_covers(case: Case) -> tuple[Array, Array]:
    """Bags, row for row, whose cover isn't shown to have kept pollen out of a closed flower; and those where
    it is known that it didn't.
    """
    bags, profile = case.joined("bags"), case.profile
    stage, state = bags["stage"], case.joined("protection")["state"]
    opened = is_in(stage, profile.role("open_stages"))
    barren = is_in(bags["flower"], profile.role("pollen_flowers"))
    refused = opened | barren | (state == "failed")
    shown = is_in(stage, profile.role("closed_stages")) & is_in(bags["secured"], (True,)) & (state == "held")
    return ~shown | refused, refused
