"""A season written down as people do: what held for many once, in rounds, letters and a routine.

Nothing is told that the records didn't tell, and nothing is lost: a value is taken out of the records only
where each of those that a round speaks of has one, and what differs stays in its record or becomes an
exception.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from copy import deepcopy
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from random import Random

    from truths import Truth

Record = dict[str, Any]
Tables = dict[str, list[Record]]
_NUMBERED = re.compile(r"^(.*?)([1-9]\d*)$")
_ROUTINE = (
    ("laboratory", "screening"), ("blade", "batches"), ("bag_use", "bagging"), ("packaging", "lots"),
    ("container_use", "lots"), ("storage", "lots"),
)  # fmt: skip


def condense(season: Record, tables: Tables, previous: Truth | None, random: Random) -> tuple[Record, Tables]:
    """The season and its tables with rounds, letters and a routine in the place of what they say."""
    writing = _Writing(deepcopy(season), deepcopy(tables), previous, random)
    writing.write_routine()
    writing.write_bagging()
    writing.write_checks()
    writing.write_uncovering()
    writing.write_sampling()
    writing.write_picking()
    writing.write_letters()
    if writing.rounds:
        writing.tables["rounds"] = [*writing.tables.get("rounds", []), *writing.rounds]
    return writing.season, writing.tables


class _Writing:
    def __init__(self, season: Record, tables: Tables, previous: Truth | None, random: Random) -> None:
        self.season, self.tables, self.random = season, tables, random
        self.rounds: list[Record] = []
        self.varieties: dict[str, str] = {}
        at = previous
        while at is not None:
            self._learn(at.tables)
            at = at.previous
        self._learn(tables)

    def _learn(self, tables: Tables) -> None:
        of = {one["planting"]: one["variety"] for one in tables.get("plantings", ())}
        self.varieties |= {
            one["tree"]: of[one["planting"]] for one in tables.get("trees", ()) if one["planting"] in of
        }

    def _walk(self, kind: str, day: Any, **more: Any) -> Record:
        number = f"W{len(self.rounds) + 1}"
        self.rounds.append({"round": number, "kind": kind, "date": day, "by": "R. Alder", **more})
        return self.rounds[-1]

    def _days(self, table: str, field: str) -> list[tuple[Any, list[Record]]]:
        """The records of each day, of the days that a round is written of."""
        days: dict[Any, list[Record]] = {}
        for one in self.tables.get(table, ()):
            if field in one:
                days.setdefault(one[field], []).append(one)
        return [(day, rows) for day, rows in days.items() if self.random.randrange(4)]

    def _say(self, walk: Record, rows: Sequence[Record], key: str, field: str, own: str = "") -> None:
        """Says a field of all records at once, if each has it; what differs stays or becomes an exception."""
        if not all(field in one for one in rows):
            return
        most = _most(one[field] for one in rows)
        walk[own or field] = most
        for one in rows:
            if one[field] == most:
                del one[field]
            elif self.random.randrange(2):
                _except(walk, one[key])[own or field] = one.pop(field)

    # Rounds

    def write_bagging(self) -> None:
        for day, bags in self._days("bagging", "covered"):
            # Told by its trees, a walk is about the bags of its day, and these have to say their day.
            by_trees = not self.random.randrange(4)
            named = {"trees": list(dict.fromkeys(one["tree"] for one in bags))} if by_trees else {
                "bags": [one["bag"] for one in bags]
            }  # fmt: skip
            walk = self._walk("bagging", day, **{kind: ranges(names) for kind, names in named.items()})
            for field in ("flower", "stage", "other_buds_cleared", "secured", "bag_use"):
                self._say(walk, bags, "bag", field)
            tags = [one.get("tag", {}) for one in bags]
            if all({"date", "variety", "tree"} <= tag.keys() for tag in tags):
                walk["tagged"] = True
                if all("bag" in tag for tag in tags):
                    walk["numbered"] = True
                for one in bags:
                    plain = {"date": day, "variety": self.varieties.get(one["tree"]), "tree": one["tree"]}
                    if "numbered" in walk:
                        plain["bag"] = one["bag"]
                    if one["tag"] == plain:
                        del one["tag"]
            for one in () if by_trees else bags:
                del one["covered"]

    def write_checks(self) -> None:
        """Looks of a day at many bags; of those that a look can tell of, between covering and removal."""
        covered = {one["bag"]: one.get("covered") for one in self.tables.get("bagging", ())}
        for walk in self.rounds:
            covered |= dict.fromkeys(_expand(walk.get("bags", ()), covered), walk["date"])
        days: dict[Any, list[tuple[Record, Record]]] = {}
        for bag in self.tables.get("bagging", ()):
            first, last = covered[bag["bag"]], bag.get("uncovered")
            for look in bag.get("checks", ()):
                if first and first <= look["date"] and (last is None or look["date"] <= last):
                    days.setdefault(look["date"], []).append((bag, look))
        for day, seen in days.items():
            if self.random.randrange(2) or len({id(bag) for bag, _ in seen}) < len(seen):
                continue
            most = _most(look["condition"] for _, look in seen)
            walk = self._walk("check", day, bags=ranges([bag["bag"] for bag, _ in seen]), condition=most)
            fallen = [bag for bag, _ in seen if bag.get("petal_fall") == day]
            for bag, look in seen:
                bag["checks"] = [one for one in bag["checks"] if one is not look]
                if look["condition"] != most:
                    _except(walk, bag["bag"])["condition"] = look["condition"]
            if len(fallen) == len(seen):
                walk["petals_fallen"] = True
            for bag in fallen:
                del bag["petal_fall"]
                if "petals_fallen" not in walk:
                    _except(walk, bag["bag"])["petals_fallen"] = True

    def write_uncovering(self) -> None:
        for day, bags in self._days("bagging", "uncovered"):
            walk = self._walk("uncovering", day, bags=ranges([one["bag"] for one in bags]))
            for field in ("outcome", "fruit_marked"):
                self._say(walk, bags, "bag", field)
            for one in bags:
                del one["uncovered"]

    def write_sampling(self) -> None:
        for day, samples in self._days("screening", "collected"):
            walk = self._walk("sampling", day, samples=ranges([one["sample"] for one in samples]))
            self._say(walk, samples, "sample", "petiole")
            alone = [one for one in samples if "tree" in one]
            if alone and all("mark" in one for one in alone):
                walk["marked"] = True
                for one in alone:
                    if one["mark"] == one["tree"]:
                        del one["mark"]
            for one in samples:
                del one["collected"]

    def write_picking(self) -> None:
        for day, harvests in self._days("harvests", "date"):
            if all("stage" in one for one in harvests):
                walk = self._walk("picking", day, harvests=ranges([one["harvest"] for one in harvests]))
                self._say(walk, harvests, "harvest", "stage", "ripeness")

    # Letters and the routine

    def write_letters(self) -> None:
        for letter in self.tables.get("letters", ()):
            rows = [one for one in self.tables["screening"] if one.get("report") == letter["letter"]]
            if not rows or letter.keys() - {"letter", "evidence", "note", "recorded_by"}:
                # It says something already.
                continue
            if not self.random.randrange(4):
                continue
            listed = self.random.randrange(2) == 1
            if listed:
                letter["samples"] = ranges([one["sample"] for one in rows])
            for field in ("laboratory", "method", "targets", "controls", "reported"):
                self._say_by_letter(letter, rows, field)
            self._say_by_letter(letter, rows, "submitted", "received")
            self._say_results(letter, rows)
            for one in rows if listed else ():
                del one["report"]

    @staticmethod
    def _say_by_letter(letter: Record, rows: Sequence[Record], field: str, own: str = "") -> None:
        """What the letter says of all its samples; what is otherwise stays in the records."""
        if all(field in one for one in rows):
            said = _most(one[field] for one in rows)
            if own == "received" and said > letter.get("reported", said):
                # Most samples came in later than most results were told: each says its own day.
                return
            letter[own or field] = said
            for one in rows:
                if one[field] == letter[own or field]:
                    del one[field]

    @staticmethod
    def _say_results(letter: Record, rows: Sequence[Record]) -> None:
        """The results, each exception by name: a result that differs from its letter's is a contradiction."""
        if not all("result" in one for one in rows):
            return
        letter["result"] = most = _most(one["result"] for one in rows)
        for one in rows:
            result = one.pop("result")
            if result != most:
                letter.setdefault("exceptions", []).append({"samples": [one["sample"]], "result": result})

    def write_routine(self) -> None:
        routine: Record = {}
        for field, table in _ROUTINE:
            rows = [one for one in self.tables.get(table, ()) if one.get("status") != "conventional"]
            if rows and all(field in one for one in rows) and self.random.randrange(2):
                routine[field] = _most(one[field] for one in rows)
                for one in rows:
                    if one[field] == routine[field]:
                        del one[field]
        if routine:
            self.season["routine"] = {"stated_by": "R. Alder", "date": self.season["from"], **routine}


def _most(values: Iterable[Any]) -> Any:
    """The value that most have; the first of those, where several do."""
    seen: dict[str, Any] = {}
    counts: Counter[str] = Counter()
    for value in values:
        seen.setdefault(repr(value), value)
        counts[repr(value)] += 1
    return seen[counts.most_common(1)[0][0]]


def _except(walk: Record, name: str) -> Record:
    """The exception of a round about one record, which is added if there is none yet."""
    told: list[Record] = walk.setdefault("exceptions", [])
    found = next((one for one in told if one["about"] == [name]), None)
    if found is None:
        found = {"about": [name]}
        told.append(found)
    return found


def ranges(names: Sequence[str]) -> list[str]:
    """The names, those with consecutive numbers as ranges: `26B1 to 26B4`."""
    found: list[str] = []
    run: list[str] = []
    for name in names:
        last, this = (_NUMBERED.match(run[-1]) if run else None), _NUMBERED.match(name)
        if last and this and last[1] == this[1] and int(last[2]) + 1 == int(this[2]):
            run.append(name)
            continue
        found += _written(run)
        run = [name]
    return found + _written(run)


def _written(run: Sequence[str]) -> list[str]:
    return list(run) if len(run) < 3 else [f"{run[0]} to {run[-1]}"]


def _expand(entries: Iterable[str], known: Iterable[str]) -> list[str]:
    """The known names that written names and ranges mean."""
    found = []
    for entry in entries:
        first, _, last = entry.partition(" to ")
        ends = [_NUMBERED.match(one) for one in (first, last or first)]
        if not last or ends[0] is None or ends[1] is None:
            found.append(entry)
            continue
        numbers = range(int(ends[0][2]), int(ends[1][2]) + 1)
        found += [one for one in known if one in {f"{ends[0][1]}{number}" for number in numbers}]
    return found
