"""One season of the farm: what is written down from the first leaf sample to the last count."""

# ruff: noqa: D102 (one step of the job each)
from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from farm import BENCH, BUYER, LABORATORY, OPERATION, OTHER_BUYER, Dried, Farm, Record, Stock, tidy
from shed import Lying
from truths import Truth

ONE = timedelta(days=1)


@dataclass
class Grown:
    """The records of one year, made in the order of the job."""

    farm: Farm
    year: int
    #: Whether the next season is written down as well, so that work may run over into it.
    follows: bool = False
    before: Truth | None = None
    tables: dict[str, list[Record]] = field(default_factory=dict)
    practice: Record = field(default_factory=dict)
    harvests: list[Record] = field(default_factory=list)
    kept: dict[str, Stock] = field(default_factory=dict)
    noted: set[tuple[str, str]] = field(default_factory=set)
    late_bags: list[Record] = field(default_factory=list)
    ripe_later: list[Record] = field(default_factory=list)
    tagged: set[tuple[str, date]] = field(default_factory=set)
    bags: int = 0

    def add(self, table: str, **record: Any) -> Record:
        """Writes a record down; now and then with a note and initials."""
        if self.farm.chance(0.05):
            record["note"] = self.farm.random.choice(("as usual", "rain in the morning", "010: NO, ~ {x}"))
        if self.farm.chance(0.05):
            record["recorded_by"] = "RA"
        self.tables.setdefault(table, []).append(record)
        return record

    def name(self, table: str, letter: str) -> str:
        return f"{self.year % 100}{letter}{len(self.tables.get(table, [])) + 1}"

    def truth(self) -> Truth:
        """The whole season, with the one before."""
        farm = self.farm
        farm.evidence = {}
        self.start, self.end = farm.day(self.year, "from"), farm.day(self.year, "to")
        if farm.double:
            self.practice["fruits_per_bag"] = {"high": 2, "reason": "This variety sets in pairs."}
        self.open_store()
        farm.settle(self.year)
        self.sow_plantings()
        if self.before is not None and farm.crop == "papaya":
            for planting in farm.plantings:
                for key in ("search_log", "non_gm_statement", "evidence"):
                    for file in planting.get(key, ()):
                        farm.keep(file)
        self.screen()
        self.bag()
        self.pick()
        self.process()
        self.pack()
        self.blend()
        self.test()
        self.move()
        self.rest()
        return self.close()

    # The store that was left over

    def open_store(self) -> None:
        for stock in self.farm.store:
            stock.season += 1
        self.farm.store = [one for one in self.farm.store if one.mg > 0]
        for stock in self.farm.store:
            self.add("movements", movement=self.name("movements", "M"), date=self.start, kind="opening stock",
                     lot=stock.record["lot"], weight=self.weigh(stock.mg))  # fmt: skip

    def weigh(self, mg: int) -> str:
        """What the scale shows: the true weight, or one that differs by no more than its step."""
        off = self.farm.number(-self.farm.step_mg, self.farm.step_mg) if self.farm.chance(0.3) else 0
        return f"{max(0, mg + off) / 1000:.3f} g"

    def sow_plantings(self) -> None:
        """Sowings of the farm's own seed, for plantings of this season that came of it."""
        for planting in self.farm.plantings:
            stock = planting.pop("from_store", None)
            if stock is not None:
                if planting["planted"] < self.start:
                    planting["planted"] = self.start + self.farm.days(1, 20)
                mg = min(stock.mg, 2000)
                stock.mg -= mg
                stock.last_out = max(stock.last_out, planting["planted"])
                self.add("movements", movement=self.name("movements", "M"), date=planting["planted"],
                         lot=stock.record["lot"], kind="sown", weight=f"{mg / 1000:.3f} g",
                         planting=planting["planting"])  # fmt: skip

    # Trees and flowers

    def ready(self, tree: Record) -> bool:
        """Whether seed may be taken of a tree this season, under the standards that look at its age."""
        planting = next(one for one in self.farm.plantings if one["planting"] == tree["planting"])
        cover = self.farm.day(self.year, "covered")
        if self.farm.crop == "papaya" and self.farm.asks("mother_plant_seasons"):
            return bool(planting["planted"] < date(cover.year - 2, cover.month, cover.day))
        return bool(planting["planted"] <= cover - self.farm.words["age"] * ONE)

    def screen(self) -> None:
        """Each tree that will bear or give pollen is cleared by some way of sampling; others now and then.

        One that was cleared in an earlier year need not be sampled again.
        """
        farm = self.farm
        self.bearing = [
            one for one in farm.trees if "since" in one and "removed" not in one and self.ready(one)
        ]
        plain: list[str] = []
        for tree in self.bearing:
            at = farm.number(0, 9)
            name = tree["tree"]
            if name in farm.cleared:
                if at < 4:
                    self.sample([name], "pcr", after=0)
            elif at < 3:
                plain.append(name)
            else:
                self.sample_alone(name, at)
        if len(plain) > 1 and farm.chance(0.6):
            if farm.chance(0.3):
                self.sample(plain, "pcr", result="positive", after=0)
                for one in plain:
                    self.sample([one], "pcr", after=6)
            else:
                self.sample(plain, "pcr", after=0)
        else:
            for one in plain:
                self.sample([one], "pcr", after=0)
        if farm.chance(0.3) and farm.crop == "papaya" and self.bearing:
            self.fell()

    def sample_alone(self, name: str, at: int) -> None:
        """One of the ways in which a single tree comes to be cleared."""
        farm = self.farm
        if at < 7 or farm.crop == "squash":
            self.sample([name], farm.random.choice(farm.words["methods"]), after=0)
        elif at == 7:
            self.sample([name], "gus", result=None, after=0)
            self.sample([name], "pcr", after=3)
        elif at == 8:
            controls = farm.random.choice(("failed", "passed", "not run"))
            self.sample([name], "pcr", result="inconclusive", controls=controls, after=0)
            self.sample([name], "pcr", after=4)
        else:
            # A positive that a stronger, later test overturns.
            self.sample([name], "gus", result="positive", after=0)
            self.sample([name], "pcr", after=5)

    def fell(self) -> None:
        """A tree that tested positive and was felled, or left standing with an incident."""
        farm = self.farm
        planting = self.bearing[0]["planting"]
        name = f"{planting}-bad{self.year}"
        tree: Record = {"tree": name, "planting": planting, "sex": "hermaphrodite"}
        taken = self.sample([name], "pcr", result="positive", after=0)
        if farm.chance(0.5):
            tree["removed"] = taken["reported"] + farm.days(0, 9)
            tree["removed_because"] = "transgene found"
        else:
            self.incident("positive screening", [name], taken["reported"])
        farm.trees.append(tree)

    def sample(
        self, trees: list[str], method: str, *, after: int, result: str | None = "negative",
        controls: str = "passed",
    ) -> Record:  # fmt: skip
        """One sample. With gus, a DNA test beside it, since the stain can't see every event."""
        farm = self.farm
        if method == "gus+pcr":
            self.sample(trees, "gus", after=after)
            method = "pcr"
        words = farm.words
        planted = [one["since"] for one in farm.trees if one["tree"] in trees and "since" in one]
        collected = max([farm.day(self.year, "sampled"), *(when + 2 * ONE for when in planted)])
        collected += timedelta(days=after) + farm.days(0, 2)
        made: Record = {"sample": self.name("screening", "S")}
        made |= {"tree": trees[0]} if len(trees) == 1 and farm.chance(0.95) else {"trees": list(trees)}
        if len(trees) == 1:
            made["mark"] = farm.random.choice(("", "", "", "no. ", "Tree ")) + trees[0]
        made |= {"collected": collected, "method": method}
        if farm.crop == "papaya":
            made["petiole"] = farm.random.choice(("1.25 in", "26 mm", "5 cm"))
        if method == "gus":
            made |= {"incubation": farm.random.choice(("12 h", "0.5 d", "480 min")),
                     "temperature": farm.random.choice(("37 C", "98.6 F"))}  # fmt: skip
        if method == "pcr":
            made["targets"] = farm.random.choice((list(words["targets"]), list(words["targets"][:2])))
        if method == "strip":
            made["targets"] = ["nptII"]
        bench = method != "pcr" and farm.chance(0.2)
        made["laboratory"] = BENCH if bench else LABORATORY
        made["submitted"] = collected + farm.days(0, 3)
        made["controls"] = controls
        if result:
            made["result"] = result
            made["reported"] = made["submitted"] + farm.days(0, 6)
            made["report"] = f"BF-{self.year}-{farm.number(1, 9)}"
            if bench or farm.chance(0.2):
                del made["report"]
                made["evidence"] = farm.keep(f"letters/{made['sample']}.txt")
        self.add("screening", **made)
        if result == "negative":
            for one in trees:
                # What cleared a tree in an earlier year clears it still.
                if farm.cleared.get(one, self.start) >= self.start:
                    farm.cleared[one] = max(collected, farm.cleared.get(one, collected))
                    farm.reported[one] = max(made["reported"], farm.reported.get(one, collected))
        return made

    def bag(self) -> None:
        """Covers over closed flowers; where pollen has to be brought, of a cleared tree of the variety."""
        farm = self.farm
        self.ripe_later = [one for one, filed in farm.hanging if filed == "here"]
        for one, filed in farm.hanging:
            if filed != "here":
                # Put on last year and written down in this year's folder, or in both.
                again = deepcopy(one)
                self.tables.setdefault("bagging", []).append(again)
                self.ripe_later.append(again)
                self.noted.add(("date-outside-season", one["bag"]))
        farm.hanging = []
        for tree in self.bearing:
            mine = self.variety(tree)
            fathers = [
                one for one in self.bearing if one["sex"] != "female" and self.variety(one) == mine
            ]  # fmt: skip
            crossing = tree["sex"] in {"female", "monoecious"}
            if tree["sex"] == "male" or (crossing and not fathers):
                continue
            giving = fathers if crossing else []
            for _ in range(farm.number(1, 3)):
                covered = farm.day(self.year, "covered") + farm.days(0, farm.words["spread"])
                self.add("bagging", **self.cover(tree, giving, covered))
            if self.follows and farm.crop == "papaya" and farm.chance(0.25):
                self.bag_late(tree, giving)
        self.storm()

    def bag_late(self, tree: Record, fathers: list[Record]) -> None:
        """A bag whose fruit is picked in the next season, or ripens over the turn of the year."""
        farm = self.farm
        if farm.chance(0.4):
            covered = self.end - farm.days(4, 9) - 130 * ONE
            made = self.cover(tree, fathers, covered)
            if made["outcome"] == "set":
                self.late_bags.append(self.add("bagging", **made))
            return
        made = self.cover(tree, fathers, self.end - farm.days(20, 50))
        made["outcome"] = "set"
        filed = farm.random.choice(("here", "here", "next", "both"))
        made = self.add("bagging", **made)
        if filed == "next":
            self.tables["bagging"].remove(made)
        farm.hanging.append((made, filed))

    def cover(self, tree: Record, fathers: list[Record], covered: date) -> Record:
        """A bag on a tree; `fathers` are the trees whose pollen may be brought, if any has to be."""
        farm = self.farm
        planting = next(one for one in farm.plantings if one["planting"] == tree["planting"])
        covered = max(covered, farm.cleared[tree["tree"]])
        said = planting["short"] if "short" in planting and farm.chance(0.5) else planting["variety"]
        self.bags += 1
        made: Record = {
            "bag": f"{self.year % 100}B{self.bags}", "tree": tree["tree"], "covered": covered,
            "tag": {"date": covered, "variety": farm.spell(said), "tree": tree["tree"]},
            "flower": "female" if fathers else "hermaphrodite", "stage": farm.words["bud"],
            "other_buds_cleared": True, "secured": True, "bag_use": "new",
        }  # fmt: skip
        if farm.chance(0.4) or (tree["tree"], covered) in self.tagged:
            made["tag"]["bag"] = made["bag"]
        self.tagged.add((tree["tree"], covered))
        if fathers:
            given = farm.random.choice(fathers)["tree"]
            made["pollen_parent"] = given
            made["covered"] = made["tag"]["date"] = max(covered, farm.cleared[given])
        if farm.chance(0.3):
            made |= {"bag_use": "re-used", "previous_contents": "another flower of this farm",
                     "bag_cleaned": made["covered"] - farm.days(0, 20)}  # fmt: skip
        self.watch(made)
        return made

    def variety(self, tree: Record) -> str:
        return next(one["variety"] for one in self.farm.plantings if one["planting"] == tree["planting"])

    def watch(self, bag: Record) -> None:
        """The looks at a bag, when it came off and what became of it.

        A look that finds it whole when the petals have fallen shows that it held, or the day it came off.
        """
        farm, words = self.farm, self.farm.words
        low, high = words["kept"]
        need = bag["covered"] + words["need"] * ONE
        if farm.chance(0.2):
            need = bag["petal_fall"] = bag["covered"] + farm.days(1, high)
        looks = [{"date": bag["covered"] + farm.days(0, low), "condition": "intact"}]
        if farm.chance(0.7):
            bag["uncovered"] = need + farm.days(0, high - low)
            bag["fruit_marked"] = True
            if farm.chance(0.3):
                looks.append({"date": min(need + farm.days(0, 3), bag["uncovered"]), "condition": "intact"})
        else:
            looks.append({"date": need + farm.days(0, 4), "condition": "intact"})
            if farm.chance(0.3):
                # It had done its work when it was found torn.
                looks.append({"date": looks[-1]["date"] + farm.days(1, 9), "condition": "torn"})
        bag["checks"] = looks
        bag["outcome"] = "set"
        if farm.chance(0.15):
            bag["outcome"] = farm.random.choice(("dropped", "lost"))

    def storm(self) -> None:
        """Now and then a storm goes over a block, and whoever hung bags there looks at them afterwards."""
        farm = self.farm
        if not farm.chance(0.25):
            return
        block = farm.random.choice(farm.blocks)["block"]
        when = farm.day(self.year, "covered") + farm.days(2, 30)
        hit = [one for one in self.tables.get("bagging", []) if self.block(one["tree"]) == block]
        for bag in hit:
            if bag["covered"] <= when and not bag.get("uncovered", when) < when:
                bag["checks"].append({"date": when + ONE, "condition": "intact"})
                if "uncovered" in bag:
                    bag["uncovered"] = max(bag["uncovered"], when + ONE)
        if farm.chance(0.5):
            self.add("rounds", round=self.name("rounds", "R"), kind="storm", date=when, by="R. Alder",
                     blocks=[block])  # fmt: skip
        else:
            self.incident("storm", [block], when)

    def block(self, tree: str) -> str:
        planting = next(one["planting"] for one in self.farm.trees if one["tree"] == tree)
        return str(next(one["block"] for one in self.farm.plantings if one["planting"] == planting))

    # Fruit and seed

    def pick(self) -> None:
        """Pickings of one variety and status each; what was covered last year is picked by itself."""
        farm = self.farm
        for bags, kind in (
            (self.tables.get("bagging", []), "of this year"), (self.late_bags, "late"),
            (self.ripe_later, "of last year"),
        ):  # fmt: skip
            groups: dict[tuple[str, str], list[Record]] = {}
            for one in bags:
                # Told apart by what they are: bags of one number stand in two lists.
                other = [*self.late_bags, *self.ripe_later] if kind == "of this year" else []
                hanging = any(one["bag"] == later["bag"] for later, _ in farm.hanging)
                if one["outcome"] == "set" and not any(one is later for later in other) and not hanging:
                    block = self.block(one["tree"])
                    status = next(b["status"] for b in farm.blocks if b["block"] == block)
                    variety = next(
                        p["variety"] for p in farm.plantings for tree in farm.trees
                        if tree["tree"] == one["tree"] and p["planting"] == tree["planting"]
                    )  # fmt: skip
                    groups.setdefault((variety, status), []).append(one)
            for (variety, status), chosen in groups.items():
                size = farm.number(1, 4)
                for at in range(0, len(chosen), size):
                    mine = chosen[at : at + size]
                    self.pick_bags(mine, variety, status, late=kind == "late")
                    if farm.double and farm.chance(0.5):
                        farm.doubled = True
                        self.pick_bags(mine[:1], variety, status, late=kind == "late")
        later = {one["tree"] for one, _ in farm.hanging}
        given = {one.get("pollen_parent") for one, _ in farm.hanging}
        for tree in self.bearing:
            last = [one["date"] for one in self.harvests]
            if farm.chance(0.1) and last and tree["tree"] not in later | given:
                tree["removed"] = max([*last, *(one["covered"] for one in self.tables["bagging"])])
                tree["removed"] += farm.days(0, 20)
                tree["removed_because"] = "storm"

    def pick_bags(self, bags: list[Record], variety: str, status: str, *, late: bool = False) -> None:
        farm, words = self.farm, self.farm.words
        when = max(one["covered"] for one in bags) + farm.days(*words["until_picked"])
        if late:
            when = max(self.end - farm.days(0, 3), *(one["covered"] + 120 * ONE for one in bags))
        low, high = words["fruit"]
        fruits = len(bags)
        weight, mg = farm.mass(farm.number(low, high) * 1000 * fruits)
        made = self.add(
            "harvests", harvest=self.name("harvests", "H"), date=when, bags=[one["bag"] for one in bags],
            fruits=fruits, weight=weight, stage=words["stage"], status=status,
        )  # fmt: skip
        ripe = when + farm.days(*words["ripening"])
        low, high = words["ripening_c"]
        warm = farm.number(low, high)
        made["ripening"] = {
            "temperature": farm.random.choice((f"{warm} C", f"{warm * 1.8 + 32:.1f} F")),
            "until": ripe,
            "colour": f"{farm.number(75, 100)} %",
        }
        parents = [one["tree"] for one in bags]
        parents += [one["pollen_parent"] for one in bags if "pollen_parent" in one]
        reported = max(farm.reported[one] for one in parents)
        self.harvests.append({**made, "variety": variety, "ripe": ripe, "mg": mg, "reported": reported})

    def process(self) -> None:
        """Runs in the order of their days; what last held other seed is cleaned before."""
        farm = self.farm
        runs: list[tuple[date, list[Record], bool]] = []
        waiting = sorted([*farm.ripening, *self.harvests], key=lambda one: one["ripe"])
        # What isn't ripe by the end of the season is opened in the next.
        farm.ripening = [one for one in waiting if self.follows and one["ripe"] > self.end - 3 * ONE]
        waiting = [one for one in waiting if one not in farm.ripening]
        while waiting:
            one = waiting.pop(0)
            mine = [one]
            for other in list(waiting):
                same = (other["variety"], other["status"]) == (one["variety"], one["status"])
                if same and (other["ripe"] - one["ripe"]).days <= 1 and farm.chance(0.6):
                    mine.append(other)
                    waiting.remove(other)
            when = max(self.start, *(each["ripe"] for each in mine)) + farm.days(0, 2)
            runs.append((when, mine, False))
            if farm.chance(0.15):
                # One picking, opened in two runs.
                runs[-1] = (when, mine, True)
                runs.append((when + farm.days(0, 1), mine, True))
        for when, mine, shared in sorted(runs, key=lambda run: run[0]):
            self.run(when, mine, shared)
            if farm.chance(0.1):
                self.run_other(when)

    def run(self, when: date, harvests: list[Record], shared: bool) -> None:
        farm, words = self.farm, self.farm.words
        fruits = sum(one["fruits"] for one in harvests)
        low, high = words["grams"]
        dry, mg = farm.mass(farm.number(low * 1000, high * 1000) * fruits // (2 if shared else 1))
        method = farm.random.choice(list(words["drying"]))
        begun = when + farm.days(0, 1)
        humid = farm.chance(0.2)
        low, high = words["drying"][method]
        # Damp air takes longer: a day more before a fan at least.
        dried = begun + farm.days(low + (humid and method == "fan"), high + (3 if humid else 0))
        low, high = words["moisture"]
        batch = self.name("batches", "X")
        status, variety = harvests[0]["status"], harvests[0]["variety"]
        pieces, rack = self.take_equipment(Lying(batch, (status, variety), when, dried))
        drying = {"method": method, "temperature": farm.random.choice(("30 C", "86 F", "24 C")),
                  "from": begun, "to": dried, "humidity": "high" if humid else "normal"}  # fmt: skip
        way = farm.number(0, 2)
        if way:
            drying["on"] = [rack]
        made = self.add(
            "batches", batch=batch, date=when, harvests=[one["harvest"] for one in harvests], status=status,
            equipment=pieces if way == 2 else [*pieces, rack], blade=farm.random.choice(words["blades"]),
            runs=["20 s", "0.5 min"], rinses=farm.number(3, 6), floated_off="1 g",
            wet_weight=f"{mg * 2.2 / 1000:.3f} g", drying=drying, dry_weight=dry,
            moisture=f"{farm.number(low, high) / 10} %",
        )  # fmt: skip
        if mg > 5000 and farm.chance(0.15):
            kept = farm.number(200, 1500)
            made["never_packed"] = {"weight": f"{kept / 1000:.3f} g", "why": "sown in the kitchen garden"}
            mg -= kept
        reported = max(one["reported"] for one in harvests)
        farm.dried[batch] = Dried(dried, status, variety, reported, mg)

    def run_other(self, when: date) -> None:
        """Seed of another sort, over the same equipment; no lot rests on it."""
        batch, dried = self.name("batches", "X"), when + 4 * ONE
        pieces, rack = self.take_equipment(Lying(batch, ("conventional", "okra"), when, dried))
        drying = {"method": next(iter(self.farm.words["drying"])), "from": when, "to": dried}
        self.add("batches", batch=batch, date=when, harvests=[], other_seed="okra", status="conventional",
                 equipment=[*pieces, rack], drying=drying, dry_weight="40 g",
                 wet_weight="90 g")  # fmt: skip

    def take_equipment(self, run: Lying) -> tuple[list[str], str]:
        """Pieces for a run and what it dries on, cleaned before it wherever other seed lay."""
        farm, words = self.farm, self.farm.words
        tools, rack, cleanings = farm.shed.prepare(
            farm.random, run, words["tools"], words["rack"], self.start
        )
        for made in cleanings:
            number = self.name("cleaning", "C")
            self.add("cleaning", cleaning=number, **made, method="hot water and brush, dried")
        return [one.upper() if farm.chance(0.1) else one for one in tools], rack

    # Lots

    def pack(self) -> None:
        """Lots of one variety and status, of one or several runs, all of a run's seed or part of it.

        Seed that was dried late may be packed in the next season, and a lot of such seed may be written down
        in the folder of the season that it was dried in.
        """
        farm = self.farm
        groups: dict[tuple[str, str], list[str]] = {}
        waiting = {}
        for batch, dried in farm.dried.items():
            if self.follows and farm.chance(0.15):
                waiting[batch] = dried
            else:
                groups.setdefault((dried.variety, dried.status), []).append(batch)
        for (variety, status), batches in groups.items():
            at = 0
            while at < len(batches):
                chosen = batches[at : at + farm.number(1, 3)]
                at += len(chosen)
                halves = 2 if farm.chance(0.2) else 1
                for _ in range(halves):
                    sources = [{"batch": one, "mg": farm.dried[one].left // halves} for one in chosen]
                    ready = max(self.start, *(farm.dried[one].ready for one in chosen))
                    reported = max(farm.dried[one].reported for one in chosen)
                    self.pack_lot(variety, status, sources, ready + farm.days(0, 8), reported)
        farm.dried = waiting

    def pack_lot(
        self, variety: str, status: str, sources: list[Record], packed: date, reported: date
    ) -> Stock:
        farm, words = self.farm, self.farm.words
        name = f"{self.year}-L{len(self.kept) + 1}"
        told = []
        total = 0
        for one in sources:
            part = dict(one)
            mg = part.pop("mg")
            part["weight"] = f"{mg / 1000:.3f} g"
            total += mg
            told.append(part)
        if total > 1000 and farm.chance(0.3):
            total += farm.number(-farm.step_mg, farm.step_mg)
        made: Record = {
            "lot": name, "variety": farm.spell(variety) if farm.chance(0.2) else variety, "packed": packed,
            "sources": told, "weight": f"{total / 1000:.3f} g", "status": status,
            "containers": farm.number(1, 5),
            "packaging": farm.random.choice(("foil pouch", "glass jar, no fungicide", "paper bag")),
            "container_use": "new", "storage": farm.random.choice(words["storage"]), "generation": 1,
        }  # fmt: skip
        if any("lot" in one for one in sources):
            # A blend is as old as its oldest part, and must keep so much longer.
            made["storage"] = words["storage"][0]
        if self.farm.chance(0.3):
            low, high = words["store_c"]
            made["storage_temperature"] = f"{farm.number(low, high)} C"
        if farm.chance(0.3):
            made |= {"container_use": "re-used", "previous_contents": "dry beans of this farm",
                     "container_cleaned": packed - farm.days(0, 9)}  # fmt: skip
        record = self.add("lots", **made)
        early = {one["batch"] for one in self.before.tables.get("batches", ())} if self.before else set()
        if self.before and all(one.get("batch") in early for one in sources) and farm.chance(0.5):
            # Dried last year: it may be told in last year's folder as well as in this one's.
            self.tables["lots"].remove(record)
            self.before.tables.setdefault("lots", []).append(record)
        stock = Stock(record, packed, total, 0, reported, packed, packed)
        self.kept[name] = stock
        return stock

    def blend(self) -> None:
        """A lot blended of lots of this season, and now and then of an earlier one."""
        farm = self.farm
        if not farm.chance(0.4):
            return
        for variety in dict.fromkeys(one.record["variety"].casefold().strip() for one in self.kept.values()):
            own = [one for one in self.kept.values() if one.record["variety"].casefold().strip() == variety]
            own = [one for one in own if one.record["status"] == "organic"]
            old = [one for one in farm.store if one.record["variety"].casefold().strip() == variety]
            old = [one for one in old if one.record["status"] == "organic" and one.mg > 2000]
            chosen = own[:2] + (old[:1] if farm.chance(0.6) else [])
            if len(chosen) < 2:
                continue
            sources, packed, reported = [], date(2000, 1, 1), date(2000, 1, 1)
            for one in chosen:
                taken = one.mg // 3
                one.mg -= taken
                sources.append({"lot": one.record["lot"], "mg": taken})
                packed = max(packed, one.last_out, one.record["packed"])
                reported = max(reported, one.cleared)
            name = own[0].record["variety"] if own else chosen[0].record["variety"]
            packed += farm.days(0, 3)
            for one in chosen:
                one.last_out = packed
            made = self.pack_lot(name, "organic", sources, packed, reported)
            made.packed = min(one.packed for one in chosen)
            if any(one.season for one in chosen):
                made.season = 1
            return

    def test(self) -> None:
        """A germination test of each lot that may be sold; other tests here and there."""
        farm = self.farm
        for stock in self.kept.values():
            self.germinate(stock, stock.last_out)
            made = stock.record
            if made["status"] == "organic" or farm.chance(0.3):
                made["label"] = {
                    "lot": made["lot"], "variety": farm.spell(made["variety"]),
                    "last_certified_operation": farm.random.choice((OPERATION, OPERATION.upper())),
                    "germination": f"{self.tables['tests'][-1]['_mean']:g} %", "tested": stock.tested,
                }  # fmt: skip
                if made["status"] == "organic":
                    made["label"]["status"] = farm.random.choice(("organic", "Certified organic seed"))
                elif farm.chance(0.5):
                    made["label"]["status"] = made["status"]
            self.test_more(stock)
        for stock in farm.store:
            if farm.chance(0.6):
                self.germinate(stock, max(self.start + 2 * ONE, stock.last_out))

    def germinate(self, stock: Stock, since: date) -> None:
        farm = self.farm
        size, replicates = stock.counted
        if not replicates:
            size = farm.random.choice((25, 50, 100))
            count = farm.random.choice((4, 8)) if size < 100 else farm.random.choice((2, 4))
            normal = farm.number(size * 8 // 10, size - 2)
            replicates = [normal + farm.number(-1, 1) for _ in range(count)]
            stock.counted = size, replicates
        days = farm.random.choice(farm.words["counts"])
        sampled = since + farm.days(0, 1)
        stock.tested = sampled + timedelta(days=days[-1]) + farm.days(0, 2)
        made = self.add(
            "tests", test=self.name("tests", "G"), lot=stock.record["lot"], date=stock.tested,
            kind="germination", replicates=list(replicates), per_replicate=size,
            temperature="20-30 C alternating", substrate="sand", counts=list(days), laboratory=LABORATORY,
        )  # fmt: skip
        if farm.chance(0.5):
            made["sampled"] = sampled
        made["_mean"] = 100 * sum(replicates) // (size * len(replicates))

    def test_more(self, stock: Stock) -> None:
        farm, lot = self.farm, stock.record["lot"]
        when = stock.record["packed"] + farm.days(0, 20)
        low, high = farm.words["moisture"]
        if farm.chance(0.2):
            self.add("tests", test=self.name("tests", "G"), lot=lot, date=when, kind="moisture",
                     moisture=f"{farm.number(low, high) / 10} %")  # fmt: skip
        if farm.chance(0.2):
            share = (low + high) / 2000
            repeats = [
                {"container": "20.000 g", "before": "25.000 g", "after": f"{25 - 5 * share - slip:.3f} g"}
                for slip in (0, 0.004)
            ]
            self.add("tests", test=self.name("tests", "G"), lot=lot, date=when, kind="moisture",
                     weighings=repeats)  # fmt: skip
        if farm.chance(0.1):
            self.add("tests", test=self.name("tests", "G"), lot=lot, date=when, kind="purity",
                     pure="9.9 g", other="0 g", inert="0.08 g")  # fmt: skip
        if farm.chance(0.1):
            self.add("tests", test=self.name("tests", "G"), lot=lot, date=when, kind="seed weight",
                     hundred_seed_weights=["1.61 g", "1.60 g", "1.63 g"])  # fmt: skip
        seeds = stock.mg // (4 * farm.words["seed_mg"])
        if farm.chance(0.3) and seeds > 8:
            seeds = min(seeds, 400)
            self.add("tests", test=self.name("tests", "G"), lot=lot, date=when, kind="transgene", pools=4,
                     seeds_per_pool=seeds // 4, positive_pools=0, targets=["35S"], controls="passed",
                     laboratory=LABORATORY)  # fmt: skip
            mg = seeds * farm.words["seed_mg"]
            stock.mg -= mg
            stock.last_out = max(stock.last_out, when)
            self.move_out(stock, when, farm.random.choice(("sampled", "retained")), mg)

    # The book

    def move(self) -> None:
        """What goes out and comes in, until the last count, which the book meets."""
        farm = self.farm
        for stock in (*self.kept.values(), *farm.store):
            own = stock.season == 0
            last = stock.tested + timedelta(days=15) if own else self.start + 40 * ONE
            # It keeps so long there, and not longer.
            keeps = {"open room": 55, "airtight dry room": 175}.get(
                stock.record["storage"], farm.words["lasts"]
            )
            last = min(last, stock.packed + keeps * ONE)
            when = max(stock.tested, stock.cleared, stock.last_out, self.start)
            kinds = ["retained", "discarded", "downgraded", "sampled"]
            fresh = stock.tested >= self.start
            if own or (stock.record["lot"] not in self.kept and fresh and stock.record["storage"] in {
                "cool room", "refrigerator", "cool dry room", "freezer"} and when < last):  # fmt: skip
                kinds += ["sold", "sold", "transferred", "sown", "returned", "counted"]
            for _ in range(farm.number(0, 5)):
                if when > last or stock.mg < 1000:
                    break
                kind = farm.random.choice(kinds)
                mg = farm.number(1, max(1, stock.mg // 3))
                buyer = farm.random.choice((BUYER, BUYER, OTHER_BUYER))
                if kind == "returned":
                    mg = min(mg, stock.sold.get(buyer, 0))
                    if not mg:
                        continue
                    # Not on the day of a sale: which of the two was first couldn't be told.
                    when = max(when, stock.last_out + ONE)
                mg = self.move_out(stock, when, kind, mg, buyer)
                if kind in {"sold", "transferred", "returned"}:
                    back = -mg if kind == "returned" else mg
                    stock.sold[buyer] = stock.sold.get(buyer, 0) + back
                if kind == "returned":
                    stock.mg += mg
                elif kind != "counted":
                    stock.mg -= mg
                # A count is of the end of its day.
                when += farm.days(1 if kind == "counted" else 0, 4)
            when = max(when, stock.last_out)
            if farm.chance(0.6):
                self.move_out(stock, when + farm.days(0, 5), "counted", stock.mg)
        farm.store += list(self.kept.values())

    def move_out(self, stock: Stock, when: date, kind: str, mg: int, buyer: str = BUYER) -> int:
        """One entry; returns the milligrams that were typed."""
        farm = self.farm
        weight, typed = (self.weigh(stock.mg), stock.mg) if kind == "counted" else farm.mass(mg)
        made = self.add("movements", movement=self.name("movements", "M"), date=when,
                        lot=stock.record["lot"], kind=kind, weight=weight)  # fmt: skip
        if kind in {"sampled", "retained"} and typed < mg:
            made["weight"], typed = f"{mg / 1000:.3f} g", mg
        number = len(self.tables["movements"])
        if kind in {"sold", "transferred", "returned"}:
            made |= {"party": farm.random.choice((buyer, buyer.upper())), "document": f"INV-{number}"}
            if farm.chance(0.1):
                # A photo of the paper does as well as its number.
                del made["document"]
                made["evidence"] = farm.keep(f"papers/{made['movement']}.txt")
        if kind in {"sold", "transferred"}:
            made |= {"status": stock.record["status"], "last_certified_operation": OPERATION}
        if kind == "returned":
            made["opened"] = False
        if kind in {"discarded", "downgraded"}:
            made |= farm.random.choice(({"note": "broken seed"}, {"document": f"D-{number}"}))
        if kind == "sown":
            made["note"] = "for seedlings in the nursery"
        stock.last_out = max(stock.last_out, when)
        return typed

    # What else is written down

    def incident(self, kind: str, about: list[str], when: date, **more: Any) -> None:
        self.add("incidents", incident=self.name("incidents", "I"), date=when, kind=kind, about=about,
                 action="looked into and settled", closed=when + self.farm.days(0, 9),
                 certifier_notified=when + self.farm.days(0, 3), **more)  # fmt: skip

    def rest(self) -> None:
        farm = self.farm
        for one in farm.blocks:
            if farm.chance(0.3):
                made = self.add("inputs", input=self.name("inputs", "N"), date=self.start + farm.days(0, 90),
                                block=one["block"], material="compost", rate="2 t/ha")  # fmt: skip
                if one["status"] != "conventional" or farm.chance(0.5):
                    made["allowed_by"] = "plan, page 4"
        if farm.chance(0.4) and self.kept:
            self.go_wrong()

    def go_wrong(self) -> None:
        """Something that a paper settles, or that came when it could do no harm."""
        farm = self.farm
        kind = farm.random.choice(("drift", "torn bags", "complaint", "recall", "other"))
        when = self.start + farm.days(200, 240)
        paper = {"evidence": farm.keep(f"incidents/{kind.replace(' ', '-')}.txt")}
        if kind == "drift":
            self.incident(kind, [farm.random.choice(farm.blocks)["block"]], when, **paper)
        elif kind == "torn bags":
            held = [
                one for one in self.tables.get("bagging", ())
                if any(
                    look["condition"] == "intact"
                    and look["date"] >= one.get("petal_fall", one["covered"] + farm.words["need"] * ONE)
                    for look in one["checks"]
                )
            ]  # fmt: skip
            if held:
                bag = farm.random.choice(held)
                when = max(look["date"] for look in bag["checks"]) + ONE
                self.incident(kind, [bag["bag"]], max(when, self.start), **paper)
        else:
            self.incident(kind, [farm.random.choice(list(self.kept))], when, **paper)

    def close(self) -> Truth:
        farm = self.farm
        shown = {one["report"] for one in self.tables.get("screening", ()) if "report" in one}
        for report in sorted(shown):
            self.add("letters", letter=report, evidence=farm.keep(f"letters/{report}.txt"))
        if farm.doubled:
            self.noted.add(("own-figure-loosens", str(self.year)))
        for one in self.tables.get("tests", ()):
            one.pop("_mean", None)
        self.tables |= {
            "blocks": [dict(one) for one in farm.blocks],
            "plantings": [tidy(one) for one in farm.plantings],
            "trees": [tidy(one) for one in farm.trees],
        }
        if farm.crop == "papaya" and farm.chance(0.3):
            self.practice["drying_c"] = {"high": 38, "reason": "Our fan is gentle."}
        season: Record = {
            "operation": {"name": OPERATION, "certificate": "C-0417", "certifier": "Fernhollow Organic",
                          "address": "4 Mill Lane, Larkfold", "responsible": "R. Alder"},
            "label": str(self.year), "from": self.start, "to": self.end, "crop": farm.crop,
            "standards": farm.standards,
        }  # fmt: skip
        if farm.scale:
            season["scale_step"] = farm.scale
        if self.practice:
            season["practice"] = self.practice
        if farm.chance(0.3):
            season["review_triggers"] = {"mass_balance": "2 %"}
        if farm.chance(0.2):
            season["evidence"] = farm.keep("certificate.txt")
        files = {}
        if farm.chance(0.5):
            files = {
                table: farm.random.choice(("season.yaml", "a.yaml", "field/b.yml")) for table in self.tables
            }
        on = self.end + farm.days(1, 40)
        tables = {name: [tidy(one) for one in rows] for name, rows in self.tables.items()}
        # The next season goes on with the same land and trees; a change in one must not be one in both.
        return Truth(
            deepcopy(season), deepcopy(tables), on, files, dict(farm.evidence), self.before, set(self.noted),
            style=farm.number(0, 10**6) if farm.chance(0.5) else None,
        )  # fmt: skip
