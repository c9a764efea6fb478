"""What rounds, letters and the season's routine say of single records, written into those records.

A record that says otherwise beats them. Where two rounds say different things of one record, neither counts.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from second_engine.values import day, plain, silent

if TYPE_CHECKING:
    from second_engine.farm import Farm
    from second_engine.reading import Record

_ROUTINE = {
    "screening": ("laboratory",), "bagging": ("bag_use",), "batches": ("equipment",),
    "lots": ("packaging", "container_use"),
}  # fmt: skip
_COVERING = ("flower", "stage", "other_buds_cleared", "secured", "bag_use")
_MOST = 20_000
_ILL = ("seal broken", "damaged")


def names_in(text: str) -> Iterator[str]:
    """The numbers that a text stands for: itself, or each of a range ('B26-0001 to B26-0040')."""
    ends = re.fullmatch(r"\s*(\S*?)([0-9]+)\s+to\s+(\S*?)([0-9]+)\s*", text)
    if not ends:
        yield text.strip()
        return
    before, first, again, last = ends.groups()
    if before == again and len(first) <= len(last) and int(last) - int(first) < _MOST:
        for number in range(int(first), int(last) + 1):
            yield f"{before}{number:0{len(first)}d}"


class Said:
    """Writes what is said once for many into each of the many."""

    def __init__(self, farm: Farm, reliable: set[int]) -> None:
        self.farm = farm
        #: Seasons of this operation: what another one's rounds say supports nothing here.
        self.reliable = reliable
        self.stormed: set[tuple[int, int]] = set()
        self.petals: set[tuple[int, int]] = set()
        self.disputed: set[int] = set()
        #: Rounds and letters with an exception about something that no record bears.
        self.unclear: set[int] = set()
        #: (id of the round or letter, id of the record it speaks of)
        self.applied: set[tuple[int, int]] = set()
        self._told: dict[int, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))

    def write(self) -> None:
        """All of it, in the order in which one rests on the other."""
        self._letters()
        self._sheets()
        for kind in ("sampling", "bagging", "uncovering", "check", "storm", "picking"):
            for record in self.farm.records["rounds"]:
                if record.fields["kind"] == kind:
                    self._round(record, kind)
            self._settle()
        self._routine()

    # Rounds

    def _round(self, one: Record, kind: str) -> None:
        when = day(one.fields["date"])
        clear = self._understood(one, ("bagging", "trees", "screening", "harvests"))
        attested = clear and one.season in self.reliable and not silent(one.fields["by"])
        table = {"sampling": "screening", "picking": "harvests"}.get(kind, "bagging")
        walked = self._walked(one, table, when, kind)
        for record, named in walked:
            fields = self._of_this(one, record)
            if fields.get("left_out"):
                continue
            self.applied.add((id(one), id(record)))
            if kind == "storm":
                self.stormed.add((id(record), when))
            elif kind in {"check", "uncovering"} and fields.get("condition"):
                self._look(record, one.fields["date"], fields["condition"], attested=attested)
            if attested:
                self._say(record, one, kind, fields, named=named)
        self._beside(one, kind, table, {id(record) for record, _ in walked})

    def _beside(self, one: Record, kind: str, table: str, walked: set[int]) -> None:
        """An exception about what the walk didn't take in: it may speak against that all the same."""
        for exception in one.fields.get("exceptions", ()):
            names = [name for text in exception["about"] for name in names_in(text)]
            for record in (self.farm.find(table, name, one.season) for name in names):
                if record is None or id(record) in walked:
                    continue
                if kind == "bagging":
                    for name in _COVERING:
                        if name in exception:
                            self._told[id(record)][name].append(exception[name])
                elif kind in {"check", "uncovering"} and exception.get("condition", "intact") != "intact":
                    self._look(record, one.fields["date"], exception["condition"], attested=False)

    def _understood(self, one: Record, tables: tuple[str, ...]) -> bool:
        """Whether each exception is of something on record: else nobody can say what the rest holds for."""
        for exception in one.fields.get("exceptions", ()):
            for text in exception.get("about", exception.get("samples", ())):
                names = list(names_in(text))
                if not any(self.farm.find(table, name, one.season) for table in tables for name in names):
                    self.unclear.add(id(one))
                    return False
        return True

    def _walked(self, one: Record, table: str, when: int, kind: str) -> list[tuple[Record, bool]]:
        """The records that a walk took in: those named, and what hung or stood on the trees or blocks."""
        field = {"screening": "samples", "bagging": "bags", "harvests": "harvests"}[table]
        found: dict[int, tuple[Record, bool]] = {}
        for text in one.fields.get(field, ()):
            for name in names_in(text):
                record = self.farm.find(table, name, one.season)
                if record:
                    found[id(record)] = (record, True)
        trees = {
            id(tree)
            for text in one.fields.get("trees", ())
            for name in names_in(text)
            if (tree := self.farm.find("trees", name, one.season, when))
        }
        blocks = set(one.fields.get("blocks", ()))
        if (trees or blocks) and table != "harvests":
            for record in self.farm.records[table]:
                tree = self._tree(record)
                there = tree is not None and (id(tree) in trees or self.farm.block_of(tree) in blocks)
                if there and _was_there(record, kind, when):
                    found.setdefault(id(record), (record, False))
        return list(found.values())

    def _tree(self, record: Record) -> Record | None:
        name = record.fields.get("tree")
        when = record.fields.get("covered") or record.fields.get("collected")
        return name and self.farm.find("trees", name, record.season, day(when) if when else None)

    def _of_this(self, one: Record, record: Record) -> dict[str, Any]:
        """What the round says of one record: its own words, but for the exceptions."""
        fields = dict(one.fields)
        for exception in self._about(one, record):
            other = {key: value for key, value in exception.items() if key not in {"about", "note"}}
            # Something was otherwise, and nobody says what.
            fields |= other or {"left_out": True}
        return fields

    def _about(self, one: Record, record: Record) -> list[dict[str, Any]]:
        """The exceptions of a round that speak of one record, by its number or its tree's."""
        mine = {record.key, record.fields.get("tree")}
        return [
            exception
            for exception in one.fields.get("exceptions", ())
            if mine & {name for text in exception["about"] for name in names_in(text)}
        ]

    def _look(self, record: Record, date: str, condition: str, *, attested: bool) -> None:
        """A look at a bag. What speaks against it counts whoever saw it; the record's own word beats it."""
        own = {look["date"] for look in record.fields.get("checks", ())}
        if date not in own and (attested or condition != "intact"):
            self._told[id(record)]["checks"].append({"date": date, "condition": condition})

    def _say(self, record: Record, one: Record, kind: str, fields: dict[str, Any], *, named: bool) -> None:
        date = one.fields["date"]
        told = self._told[id(record)]
        main = {"sampling": "collected", "bagging": "covered", "uncovering": "uncovered"}.get(kind)
        if main and record.fields.get(main, date) != date:
            # It was done on another day, so this walk did something else or left it out.
            return
        if main:
            told[main].append(date)
        if kind == "bagging":
            for name in _COVERING:
                if name in fields:
                    told[name].append(fields[name])
            if fields.get("tagged"):
                told["tag"].append(self._tag(record, date, numbered=bool(fields.get("numbered"))))
        elif kind == "uncovering":
            if "outcome" in fields:
                told["outcome"].append(fields["outcome"])
            own = any("fruit_marked" in exception for exception in self._about(one, record))
            # That the fruit was marked is said of fruit only.
            outcome = record.fields.get("outcome", fields.get("outcome", "set"))
            if "fruit_marked" in fields and (own or outcome == "set"):
                told["fruit_marked"].append(fields["fruit_marked"])
        elif kind == "sampling" and fields.get("marked") and record.fields.get("tree"):
            told["mark"].append(record.fields["tree"])
        elif kind == "check" and fields.get("petals_fallen") and (named or fields.get("condition") != "gone"):
            self.petals.add((id(record), day(date)))

    def _tag(self, record: Record, date: str, *, numbered: bool) -> dict[str, Any]:
        tag = {"date": record.fields.get("covered", date), "tree": record.fields.get("tree")}
        tree = self._tree(record)
        planting = tree and self.farm.find("plantings", tree.fields["planting"], tree.season)
        if planting:
            tag["variety"] = planting.fields["variety"]
        if numbered:
            tag["bag"] = record.key
        return {key: value for key, value in tag.items() if value}

    def _settle(self) -> None:
        """Fills in what all rounds say alike and the record doesn't say itself."""
        for records in (self.farm.records["bagging"], self.farm.records["screening"]):
            for record in records:
                for name, values in self._told.pop(id(record), {}).items():
                    if name == "checks":
                        record.fields["checks"] = [*record.fields.get("checks", ()), *values]
                    elif all(value == values[0] for value in values):
                        if name == "tag":
                            record.fields["tag"] = {**values[0], **record.fields.get("tag", {})}
                        else:
                            record.fields.setdefault(name, values[0])

    # Letters

    def _letters(self) -> None:
        listed: dict[int, list[Record]] = defaultdict(list)
        for letter in self.farm.records["letters"]:
            for text in letter.fields.get("samples", ()):
                for name in names_in(text):
                    sample = self.farm.find("screening", name, letter.season)
                    if sample:
                        listed[id(sample)].append(letter)
        for sample in self.farm.records["screening"]:
            for letter in listed[id(sample)]:
                # Whatever number the sample's record names: a letter that speaks against is heard.
                if self._letter_says(letter, sample).get("result") in {"positive", "inconclusive"}:
                    self._contrary(sample, letter, listed[id(sample)])
            for letter in self._letters_on(sample, listed[id(sample)]):
                self.applied.add((id(letter), id(sample)))
                if self._understood(letter, ("screening",)) and letter.season in self.reliable:
                    self._take(sample, letter)

    def _letters_on(self, sample: Record, listed: list[Record]) -> list[Record]:
        report = plain(sample.fields.get("report", ""))
        found = []
        for letter in self.farm.records["letters"]:
            numbers = {plain(letter.key), plain(letter.fields.get("report", ""))} - {""}
            mine = any(one is letter for one in listed)
            if (mine and (not report or report in numbers)) or (
                report and report in numbers and not letter.fields.get("samples")
            ):
                found.append(letter)
        return found

    def _contrary(self, sample: Record, letter: Record, listed: list[Record]) -> None:
        others = [one for one in self._letters_on(sample, listed) if one is not letter]
        told = {self._letter_says(one, sample).get("result") for one in others}
        if "negative" in told | {sample.fields.get("result")}:
            self.disputed.add(id(sample))

    def _letter_says(self, letter: Record, sample: Record) -> dict[str, Any]:
        """What a letter says of a sample: its own words, but for the exceptions."""
        says = {
            key: letter.fields[key]
            for key in ("laboratory", "reported", "method", "targets", "incubation", "temperature",
                        "controls", "result", "condition")
            if key in letter.fields
        }  # fmt: skip
        if "received" in letter.fields:
            says["submitted"] = letter.fields["received"]
        says["report"] = letter.fields.get("report", letter.key)
        for exception in letter.fields.get("exceptions", ()):
            if any(sample.key == name for text in exception["samples"] for name in names_in(text)):
                other = {
                    key: exception[key] for key in ("result", "controls", "condition") if key in exception
                }
                says = {**says, **other} if other else {"report": says["report"]}
        return says

    def _take(self, sample: Record, letter: Record) -> None:
        says = self._letter_says(letter, sample)
        own = sample.fields.get("result")
        if own and says.get("result", own) != own:
            self.disputed.add(id(sample))
        for name, value in says.items():
            if name not in sample.fields or silent(sample.fields[name]):
                sample.fields[name] = value

    # Submission sheets

    def _sheets(self) -> None:
        """How leaves arrived: a seal that was broken or is another one, or damage, beats every other word."""
        for sheet in self.farm.records["submissions"]:
            whole, arrived = sheet.fields.get("condition"), {}
            for text in sheet.fields.get("samples", ()):
                arrived.update(dict.fromkeys(names_in(text), whole))
            for bag in sheet.fields.get("bags", ()):
                came = bag.get("seal_on_receipt")
                how = bag.get("condition", whole)
                if came and _seal(came) != _seal(bag["seal"]):
                    how = "seal broken"
                inside = [name for text in bag.get("samples", ()) for name in names_in(text)]
                if "samples" not in bag and how in _ILL:
                    inside = list(arrived)
                arrived.update(dict.fromkeys(inside, how))
            for name, how in arrived.items():
                sample = self.farm.find("screening", name, sheet.season)
                if sample and how in _ILL and sample.fields.get("condition") not in _ILL:
                    sample.fields["condition"] = how

    # The routine

    def _routine(self) -> None:
        for season in self.farm.seasons:
            routine = season.details.get("routine")
            if not routine or silent(routine["stated_by"]) or season.at not in self.reliable:
                continue
            for table, names in _ROUTINE.items():
                for record in season.records.get(table, ()):
                    foreign = "other_seed" in record.fields or record.fields.get("status") != "organic"
                    if table == "batches" and foreign:
                        # Such a run must name what it used itself.
                        continue
                    for name in names:
                        if name in routine and (name not in record.fields or silent(record.fields[name])):
                            record.fields[name] = routine[name]


def _seal(text: str) -> str:
    return re.sub(r"\s", "", text).casefold()


def _was_there(record: Record, kind: str, when: int) -> bool:
    """Whether a bag or sample of a tree belongs to a walk over its tree or block on that day.

    A bag or sample that bears no day of its own must be named by its number.
    """
    date = record.fields.get("collected" if record.table == "screening" else "covered")
    if kind in {"sampling", "bagging"}:
        return date is not None and day(date) == when
    off = record.fields.get("uncovered")
    return date is not None and day(date) <= when and (off is None or when <= day(off))
