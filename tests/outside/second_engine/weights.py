"""What must add up: fruit and seed, runs and lots, and each lot's book from day to day."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from second_engine.values import day, milligrams, silent

if TYPE_CHECKING:
    from second_engine.facts import Writer
    from second_engine.farm import Farm, Thing
    from second_engine.reading import Season

_OUT = frozenset({"sold", "transferred", "sown", "sampled", "retained", "discarded", "downgraded"})
#: Within a day: what came in first, then what went out, then counts. An opening entry is a count of the eve.
OPENED, PACKED, CAME, MIXED, WENT, COUNTED = range(6)


@dataclass(order=True)
class Entry:
    """One entry of a lot's book."""

    when: int
    phase: int
    order: int
    kind: str = field(compare=False)
    mg: int = field(compare=False)
    #: The movement, or the part of another lot that this one went into.
    number: int = field(compare=False)
    party: str = field(compare=False, default="")
    step: int = field(compare=False, default=100)


class Weights:
    """Adds the facts about masses and keeps the books for the counting of grams."""

    def __init__(self, farm: Farm, writer: Writer) -> None:
        self.farm, self.writer, self.facts = farm, writer, writer.facts
        self.books: dict[int, list[Entry]] = {}
        self.of_run: dict[int, list[int]] = defaultdict(list)
        #: For a lot's part: what it names, and its weight.
        self.sources: dict[int, tuple[Thing | None, int]] = {}

    def write(self) -> None:
        """All of it."""
        for lot, part, source in self.writer.parts:
            named = None
            if "batch" in source:
                named = self.farm.thing("batches", source["batch"], lot.season)
            elif "lot" in source:
                named = self.farm.thing("lots", source["lot"], lot.season)
            self.sources[part] = (named, milligrams(source["weight"]))
            if named is not None and named.table == "batches":
                self.of_run[named.id].append(milligrams(source["weight"]))
        for run in self._all("batches"):
            self._run(run)
        self._fruit()
        for lot in self._all("lots"):
            self._sources(lot)
        self._books()

    def _all(self, table: str) -> list[Thing]:
        return [one for one in self.farm.things if one.table == table]

    def _season(self, thing: Thing) -> Season:
        return self.farm.seasons[thing.season]

    # Over every run: packed + never packed = dry.

    def _run(self, run: Thing) -> None:
        add, step = self.facts.add, self._season(run).step
        dry, wet = run.mg("dry_weight"), run.mg("wet_weight")
        if dry is None:
            return
        if wet is not None and dry > wet + step:
            add("dry_over_wet", run.id)
        packed = self.of_run[run.id]
        told = run.fields.get("never_packed")
        told = told if told and not silent(told["why"]) else None
        never = milligrams(told["weight"]) if told else 0
        within = max(step, len(packed) + 1 + (told is not None))
        if sum(packed) + never > dry + within:
            add("overpacked", run.id)
        elif dry - sum(packed) - never > within:
            add("remainder", run.id)

    # Over every connected group of pickings and runs: no more seed than the fruit can hold.

    def _fruit(self) -> None:
        group: dict[int, int] = {}

        def head(number: int) -> int:
            while group.setdefault(number, number) != number:
                number = group[number]
            return number

        opened: dict[int, list[Thing]] = defaultdict(list)
        for run in self._all("batches"):
            for name in dict.fromkeys(run.fields.get("harvests", ())):
                picking = self.farm.thing("harvests", name, run.season)
                if picking is not None:
                    group[head(picking.id)] = head(run.id)
        runs: dict[int, list[Thing]] = defaultdict(list)
        for thing in self.farm.things:
            if thing.id in group:
                (runs if thing.table == "batches" else opened)[head(thing.id)].append(thing)
        for top, members in runs.items():
            if self._too_much(members, opened[top]):
                for run in members:
                    self.facts.add("more_than_fruit", run.id)

    def _too_much(self, runs: list[Thing], pickings: list[Thing]) -> bool:
        practice = self._season(runs[0]).profile["practice"]
        seed = sum(max(run.mg("dry_weight") or 0, sum(self.of_run[run.id])) for run in runs)
        fruits = sum(picking.fields["fruits"] for picking in pickings)
        most = practice["seeds_per_fruit"]["high"] * practice["thousand_seed_weight_g"]["high"]
        weights = [picking.mg("weight") for picking in pickings]
        share = practice.get("seed_of_fruit_pct", {}).get("high")
        if share is not None and None not in weights:
            known = sum(weight for weight in weights if weight is not None)
            if 100 * seed > share * known:
                return True
        return bool(seed > fruits * most)

    def _sources(self, lot: Thing) -> None:
        parts = [self.sources[part][1] for one, part, _ in self.writer.parts if one is lot]
        within = max(self._season(lot).step, len(parts) + 1)
        if sum(parts) > (lot.mg("weight") or 0) + within:
            self.facts.add("sources_exceed", lot.id)

    # The books

    def _books(self) -> None:
        for lot in self._all("lots"):
            self.books[lot.id] = [
                Entry(lot.day("packed") or 0, PACKED, 0, "packed", lot.mg("weight") or 0, lot.id)
            ]  # fmt: skip
        for move in self._all("movements"):
            found = self.farm.thing("lots", move.fields["lot"], move.season)
            if found is None:
                continue
            kind, when = move.fields["kind"], move.day("date") or 0
            if kind in {"sold", "transferred"}:
                # What left before the lot existed has a gap of its own; the book has it on that day.
                when = max(when, found.day("packed") or 0)
            phase = {"opening stock": OPENED, "received": CAME, "returned": CAME, "counted": COUNTED}.get(
                kind, WENT
            )
            self.books[found.id].append(
                Entry(when, phase, move.id, kind, move.mg("weight") or 0, move.id,
                      move.fields.get("party", ""), self._season(move).step)
            )  # fmt: skip
        for lot, part, source in self.writer.parts:
            # A part that names a run as well may have come of the lot all the same.
            named = self.farm.thing("lots", source["lot"], lot.season) if "lot" in source else None
            mg = self.sources[part][1]
            if named is not None:
                step = self._season(lot).step
                entry = Entry(day(lot.fields["packed"]), WENT, 10**6 + part, "blended", mg, part, "", step)
                self.books[named.id].append(entry)
        for number, book in self.books.items():
            book.sort()
            short = _short_days(book)
            if short:
                self.facts.add("overdrawn", number)
            for entry in book:
                if entry.kind == "blended" and entry.when in short:
                    self.facts.add("drew_too_much", entry.number)
        for lot in self._all("lots"):
            self._carried(lot)

    def _carried(self, lot: Thing) -> None:
        """A lot that a season closed with must open the next: else nobody says where it went."""
        for season in self.farm.seasons[: lot.season]:
            before = self.farm.seasons[season.at + 1]
            opened = any(
                move.table == "movements" and move.season == season.at and move.fields["lot"] == lot.key
                and move.fields["kind"] == "opening stock"
                for move in self.farm.things
            )  # fmt: skip
            if not opened and _held(self.books[lot.id], before.end) > before.step:
                self.facts.add("not_opened", lot.id)


def _held(book: list[Entry], until: int) -> int:
    """What the book holds at the end of a day."""
    held = 0
    for count, entry in enumerate((one for one in book if one.when <= until), start=1):
        if entry.kind in {"counted", "opening stock"}:
            held = entry.mg if abs(entry.mg - held) > max(entry.step, count) else held
        elif entry.kind in _OUT or entry.kind == "blended":
            held = max(held - entry.mg, 0)
        else:
            held += entry.mg
    return held


def _short_days(book: list[Entry]) -> set[int]:
    """The days on which more had gone out than there was."""
    held, short = 0, set()
    for count, entry in enumerate(book, start=1):
        within = max(entry.step, count)
        if entry.kind in {"counted", "opening stock"}:
            if abs(entry.mg - held) > within:
                held = entry.mg
        elif entry.kind in _OUT or entry.kind == "blended":
            if held - entry.mg < -within:
                short.add(entry.when)
            held = max(held - entry.mg, 0)
        else:
            held += entry.mg
    return short
