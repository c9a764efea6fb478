"""The farm behind the generated seasons: what stands, hangs and lies there while seasons go by."""

# ruff: noqa: D102 (short names of what is drawn)
from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from shed import Shed

from certgen.records.quantities import parse_quantity
from certgen.standards import load_rulebook

if TYPE_CHECKING:
    from random import Random

Record = dict[str, Any]
NAMES = ("Amber Kestrel", "Copper Finch", "Pale Heron", "Red Wren")
#: What tags call them where the whole name doesn't fit.
SHORT = {"Amber Kestrel": "AK", "Copper Finch": "CF", "Pale Heron": "PH", "Red Wren": "RW"}
LABORATORY, BENCH = "Bracken Ford Plant Diagnostics", "own bench, R. Alder"
BUYER, OTHER_BUYER, SUPPLIER = "Quillmere Growers", "Hollin Bank Nursery", "Tarrowmere Seed Exchange"
OPERATION = "Larkfold Seed Orchard"
#: A season by the calendar, where the crop's own begins before New Year.
CALENDAR = {"from": (0, 1, 1), "to": (0, 12, 31), "sampled": (0, 1, 3), "covered": (0, 2, 5)}
#: A day of the season's own year (month, day), and its year less one where it begins before New Year; `need`
#: is for how many days a flower takes pollen, `age` how old a plant is that flowers.
CROPS: dict[str, dict[str, Any]] = {
    "papaya": {
        "from": (-1, 11, 1), "to": (0, 10, 31), "sampled": (-1, 11, 3), "covered": (0, 1, 5), "spread": 30,
        "until_picked": (120, 150), "kept": (7, 14), "ripening": (6, 13), "ripening_c": (23, 27),
        "stage": "colour break", "bud": "closed bud", "blades": ("blunt plastic", "dull"),
        "drying": {"fan": (2, 5), "oven": (1, 2), "shade": (2, 7)}, "moisture": (79, 99),
        "grams": (2, 11), "fruit": (500, 1500), "storage": ("cool room", "airtight dry room", "open room"),
        "store_c": (10, 15), "counts": ((14, 22), (15, 28), (10, 30)), "seed_mg": 11,
        "methods": ("pcr", "gus+pcr", "strip"), "targets": ("35S", "nptII", "NOS", "CP"),
        "tools": ("mixer", "float tub", "sieve"), "rack": "drying rack", "need": 7, "age": 130, "lasts": 330,
    },
    "squash": {
        "from": (0, 1, 1), "to": (0, 12, 31), "sampled": (0, 5, 20), "covered": (0, 7, 1), "spread": 15,
        "until_picked": (50, 60), "kept": (1, 6), "ripening": (20, 30), "ripening_c": (16, 27),
        "stage": "hard rind", "bud": "taped bud", "blades": ("spoon", "machine crusher"),
        "drying": {"screen": (4, 10), "fan": (1, 5), "dehydrator": (0, 2)}, "moisture": (45, 79),
        "grams": (15, 60), "fruit": (1500, 3000), "storage": ("cool dry room", "refrigerator", "freezer"),
        "store_c": (-18, 18), "counts": ((4, 7), (3, 8)), "seed_mg": 90, "methods": ("pcr",),
        "targets": ("35S", "CP-ZYMV", "CP-WMV"), "tools": ("spoon", "bucket", "crusher"), "rack": "screen",
        "need": 1, "age": 30, "lasts": 700,
    },
}  # fmt: skip


@dataclass
class Stock:
    """A lot in the store while the seasons go by."""

    record: Record
    tested: date
    mg: int
    season: int
    cleared: date
    last_out: date
    packed: date
    #: What its first germination test counted, and how many seeds of how many.
    counted: tuple[int, list[int]] = (0, [])
    #: What each buyer has of it and hasn't brought back.
    sold: dict[str, int] = field(default_factory=dict)


@dataclass
class Dried:
    """Dry seed of a run that isn't packed yet."""

    ready: date
    status: str
    variety: str
    reported: date
    left: int


@dataclass
class Farm:
    """The farm as it goes from season to season: land, trees, what the equipment held, the store; and what
    is on its way at the turn of the year: bags that hang, fruit that ripens, seed that isn't packed yet.
    """

    random: Random
    crop: str
    standards: list[str]
    blocks: list[Record] = field(default_factory=list)
    plantings: list[Record] = field(default_factory=list)
    trees: list[Record] = field(default_factory=list)
    shed: Shed = field(default_factory=Shed)
    store: list[Stock] = field(default_factory=list)
    evidence: dict[str, bytes] = field(default_factory=dict)
    #: By tree the day on which it was cleared, and the day of the last result that it took.
    cleared: dict[str, date] = field(default_factory=dict)
    reported: dict[str, date] = field(default_factory=dict)
    hanging: list[tuple[Record, str]] = field(default_factory=list)
    ripening: list[Record] = field(default_factory=list)
    dried: dict[str, Dried] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.by_calendar = self.crop == "papaya" and self.chance(0.4)
        #: What the scale shows, as the season says it or by the crop's figure.
        self.scale, self.step_mg = self.random.choice((("", 100), ("", 100), ("0.01 g", 10), ("0.2 g", 100)))
        self.double = self.chance(0.15)
        self.doubled = False

    # Drawing

    def chance(self, share: float) -> bool:
        """True in so many cases of a hundred; the plain case is False, to which hypothesis shrinks."""
        return self.random.randrange(100) >= 100 - round(share * 100)

    def number(self, low: int, high: int) -> int:
        return self.random.randint(low, high)

    def days(self, low: int, high: int) -> timedelta:
        return timedelta(days=self.number(low, high))

    def day(self, year: int, key: str) -> date:
        own = CALENDAR if self.by_calendar else {}
        back, month, day = own.get(key) or CROPS[self.crop][key]
        return date(year + back, month, day)

    def mass(self, mg: int) -> tuple[str, int]:
        """A weight as typed, and what it is in milligrams: grams, kilograms, or ounces for a bigger one."""
        way = self.number(0, 3)
        text = f"{mg / 1000:.3f} g" if way < 2 else f"{mg / 1_000_000:.6f} kg"
        if way == 3 and mg > 2000:
            text = f"{mg / 28349.523125 - 0.001:.3f} oz"
        return text, int(parse_quantity(text, "mass").si)

    def spell(self, variety: str) -> str:
        """A variety's name as somebody else may write it."""
        return self.random.choice((variety, variety, variety.lower(), f" {variety.upper()}"))

    def keep(self, name: str) -> list[str]:
        """Names a file that is put into the evidence folder."""
        self.evidence[name] = f"{name}\n".encode()
        return [name]

    @property
    def words(self) -> dict[str, Any]:
        return CROPS[self.crop]

    def asks(self, key: str) -> bool:
        return any(key in load_rulebook(one).demands for one in self.standards)

    # Land and trees

    def settle(self, year: int) -> None:
        """Land, and plantings of the varieties on it. Papaya stands for years; squash is sown each year."""
        old = self.crop == "papaya"
        if not self.blocks:
            for name in ("East", "West", "North")[: self.number(1, 3)]:
                self.blocks.append(self._block(name, "organic"))
            if self.chance(0.35):
                status = self.random.choice(("conventional", "transitional"))
                self.blocks.append(self._block("Far", status))
        if old and self.plantings:
            if self.chance(0.3):
                # A new planting, too young to flower this year.
                organic = [one["block"] for one in self.blocks if one["status"] == "organic"]
                planted = self.day(year, "to") - self.days(60, 90)
                self._plant(f"{year}-P1", NAMES[0], self.random.choice(organic), planted)
            return
        if not old:
            self.plantings, self.trees = [], []
        organic = [one["block"] for one in self.blocks if one["status"] == "organic"]
        for at in range(self.number(1, 3)):
            planted = date(year - 3, 2, 1) + self.days(0, 200) if old else date(year, 5, 1) + self.days(0, 14)
            self._plant(f"{year}-P{at + 1}", NAMES[at % 2], self.random.choice(organic), planted)
        if len(organic) < len(self.blocks):
            planted = date(year - 3, 3, 1) if old else date(year, 5, 3)
            self._plant(f"{year}-P9", NAMES[3], "Far", planted)

    def _block(self, name: str, status: str) -> Record:
        made: Record = {
            "block": name, "status": status, "last_prohibited_substance": self.random.choice(
                ("none known", "2014-06-30", "2011-01-01")),
            "boundary": "hedge on all sides", "buffer": self.random.choice(("12 m", "30 ft", "8 m")),
            "nearest_same_crop": self.random.choice(("900 m", "2 km", "3000 ft")),
        }  # fmt: skip
        if status == "organic":
            made["organic_since"] = date(2018, 5, 1) + self.days(0, 700)
            if self.chance(0.15):
                # Where the neighbours are organic there is nothing to keep a strip from.
                made["boundary"] = "hedges; the neighbours on all sides grow organic vegetables"
                del made["buffer"]
        if status == "conventional":
            made = {"block": name, "status": status}
        return made

    def _plant(self, name: str, variety: str, block: str, planted: date) -> None:
        status = next(one["status"] for one in self.blocks if one["block"] == block)
        made: Record = {
            "planting": name, "block": block, "variety": variety, "planted": planted, "material": "seed",
            "origin": {"supplier": SUPPLIER, "certificate": "C-0912"}, "material_status": "organic",
            "generation": 0,
        }  # fmt: skip
        if self.chance(0.3):
            made["short"] = SHORT[variety]
        own = [one for one in self.store if one.record["variety"] == variety and one.mg > 3000]
        own = [one for one in own if status == one.record["status"] == "organic"]
        # Seed that has kept, in a store where it does.
        own = [
            one for one in own
            if (planted - one.packed).days < self.words["lasts"]
            and one.record["storage"] in {"cool room", "refrigerator", "cool dry room", "freezer"}
        ]  # fmt: skip
        if own and self.chance(0.7):
            # From the farm's own seed, which leaves the store on the day of sowing.
            made["origin"] = {"lot": own[0].record["lot"]}
            made |= {"from_store": own[0], "generation": 1}
        elif status != "conventional" and self.chance(0.3):
            made["material_status"] = self.random.choice(("untreated non-organic", "treated"))
            made["origin"] = {"supplier": SUPPLIER}
            made["search_log"] = self.keep(f"{name}/search.txt")
            made["non_gm_statement"] = self.keep(f"{name}/statement.txt")
            made["evidence"] = self.keep(f"{name}/label.txt")
        elif self.chance(0.2):
            made["origin"] = {"supplier": SUPPLIER}
            made["evidence"] = self.keep(f"{name}/certificate.txt")
        self.plantings.append(made)
        for number in range(1, self.number(2, 5) + 1):
            self._add_tree(name, number, planted)
        if self.chance(0.4):
            self.trees.append({"tree": f"{name}-idle", "planting": name, "sex": "unknown"})

    def _add_tree(self, planting: str, number: int, planted: date) -> None:
        sex = "monoecious"
        if self.crop == "papaya":
            sex = "female" if number > 1 and self.chance(0.3) else "hermaphrodite"
            if number == 5:
                sex = "male"
        self.trees.append(
            {
                "tree": f"{planting}-{number}",
                "planting": planting,
                "row": "1",
                "position": str(number),
                "sex": sex,
                "since": planted,
            }
        )


def tidy(record: Record) -> Record:
    """A record without what only the generator needs."""
    return {key: value for key, value in record.items() if key not in {"since", "from_store"}}
