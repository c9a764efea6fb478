"""What the planted faults need to find their way about a season, and to add to it what stays clean."""

# ruff: noqa: D102 (short names of what the records say)
from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from typing import Any

from farm import BUYER, CROPS, LABORATORY, OPERATION
from truths import KEYS, Truth

from certgen.records.quantities import parse_quantity
from certgen.standards import load_rulebook

Record = dict[str, Any]
ONE = timedelta(days=1)


class Unsuited(Exception):  # noqa: N818 (nothing is wrong: another season will do)
    """This season has no place for the fault."""


@dataclass(frozen=True)
class Expected:
    """A place at which a rule must find fault: a record's field, or a file."""

    rule: str
    table: str
    record: Record | None
    steps: tuple[str | int, ...] = ()
    file: str = ""


@dataclass
class Plot:
    """A season in which faults are planted, with the randomness that says where.

    Records that a fault has touched are not used for the next one.
    """

    truth: Truth
    random: Random

    def __post_init__(self) -> None:
        self.touched: set[int] = set()
        self.number = 0

    @property
    def crop(self) -> dict[str, Any]:
        return CROPS[self.name]

    @property
    def name(self) -> str:
        return str(self.truth.season["crop"])

    @property
    def papaya(self) -> bool:
        return self.name == "papaya"

    @property
    def start(self) -> date:
        return self.truth.season["from"]  # type: ignore[no-any-return]

    @property
    def end(self) -> date:
        return self.truth.season["to"]  # type: ignore[no-any-return]

    def asks(self, key: str) -> bool:
        return any(key in load_rulebook(one).demands for one in self.truth.season["standards"])

    def need(self, holds: object) -> None:
        """Gives this season up unless something holds."""
        if not holds:
            raise Unsuited

    def rows(self, table: str) -> list[Record]:
        return self.truth.tables.setdefault(table, [])

    def choose(self, rows: list[Record]) -> Record:
        """A record that no other fault has touched, which is then touched."""
        free = [one for one in rows if id(one) not in self.touched]
        self.need(free)
        chosen = self.random.choice(free)
        self.touched.add(id(chosen))
        return chosen

    def touch(self, *records: Record) -> None:
        """Keeps other faults off the records."""
        for one in records:
            self.need(id(one) not in self.touched)
        self.touched.update(map(id, records))

    def fresh(self) -> str:
        """A number that no record bears."""
        self.number += 1
        return f"N-{id(self.random) % 1000}-{self.number}"

    def add(self, table: str, **record: Any) -> Record:
        made = {KEYS[table]: self.fresh(), **record}
        self.rows(table).append(made)
        self.touched.add(id(made))
        return made

    def clone(self, table: str, record: Record, **changes: Any) -> Record:
        """A second record like one that is there, under a number of its own."""
        kept = {key: value for key, value in deepcopy(record).items() if key not in {KEYS[table], "evidence"}}
        made = self.add(table, **{**kept, **changes})
        if table == "bagging" and "tag" in made:
            made["tag"]["bag"] = made["bag"]
        return made

    def of(self, table: str, identifier: str) -> Record:
        """A record of this season, or else of one before it."""
        return next(one for one in self.all(table) if one[KEYS[table]] == identifier)

    def twins(self, table: str, record: Record) -> list[Record]:
        """A record with its like in earlier seasons: land and plantings are told of every year."""
        return [one for one in self.all(table) if one[KEYS[table]] == record[KEYS[table]]]

    def all(self, table: str) -> list[Record]:
        """The records of all years, this season's first."""
        found: list[Record] = []
        at: Truth | None = self.truth
        while at is not None:
            found += at.tables.get(table, [])
            at = at.previous
        return found

    # Parts of the season

    def picked(self) -> list[Record]:
        """Bags whose fruit is in a lot."""
        named = {bag for one in self.rows("harvests") for bag in one.get("bags", ())}
        return [one for one in self.rows("bagging") if one["bag"] in named and self.is_new(one)]

    def is_new(self, bag: Record) -> bool:
        """Whether a bag was put on this season, and is told of in this season's folder alone."""
        return bool(bag.get("covered", self.start) >= self.start)

    def harvest_of(self, bag: Record) -> Record:
        return next(one for one in self.rows("harvests") if bag["bag"] in one["bags"])

    def organic(self, table: str) -> list[Record]:
        return [one for one in self.rows(table) if one["status"] == "organic"]

    def runs(self) -> list[Record]:
        """Organic runs of this farm's fruit."""
        return [one for one in self.organic("batches") if one.get("harvests")]

    def claiming(self, table: str) -> list[Record]:
        return [one for one in self.rows(table) if one["status"] != "conventional"]

    def out(self) -> list[Record]:
        """Movements by which seed left the farm."""
        return [one for one in self.rows("movements") if one["kind"] in {"sold", "transferred"}]

    def lot_status(self, lot: str) -> str:
        return str(self.of("lots", lot)["status"])

    def kept_plantings(self) -> list[Record]:
        """Plantings on organic land."""
        fields = {one["block"] for one in self.organic("blocks")}
        return [one for one in self.rows("plantings") if one["block"] in fields]

    def bought_plantings(self) -> list[Record]:
        """Organic plantings on organic land that were bought with a certificate."""
        return [
            one for one in self.kept_plantings()
            if one["material_status"] == "organic" and one.get("origin", {}).get("certificate")
        ]  # fmt: skip

    def picked_blocks(self) -> list[Record]:
        """Organic land from which something was picked."""
        plantings = {one["planting"]: one["block"] for one in self.rows("plantings")}
        trees = {one["tree"]: plantings[one["planting"]] for one in self.rows("trees")}
        found = {trees[one["tree"]] for one in self.picked()}
        return [one for one in self.organic("blocks") if one["block"] in found]

    def samples_of(self, tree: str) -> list[Record]:
        return [one for one in self.rows("screening") if tree in (one.get("tree"), *one.get("trees", ()))]

    def bearing(self) -> list[Record]:
        """Trees behind lots."""
        parents = {one["tree"] for one in self.picked()}
        return [one for one in self.rows("trees") if one["tree"] in parents]

    def single(self, most: int = 9) -> list[Record]:
        """Trees behind lots whose samples are of no other tree and of this season, at most so many."""
        found = []
        for tree in self.bearing():
            samples, name = self.samples_of(tree["tree"]), tree["tree"]
            alone = all(len(one.get("trees", "x")) == 1 for one in samples)
            every = [one for one in self.all("screening") if name in (one.get("tree"), *one.get("trees", ()))]
            if alone and 0 < len(samples) <= most and len(every) == len(samples):
                found.append(tree)
        return found

    def bags_of(self, tree: Record) -> list[Record]:
        """Bags that a tree bears or gave its pollen to."""
        name = tree["tree"]
        return [one for one in self.rows("bagging") if name in (one["tree"], one.get("pollen_parent"))]

    @property
    def each(self) -> int:
        """How many fruit one bag may set here."""
        return 2 if "fruits_per_bag" in self.truth.season.get("practice", {}) else 1

    def choose_transgene(self) -> Record:
        """A transgene test of one of the season's own lots."""
        return self.choose([one for one in self.rows("tests") if one["kind"] == "transgene"])

    def last_day(self, lot: Record) -> date:
        """The last day on which something happened with a lot."""
        moved = [one["date"] for one in self.rows("movements") if one["lot"] == lot["lot"]]
        return max([lot["packed"], *moved])

    def keep_back(self, part: Record, mg: int) -> None:
        """Takes so much of a run's seed out of a lot: it was never packed."""
        run = self.of("batches", part["batch"])
        self.need(self.mg(part) >= mg and "never_packed" not in run)
        run["never_packed"] = {"weight": f"{mg / 1000:.3f} g", "why": "sown in the kitchen garden"}
        part["weight"] = f"{(self.mg(part) - mg) / 1000:.3f} g"

    def set_apart(self, run: Record) -> None:
        """Gives a run equipment of its own, so that no other run's seed can have met it."""
        run["equipment"] = [f"tub {self.fresh()}"]
        run["drying"].pop("on", None)

    def variety(self, tree: str) -> str:
        return str(self.of("plantings", self.of("trees", tree)["planting"])["variety"])

    def lots_of(self, tree: str) -> set[str]:
        """Lots that rest on a tree, as mother or father."""
        bags = {one["bag"] for one in self.all("bagging") if tree in (one["tree"], one.get("pollen_parent"))}
        pickings = {one["harvest"] for one in self.all("harvests") if bags & set(one["bags"])}
        found = {one["batch"] for one in self.all("batches") if pickings & set(one["harvests"])}
        lots: set[str] = set()
        for _ in range(9):
            for one in self.all("lots"):
                if any(part.get("batch") in found or part.get("lot") in lots for part in one["sources"]):
                    lots.add(one["lot"])
        return lots

    def mg(self, record: Record, key: str = "weight") -> int:
        return int(parse_quantity(record[key], "mass").si)

    # Clean additions

    def add_tree(self, **changes: Any) -> tuple[Record, Record]:
        """A cleared tree beside others of organic land, and its sample."""
        tree = self.random.choice(
            [one for one in self.bearing() if one["sex"] in {"hermaphrodite", "monoecious"}] or [{}]
        )
        self.need(tree)
        made = self.add("trees", planting=tree["planting"], sex=tree["sex"], **changes)
        return made, self.add_sample([made["tree"]])

    def add_sample(self, trees: list[str], days: int = 0, **changes: Any) -> Record:
        """A clean DNA test, so many days after all other samples of the trees."""
        every = self.all("screening")
        known = [
            one["collected"] for tree in trees for one in every
            if tree in (one.get("tree"), *one.get("trees", ())) and "collected" in one
        ]  # fmt: skip
        own = [one["collected"] for one in self.rows("screening") or every if "collected" in one]
        when = max(known or own) + days * ONE
        named: Record = {"trees": trees} if len(trees) > 1 else {"tree": trees[0], "mark": trees[0]}
        return self.add("screening", **{
            **named, "collected": when, "method": "pcr", "targets": list(self.crop["targets"]),
            "laboratory": LABORATORY, "submitted": when, "controls": "passed", "result": "negative",
            "reported": when + ONE, "evidence": self.add_file(f"letters/{self.fresh()}.txt"), **changes,
        })  # fmt: skip

    def add_bag(self, tree: Record, **changes: Any) -> Record:
        """A bag on a tree, like one that is there; its flower dropped unless `changes` say otherwise."""
        variety = self.variety(tree["tree"])
        alike = [
            one for one in self.picked()
            if self.of("trees", one["tree"])["sex"] == tree["sex"] and self.variety(one["tree"]) == variety
            and id(one) not in self.touched
        ]  # fmt: skip
        self.need(alike)
        model = self.random.choice(alike)
        made = self.clone("bagging", model, tree=tree["tree"], outcome="dropped", **changes)
        made["tag"]["tree"] = tree["tree"]
        return made

    def add_run(self, days: int = 0, wait: int = 0, **changes: Any) -> tuple[Record, Record, Record]:
        """A bag, a picking and a run of its own, in no lot. Picked so many days after it was covered, opened
        so many days later."""
        new = {one["bag"] for one in self.picked()}
        free = [one for one in self.organic("harvests") if id(one) not in self.touched]
        harvest = self.random.choice([one for one in free if new >= set(one["bags"])] or [{}])
        self.need(harvest)
        model = self.of("bagging", harvest["bags"][0])
        self.need(id(model) not in self.touched)
        bag = self.clone("bagging", model, outcome="set")
        picked = self.clone("harvests", harvest, bags=[bag["bag"]], fruits=1, weight="900 g")
        if not self.papaya:
            picked["weight"] = "2 kg"
        batch = next(one for one in self.rows("batches") if harvest["harvest"] in one["harvests"])
        run = self.clone("batches", batch, harvests=[picked["harvest"]], equipment=[f"tub {self.fresh()}"])
        run.pop("never_packed", None)
        run["drying"].pop("on", None)
        run |= {
            "dry_weight": "4 g" if self.papaya else "40 g",
            "wet_weight": "9 g" if self.papaya else "80 g",
        }
        if days:
            picked.pop("ripening", None)
            picked["date"] = bag["covered"] + days * ONE
            if bag.get("uncovered") and bag["uncovered"] > picked["date"]:
                raise Unsuited
        if wait:
            picked.pop("ripening", None)
            run["date"] = picked["date"] + wait * ONE
            run["drying"] = {**run["drying"], "from": run["date"], "to": run["date"] + 3 * ONE}
            if run["drying"]["method"] == "screen":
                run["drying"]["to"] += 3 * ONE
        run |= changes
        return bag, picked, run

    def add_sale(self, lot: Record | str, when: date, **changes: Any) -> Record:
        """A sale of one milligram, which no count notices, with all its papers."""
        name = lot if isinstance(lot, str) else lot["lot"]
        self.need(self.start <= when <= self.end)
        return self.add("movements", **{
            "date": when, "lot": name, "kind": "sold", "weight": "0.001 g", "party": BUYER,
            "document": f"INV-{self.fresh()}",
            "status": self.lot_status(name), "last_certified_operation": OPERATION, **changes,
        })  # fmt: skip

    def add_incident(self, **changes: Any) -> Record:
        when = self.start + timedelta(days=self.random.randint(0, 200))
        return self.add("incidents", **{
            "date": when, "kind": "complaint", "about": [self.rows("blocks")[0]["block"]],
            "action": "settled",
            "closed": when + 3 * ONE, "certifier_notified": when, **changes,
        })  # fmt: skip

    def add_input(self, **changes: Any) -> Record:
        return self.add("inputs", **{
            "date": self.start, "block": self.organic("blocks")[0]["block"], "material": "compost",
            "allowed_by": "plan, page 4", **changes,
        })  # fmt: skip

    def add_file(self, name: str) -> list[str]:
        self.truth.evidence[name] = b"x\n"
        return [name]

    def drop_evidence(self, record: Record) -> None:
        """Takes the files away that only this record names."""
        for name in record.get("evidence", ()):
            self.truth.evidence.pop(name, None)
