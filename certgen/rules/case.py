"""What a rule may look at: season, lineage, standards, and the joined tables that many rules need.

Each joined table is made once, when a rule first asks for it. All have every column even when no
record stands in them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from certgen.lineage import Node
from certgen.records.tables import load_tables
from certgen.rules.selection import look_up
from certgen.rules.verdicts import judge_trees, list_samples
from certgen.rules.wording import count, join
from certgen.standards.own_practice import change_practice

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import numpy as np
    from pandas import DataFrame, Series

    from certgen.lineage import Lineage, LotStanding
    from certgen.records import Season
    from certgen.rules.findings import Gap
    from certgen.standards import Demand, Practice, Profile, Rulebook


@dataclass(frozen=True, eq=False)
class Case:
    """A season under examination on a day.

    `earlier` is the standing of earlier seasons' lots; `gaps` are those found so far, for the rule
    that looks at gaps.
    """

    season: Season
    lineage: Lineage
    profile: Profile
    rulebooks: tuple[Rulebook, ...]
    on: date
    earlier: Mapping[Node, LotStanding] = field(default_factory=dict)
    gaps: tuple[Gap, ...] = ()

    # Standards

    def practice(self, key: str) -> Practice | None:
        """A practice figure of the crop, with the season's own override; None if the profile has none."""
        return self._practice.get(key)

    @cached_property
    def _practice(self) -> dict[str, Practice]:
        return change_practice(self.profile, self.season.details.practice)[0]

    def demand(self, key: str) -> list[tuple[Rulebook, Demand]]:
        """What each of the season's rulebooks demands under a key; those that ask nothing are left out."""
        asked = [(rulebook, rulebook.demands.get(key)) for rulebook in self.rulebooks]
        return [(rulebook, demand) for rulebook, demand in asked if demand is not None]

    def under(self, rulebooks: tuple[Rulebook, ...]) -> Case:
        """The same case under other rulebooks. The joined tables, which depend on none, are kept."""
        other = replace(self, rulebooks=rulebooks)
        named = {one.name for one in fields(self)}
        vars(other).update({name: table for name, table in vars(self).items() if name not in named})
        return other

    # Identifiers

    def keyed(self, table: str) -> DataFrame:
        """A table by identifier: the first record of each, for looking up."""
        return self._keyed[table]

    @cached_property
    def _keyed(self) -> dict[str, DataFrame]:
        found = {}
        for name, table in load_tables().items():
            if table.key:
                frame = self.season.table(name)
                frame = frame[frame[table.key].notna() & ~frame[table.key].duplicated()]
                found[name] = frame.assign(row_of=frame.index).set_index(table.key, drop=False)
        return found

    def behind(self, table: str) -> np.ndarray[Any, Any]:
        """For each row of a table: does some lot of this season rest on the record?"""
        import numpy as np

        names = self.season.table(table)[load_tables()[table].key].tolist()
        behind = self.lineage.is_behind_lot
        return np.fromiter((behind(Node(table, one)) for one in names), dtype=bool, count=len(names))

    def stands_behind(self, *nodes: Node) -> str:
        """ "It stands behind 14 bags and 2 lots.": what rests on the records, in a sentence; else empty."""
        reached = dict.fromkeys(one for node in nodes for one in self.lineage.claim_forward(node))
        bags = sum(node.table == "bagging" for node in reached)
        lots = len(self.lineage.lots_of(nodes))
        parts = [count(number, table) for number, table in ((bags, "bagging"), (lots, "lots")) if number]
        subject = "It stands" if len(nodes) == 1 else "They stand"
        return f"{subject} behind {join(parts)}." if parts else ""

    def lot_node(self, lot: str) -> Node:
        """The node of a lot that a record names: this season's, else the latest earlier season's."""
        return self._lot_nodes.get(lot, Node("lots", lot))

    @cached_property
    def _lot_nodes(self) -> dict[str, Node]:
        # Nodes stand in the order of the seasons, this one first.
        found: dict[str, Node] = {}
        for node in self.lineage.nodes:
            if node.table == "lots" and node not in self.lineage.missing:
                found.setdefault(node.id, node)
        return found

    @cached_property
    def earlier_lots(self) -> DataFrame:
        """Lots of all earlier seasons by number, the latest season's first, with their `season`."""
        import pandas as pd

        from certgen.lineage.building import seasons_of

        frames = [
            season.table("lots").assign(season=label) for label, season in seasons_of(self.season) if label
        ]
        empty = self.season.table("lots").head(0).assign(season=pd.Series(dtype="str"))
        both = pd.concat(frames) if frames else empty
        return both[~both["lot"].duplicated()].set_index("lot", drop=False)

    def spell(self, varieties: Series[Any]) -> Series[Any]:
        """Variety names in one spelling: letter case and spaces make no other variety."""
        spelled: Series[Any] = look_up(_fold(varieties), self._spellings)
        return spelled.where(spelled.notna(), varieties)

    @cached_property
    def _spellings(self) -> Series[Any]:
        import pandas as pd

        frame = self.season.table("plantings")
        names = pd.concat([frame["variety"], self.season.table("lots")["variety"]]).dropna()
        folded = _fold(names)
        first = ~folded.duplicated()
        spellings: Series[Any] = names[first]
        return spellings.set_axis(folded[first])

    # Joined tables

    @cached_property
    def plantings(self) -> DataFrame:
        """Plantings, row for row, with their block: `block_status`, `block_row`."""
        blocks = self.keyed("blocks")
        frame = self.season.table("plantings")
        return frame.assign(
            variety=self.spell(frame["variety"]),
            block_status=look_up(frame["block"], blocks["status"]),
            block_row=look_up(frame["block"], blocks["row_of"]),
        )

    @cached_property
    def trees(self) -> DataFrame:
        """Trees, row for row, with planting and screening.

        Adds `variety`, `block`, `planted`, `block_status`, `planting_row` (of the planting) and, of the
        screening, `verdict` (`clear`, `positive`, `inconclusive`, `conflicting`, `unscreened`), `cleared`
        (the day the clearing sample was taken), `clearing_sample`, `behind_lot`.
        """
        frame = self.season.table("trees")
        plantings = self.plantings
        plantings = plantings[plantings["planting"].notna() & ~plantings["planting"].duplicated()]
        plantings = plantings.assign(planting_row=plantings.index).set_index("planting")
        added = ("variety", "block", "planted", "block_status", "planting_row")
        verdicts = self.verdicts
        return frame.assign(
            **{column: look_up(frame["planting"], plantings[column]) for column in added},
            **{column: look_up(frame["tree"], verdicts[column]) for column in verdicts.columns},
            behind_lot=self.behind("trees"),
        )

    @cached_property
    def tree_of(self) -> DataFrame:
        """`trees` by tree number, first record of each, for `look_up(x, case.tree_of["variety"])`."""
        frame = self.trees
        return frame[~frame["tree"].duplicated()].set_index("tree", drop=False)

    @cached_property
    def samples(self) -> DataFrame:
        """One row a sample and tree: `row`, `sample`, `tree`, `pooled`, `collected`, `method`, `targets`,
        `result`, `controls`, `outcome` (`negative`, `positive`, `inconclusive`, `pending`)."""
        return list_samples(self.season)

    @cached_property
    def verdicts(self) -> DataFrame:
        """What the samples say, by tree number: `verdict`, `cleared`, `clearing_sample`."""
        return judge_trees(self.samples, self.season.table("trees")["tree"], self.profile)

    @cached_property
    def bags(self) -> DataFrame:
        """Bags, row for row, with their tree: `variety`, `planting`, `block`, `planted`, `removed`, `sex`,
        `block_status`, `verdict`, `cleared`, `clearing_sample`; `behind_lot`, `picked` (a picking took it),
        `failed` (the first day a check found it torn, loose or gone) and `failure` (how)."""
        frame = self.season.table("bagging")
        tree = self.tree_of
        added = (
            "variety",
            "planting",
            "block",
            "planted",
            "removed",
            "sex",
            "block_status",
            "verdict",
            "cleared",
            "clearing_sample",
        )
        failures = self._failures
        return frame.assign(
            **{column: look_up(frame["tree"], tree[column]) for column in added},
            behind_lot=self.behind("bagging"),
            picked=frame["bag"].isin(self.season.exploded("harvests", "bags")["value"]),
            failed=look_up(frame.index.to_series(), failures["date"]),
            failure=look_up(frame.index.to_series(), failures["condition"]),
        )

    @cached_property
    def _failures(self) -> DataFrame:
        """The first bad check of each bag, by row."""
        checks = self.checks
        bad = checks[checks["condition"].isin(["torn", "loose", "gone"])]
        bad = bad.sort_values(["row", "date"], kind="stable", na_position="last")
        return bad[~bad["row"].duplicated()].set_index("row")

    @cached_property
    def checks(self) -> DataFrame:
        """One row a look at a bag: `row` and number (`bag`), `position` in the list, `date`, `condition`."""
        import pandas as pd

        frame = self.season.exploded("bagging", "checks")
        looks = frame["value"].tolist()
        dates = pd.Series([look.get("date") for look in looks], index=frame.index, dtype="datetime64[s]")
        words = pd.Series([look.get("condition") for look in looks], index=frame.index, dtype="str")
        return frame.drop(columns="value").rename(columns={"id": "bag"}).assign(date=dates, condition=words)

    @cached_property
    def picked(self) -> DataFrame:
        """One row a picking and what it took: `harvest_row`, `harvest`, `date`, `position` in its list, `bag`
        (missing for fruit listed by tree), `bag_row`, `covered`, `tree`, `variety`, `block`, `loose`."""
        import pandas as pd

        bags = self.season.exploded("harvests", "bags").assign(loose=False)
        bags = bags.assign(bag=bags["value"], tree=look_up(bags["value"], self.keyed("bagging")["tree"]))
        trees = self.season.exploded("harvests", "trees").assign(loose=True)
        trees = trees.assign(
            tree=trees["value"].astype("str"), bag=pd.Series(pd.NA, trees.index, dtype="str")
        )
        both = pd.concat([bags, trees], ignore_index=True).drop(columns="value")
        bagging, tree = self.keyed("bagging"), self.tree_of
        return both.rename(columns={"row": "harvest_row", "id": "harvest"}).assign(
            date=look_up(both["row"], self.season.table("harvests")["date"]),
            bag_row=look_up(both["bag"], bagging["row_of"]),
            covered=look_up(both["bag"], bagging["covered"]),
            variety=look_up(both["tree"], tree["variety"]),
            block=look_up(both["tree"], tree["block"]),
        )

    @cached_property
    def processed(self) -> DataFrame:
        """One row a batch and picking: `batch_row`, `batch`, `position`, `harvest`, and of the picking
        `harvest_row`, `harvest_date`, `harvest_status`."""
        frame = self.season.exploded("batches", "harvests")
        harvests = self.keyed("harvests")
        return frame.rename(columns={"row": "batch_row", "id": "batch", "value": "harvest"}).assign(
            harvest_row=look_up(frame["value"], harvests["row_of"]),
            harvest_date=look_up(frame["value"], harvests["date"]),
            harvest_status=look_up(frame["value"], harvests["status"]),
        )

    @cached_property
    def packed(self) -> DataFrame:
        """One row a lot and source: `lot_row`, `lot`, `position`, `batch` or `source_lot`, `weight_mg`,
        `packed`."""
        import pandas as pd

        frame = self.season.exploded("lots", "sources")
        parts = frame["value"].tolist()

        def pick(name: str, kind: str) -> Series[Any]:
            return pd.Series([part.get(name) for part in parts], index=frame.index, dtype=kind)

        lots = self.season.table("lots")
        return (
            frame.drop(columns="value")
            .rename(columns={"row": "lot_row", "id": "lot"})
            .assign(
                batch=pick("batch", "str"),
                source_lot=pick("lot", "str"),
                weight_mg=pick("weight_mg", "Int64"),
                packed=look_up(frame["row"], lots["packed"]),
            )
        )

    @cached_property
    def ledger(self) -> DataFrame:
        """The stock ledger in running order, as `figures.ledger.run_stock` gives it."""
        from certgen.figures.stock_book import keep_book

        return keep_book(self.season)

    @cached_property
    def harvest_varieties(self) -> DataFrame:
        """Each variety in each picking once: `harvest`, `variety`. Through tree and planting."""
        frame = self.picked[["harvest", "variety"]]
        return frame[frame["variety"].notna()].drop_duplicates()

    @cached_property
    def batch_varieties(self) -> DataFrame:
        """Each variety in each batch once: `batch`, `variety`."""
        joined = self.processed[["batch", "harvest"]].merge(self.harvest_varieties, on="harvest")
        return joined[["batch", "variety"]].drop_duplicates()


def _fold(names: Series[Any]) -> Series[Any]:
    return names.str.casefold().str.strip().str.replace(r"\s+", " ", regex=True)
