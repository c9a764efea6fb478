"""Faults of what proof needs said: silence, walks and letters, years that disagree, seed that came in."""

# ruff: noqa: D103 (a fault is named by its rule)
from __future__ import annotations

from datetime import timedelta
from typing import Any

from farm import OTHER_BUYER, SUPPLIER
from planting import plants
from plot import ONE, Expected, Plot

# Records, rounds, letters


@plants
def records_disagree(plot: Plot) -> Any:
    sample = plot.choose([one for one in plot.rows("screening") if "report" in one])
    letter = plot.of("letters", sample["report"])
    plot.touch(letter)
    other = {"negative": "inconclusive", "inconclusive": "negative", "positive": "negative"}
    letter["exceptions"] = [{"samples": [sample["sample"]], "result": other[sample["result"]]}]
    return "screening", sample, "result"


@plants
def round_names_unknown(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    other = {"about": ["B-none"], "note": "a wasp in it"}
    walk = plot.add("rounds", kind="check", date=bag["covered"], by="R. Alder", bags=[bag["bag"]],
                    condition="intact", exceptions=[other])  # fmt: skip
    return "rounds", walk, "exceptions", 0, "about", 0


@plants
def round_unattested(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    nobody = plot.random.choice(("?", "-", "somebody"))
    walk = plot.add("rounds", kind="check", date=bag["covered"], by=nobody, bags=[bag["bag"]],
                    condition="intact")  # fmt: skip
    return "rounds", walk, "by"


@plants
def letter_unfiled(plot: Plot) -> Any:
    sample = plot.choose([one for one in plot.rows("screening") if "report" in one])
    sample["report"] = "BF-none"
    return "screening", sample, "report"


@plants
def season_before_of_another(plot: Plot) -> Any:
    before = plot.truth.previous
    plot.need(before is not None and before.previous is None)
    operation = before.season["operation"]  # type: ignore[union-attr]
    if plot.random.randrange(2):
        operation["certificate"] = "C-0981"
    else:
        del operation["certificate"]
        operation["name"] = "Gorsehill Seed Garden"
    return "season", None, "previous"


@plants
def own_figure_loosens(plot: Plot) -> Any:
    plot.need("practice" not in plot.truth.season)
    run = plot.choose(plot.runs())
    run["rinses"] = 2 if plot.papaya else 1
    plot.truth.season["practice"] = {"rinses": {"low": run["rinses"], "reason": "Our water is soft."}}
    return "season", None, "practice", "rinses"


# Plantings from own seed


@plants
def planting_differs_from_lot(plot: Plot) -> Any:
    planting = plot.choose([one for one in plot.kept_plantings() if "lot" in one.get("origin", {})])
    others = [
        one for one in plot.all("lots")
        if one["status"] == "organic" and one["packed"] < planting["planted"]
        and one["variety"].strip().casefold() != planting["variety"].casefold()
    ]  # fmt: skip
    plot.need(others)
    planting["origin"]["lot"] = plot.random.choice(others)["lot"]
    return "plantings", planting, "origin", "lot"


@plants
def planting_seed_unproven(plot: Plot) -> Any:
    planting = plot.choose([one for one in plot.kept_plantings() if "lot" in one.get("origin", {})])
    lot = planting["origin"]["lot"]
    made = plot.add_incident(about=[lot], date=plot.end, closed=plot.end, certifier_notified=plot.end)
    told = Expected("incident-unresolved", "incidents", made, ("evidence",))
    return [told, ("plantings", planting, "origin", "lot")]


# Samples


@plants
def sample_unmarked(plot: Plot) -> Any:
    sample = plot.choose([one for one in plot.rows("screening") if "tree" in one and "result" in one])
    del sample["mark"]
    return "screening", sample, "mark"


@plants
def sample_seal_broken(plot: Plot) -> Any:
    tree = plot.choose(plot.single(1))
    sample = next(one for one in plot.rows("screening") if one.get("tree") == tree["tree"])
    plot.touch(sample)
    sample["condition"] = plot.random.choice(("seal broken", "damaged"))
    return "screening", sample, "condition"


@plants
def sample_undated(plot: Plot) -> Any:
    tree = plot.choose(plot.single(1))
    (sample,) = plot.samples_of(tree["tree"])
    bags = plot.bags_of(tree)
    plot.touch(sample, *bags)
    del sample["collected"]
    # Nor can anybody tell whether the leaf was cut before the flowers were covered.
    late = [Expected("screened-after-covering", "bagging", one, ("covered",)) for one in bags]
    return [("screening", sample, "collected"), *late]


@plants
def pool_too_large(plot: Plot) -> Any:
    tree = plot.choose(plot.bearing())
    others = [plot.add("trees", planting=tree["planting"], sex="unknown")["tree"] for _ in range(20)]
    sample = plot.add_sample([tree["tree"], *others])
    return "screening", sample, "trees"


@plants
def pool_conflicting(plot: Plot) -> Any:
    (first, found), (second, _) = plot.add_tree(), plot.add_tree()
    found["result"] = "positive"
    first |= {"removed": found["reported"], "removed_because": "transgene found"}
    return "screening", plot.add_sample([first["tree"], second["tree"]]), "result"


@plants
def claim_unproven(plot: Plot) -> Any:
    tree = plot.choose(plot.single(1))
    (sample,) = plot.samples_of(tree["tree"])
    bags = [one for one in plot.bags_of(tree) if one in plot.picked()]
    plot.need("tree" in sample)
    plot.touch(sample, *bags)
    sample["trees"] = [plot.add("trees", planting=tree["planting"], sex="unknown")["tree"]]
    return [("bagging", one) for one in bags]


# Bags


@plants
def bag_unwatched(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    for field in ("uncovered", "petal_fall"):
        bag.pop(field, None)
    bag["checks"] = [{"date": bag["covered"], "condition": "intact"}]
    if plot.random.randrange(2):
        del bag["checks"]
    return "bagging", bag, "checks"


@plants
def bag_in_storm(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    bag.pop("petal_fall", None)
    bag["checks"] = [{"date": bag["covered"], "condition": "intact"}]
    bag |= {"uncovered": bag["covered"] + (plot.crop["need"] + 1) * ONE, "fruit_marked": True}
    when = bag["covered"] + (3 * ONE if plot.papaya else 0 * ONE)
    if plot.random.randrange(2):
        plot.add("rounds", kind="storm", date=when, by="R. Alder", bags=[bag["bag"]])
    else:
        plot.add_incident(kind="storm", about=[bag["bag"]], date=when, closed=when, certifier_notified=when)
    return "bagging", bag, "checks"


@plants
def bag_tag_shared(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    bag["tag"].pop("bag", None)
    other = plot.clone("bagging", bag, outcome="lost", checks=[])
    other["tag"] = dict(bag["tag"])
    for field in ("uncovered", "petal_fall", "fruit_marked"):
        other.pop(field, None)
    return "bagging", bag, "tag"


@plants
def bag_stage_unknown(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    del bag["stage"]
    return "bagging", bag, "stage"


@plants
def bag_undated(plot: Plot) -> Any:
    bag = plot.choose(plot.picked())
    del bag["covered"]
    return [("bagging", bag, "covered"), Expected("bag-tag-differs", "bagging", bag, ("tag", "date"))]


@plants
def tree_too_young(plot: Plot) -> Any:
    model = plot.choose(plot.bought_plantings())
    planting = plot.clone("plantings", model)
    sex = "hermaphrodite" if plot.papaya else "monoecious"
    tree = plot.add("trees", planting=planting["planting"], sex=sex)
    bag = plot.add_bag(tree)
    planting["planted"] = bag["covered"] - (80 if plot.papaya else 15) * ONE
    cut = planting["planted"] + 9 * ONE
    plot.add_sample([tree["tree"]], collected=cut, submitted=cut, reported=cut + ONE)
    return "bagging", bag, "covered"


# Fruit and runs


@plants
def batch_with_other_seed(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    run["other_seed"] = "a cup of okra"
    # On pieces of its own: what ran after it on another's would be in doubt, too.
    run["equipment"] = ["new bucket", "new sieve"]
    if "drying" in run:
        run["drying"] = {**run["drying"], "on": ["new tray"]}
    return "batches", run, "other_seed"


@plants
def extracted_before_ripe(plot: Plot) -> Any:
    run = plot.choose(plot.runs())
    at = plot.random.randrange(len(run["harvests"]))
    harvest = plot.of("harvests", run["harvests"][at])
    plot.touch(harvest)
    plot.need(sum(harvest["harvest"] in one["harvests"] for one in plot.rows("batches")) == 1)
    ripe = run["date"] + ONE
    plot.need((ripe - harvest["date"]).days <= (16 if plot.papaya else 60))
    harvest["ripening"]["until"] = ripe
    return "batches", run, "harvests", at


@plants
def harvest_weight_impossible(plot: Plot) -> Any:
    plot.need(plot.papaya)
    harvest = plot.choose(plot.rows("harvests"))
    harvest["weight"] = f"{harvest['fruits'] * 12} kg"
    return "harvests", harvest, "weight"


# What went on


@plants
def incident_about_nothing(plot: Plot) -> Any:
    return "incidents", plot.add_incident(about=[]), "about"


@plants
def input_prohibited(plot: Plot) -> Any:
    material = plot.random.choice(("urea", "Glyphosate 41 %", "a little NPK 15-15-15"))
    return "inputs", plot.add_input(material=material), "material"


@plants
def incident_unresolved(plot: Plot) -> Any:
    kind = plot.random.choice(("complaint", "recall", "other"))
    lot = plot.choose(plot.rows("lots"))
    made = plot.add_incident(kind=kind, about=[lot["lot"]], date=plot.end, closed=plot.end,
                             certifier_notified=plot.end)  # fmt: skip
    return "incidents", made, "evidence"


@plants
def incident_of_mixing(plot: Plot) -> Any:
    one = plot.choose(plot.rows(plot.random.choice(("lots", "batches", "harvests"))))
    name = one.get("lot") or one.get("batch") or one["harvest"]
    return "incidents", plot.add_incident(kind="mixing", about=[name]), "about"


@plants
def incident_of_drift(plot: Plot) -> Any:
    block = plot.choose(plot.picked_blocks())["block"]
    return "incidents", plot.add_incident(kind="drift", about=[block]), "evidence"


# Lots


@plants
def lot_packing_differs(plot: Plot) -> Any:
    lots = [one for one in plot.rows("lots") if "batch" in one["sources"][0]]
    lot = plot.choose(lots)
    part = lot["sources"][0]
    run = plot.of("batches", part["batch"])
    plot.touch(run)
    for record, field in ((part, "weight"), (run, "dry_weight")):
        record[field] = f"{(plot.mg(record, field) + 500) / 1000:.3f} g"
    plot.need(plot.mg(lot) < sum(plot.mg(one) for one in lot["sources"]) - 150)
    return "lots", lot, "weight"


@plants
def bought_seed_unproven(plot: Plot) -> Any:
    model = plot.choose(plot.organic("lots"))
    lot = plot.clone("lots", model, weight="5 g", sources=[
        {"supplier": SUPPLIER, "certificate": "C-0912", "weight": "5 g"}
    ])  # fmt: skip
    lot["label"]["lot"] = lot["lot"]
    if plot.random.randrange(2):
        # A packet of it left, which is the first thing to say.
        sale = plot.add_sale(lot, lot["packed"] + 40 * ONE)
        tested = lot["packed"] + 30 * ONE
        plot.clone("tests", next(one for one in plot.rows("tests") if one["kind"] == "germination"),
                   lot=lot["lot"], date=tested).pop("sampled", None)  # fmt: skip
        lot["label"] |= {"germination": "50 %", "tested": tested}
        told = Expected("suspect-seed-left", "movements", sale, ("lot",))
        return [("lots", lot, "sources", 0), told]
    return "lots", lot, "sources", 0


@plants
def source_ambiguous(plot: Plot) -> Any:
    lot = plot.choose([one for one in plot.rows("lots") if "batch" in one["sources"][0]])
    lot["sources"][0] = {"supplier": SUPPLIER, **lot["sources"][0]}
    bought = Expected("bought-seed-unproven", "lots", lot, ("sources", 0))
    return [("lots", lot, "sources", 0), bought]


@plants
def blend_circular(plot: Plot) -> Any:
    lots = plot.rows("lots")
    lot = plot.choose([one for one in lots if plot.mg(one) >= sum(plot.mg(part) for part in one["sources"])])
    lot["sources"].append({"lot": lot["lot"], "weight": "0.001 g"})
    return "lots", lot, "sources"


# Tests


def _kin(plot: Plot, lot: str) -> set[str]:
    """Lots that share a run or a parent with a lot, and have no clean test of their own."""
    names, trees = {lot}, set()
    for _ in range(9):
        for one in plot.all("lots"):
            if one["lot"] in names:
                names |= {part["lot"] for part in one["sources"] if "lot" in part}
    runs = {
        part["batch"] for one in plot.all("lots") if one["lot"] in names
        for part in one["sources"] if "batch" in part
    }  # fmt: skip
    pickings = {name for one in plot.all("batches") if one["batch"] in runs for name in one["harvests"]}
    bags = {name for one in plot.all("harvests") if one["harvest"] in pickings for name in one["bags"]}
    for one in plot.all("bagging"):
        if one["bag"] in bags:
            trees |= {one["tree"], one.get("pollen_parent", one["tree"])}
    clean = {
        one["lot"] for one in plot.all("tests") if one["kind"] == "transgene" and not one["positive_pools"]
    }  # fmt: skip
    kin = {found for tree in trees for found in plot.lots_of(tree)}
    return kin - clean - {lot}


@plants
def lot_transgene_positive(plot: Plot) -> Any:
    test = plot.choose_transgene()
    test["positive_pools"] = 1
    found = [Expected("transgene-in-kin", "tests", test, ("lot",))] if _kin(plot, test["lot"]) else []
    return [("tests", test, "positive_pools"), *found]


@plants
def transgene_in_kin(plot: Plot) -> Any:
    test = plot.choose_transgene()
    plot.need(_kin(plot, test["lot"]))
    test["positive_pools"] = 2
    return [("tests", test, "lot"), Expected("lot-transgene-positive", "tests", test, ("positive_pools",))]


@plants
def purity_other_seed(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    test = plot.add("tests", lot=lot["lot"], date=plot.end, kind="purity", pure="9.9 g",
                    other=plot.random.choice(("0.001 g", "0.3 g")), inert="0 g")  # fmt: skip
    return "tests", test, "other"


@plants
def sample_before_seed(plot: Plot) -> Any:
    lots = {one["lot"]: one for one in plot.rows("lots") if "batch" in one["sources"][0]}
    test = plot.choose(
        [one for one in plot.rows("tests") if one["kind"] == "germination" and one["lot"] in lots]
    )
    runs = [part["batch"] for part in lots[test["lot"]]["sources"] if "batch" in part]
    test["sampled"] = min(plot.of("batches", one)["date"] for one in runs) - ONE
    return "tests", test, "sampled"


# The book


@plants
def document_repeated(plot: Plot) -> Any:
    sales = [one for one in plot.out() if "document" in one]
    first = plot.choose(sales)
    buyer = first["party"].casefold()
    second = plot.choose([one for one in sales if one["party"].casefold() != buyer])
    second["document"] = first["document"].lower()
    return [("movements", first, "document"), ("movements", second, "document")]


@plants
def batch_remainder_unaccounted(plot: Plot) -> Any:
    run = plot.choose([one for one in plot.runs() if "never_packed" in one] or plot.runs())
    if "never_packed" in run and plot.mg(run["never_packed"]) > 250 and plot.random.randrange(2):
        del run["never_packed"]
    else:
        run["dry_weight"] = f"{(plot.mg(run, 'dry_weight') + 1500) / 1000:.3f} g"
        run["wet_weight"] = f"{plot.mg(run, 'dry_weight') * 2 / 1000:.3f} g"
    return "batches", run, "dry_weight"


@plants
def received_into_own_lot(plot: Plot) -> Any:
    lot = plot.choose(plot.rows("lots"))
    when = plot.last_day(lot) + ONE
    plot.need(when <= plot.end)
    came = plot.add("movements", date=when, lot=lot["lot"], kind="received", weight="2 g", party=SUPPLIER,
                    document=f"N-{plot.fresh()}", status=lot["status"])  # fmt: skip
    return "movements", came, "lot"


@plants
def returned_seed_mixed(plot: Plot) -> Any:
    if plot.random.randrange(2):
        back = plot.choose([one for one in plot.rows("movements") if one["kind"] == "returned"])
        back["opened"] = True
        if plot.random.randrange(2):
            del back["opened"]
        return "movements", back, "opened"
    lot = plot.choose(plot.rows("lots"))
    when = plot.last_day(lot) + ONE
    plot.need(when <= plot.end)
    # More than that buyer had of it.
    back = plot.add("movements", date=when, lot=lot["lot"], kind="returned", weight=f"{plot.mg(lot)} g",
                    party=OTHER_BUYER, document=f"R-{plot.fresh()}", opened=False)  # fmt: skip
    return "movements", back, "weight"


@plants
def suspect_seed_left(plot: Plot) -> Any:
    drawn = {part["lot"] for one in plot.rows("lots") for part in one["sources"] if "lot" in part}
    sold = {one["lot"] for one in plot.out()}
    lot = plot.choose([one for one in plot.claiming("lots") if one["lot"] in sold - drawn])
    sales = [one for one in plot.out() if one["lot"] == lot["lot"]]
    plot.touch(*sales)
    lot |= {"container_use": "re-used", "container_cleaned": lot["packed"] - timedelta(days=1)}
    lot.pop("previous_contents", None)
    told = Expected("packaging-reused", "lots", lot, ("previous_contents",))
    return [told, *(("movements", one, "lot") for one in sales)]


@plants
def sold_while_held(plot: Plot) -> Any:
    organic = {one["lot"] for one in plot.organic("lots")}
    move = plot.choose([one for one in plot.out() if one["lot"] in organic])
    lot = plot.of("lots", move["lot"])
    later = [one for one in plot.all("movements") if one["lot"] == move["lot"] and one is not move]
    plot.need(
        all(one["date"] < move["date"] for one in later if one["kind"] in {"sold", "transferred", "sown"})
    )
    # A test since then would be an answer.
    tests = [one for one in plot.all("tests") if one["lot"] == move["lot"]]
    plot.need(all(one["date"] < move["date"] - ONE for one in tests))
    plot.touch(lot)
    made = plot.add_incident(date=move["date"] - ONE, about=[move["lot"]], held_from=move["date"] - ONE,
                             closed=plot.end, certifier_notified=move["date"])  # fmt: skip
    unresolved = Expected("incident-unresolved", "incidents", made, ("evidence",))
    return [unresolved, ("movements", move, "date")]
