"""For each rule a fault that it must find: how it is planted in a clean season, and where it stands then.

A fault changes the season and says at which places which rule must find it; nothing else may be found.
One that this season has no place for raises `Unsuited`.
"""

# ruff: noqa: D103 (a fault is named by its rule)
from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import planted_inputs  # noqa: F401 (registers the faults of land, map and plan)
import planted_proof  # noqa: F401 (registers the faults of what has to be said)
import planted_recalls  # noqa: F401 (and those of recalls)
import planted_selection  # noqa: F401 (and those of what was seen on the trees)
import planted_visits  # noqa: F401 (those of what an inspector found)
from planting import FAULTS, plants
from plot import ONE, Expected, Plot, Record

# Identifiers, days, papers


@plants
def identifier_repeated(plot: Plot) -> Any:
    table = plot.random.choice(("incidents", "inputs", "cleaning"))
    if table == "cleaning":
        first = plot.add("cleaning", date=plot.start, equipment=["spare"], method="brush")
    else:
        first = plot.add_incident() if table == "incidents" else plot.add_input()
    second = dict(first)
    plot.rows(table).append(second)
    return table, second, {"incidents": "incident", "inputs": "input", "cleaning": "cleaning"}[table]


@plants
def reference_unknown(plot: Plot) -> Any:
    way = plot.random.randrange(3)
    if way == 0:
        return "inputs", plot.add_input(block="Nowhere"), "block"
    if way == 1:
        made = plot.add("cleaning", date=plot.start, equipment=["spare"], method="brush", before="X-none")
        return "cleaning", made, "before"
    harvest = plot.choose(plot.organic("harvests"))
    harvest["bags"] = [*harvest["bags"], "B-none"]
    harvest["fruits"] = max(harvest["fruits"], len(set(harvest["bags"])))
    return "harvests", harvest, "bags", len(harvest["bags"]) - 1


@plants
def date_in_future(plot: Plot) -> Any:
    late = plot.truth.on + timedelta(days=plot.random.randint(1, 900))
    way = plot.random.randrange(3)
    if way == 0:
        return "inputs", plot.add_input(date=late), "date"
    if way == 1:
        return "incidents", plot.add_incident(closed=late), "closed"
    return "cleaning", plot.add("cleaning", date=late, equipment=["spare"], method="brush"), "date"


@plants
def date_out_of_order(plot: Plot) -> Any:
    way = plot.random.randrange(4)
    if way == 0:
        harvest = plot.choose(plot.rows("harvests"))
        harvest["ripening"]["until"] = harvest["date"] - 2 * ONE
        return "harvests", harvest, "ripening", "until"
    if way == 1:
        bag = plot.choose(plot.picked())
        bag["checks"][0]["date"] = bag["covered"] - 3 * ONE
        return "bagging", bag, "checks", 0, "date"
    if way == 2:
        bag = plot.choose([one for one in plot.picked() if "uncovered" in one])
        bag["uncovered"] = bag["covered"] - ONE
        return "bagging", bag, "uncovered"
    made = plot.add_incident()
    made["closed"] = made["date"] - ONE
    return "incidents", made, "closed"


@plants
def date_outside_season(plot: Plot) -> Any:
    early = plot.start - timedelta(days=plot.random.randint(1, 300))
    if plot.random.randrange(2):
        return "incidents", plot.add_incident(date=early), "date"
    return "cleaning", plot.add("cleaning", date=early, equipment=["spare"], method="brush"), "date"


@plants
def evidence_absent(plot: Plot) -> Any:
    table = plot.random.choice(("lots", "bagging", "trees", "movements", "batches", "blocks"))
    record = plot.choose([one for one in plot.rows(table) if "evidence" not in one])
    record["evidence"] = ["nowhere.txt"]
    return table, record, "evidence", 0


def evidence_unnamed(plot: Plot) -> list[Expected]:
    """It stands in no record, so its place is the file."""
    plot.add_file("stray letter.txt")
    return [Expected("evidence-unnamed", "evidence", None, (), "evidence/stray letter.txt")]


FAULTS["evidence-unnamed"] = evidence_unnamed


@plants
def record_incomplete(plot: Plot) -> Any:
    table, field = plot.random.choice(
        (
            ("lots", "containers"),
            ("lots", "storage"),
            ("batches", "wet_weight"),
            ("batches", "dry_weight"),
            ("harvests", "weight"),
        )
    )
    record = plot.choose(plot.claiming(table))
    del record[field]
    return table, record, field


@plants
def records_missing_past_seasons(plot: Plot) -> Any:
    before = plot.truth.previous
    plot.need(before is not None and (plot.asks("record_years") or plot.asks("seed_record_years")))
    old = {one["lot"] for one in before.tables["lots"]}  # type: ignore[union-attr]
    plot.need(not any(part.get("lot") in old for one in plot.rows("lots") for part in one["sources"]))
    before.season["to"] -= timedelta(days=60)  # type: ignore[union-attr]
    return "season", None, "previous"


@plants
def explanation_idle(plot: Plot) -> Any:
    about = plot.choose(plot.rows("bagging"))["bag"]
    made = plot.add("explanations", about=[about], reason="a tag was lost", by="RA", date=plot.end)
    made["rule"] = "bag-untagged"
    return "explanations", made, "rule"


# Land and plantings


@plants
def block_not_organic(plot: Plot) -> Any:
    plot.need(not (plot.papaya and plot.asks("mother_plant_seasons")))
    block = plot.choose(plot.picked_blocks())
    for one in plot.twins("blocks", block):
        one["organic_since"] = plot.end
    return "blocks", block, "organic_since"


@plants
def land_too_recent(plot: Plot) -> Any:
    plot.need(plot.asks("land_years"))
    block = plot.choose(plot.picked_blocks())
    for one in plot.twins("blocks", block):
        one["last_prohibited_substance"] = "2025-03-01"
    return "blocks", block, "last_prohibited_substance"


@plants
def land_history_missing(plot: Plot) -> Any:
    plot.need(plot.asks("land_years"))
    block = plot.choose(plot.picked_blocks())
    for one in plot.twins("blocks", block):
        del one["last_prohibited_substance"], one["organic_since"]
    return "blocks", block, "last_prohibited_substance"


@plants
def boundary_undescribed(plot: Plot) -> Any:
    field = plot.random.choice(("boundary", "buffer"))
    plot.need(plot.asks(f"{field}_described"))
    block = plot.choose([one for one in plot.organic("blocks") if "buffer" in one])
    for one in plot.twins("blocks", block):
        del one[field]
    return "blocks", block, field


@plants
def buffer_narrow(plot: Plot) -> Any:
    plot.need(plot.asks("buffer_m"))
    block = plot.choose([one for one in plot.organic("blocks") if "buffer" in one])
    block["buffer"] = plot.random.choice(("7.9 m", "10 ft"))
    return "blocks", block, "buffer"


@plants
def isolation_short(plot: Plot) -> Any:
    block = plot.choose(plot.organic("blocks"))
    block["nearest_same_crop"] = plot.random.choice(("399 m", "50 ft"))
    return "blocks", block, "nearest_same_crop"


@plants
def split_operation_unseparated(plot: Plot) -> Any:
    plot.need(plot.asks("split_separation"))
    model = plot.choose(plot.bought_plantings())
    block = plot.add("blocks", status="transitional", last_prohibited_substance="none known", buffer="12 m")
    made = plot.clone("plantings", model, block=block["block"])
    plot.add("trees", planting=made["planting"], sex="unknown")
    return "plantings", made, "block"


@plants
def planting_without_origin(plot: Plot) -> Any:
    planting = plot.choose(plot.kept_plantings())
    for one in plot.twins("plantings", planting):
        del one["origin"]
    return "plantings", planting, "origin"


def _call(plot: Plot, planting: Record, status: str, *papers: str) -> None:
    """Calls the material of a planting otherwise, in every year's register, with the papers named here."""
    for one in plot.twins("plantings", planting):
        one["material_status"] = status
    planting |= {paper: plot.add_file(f"{paper}.txt") for paper in papers}


@plants
def planting_search_missing(plot: Plot) -> Any:
    planting = plot.choose(plot.bought_plantings())
    _call(plot, planting, "untreated non-organic", "non_gm_statement")
    return "plantings", planting, "search_log"


@plants
def non_gm_statement_missing(plot: Plot) -> Any:
    planting = plot.choose(plot.bought_plantings())
    _call(plot, planting, "untreated non-organic", "search_log")
    return "plantings", planting, "non_gm_statement"


@plants
def planting_treated(plot: Plot) -> Any:
    planting = plot.choose(plot.bought_plantings())
    _call(plot, planting, "treated", "search_log", "non_gm_statement")
    return "plantings", planting, "material_status"


@plants
def supplier_certificate_missing(plot: Plot) -> Any:
    planting = plot.choose(plot.bought_plantings())
    for one in plot.twins("plantings", planting):
        del one["origin"]["certificate"]
    return "plantings", planting, "origin"


@plants
def mother_plant_too_young(plot: Plot) -> Any:
    plot.need(plot.papaya and plot.asks("mother_plant_seasons") and plot.truth.previous is None)
    bearing = {one["planting"] for one in plot.bearing()}
    planted = plot.start - timedelta(days=plot.random.randint(70, 150))
    # A tree that was taken out before would be a second fault: removed before it was planted.
    gone = {one["planting"] for one in plot.rows("trees") if one.get("removed", planted) < planted}
    kept = [
        one
        for one in plot.kept_plantings()
        if one["planting"] in bearing - gone and "lot" not in one["origin"]
    ]
    planting = plot.choose(kept)
    planting["planted"] = planted
    return "plantings", planting, "planted"


# Parents and their screening


@plants
def parent_unscreened(plot: Plot) -> Any:
    tree = plot.choose(plot.single())
    for sample in plot.samples_of(tree["tree"]):
        plot.touch(sample)
        plot.drop_evidence(sample)
        plot.rows("screening").remove(sample)
    return "trees", tree, "tree"


@plants
def parent_positive(plot: Plot) -> Any:
    tree = plot.choose(plot.single())
    for sample in plot.samples_of(tree["tree"]):
        plot.touch(sample)
        if sample.get("result") == "negative":
            sample["result"] = "positive"
    return "trees", tree, "tree"


@plants
def parent_inconclusive(plot: Plot) -> Any:
    tree = plot.choose(plot.single())
    samples = plot.samples_of(tree["tree"])
    plot.need(not any(one.get("result") == "positive" for one in samples))
    for sample in samples:
        plot.touch(sample)
        if "result" in sample:
            sample["result"] = "inconclusive"
    return "trees", tree, "tree"


@plants
def parent_conflicting(plot: Plot) -> Any:
    clear = [
        one for one in plot.bearing()
        if any(s["method"] == "pcr" and s.get("result") == "negative" for s in plot.samples_of(one["tree"]))
        # A pool that is negative would disagree as well, and be the pool's own fault.
        and all("tree" in s for s in plot.samples_of(one["tree"]))
    ]  # fmt: skip
    tree = plot.choose(clear)
    plot.touch(*plot.samples_of(tree["tree"]))
    plot.add_sample([tree["tree"]], days=1, result="positive", targets=list(plot.crop["targets"][:2]))
    return "trees", tree, "tree"


@plants
def screened_after_covering(plot: Plot) -> Any:
    tree = plot.choose(plot.single(1))
    (sample,) = plot.samples_of(tree["tree"])
    bags = plot.bags_of(tree)
    plot.touch(sample, *bags)
    when = max(one["covered"] for one in bags) + ONE
    sample |= {"collected": when, "submitted": when, "reported": when + 2 * ONE}
    return [("bagging", one, "covered") for one in bags]


@plants
def screening_before_planting(plot: Plot) -> Any:
    tree = plot.choose(plot.bearing())
    when = plot.of("plantings", tree["planting"])["planted"] - 9 * ONE
    plot.touch(*plot.samples_of(tree["tree"]))
    sample = plot.add_sample([tree["tree"]], collected=when, submitted=when, reported=when + ONE)
    return "screening", sample, "collected"


@plants
def screening_void_controls(plot: Plot) -> Any:
    tree = plot.choose(plot.bearing())
    plot.touch(*plot.samples_of(tree["tree"]))
    controls = plot.random.choice(("failed", "not run"))
    result = plot.random.choice(("negative", "positive"))
    sample = plot.add_sample([tree["tree"]], controls=controls, result=result)
    return "screening", sample, "controls"


@plants
def method_does_not_cover(plot: Plot) -> Any:
    tree, sample = plot.add_tree()
    plot.add_bag(tree)
    sample["method"] = "gus" if plot.papaya else "strip"
    del sample["targets"]
    return "screening", sample, "method"


@plants
def sample_mark_differs(plot: Plot) -> Any:
    sample = plot.choose([one for one in plot.rows("screening") if "tree" in one])
    sample["mark"] = "another"
    return "screening", sample, "mark"


@plants
def sample_out_of_range(plot: Plot) -> Any:
    if plot.papaya:
        sample = plot.choose(plot.rows("screening"))
        sample["petiole"] = plot.random.choice(("3 mm", "5 in"))
        return "screening", sample, "petiole"
    sample = plot.choose([one for one in plot.rows("screening") if "reported" in one])
    sample["submitted"] = sample["collected"] + 4 * ONE
    sample["reported"] = max(sample["reported"], sample["submitted"])
    return "screening", sample, "submitted"


@plants
def report_missing(plot: Plot) -> Any:
    sample = plot.choose([one for one in plot.rows("screening") if "report" in one])
    field = plot.random.choice(("laboratory", "report"))
    del sample[field]
    return "screening", sample, field


@plants
def controls_unwritten(plot: Plot) -> Any:
    told = ("negative", "positive")
    sample = plot.choose([one for one in plot.rows("screening") if one.get("result") in told])
    del sample["controls"]
    return "screening", sample, "controls"


@plants
def pool_unresolved(plot: Plot) -> Any:
    tree = plot.choose(plot.bearing())
    plot.touch(*(one for one in plot.samples_of(tree["tree"]) if id(one) not in plot.touched))
    carrier, found = plot.add_tree()
    last = max(one["collected"] for one in (*plot.samples_of(tree["tree"]), found))
    when = last + ONE
    found |= {"result": "positive", "collected": when + ONE, "submitted": when + ONE, "reported": when + ONE}
    carrier |= {"removed": when + ONE, "removed_because": "transgene found"}
    sample = plot.add_sample([tree["tree"], carrier["tree"]], result="positive", collected=when,
                             submitted=when, reported=when)  # fmt: skip
    return "screening", sample, "result"


@plants
def positive_left_standing(plot: Plot) -> Any:
    tree, sample = plot.add_tree()
    sample["result"] = "positive"
    return "trees", tree, "removed"


# Bags


@plants
def bag_untagged(plot: Plot) -> Any:
    bag = plot.choose(plot.rows("bagging"))
    if plot.random.randrange(2):
        del bag["tag"]
    else:
        del bag["tag"][plot.random.choice(("date", "variety", "tree"))]
    return "bagging", bag, "tag"


@plants
def bag_tag_differs(plot: Plot) -> Any:
    bag = plot.choose(plot.rows("bagging"))
    item = plot.random.choice(("date", "variety", "tree"))
    if item == "tree":
        others = [one["tree"] for one in plot.rows("trees") if one["tree"] != bag["tree"]]
        bag["tag"]["tree"] = plot.random.choice(others)
    else:
        bag["tag"][item] = bag["covered"] + ONE if item == "date" else "Grey Shrike"
    return "bagging", bag, "tag", item


@plants
def bag_over_open_flower(plot: Plot) -> Any:
    bag = plot.choose(plot.rows("bagging"))
    bag["stage"] = "open"
    return "bagging", bag, "stage"


@plants
def bag_on_wrong_flower(plot: Plot) -> Any:
    bag = plot.choose(plot.rows("bagging"))
    bag["flower"] = "male"
    if plot.random.randrange(2):
        # A tree's sex doesn't say which flower this was.
        del bag["flower"]
    return "bagging", bag, "flower"


@plants
def female_without_pollen_parent(plot: Plot) -> Any:
    bag = plot.choose([one for one in plot.rows("bagging") if "pollen_parent" in one])
    del bag["pollen_parent"]
    return "bagging", bag, "pollen_parent"


@plants
def pollen_parent_unfit(plot: Plot) -> Any:
    bag = plot.choose([one for one in plot.rows("bagging") if "pollen_parent" in one])
    other = [one for one in plot.bearing() if plot.variety(one["tree"]) != plot.variety(bag["tree"])]
    if other and plot.random.randrange(2):
        bag["pollen_parent"] = plot.random.choice(other)["tree"]
    else:
        tree, sample = plot.add_tree()
        plot.need(plot.variety(tree["tree"]) == plot.variety(bag["tree"]))
        plot.need(sample["collected"] < bag["covered"] - ONE)
        tree["removed"] = bag["covered"] - ONE
        bag["pollen_parent"] = tree["tree"]
    return "bagging", bag, "pollen_parent"


@plants
def bag_failed(plot: Plot) -> Any:
    bag = plot.choose(plot.rows("bagging"))
    word = plot.random.choice(("torn", "loose", "gone"))
    bag["checks"] = [{"date": bag["covered"], "condition": word}, *bag["checks"]]
    return "bagging", bag, "checks"


@plants
def bag_buds_not_cleared(plot: Plot) -> Any:
    bag = plot.choose(plot.rows("bagging"))
    bag["other_buds_cleared"] = False
    return "bagging", bag, "other_buds_cleared"


@plants
def bag_not_secured(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    bag["secured"] = False
    if plot.random.randrange(2):
        del bag["secured"]
    return "bagging", bag, "secured"


@plants
def bag_on_absent_tree(plot: Plot) -> Any:
    tree, sample = plot.add_tree()
    bag = plot.add_bag(tree)
    tree["removed"] = bag["covered"] - ONE
    plot.need(sample["collected"] < tree["removed"])
    return "bagging", bag, "covered"


@plants
def bag_reused(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    bag |= {"bag_use": "re-used", "bag_cleaned": bag["covered"], "previous_contents": "another flower"}
    field = plot.random.choice(("bag_cleaned", "previous_contents", "late", "bag_use"))
    if field == "late":
        bag["bag_cleaned"] += ONE
        return "bagging", bag, "bag_cleaned"
    del bag[field]
    return "bagging", bag, field


@plants
def uncovered_early(plot: Plot) -> Any:
    # A bag whose fruit nobody picked touches no seed, and the rule passes over it.
    bag = plot.choose(plot.picked())
    bag |= {"uncovered": bag["covered"] + (3 * ONE if plot.papaya else 0 * ONE), "fruit_marked": True}
    return "bagging", bag, "uncovered"


@plants
def bag_fate_unknown(plot: Plot) -> Any:
    bag = plot.clone("bagging", plot.choose(plot.picked()))
    if plot.random.randrange(2):
        del bag["outcome"]
    return "bagging", bag, "outcome"


# Fruit


@plants
def bag_outcome_differs(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    bag["outcome"] = plot.random.choice(("dropped", "lost"))
    times = sum(bag["bag"] in one["bags"] for one in plot.rows("harvests"))
    return [("bagging", bag, "outcome")] * times


@plants
def fruit_unmarked(plot: Plot) -> Any:
    bag = plot.choose([one for one in plot.picked() if "uncovered" in one])
    plot.need(bag["uncovered"] < plot.harvest_of(bag)["date"])
    if plot.random.randrange(2):
        bag["fruit_marked"] = False
    else:
        del bag["fruit_marked"]
    return "bagging", bag, "fruit_marked"


@plants
def fruit_unbagged(plot: Plot) -> Any:
    harvest = plot.choose(plot.rows("harvests"))
    harvest["trees"] = [plot.of("bagging", harvest["bags"][0])["tree"]]
    harvest["fruits"] = plot.each * len(set(harvest["bags"])) + 1
    return "harvests", harvest, "trees"


@plants
def more_fruit_than_bags(plot: Plot) -> Any:
    harvest = plot.choose(plot.rows("harvests"))
    harvest["fruits"] = plot.each * len(harvest["bags"]) + 1
    return "harvests", harvest, "fruits"


@plants
def fewer_fruit_than_bags(plot: Plot) -> Any:
    harvest = plot.choose([one for one in plot.rows("harvests") if len(one["bags"]) > 2])
    harvest["fruits"] = len(harvest["bags"]) - 1
    return "harvests", harvest, "fruits"


@plants
def bag_harvested_twice(plot: Plot) -> Any:
    plot.need("fruits_per_bag" not in plot.truth.season.get("practice", {}))
    first = plot.choose(plot.rows("harvests"))
    bag = plot.of("bagging", first["bags"][0])
    plot.touch(bag)
    alike = [
        one for one in plot.rows("harvests")
        if one is not first and one["status"] == first["status"]
        and plot.variety(plot.of("bagging", one["bags"][0])["tree"]) == plot.variety(bag["tree"])
    ]  # fmt: skip
    second = plot.choose(alike)
    plot.need(second["date"] > first["date"])
    second["bags"] = [*second["bags"], bag["bag"]]
    second["fruits"] += 1
    removed = plot.of("trees", bag["tree"]).get("removed")
    plot.need(removed is None or removed >= second["date"])
    return "harvests", second, "bags", len(second["bags"]) - 1


@plants
def harvest_interval_unlikely(plot: Plot) -> Any:
    _, harvest, _ = plot.add_run(days=100 if plot.papaya else 40, wait=10 if plot.papaya else 30)
    return "harvests", harvest, "bags", 0


@plants
def harvest_stage(plot: Plot) -> Any:
    harvest = plot.choose(plot.rows("harvests"))
    wrong = ("mature green",) if plot.papaya else ("table stage", "full size")
    harvest["stage"] = plot.random.choice(wrong)
    return "harvests", harvest, "stage"


@plants
def harvest_unprocessed(plot: Plot) -> Any:
    _, harvest, run = plot.add_run()
    plot.rows("batches").remove(run)
    return ("harvests", harvest)


@plants
def ripening_out_of_range(plot: Plot) -> Any:
    harvest = plot.choose(plot.rows("harvests"))
    harvest["ripening"]["temperature"] = plot.random.choice(("35 C", "50 F"))
    return "harvests", harvest, "ripening", "temperature"


# Runs


@plants
def extraction_delayed(plot: Plot) -> Any:
    _, _, run = plot.add_run(days=140 if plot.papaya else 55, wait=25 if plot.papaya else 9)
    return "batches", run, "harvests", 0


@plants
def blade_sharp(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    run["blade"] = "sharp" if plot.papaya else "knife"
    return "batches", run, "blade"


@plants
def rinse_count(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    run["rinses"] = plot.random.choice((0, 1, 11))
    return "batches", run, "rinses"


@plants
def extraction_run_unusual(plot: Plot) -> Any:
    plot.need(plot.papaya)
    run = plot.choose(plot.runs())
    run["runs"] = [plot.random.choice(("1 s", "6 h", "0.5 d"))]
    return "batches", run, "runs", 0


@plants
def drying_out_of_range(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    if plot.random.randrange(2):
        run["moisture"] = plot.random.choice(("14 %", "2 %"))
        return "batches", run, "moisture"
    run["drying"]["temperature"] = plot.random.choice(("55 C", "120 F"))
    return "batches", run, "drying", "temperature"


@plants
def batch_without_picking(plot: Plot) -> Any:
    lots = [one for one in plot.organic("lots") if all("batch" in part for part in one["sources"])]
    lot = plot.choose(lots)
    model = plot.of("batches", lot["sources"][0]["batch"])
    plot.touch(model)
    run = plot.clone("batches", model, harvests=[], equipment=["spare tub"], dry_weight="1 g")
    run["drying"].pop("on", None)
    run.pop("never_packed", None)
    if plot.random.randrange(2):
        plot.keep_back(lot["sources"][0], 1000)
        lot["sources"].append({"batch": run["batch"], "weight": "1 g"})
    return "batches", run, "harvests"


@plants
def batch_mixed_status(plot: Plot) -> Any:
    harvest = plot.choose(plot.organic("harvests"))
    harvest["status"] = plot.random.choice(("transitional", "conventional"))
    runs = [one for one in plot.rows("batches") if harvest["harvest"] in one["harvests"]]
    plot.touch(*runs)
    return [("batches", one, "harvests") for one in runs]


@plants
def batch_mixed_variety(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    own = plot.variety(plot.of("bagging", plot.of("harvests", run["harvests"][0])["bags"][0])["tree"])
    low, high = (3, 21) if plot.papaya else (14, 90)
    others = [
        one for one in plot.organic("harvests")
        if plot.variety(plot.of("bagging", one["bags"][0])["tree"]) != own
        and low <= (run["date"] - one["date"]).days <= high and one["ripening"]["until"] <= run["date"]
    ]  # fmt: skip
    other = plot.choose(others)
    run["harvests"] = [*run["harvests"], other["harvest"]]
    plot.set_apart(run)
    return "batches", run, "harvests"


@plants
def equipment_not_cleaned(plot: Plot) -> Any:
    run = plot.choose([one for one in plot.claiming("batches") if one.get("harvests")])
    piece = f"spare {plot.fresh()}"
    plot.add("batches", date=run["date"] - ONE, harvests=[], other_seed="okra", status="conventional",
             equipment=[piece])  # fmt: skip
    run["equipment"] = [*run["equipment"], piece]
    return "batches", run, "equipment"


@plants
def equipment_unnamed(plot: Plot) -> Any:
    # It may have used any piece, so all that is run here must be of one kind.
    plot.need(len({one["variety"] for one in plot.all("plantings")}) == 1)
    plot.need(all(one["status"] == "organic" for one in plot.all("batches")))
    _, _, run = plot.add_run()
    del run["equipment"]
    return "batches", run, "equipment"


@plants
def batch_weight_impossible(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    run["wet_weight"] = f"{plot.mg(run, 'dry_weight') * 9 // 10 / 1000:.3f} g"
    return "batches", run, "dry_weight"


@plants
def batch_weight_low(plot: Plot) -> Any:
    _, _, run = plot.add_run(dry_weight="0.4 g")
    return "batches", run, "dry_weight"


@plants
def batch_overdrawn(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    parts = [p for one in plot.rows("lots") for p in one["sources"] if p.get("batch") == run["batch"]]
    run["dry_weight"] = f"{sum(plot.mg(one) for one in parts) * 95 // 100 / 1000:.3f} g"
    return "batches", run, "dry_weight"


# Lots


def _of_runs(plot: Plot) -> list[Record]:
    return [one for one in plot.organic("lots") if all("batch" in part for part in one["sources"])]


@plants
def lot_mixed(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    run["status"] = plot.random.choice(("transitional", "conventional"))
    plot.set_apart(run)
    found = []
    for lot in plot.rows("lots"):
        for at, part in enumerate(lot["sources"]):
            if part.get("batch") == run["batch"]:
                plot.touch(lot)
                found.append(("lots", lot, "sources", at))
    return found


@plants
def lot_without_source(plot: Plot) -> Any:
    lot = plot.choose(_of_runs(plot))
    part = lot["sources"][0]
    plot.need(plot.mg(part) * 20 > plot.mg(lot) > 10_000)
    if len(lot["sources"]) > 1 and plot.random.randrange(2):
        plot.keep_back(part, plot.mg(part))
        lot["sources"].pop(0)
    else:
        plot.keep_back(part, plot.mg(part) // 2)
    return "lots", lot, "sources"


@plants
def lot_number_reused(plot: Plot) -> Any:
    before = plot.truth.previous
    plot.need(before)
    lot = plot.choose(plot.rows("lots"))
    model = before.tables["lots"][0]  # type: ignore[union-attr]
    again = {**model, "lot": lot["lot"], "sources": [], "label": {}}
    again = {key: value for key, value in again.items() if key not in {"label", "evidence"}}
    before.tables["lots"].append(again)  # type: ignore[union-attr]
    before.tables.setdefault("movements", []).append(  # type: ignore[union-attr]
        {
            "movement": "D-1",
            "date": model["packed"],
            "lot": lot["lot"],
            "kind": "discarded",
            "weight": model["weight"],
            "note": "mould",
        }
    )
    return "lots", lot, "lot"


@plants
def packaging_reused(plot: Plot) -> Any:
    lot = plot.choose(plot.claiming("lots"))
    way = plot.random.randrange(3)
    if way == 0:
        lot["packaging"] = plot.random.choice(("old fungicide bucket", "fungicide-treated sack"))
        lot.pop("container_cleaned", None)
        lot["container_use"] = "new"
        return "lots", lot, "packaging"
    if way == 1:
        field = plot.random.choice(("packaging", "container_use"))
        del lot[field]
        return "lots", lot, field
    lot |= {"container_use": "re-used", "container_cleaned": lot["packed"]}
    lot.pop("previous_contents", None)
    return "lots", lot, "previous_contents"


@plants
def seed_treatment_prohibited(plot: Plot) -> Any:
    record = plot.choose(plot.claiming(plot.random.choice(("lots", "batches"))))
    table = "lots" if "lot" in record else "batches"
    substance = plot.random.choice(("thiram", "Captan 50 %", "a dust of mancozeb"))
    record["treatment"] = {"treated": True, "with": substance}
    return table, record, "treatment", "with"


@plants
def container_not_cleaned(plot: Plot) -> Any:
    lot = plot.choose(plot.claiming("lots"))
    lot |= {"container_use": "re-used", "previous_contents": "dry beans"}
    lot["container_cleaned"] = lot["packed"] + ONE
    if plot.random.randrange(2):
        del lot["container_cleaned"]
    return "lots", lot, "container_cleaned"


@plants
def stored_frozen(plot: Plot) -> Any:
    plot.need(plot.papaya)
    lot = plot.choose(plot.rows("lots"))
    lot["storage"] = "freezer"
    return "lots", lot, "storage"


@plants
def storage_temperature_out_of_range(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    lot["storage_temperature"] = plot.random.choice(("35 C", "100 F", "-30 C"))
    return "lots", lot, "storage_temperature"


@plants
def label_differs(plot: Plot) -> Any:
    lot = plot.choose([one for one in plot.organic("lots") if "label" in one])
    items = ("lot", "variety", "last_certified_operation", "germination", "tested", "net_weight")
    item = plot.random.choice(items)
    if item == "net_weight":
        lot["net_weight"], lot["containers"] = lot["weight"], 2
        return "lots", lot, "net_weight"
    wrong = {"lot": "X-9", "variety": "Grey Shrike", "last_certified_operation": "Another Farm",
             "germination": "100 %", "tested": lot["label"]["tested"] + ONE}  # fmt: skip
    lot["label"][item] = wrong[item]
    return "lots", lot, "label", item


@plants
def label_incomplete(plot: Plot) -> Any:
    lot = plot.choose(plot.organic("lots"))
    # Seed law asks more only of containers over a pound, which these lots don't fill.
    items = ["lot"] if plot.asks("label_items") else []
    items += ["variety"] if plot.asks("label_items_to_1_lb") else []
    items += ["last_certified_operation"] if "eu" in plot.truth.season["standards"] else []
    plot.need(bool(items))
    item = plot.random.choice(items)
    del lot["label"][item]
    return "lots", lot, "label", item


@plants
def retail_label_incomplete(plot: Plot) -> Any:
    plot.need(plot.asks("retail_label_items"))
    lot = plot.choose([one for one in plot.organic("lots") if "label" in one])
    lot["packed_as"] = "retail packets"
    return "lots", lot, "label", "certified_by"


@plants
def certificate_outdated(plot: Plot) -> Any:
    organic = {one["lot"] for one in plot.organic("lots")}
    moves = [one for one in plot.out() if one["lot"] in organic]
    plot.need(moves)
    last = max(moves, key=lambda one: one["date"])
    plot.need(sum(one["date"] == last["date"] for one in moves) == 1)
    plot.truth.season["operation"]["valid_until"] = last["date"] - ONE
    return "movements", last, "date"


@plants
def inspection_overdue(plot: Plot) -> Any:
    plot.need(plot.asks("inspections_per_year"))
    plot.truth.season["operation"]["inspected"] = date(plot.start.year - 2, 9, 12)
    return "season", None, "operation", "inspected"


@plants
def store_pests_unanswered(plot: Plot) -> Any:
    made = plot.add_incident(kind="store pests")
    del made["action"]
    return "incidents", made, "action"


@plants
def cleaning_agent_unlisted(plot: Plot) -> Any:
    cleaning = plot.choose(plot.rows("cleaning"))
    cleaning["agent"] = plot.random.choice(("peracetic acid", "bleach, 1 to 10"))
    return "cleaning", cleaning, "agent"


@plants
def status_word_missing(plot: Plot) -> Any:
    lot = plot.choose(plot.organic("lots"))
    if plot.random.randrange(2):
        del lot["label"]["status"]
    else:
        lot["label"]["status"] = plot.random.choice(("natural", "non-organic", "in transition to organic"))
    return "lots", lot, "label", "status"


# Tests


def _germination(plot: Plot, *, left: bool = False) -> list[Record]:
    gone = {one["lot"] for one in plot.out()}
    own = {one["lot"] for one in plot.rows("lots")}
    return [
        one for one in plot.rows("tests")
        if one["kind"] == "germination" and one["lot"] in own and (not left or one["lot"] in gone)
    ]  # fmt: skip


@plants
def germination_missing(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    return "movements", plot.add_sale(lot, lot["packed"]), "lot"


@plants
def germination_expired(plot: Plot) -> Any:
    tests, lots = plot.all("tests"), {one["lot"]: one for one in plot.all("lots")}
    opened = [one["lot"] for one in plot.rows("movements") if one["kind"] == "opening stock"]
    found = []
    for name in opened:
        lot = lots[name]
        last = max(one["date"] for one in tests if one["kind"] == "germination" and one["lot"] == name)
        when = last + timedelta(days=200 if plot.papaya else 375)
        aged = (when - lot["packed"]).days < (355 if plot.papaya else 700)
        kept = lot["storage"] in {"cool room", "refrigerator", "cool dry room", "freezer"}
        blend = any("lot" in part for part in lot["sources"])
        if aged and kept and not blend and plot.start <= when <= plot.end:
            found.append((name, when))
    plot.need(found)
    name, when = plot.random.choice(found)
    return "movements", plot.add_sale(name, when), "date"


def _count_again(plot: Plot, replicates: list[int], labelled: str) -> Any:
    """Other seedlings in a germination test, and a label that says what is below them."""
    test = plot.choose(_germination(plot))
    lot = plot.of("lots", test["lot"])
    plot.touch(lot)
    if "label" in lot:
        lot["label"]["germination"] = labelled
    test |= {"replicates": replicates, "per_replicate": 50}
    return "tests", test, "replicates"


@plants
def germination_replicates_differ(plot: Plot) -> Any:
    return _count_again(plot, [50, 50, 50, 30], "76 %")


@plants
def germination_low(plot: Plot) -> Any:
    return _count_again(plot, [20, 21, 20, 21], "40 %")


@plants
def germination_method_missing(plot: Plot) -> Any:
    test = plot.choose(_germination(plot))
    field = plot.random.choice(("temperature", "substrate", "counts"))
    del test[field]
    return "tests", test, field


@plants
def germination_few_seeds(plot: Plot) -> Any:
    test = plot.choose(_germination(plot, left=True))
    test |= {"replicates": [25, 25], "per_replicate": 25}
    return "tests", test, "replicates"


@plants
def germination_too_quick(plot: Plot) -> Any:
    test = plot.choose(_germination(plot))
    test["sampled"] = test["date"] - 2 * ONE
    return "tests", test, "date"


@plants
def moisture_repeats_differ(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    after = ("24.600 g", "24.700 g") if plot.papaya else ("24.700 g", "24.750 g")
    test = plot.add("tests", lot=lot["lot"], date=lot["packed"], kind="moisture", weighings=[
        {"container": "20 g", "before": "25 g", "after": one} for one in after
    ])  # fmt: skip
    return "tests", test, "weighings"


@plants
def moisture_out_of_range(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    test = plot.add("tests", lot=lot["lot"], date=lot["packed"], kind="moisture",
                    moisture=plot.random.choice(("12 %", "2.5 %")))  # fmt: skip
    return "tests", test, "moisture"


@plants
def lot_test_void(plot: Plot) -> Any:
    test = plot.choose_transgene()
    test["controls"] = plot.random.choice(("failed", "not run"))
    return "tests", test, "controls"


@plants
def sample_unrecorded(plot: Plot) -> Any:
    test = plot.choose_transgene()
    test["pools"] = 9_000
    return "tests", test, "pools"


# The book


@plants
def sold_before_packed(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    return "movements", plot.add_sale(lot, lot["packed"] - ONE), "date"


@plants
def sold_before_cleared(plot: Plot) -> Any:
    tree = plot.choose(plot.single(1))
    (sample,) = plot.samples_of(tree["tree"])
    plot.touch(sample)
    lots = plot.lots_of(tree["tree"])
    sales = [one for one in plot.out() if one["lot"] in lots]
    plot.need(sales)
    plot.touch(*sales)
    sample["reported"] = plot.truth.on
    if plot.papaya:
        plot.truth.season.setdefault("practice", {})["days_sample_to_report"] = {
            "high": 500, "reason": "The laboratory was closed."}  # fmt: skip
    return [("movements", one, "date") for one in sales]


@plants
def sale_without_document(plot: Plot) -> Any:
    back = {one["lot"] for one in plot.rows("movements") if one["kind"] == "returned"}
    sale = plot.choose([one for one in plot.out() if "document" in one and one["lot"] not in back])
    field = plot.random.choice(("party", "document"))
    del sale[field]
    return "movements", sale, field


@plants
def receipt_without_document(plot: Plot) -> Any:
    came = plot.choose(
        [one for one in plot.rows("movements") if one["kind"] == "returned" and "document" in one]
    )
    # Without the buyer nobody could tell either whether that much had been sold there.
    del came["document"]
    return "movements", came, "document"


@plants
def dispatch_status_missing(plot: Plot) -> Any:
    sale = plot.choose([one for one in plot.out() if plot.lot_status(one["lot"]) == "organic"])
    del sale["status"]
    return "movements", sale, "status"


@plants
def sold_above_status(plot: Plot) -> Any:
    sale = plot.choose([one for one in plot.out() if plot.lot_status(one["lot"]) != "organic"])
    sale["status"] = "organic"
    return "movements", sale, "status"


@plants
def last_certified_operation_missing(plot: Plot) -> Any:
    plot.need(plot.asks("last_certified_operation"))
    sale = plot.choose([one for one in plot.out() if plot.lot_status(one["lot"]) == "organic"])
    del sale["last_certified_operation"]
    return "movements", sale, "last_certified_operation"


@plants
def sowing_without_planting(plot: Plot) -> Any:
    sown = plot.choose([one for one in plot.rows("movements") if one["kind"] == "sown"])
    for field in ("planting", "note"):
        sown.pop(field, None)
    return "movements", sown, "planting"


@plants
def discard_unexplained(plot: Plot) -> Any:
    gone = plot.choose([one for one in plot.rows("movements") if one["kind"] in {"discarded", "downgraded"}])
    for field in ("document", "note"):
        gone.pop(field, None)
    return "movements", gone, "note"


@plants
def storage_too_long(plot: Plot) -> Any:
    plot.need(plot.papaya)
    lot = plot.choose([one for one in _of_runs(plot) if one["storage"] == "open room"])
    return "movements", plot.add_sale(lot, lot["packed"] + timedelta(days=75)), "date"


@plants
def lot_overdrawn(plot: Plot) -> Any:
    # A count afterwards would find what was taken and wasn't there.
    still = {one["lot"] for one in plot.rows("movements") if one["kind"] in {"counted", "returned"}}
    blended = {part.get("lot") for one in plot.rows("lots") for part in one["sources"]}
    lot = plot.choose([one for one in plot.rows("lots") if one["lot"] not in still | blended])
    weight = f"{(plot.mg(lot) + 5000) / 1000:.3f} g"
    out = plot.add("movements", date=plot.last_day(lot), lot=lot["lot"], kind="sampled", weight=weight)
    return "movements", out, "weight"


@plants
def ledger_does_not_close(plot: Plot) -> Any:
    counts = [one for one in plot.rows("movements") if one["kind"] == "counted"]
    last = [
        one for one in counts
        if all(two["lot"] != one["lot"] or two["date"] < one["date"] or two is one for two in counts)
    ]  # fmt: skip
    count = plot.choose(last)
    count["weight"] = f"{(plot.mg(count) + plot.random.choice((1000, 250, 7000))) / 1000:.3f} g"
    return "movements", count, "weight"


@plants
def carry_over_differs(plot: Plot) -> Any:
    before = plot.truth.previous
    plot.need(before)
    opened = [one for one in plot.rows("movements") if one["kind"] == "opening stock" and plot.mg(one) > 2000]
    opening = plot.choose(opened)
    before.tables["movements"].append(  # type: ignore[union-attr]
        {
            "movement": "D-2",
            "date": before.season["to"],
            "lot": opening["lot"],
            "kind": "discarded",  # type: ignore[union-attr]
            "weight": "1 g",
            "note": "mould",
        }
    )
    return "movements", opening, "weight"


# What went on


@plants
def input_unlisted(plot: Plot) -> Any:
    made = plot.add_input()
    del made["allowed_by"]
    return "inputs", made, "allowed_by"


@plants
def incident_open(plot: Plot) -> Any:
    made = plot.add_incident()
    field = plot.random.choice(("action", "closed"))
    del made[field]
    return "incidents", made, field


@plants
def certifier_not_told(plot: Plot) -> Any:
    plot.need(plot.asks("notify_certifier"))
    made = plot.add_incident(
        kind=plot.random.choice(("drift", "mixing", "recall")), evidence=plot.add_file("seen.txt")
    )
    del made["certifier_notified"]
    return "incidents", made, "certifier_notified"
