"""What takes a figure of the profile, a rulebook's demand or a comparison of words, as facts."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from second_engine.contract import demands_of, schema_of
from second_engine.facts import Facts, Writer, flat
from second_engine.reading import same_operation
from second_engine.values import day, months_later, number_on_a_mark, plain, quantity, silent
from second_engine.wording import (
    bag_held_forbidden,
    holds_forbidden,
    neighbours_organic,
    own_bench,
    prohibited,
    says_organic,
    was_once,
)

if TYPE_CHECKING:
    from second_engine.farm import Farm, Thing
    from second_engine.reading import Season
    from second_engine.said import Said

_FLAGS = (
    "boundary_described", "buffer_described", "buffer_m", "land_years", "harvest_amounts", "split_separation",
    "container_words", "documents_status", "last_certified_operation", "germination_record_items",
)  # fmt: skip

#: What says that an approval has no condition.
_NO_CONDITION = frozenset(
    ("-", "--", "---", "–", "—", "/", "n/a", "na", "n.a.", "none", "nil", "nothing", "no")
)
#: Standards that bind nobody by themselves.
_YARDSTICKS = ("seed-law",)


def figure(season: Season, name: str, bound: str) -> float | None:
    """A practice figure: the profile's, or the season's own where that is tighter or within the limit."""
    told = season.profile["practice"].get(name, {})
    value = told.get(bound)
    own = season.details.get("practice", {}).get(name, {}).get(bound)
    if own is None or value is None:
        return own if value is None else value
    tighter = own > value if bound == "low" else own < value
    if tighter:
        return float(own)
    limit = told.get(f"impossible_{bound}")
    if limit is None:
        return float(value)
    return float(max(own, limit) if bound == "low" else min(own, limit))


def _long_end(season: Season) -> float:
    """The profile's long end for fruit on the tree: winter fruit hangs on. An own figure may be tighter."""
    told = season.profile["practice"]["days_covering_to_picking"]
    own = season.details.get("practice", {}).get("days_covering_to_picking", {}).get("high")
    if own is not None and own < told["high"]:
        return float(own)
    return float(told.get("impossible_high", told["high"]))


class Measures:
    """Adds to the facts what has to be worked out first."""

    def __init__(self, farm: Farm, writer: Writer, said: Said) -> None:
        self.farm, self.writer, self.said = farm, writer, said
        self.facts: Facts = writer.facts

    def write(self) -> None:
        """All of it."""
        self._said_for_many()
        for season in self.farm.seasons:
            self._season(season)
        for thing in self.farm.things:
            maker = getattr(self, f"_{thing.table}", None)
            if maker:
                maker(thing, self.farm.seasons[thing.season])

    def _said_for_many(self) -> None:
        add, of = self.facts.add, self.farm.of
        for record, when in self.said.stormed:
            add("stormed", of[record].id, when)
        for record, when in self.said.petals:
            add("petals_seen", of[record].id, when)
        for record in self.said.disputed:
            add("disputed", of[record].id)
        for speaker in self.said.unclear:
            add("unknown", of[speaker].id, ":exceptions")
        for speaker, record in self.said.applied:
            add("spoken_of", of[speaker].id, of[record].id)

    def _season(self, season: Season) -> None:
        add, profile, at = self.facts.add, season.profile, season.at
        for name in _FLAGS:
            if any(season.demand(name)):
                add("asks", at, name)
        binding = [demands_of(one) for one in season.details["standards"] if one not in _YARDSTICKS]
        if binding and all("material_for_food_only" in asked for asked in binding):
            add("excepted", at)
        # A list of no events rules out none.
        events = season.details.get("events_of_concern")
        if not events:
            events = [name for name, one in profile["events"].items() if one.get("default")]
        for event in events:
            add("concern", at, event)
        low = figure(season, "days_covering_to_picking", "low")
        add("interval", at, int(low or 0), int(_long_end(season)))
        add("fruits_a_bag", at, int(figure(season, "fruits_per_bag", "high") or 1))
        if at == 0:
            self._crop(profile)

    def _crop(self, profile: dict[str, Any]) -> None:
        add, roles, practice = self.facts.add, profile["roles"], profile["practice"]
        add("days_covered", int(practice["days_covered"]["low"]))
        add("days_to_flower", int(practice["days_planting_to_flowering"]["impossible_low"]))
        named = {
            "open_stages": "open_stage", "closed_stages": "closed_stage", "pollen_flowers": "pollen_flower",
            "crossing_flowers": "crossing_flower", "non_parents": "non_parent",
            "selfing_flowers": "selfing_flower", "needs_pollen_parent": "needs_pollen",
        }  # fmt: skip
        for role, name in named.items():
            for word in roles[role]:
                add(name, word)
        for word in profile["words"]["sexes"]:
            if word not in [*roles["needs_pollen_parent"], *roles["unknown_sex"]]:
                add("gives_pollen", word)

    # The orchard

    def _blocks(self, block: Thing, _season: Season) -> None:
        """The block as each season sees it, and what changed between the years that can't have."""
        add, number = self.facts.add, self.writer.number
        views = {}
        for season in self.farm.seasons:
            record = self.farm.find("blocks", block.key, season.at)
            if record is None or self.farm.of[id(record)] is not block:
                continue
            if id(record) not in views:
                views[id(record)] = number()
                self.writer.says(views[id(record)], flat(schema_of("blocks", None), record.fields))
            view = views[id(record)]
            add("view", block.id, season.at, view)
            self._ground(view, record.fields, season)
        for at, record in enumerate(block.tellings):
            for before in block.tellings[at + 1 :]:
                if self._land_differs(record.fields, before.fields, self.farm.seasons[before.season]):
                    add("land_differs", block.id)

    def _ground(self, view: int, fields: dict[str, Any], season: Season) -> None:
        add = self.facts.add
        last = fields.get("last_prohibited_substance", "none known")
        if last != "none known":
            years, sowing = [], []
            annual = season.profile["life"] == "annual"
            for standard in season.details["standards"]:
                asked = demands_of(standard)
                if annual and "land_years_before_sowing" in asked:
                    sowing.append(asked["land_years_before_sowing"])
                elif "land_years" in asked:
                    years.append(asked["land_years"])
            if years:
                add("clean_from", view, season.at, months_later(day(last), 12 * max(years)))
            if sowing:
                add("sow_from", view, season.at, months_later(day(last), 12 * max(sowing)))
        if neighbours_organic(fields.get("boundary", "")):
            add("neighbours_organic", view)
        if "buffer" in fields:
            width = quantity("length", fields["buffer"])
            if width == 0:
                add("no_buffer", view)
            if any(width < 1000 * asked for asked in season.demand("buffer_m")):
                add("narrow", view, season.at)

    def _land_differs(self, now: dict[str, Any], then: dict[str, Any], before: Season) -> bool:
        """Whether a block is told of otherwise than before, with no day since that explains it."""
        since, was_since = now.get("organic_since"), then.get("organic_since")
        if then["status"] != "organic" and since and day(since) <= before.end:
            return True
        if since and was_since and since != was_since and day(since) <= before.end:
            return True
        last, was = now.get("last_prohibited_substance"), then.get("last_prohibited_substance")
        return bool(last and was and last != was and (last == "none known" or day(last) <= before.end))

    def _plantings(self, planting: Thing, _season: Season) -> None:
        self.facts.add("variety", planting.id, plain(planting.fields["variety"]))
        for season in self.farm.seasons:
            asked = season.demand("mother_plant_seasons")
            told = self.farm.find("plantings", planting.key, season.at)
            if not asked or told is None or season.profile["life"] != "perennial":
                continue
            start = day(told.fields["planted"])
            block = self.farm.find("blocks", planting.fields["block"], season.at)
            since = block.fields.get("organic_since") if block else None
            begun = max(start, day(since)) if since else start
            full = 12 * int(max(asked))
            self.facts.add("refused_until", planting.id, season.at, months_later(begun, full - 12))
            self.facts.add("running_until", planting.id, season.at, months_later(begun, full))

    def _trees(self, tree: Thing, _season: Season) -> None:
        planting = self.farm.thing("plantings", tree.fields["planting"], tree.season)
        if planting:
            self.facts.add("variety", tree.id, plain(planting.fields["variety"]))
        for season in self.farm.seasons:
            record = self.farm.find("plantings", tree.fields["planting"], season.at)
            if record:
                self.facts.add("planted", tree.id, season.at, day(record.fields["planted"]))
        sexes = {record.fields["sex"] for record in tree.tellings} - {"unknown"}
        days = {record.fields["removed"] for record in tree.tellings if "removed" in record.fields}
        if len(sexes) > 1 or len(days) > 1:
            self.facts.add("told_differently", tree.id)
        others = [
            one for one in self.farm.things
            if one.table == "trees" and one.key == tree.key and one is not tree and one.season > tree.season
        ]  # fmt: skip
        begun = planting.day("planted") if planting else None
        for one in others:
            gone = one.day("removed")
            if begun is not None and (gone is None or gone > begun):
                self.facts.add("told_differently", tree.id)
                self.facts.add("told_differently", one.id)

    def _inputs(self, one: Thing, season: Season) -> None:
        fields = one.fields
        listed = self._listed(one)
        holding = [entry for entry in listed if self._approves(entry, fields)]
        if holding:
            self.facts.add("approved", one.id)
        elif listed and "approval" in fields:
            self.facts.add("beyond_approval", one.id)
        names = [fields["material"], *(entry.get("name", "") for entry in (holding or listed)[:1])]
        if any(map(prohibited, names)):
            years = max([*season.demand("land_years"), 3])
            self.facts.add("prohibited", one.id, months_later(one.day("date") or 0, 12 * int(years)))

    def _listed(self, one: Thing) -> list[dict[str, Any]]:
        """The entries of the list of approved materials that an input cites, or else that bear its name."""
        if "approval" in one.fields:
            cited = self.farm.thing("materials", one.fields["approval"], one.season, one.day("date"))
            return [cited.fields] if cited else []
        entries = [thing.fields for thing in self.farm.things if thing.table == "materials"]
        name = plain(one.fields["material"])
        return [entry for entry in entries if name in {plain(entry["material"]), plain(entry["name"])}]

    def _approves(self, entry: dict[str, Any], fields: dict[str, Any]) -> bool:
        """Whether an approval holds for an input: named, on its days, in its place, its condition met."""
        if silent(entry.get("approved_by", "?")) or not {"from", "until"} <= entry.keys():
            return False
        unmet = silent(fields.get("condition_met", "?"))
        if unmet and plain(entry.get("condition", "none")) not in _NO_CONDITION:
            return False
        in_time = day(entry["from"]) <= day(fields["date"]) <= day(entry["until"])
        return in_time and fields["block"] in entry.get("blocks", [fields["block"]])

    # Samples and bags

    def _screening(self, sample: Thing, season: Season) -> None:
        add, fields = self.facts.add, sample.fields
        trees = [*fields.get("trees", ()), *([fields["tree"]] if "tree" in fields else [])]
        add("leaves", sample.id, len(trees))
        if len(set(trees)) == 1 and number_on_a_mark(fields.get("mark", "")) == plain(trees[0]):
            add("mark_agrees", sample.id)
        self._bench(sample, season)
        name = fields.get("method")
        if name is None:
            return
        method = season.profile["methods"][name]
        add("power", sample.id, round(1000 * method["sensitivity"]))
        most = figure(season, f"pool_leaves_{name}", "high")
        if most is not None and len(trees) > most:
            add("crowded", sample.id)
        for event in _seen(season.profile, method, fields.get("targets")):
            add("sees", sample.id, event)
        if name == "gus":
            add("stain", sample.id)
            practice = season.profile["practice"]
            if "incubation" in fields:
                hours = quantity("duration", fields["incubation"]) / 3600
                self._within(sample, hours, practice["incubation_h"])
            if "temperature" in fields:
                self._within(sample, quantity("temperature", fields["temperature"]), practice["incubation_c"])

    def _within(self, sample: Thing, value: Decimal, told: dict[str, Any]) -> None:
        if not told["impossible_low"] <= value <= told["impossible_high"]:
            self.facts.add("stain_astray", sample.id)

    def _bench(self, one: Thing, season: Season) -> None:
        if own_bench(one.fields.get("laboratory", ""), season.details["operation"]):
            self.facts.add("own_bench", one.id)

    def _bagging(self, bag: Thing, _season: Season) -> None:
        add, tag = self.facts.add, bag.fields.get("tag", {})
        tree = self.farm.thing("trees", bag.fields["tree"], bag.season, bag.day("covered"))
        planting = tree and self.farm.thing("plantings", tree.fields["planting"], tree.season)
        told = planting.fields if planting else {}
        varieties = {plain(told[key]) for key in ("variety", "short") if key in told}
        agrees = {
            "date": tag.get("date") == bag.fields.get("covered"),
            "variety": plain(tag.get("variety", "")) in varieties,
            "tree": number_on_a_mark(tag.get("tree", "")) == plain(bag.fields["tree"]),
            "bag": number_on_a_mark(tag.get("bag", "")) == plain(bag.key),
        }
        for item, right in agrees.items():
            if right and item in tag:
                add("tag_agrees", bag.id, f":tag_{item}")
        if {"date", "variety", "tree"} <= tag.keys() and not silent(tag["variety"]):
            text = "|".join(plain(tag.get(item, "")) for item in ("date", "variety", "tree", "bag"))
            add("tag_text", bag.id, text)
        if bag_held_forbidden(bag.fields.get("previous_contents", "")):
            add("forbidden", bag.id)

    # Lots, labels, tests, movements

    def _batches(self, run: Thing, _season: Season) -> None:
        self._treated(run)

    def _treated(self, one: Thing) -> None:
        if prohibited(one.fields.get("treatment", {}).get("with", "")):
            self.facts.add("treated_with_prohibited", one.id)

    def _lots(self, lot: Thing, season: Season) -> None:
        add, label = self.facts.add, lot.fields.get("label", {})
        self._treated(lot)
        add("variety", lot.id, plain(lot.fields["variety"]))
        told = lot.fields.get("packaging", "")
        contains = lot.fields.get("packaging_contains", "nothing")
        if (holds_forbidden(told) and not was_once(told)) or contains not in {"nothing", "unknown"}:
            add("forbidden", lot.id)
        if contains == "unknown":
            add("contents_unknown", lot.id)
        if holds_forbidden(lot.fields.get("previous_contents", "")) or (
            holds_forbidden(told) and was_once(told)
        ):
            add("once_forbidden", lot.id)
        for item in _label_items(lot, season):
            add("label_item", lot.id, item)
        if says_organic(label.get("status", "")):
            add("label_organic", lot.id)
        names = {
            plain(one.details["operation"]["name"])
            for one in self.farm.seasons
            if same_operation(one, season)
        }
        right = {
            "lot": {plain(lot.key)},
            "variety": {plain(lot.fields["variety"])},
            "last_certified_operation": names,
        }
        for item, texts in right.items():
            if item in label and plain(label[item]) not in texts:
                add("label_differs", lot.id, f":{item}")
        if any(one.table == "lots" and one.key == lot.key and one is not lot for one in self.farm.things):
            add("number_reused", lot.id)

    def _harvests(self, one: Thing, season: Season) -> None:
        practice = season.profile["practice"].get("fruit_weight_g", {})
        weight, fruits = one.mg("weight"), one.fields["fruits"]
        if weight is None or not fruits or not practice:
            return
        low, high = practice["impossible_low"], practice["impossible_high"]
        if not low * 1000 * fruits <= weight <= high * 1000 * fruits:
            self.facts.add("fruit_weight_odd", one.id)

    def _movements(self, move: Thing, _season: Season) -> None:
        for field, name in (("document", "paper"), ("party", "buyer")):
            text = move.fields.get(field, "")
            if not silent(text):
                self.facts.add(name, move.id, plain(text))
        party = move.fields.get("party", "")
        if silent(party) or plain(party) in self._testers():
            return
        papers = {
            name for name in ("status", "last_certified_operation") if not silent(move.fields.get(name, "?"))
        }
        if papers or plain(party) in self._buyers():
            self.facts.add("given_away", move.id)

    def _buyers(self) -> set[str]:
        """Who has had seed of the farm."""
        gone = [
            one.fields.get("party", "")
            for one in self.farm.records.get("movements", ())
            if one.fields["kind"] in {"sold", "transferred"}
        ]
        return {plain(one) for one in gone if not silent(one)}

    def _testers(self) -> set[str]:
        """Who has seed to test it: the operation itself, and every laboratory on record."""
        named = [
            record.fields.get("laboratory", "")
            for table in ("tests", "letters", "screening")
            for record in self.farm.records.get(table, ())
        ]
        own = self.farm.seasons[0].details["operation"]["name"]
        return {plain(own), *(plain(one) for one in named if not silent(one))}


#: 7 USC 1571(b): seed law asks less of the label of a container of at most one pound.
_POUND_MG = 453_592


def _label_items(lot: Thing, season: Season) -> set[str]:
    """What the season's standards ask of this lot's label."""
    names = ["label_items"]
    if season.demand("small_container_lb"):
        each = (lot.mg("weight") or 0) / max(lot.fields.get("containers") or 1, 1)
        names.append("label_items_to_1_lb" if each <= _POUND_MG else "label_items_over_1_lb")
    return {str(item) for name in names for items in season.demand(name) for item in items}


def _seen(profile: dict[str, Any], method: dict[str, Any], told: list[str] | None) -> set[str]:
    """The events that a test can see: those that carry a target it looked for, or the one it names."""
    if told is None and method.get("needs_targets"):
        return set()
    names = {}
    for target, one in profile["targets"].items():
        for name in (target, *one.get("aliases", ())):
            names[plain(name)] = target
    looked = method["targets"] if told is None else [names.get(plain(one), one) for one in told]
    looked = [one for one in looked if one in method["targets"]]
    seen = {event for event, one in profile["events"].items() if set(looked) & set(one["elements"])}
    if "event" in method["targets"] and told is not None:
        wanted = {plain(one) for one in told}
        seen |= {event for event, one in profile["events"].items()
                 if wanted & {plain(event), plain(one["title"]), plain(one.get("oecd", event))}}  # fmt: skip
    return seen
