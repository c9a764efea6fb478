"""What a rule may look at: season, lineage, standards, and the joined tables that many rules need.

Each joined table is made once, when a rule first asks for it. All have every column even when no
record stands in them.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.lineage.custody import keep_books
from certgen.lineage.node_lists import NodeList
from certgen.records.columns import is_in
from certgen.records.joining.ranges import NameRanges
from certgen.records.quantities import parse_quantity
from certgen.records.supplied import NO_PACKETS, Supplied
from certgen.records.tables import load_tables
from certgen.rules.harvest import seed_line
from certgen.rules.orchard_tables import list_bags, list_plantings, list_trees
from certgen.rules.pollination.protection import judge_bags, list_looks
from certgen.rules.pollination.spelling import Spelling, compare_tags, join_tags
from certgen.rules.record_keeping.attestation import list_spoken, list_unattested
from certgen.rules.samples.soundness import find_sound
from certgen.rules.samples.verdicts import find_clearing, list_called_positive, list_samples, list_verdicts
from certgen.rules.seed.departures import list_moves
from certgen.rules.seed.purchases import Judged, judge_purchases
from certgen.rules.wording import count, join
from certgen.standards.practice import change_practice

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import date

    from pandas import DataFrame

    from certgen.lineage import Lineage, Node, Standings
    from certgen.lineage.custody import LotBook
    from certgen.records.columns import Array, Columns
    from certgen.records.joining.farm import Farm
    from certgen.rules.findings import Gap
    from certgen.rules.seed.deliveries import Handed
    from certgen.standards import Demand, Practice, Profile, Rulebook


#: Joined tables that rest on no figure of practice; and some that rest on none of which events matter.
_OF_NO_FIGURE = (
    "_keyed", "_ranges", "spelling", "plantings", "processed", "packed", "tag_texts", "dirty_runs", "moves",
)  # fmt: skip
_OF_NO_EVENT = (
    "picked", "parents", "samples", "checks", "told_positive", "harvest_varieties", "batch_varieties",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Case:
    """A season under examination on a day, with all seasons before it: `season` is the whole farm.

    `gaps` are those found so far and `standings` what they make of each lot, for the rules that look at
    them. `own_figures` says whether the season's own figures of practice stand in the place of the crop's.
    `supplied` are the suppliers' packets that records name, as they were verified.
    """

    season: Farm
    lineage: Lineage
    profile: Profile
    rulebooks: tuple[Rulebook, ...]
    on: date
    gaps: tuple[Gap, ...] = ()
    standings: Standings | None = None
    own_figures: bool = True
    supplied: Supplied = NO_PACKETS

    # Standards

    def practice(self, key: str) -> Practice | None:
        """A practice figure of the crop, with the season's own override; None if the profile has none."""
        return self._practice.get(key)

    @cached_property
    def _practice(self) -> dict[str, Practice]:
        own = self.season.details.practice if self.own_figures else {}
        return change_practice(self.profile, own)[0]

    @cached_property
    def events_of_concern(self) -> tuple[str, ...]:
        """The events to be ruled out, as the profile calls them; one it doesn't know keeps its own name."""
        own = self.season.details.events_of_concern if self.own_figures else ()
        known = [(text, self.profile.event(text)) for text in own or self.profile.default_events]
        return tuple(dict.fromkeys(text if event is None else event.key for text, event in known))

    @cached_property
    def scale_step_mg(self) -> int:
        """What a scale shows at least: the season's own step within the profile's bounds, or its figure."""
        usual = self.practice("scale_step_g")
        most = 0 if usual is None else round(1000 * (usual.usual or 0))
        limit = round(1000 * usual.limits[1]) if usual is not None else 0
        typed = self.season.details.raw.get("scale_step") if self.own_figures else None
        if typed is None:
            return most
        return min(int(parse_quantity(str(typed), "mass").si), limit)

    def demand(self, key: str) -> list[tuple[Rulebook, Demand]]:
        """What each of the season's rulebooks demands under a key; those that ask nothing are left out."""
        asked = [(rulebook, rulebook.demands.get(key)) for rulebook in self.rulebooks]
        return [(rulebook, demand) for rulebook, demand in asked if demand is not None]

    def under(self, rulebooks: tuple[Rulebook, ...]) -> Case:
        """The same case under other rulebooks. The joined tables, which depend on none, are kept."""
        other = self.changed(rulebooks=rulebooks)
        # What is shown of the land depends on what a standard asks.
        vars(other).pop("shown", None)
        return other

    def changed(self, **changes: Any) -> Case:
        """The case with other rulebooks, gaps or standings; its joined tables depend on none and are kept."""
        other = replace(self, **changes)
        named = {one.name for one in fields(self)}
        vars(other).update({name: table for name, table in vars(self).items() if name not in named})
        return other

    def by_the_book(self) -> Case:
        """The case with the crop's figures in place of the season's. Tables that rest on none are kept."""
        other = replace(self, own_figures=False)
        kept = [*_OF_NO_FIGURE, *(() if self.season.details.practice else _OF_NO_EVENT)]
        vars(other).update({name: vars(self)[name] for name in kept if name in vars(self)})
        vars(other)["_joined"] = {name: one for name, one in self._joined.items() if name in kept}
        return other

    # Tables as arrays

    def columns(self, table: str) -> Columns:
        """A table of the farm as plain arrays, each made once."""
        return self.season.columns(table)

    def joined(self, name: str) -> Columns:
        """One of the joined tables below as plain arrays: `case.joined("bags")["variety"]`."""
        found = self._joined.get(name)
        if found is None:
            found = self._joined[name] = _JOINED[name](self)
        return found

    @cached_property
    def _joined(self) -> dict[str, Columns]:
        return {}

    # Identifiers

    def keyed(self, table: str) -> DataFrame:
        """A table by identifier: the first record of each, for looking up."""
        if table not in self._keyed:
            frame, key = self.season.table(table), load_tables()[table].key
            first = frame[frame[key].notna() & ~frame[key].duplicated()]
            self._keyed[table] = first.assign(row_of=first.index).set_index(key, drop=False)
        return self._keyed[table]

    @cached_property
    def _keyed(self) -> dict[str, DataFrame]:
        return {}

    def behind(self, table: str) -> Array:
        """For each row of a table: does some lot of this season rest on the record?"""
        return is_in(self.columns(table)[load_tables()[table].key], self.lineage.behind_lots(table))

    def stands_behind(self, *nodes: Node) -> str:
        """ "It stands behind 14 bags and 2 lots.": what rests on the records, in a sentence; else empty."""
        reached = dict.fromkeys(one for node in nodes for one in self.lineage.claim_forward(node))
        bags = sum(node.table == "bagging" for node in reached)
        lots = len(self.lineage.lots_of(nodes))
        parts = [count(number, table) for number, table in ((bags, "bagging"), (lots, "lots")) if number]
        subject = "It stands" if len(nodes) == 1 else "They stand"
        return f"{subject} behind {join(parts)}." if parts else ""

    def own(self, table: str) -> Array:
        """For each row of a table: does it stand in this season's own folder?"""
        return np.arange(len(self.columns(table))) < self.season.own(table)

    @cached_property
    def books(self) -> dict[str, LotBook]:
        """The book of every lot, through all years: where each of its grams went."""
        return keep_books(self.season, self.scale_step_mg)

    @cached_property
    def shown(self) -> Mapping[str, Any]:
        """For each obligation of the claim, by key, which rows of its table are shown."""
        from certgen.rules.obligations import shown_by

        return shown_by(self)

    def filed(self, evidence: Array) -> Array:
        """Which records name at least one file that lies in the evidence folder and holds something."""
        there = set(self.season.evidence_files) - set(self.season.empty_evidence)
        return np.array([not there.isdisjoint(files) for files in evidence.tolist()], dtype=bool)

    @cached_property
    def lots_told(self) -> tuple[str, ...]:
        """The lots that the season is about: its own, and earlier ones that it has, moves or blends."""
        lots, moves = self.columns("lots")["lot"].tolist(), self.columns("movements")["lot"].tolist()
        here, packed = self.season.own("lots"), self.joined("packed")
        named = set(moves[: self.season.own("movements")])
        named |= set(packed["source_lot"][packed["lot_row"] < here].tolist())
        named |= {lot for lot, book in self.books.items() if book.on_hand_mg > self.scale_step_mg}
        return tuple(dict.fromkeys([*lots[:here], *(lot for lot in lots if lot in named)]))

    @cached_property
    def spelling(self) -> Spelling:
        """Names as they are written on tags, leaves and labels, compared with the records'."""
        return Spelling(self.season)

    # Joined tables

    @cached_property
    def plantings(self) -> DataFrame:
        """Plantings, row for row, with their block: `block_status`, `block_row`."""
        return self.joined("plantings").frame()

    @cached_property
    def trees(self) -> DataFrame:
        """Trees, row for row, with planting and screening.

        Adds `variety`, `block`, `planted`, `block_status`, `planting_row` (of the planting) and, of the
        screening, `verdict` (`clear`, `positive`, `inconclusive`, `conflicting`, `unscreened`), `cleared`
        (the day the clearing sample was taken), `clearing_sample`, `behind_lot`.
        """
        return self.joined("trees").frame()

    @cached_property
    def tree_of(self) -> DataFrame:
        """`trees` by tree number, first record of each, for `look_up(x, case.tree_of["variety"])`."""
        frame = self.trees
        return frame[~frame["tree"].duplicated()].set_index("tree", drop=False)

    @cached_property
    def samples(self) -> DataFrame:
        """One row a sample and tree of all years: `row`, `sample`, `tree`, `pooled`, `leaves`, `collected`,
        `method`, `targets`, `result`, `controls`, `outcome` (`negative`, `positive`, `inconclusive`,
        `pending`), `doubt` (why a result doesn't count)."""
        return self.joined("samples").frame()

    @cached_property
    def verdicts(self) -> DataFrame:
        """What the samples say, by tree number: `verdict`, `cleared`, `clearing_sample`."""
        return self.joined("verdicts").frame().set_index("tree")

    @cached_property
    def soundly_cleared(self) -> dict[str, date | None]:
        """By tree the day from which sound samples alone rule every event of concern out, if they do."""
        samples, trees = self.joined("samples"), list(self.columns("trees").first("tree"))
        sound = samples.where(find_sound(self), "sample", "tree", "outcome", "collected", "method", "targets")
        return find_clearing(sound, trees, self.profile, self.events_of_concern)

    @cached_property
    def needed_samples(self) -> set[int]:
        """Rows of samples of which some tree is not soundly cleared by others: their faults count."""
        cleared = {tree for tree, day in self.soundly_cleared.items() if day is not None}
        samples = self.joined("samples")
        return set(samples["row"][~is_in(samples["tree"], cleared)].tolist())

    @cached_property
    def told_positive(self) -> tuple[str, ...]:
        """The trees that an incident calls positive, by their number or that of a sample or bag."""
        return list_called_positive(self)

    def strange(self, table: str) -> Array:
        """For each row of a table: does it stand in a season of another operation?"""
        own = self.season.details.operation
        found = np.zeros(len(self.columns(table)), dtype=bool)
        for number, stretch in enumerate(self.season.stretches):
            if not own.is_same(stretch.details.operation):
                found[self.season.rows_of(table, number)] = True
        return found

    @cached_property
    def unattested(self) -> tuple[tuple[int, str, Array], ...]:
        """The rounds that nobody answers for (see `attestation.list_unattested`)."""
        return list_unattested(self)

    @cached_property
    def spoken_by_nobody(self) -> dict[str, list[int]]:
        """By table the rows that such a round speaks of."""
        return list_spoken(self)

    def nodes(self, table: str, rows: Array) -> NodeList:
        """The records of a table at some rows; for the same array, asked again, the same list."""
        if table not in self._nodes:
            self._nodes[table] = NodeList.of_table(table, self.columns(table))
        if self._nodes[table].rows is not rows:
            self._nodes[table] = self._nodes[table].at(rows)
        return self._nodes[table]

    @cached_property
    def _nodes(self) -> dict[str, NodeList]:
        return {}

    @cached_property
    def bags(self) -> DataFrame:
        """Bags, row for row, with their tree: `variety`, `planting`, `block`, `planted`, `removed`, `sex`,
        `block_status`, `verdict`, `cleared`, `clearing_sample`; `behind_lot`, `picked` (a picking took
        it)."""
        return self.joined("bags").frame()

    @cached_property
    def tags_that_differ(self) -> DataFrame:
        """Bags, row for row, and what their tags say otherwise than the log (`tags.compare_tags`)."""
        return self.joined("tags_that_differ").frame()

    @cached_property
    def tag_texts(self) -> Array:
        """What the tag of each bag says, row for row, in one text."""
        return join_tags(self)

    @cached_property
    def checks(self) -> DataFrame:
        """One row a look at a bag: `row` and number (`bag`), `position` in its list, `date`, `condition`."""
        return self.joined("checks").frame()

    @cached_property
    def protection(self) -> DataFrame:
        """How long each bag kept pollen out (see `protection.judge_bags`)."""
        return self.joined("protection").frame()

    def ranges(self, table: str) -> NameRanges:
        """The identifiers of a table, to find what a written range means."""
        if table not in self._ranges:
            self._ranges[table] = NameRanges(list(self.columns(table).first(load_tables()[table].key)))
        return self._ranges[table]

    @cached_property
    def _ranges(self) -> dict[str, NameRanges]:
        return {}

    @cached_property
    def picked(self) -> DataFrame:
        """One row a picking and what it took (`seed_line.list_picked`)."""
        return self.joined("picked").frame()

    @cached_property
    def parents(self) -> frozenset[str]:
        """The trees that bear bags, give pollen or were picked."""
        bagging = self.columns("bagging")
        columns = (bagging["tree"], bagging["pollen_parent"], self.joined("picked")["tree"])
        return frozenset(tree for column in columns for tree in column.tolist() if tree is not None)

    @cached_property
    def processed(self) -> DataFrame:
        """One row a batch and picking (`seed_line.list_processed`)."""
        return self.joined("processed").frame()

    @cached_property
    def packed(self) -> DataFrame:
        """One row a lot and source (`seed_line.list_packed`)."""
        return self.joined("packed").frame()

    @cached_property
    def moves(self) -> Columns:
        """Movements, row for row, with their lot (`departures.list_moves`)."""
        return list_moves(self)

    @cached_property
    def handed(self) -> dict[tuple[str, ...], Handed]:
        """What was handed to others, by lots (filled by `deliveries.list_handed`)."""
        return {}

    @cached_property
    def purchases(self) -> tuple[Judged, ...]:
        """Bought seed, with what its suppliers' packets show of it."""
        return judge_purchases(self)

    @cached_property
    def dirty_runs(self) -> Mapping[int, Any]:
        """By row the runs that other seed may have got into (`equipment.find_dirty`)."""
        from certgen.rules.harvest.equipment import find_dirty

        return find_dirty(self)

    @cached_property
    def batch_varieties(self) -> DataFrame:
        """Each variety in each batch once: `batch`, `variety`."""
        return self.joined("batch_varieties").frame()


#: By the name of a joined table what makes it.
_JOINED: Final[Mapping[str, Callable[[Case], Columns]]] = {
    "plantings": list_plantings,
    "trees": list_trees,
    "samples": list_samples,
    "verdicts": list_verdicts,
    "bags": list_bags,
    "tags_that_differ": compare_tags,
    "checks": list_looks,
    "protection": judge_bags,
    "picked": seed_line.list_picked,
    "processed": seed_line.list_processed,
    "packed": seed_line.list_packed,
    "harvest_varieties": seed_line.list_harvest_varieties,
    "batch_varieties": seed_line.list_batch_varieties,
}
