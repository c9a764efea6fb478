"""Germination, purity and transgene tests of lots, and how long a germination figure holds."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import sqrt
from typing import TYPE_CHECKING

from second_engine.contract import demands_of
from second_engine.measures import figure
from second_engine.values import months_later, quantity
from second_engine.wording import own_bench

if TYPE_CHECKING:
    from second_engine.facts import Writer
    from second_engine.farm import Farm, Thing
    from second_engine.reading import Season

#: The published widest range of four replicates of a hundred, by the mean (or 100 less it) it holds from.
_FOUR = (
    (99, 5), (98, 6), (97, 7), (96, 8), (95, 9), (93, 10), (91, 11), (89, 12), (87, 13), (84, 14), (81, 15),
    (78, 16), (73, 17), (67, 18), (56, 19), (0, 20),
)  # fmt: skip
#: The 97.5 % point of the studentised range for so many replicates and boundless degrees of freedom.
_STUDENTISED = {2: 3.17, 3: 3.68, 4: 3.98, 5: 4.20, 6: 4.36, 7: 4.49, 8: 4.61}


class Tests:
    """Adds what tests of lots come to."""

    def __init__(self, farm: Farm, writer: Writer) -> None:
        self.farm, self.facts = farm, writer.facts
        self.of_lot: dict[int, list[Thing]] = {}

    def write(self) -> None:
        """Every test, and the labels that bear its figure."""
        for test in self.farm.things:
            if test.table != "tests":
                continue
            season = self.farm.seasons[test.season]
            if own_bench(test.fields.get("laboratory", ""), season.details["operation"]):
                self.facts.add("own_bench", test.id)
            kind = test.fields["kind"]
            if kind == "germination":
                self._germination(test)
            elif kind == "purity" and quantity("mass", test.fields["other"]) > 0:
                self.facts.add("impure", test.id)
            elif kind == "transgene":
                most = season.profile["practice"].get("seeds_per_pool_max", {}).get("high")
                if most and test.fields["seeds_per_pool"] > most:
                    self.facts.add("pool_too_big", test.id)
        for lot in self.farm.things:
            if lot.table == "lots":
                self._label(lot)

    def _germination(self, test: Thing) -> None:
        lot = self.farm.thing("lots", test.fields["lot"], test.season)
        if lot:
            self.of_lot.setdefault(lot.id, []).append(test)
        replicates, size = test.fields["replicates"], test.fields["per_replicate"]
        if max(replicates) - min(replicates) > widest(replicates, size):
            self.facts.add("replicates_apart", test.id)
        sampled, done = test.day("sampled"), test.day("date")
        counts = test.fields.get("counts")
        if sampled is not None and done is not None and counts and sampled + max(counts) > done:
            self.facts.add("too_quick", test.id)
        for season in self.farm.seasons:
            until = holds_until(season, done or 0)
            if until is not None:
                self.facts.add("holds_until", test.id, season.at, until)

    def _label(self, lot: Thing) -> None:
        """A label's germination and day of test are those of a test of the lot."""
        label, tests = lot.fields.get("label", {}), self.of_lot.get(lot.id, [])
        if "tested" in label and tests:
            if all(test.fields["date"] != label["tested"] for test in tests):
                self.facts.add("label_differs", lot.id, ":tested")
            else:
                tests = [test for test in tests if test.fields["date"] == label["tested"]]
        if "germination" in label and tests:
            # A label that promises less than was found misleads nobody.
            told = Fraction(quantity("percent", label["germination"]))
            if all(told > max(mean(test), (mean(test) + Fraction(1, 2)) // 1) for test in tests):
                self.facts.add("label_differs", lot.id, ":germination")


def mean(test: Thing) -> Fraction:
    """Normal seedlings in a hundred."""
    replicates = test.fields["replicates"]
    return Fraction(100 * sum(replicates), test.fields["per_replicate"] * len(replicates))


def widest(replicates: list[int], size: int) -> Decimal | float:
    """How far replicates of a germination test may lie apart by chance."""
    count = len(replicates)
    if count < 2:
        return size
    share = 100 * sum(replicates) / (size * count)
    if (count, size) == (4, 100):
        from_middle = max(share, 100 - share)
        return next(limit for least, limit in _FOUR if round(from_middle) >= least)
    spread = _STUDENTISED.get(count, 4.7) * sqrt(share * (100 - share) / size)
    return size * (spread + 100 / size) / 100


def holds_until(season: Season, done: int) -> int | None:
    """The last day on which a germination test may stand behind a sale."""
    terms = [
        asked["ship_by_months"]
        for one in season.details["standards"]
        if "ship_by_months" in (asked := demands_of(one))
    ]
    if terms:
        from datetime import date

        month = date.fromordinal(done).replace(day=1).toordinal()
        return months_later(month, int(min(terms)) + 1) - 1
    months = figure(season, "germination_test_age_months", "high")
    return None if months is None else months_later(done, int(months))
