"""What shows each obligation of the claim: a column over its table, row for row.

Each function says what is there, not what is wrong; a value that is missing shows nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.records.columns import days_from, group_rows, is_equal, is_in, is_known, is_shared
from certgen.rules.seed.purchases import shown_by_packet, shown_plantings

if TYPE_CHECKING:
    from collections.abc import Container

    from certgen.records.columns import Array
    from certgen.rules.case import Case


def _is_yes(answers: Array) -> Array:
    return is_in(answers, (True,))


def _whole(size: int, rows: Array, shown: Array) -> Array:
    """For each row of a table of that size whether all its parts are shown; false where it has none."""
    parts = np.bincount(rows, minlength=size)
    return (parts > 0) & (np.bincount(rows[shown], minlength=size) == parts)


def _without(size: int, rows: Container[int]) -> Array:
    """For each row of a table of that size whether it is none of these."""
    return np.array([row not in rows for row in range(size)], dtype=bool)


def lot_through_packet(case: Case) -> list[str]:
    """For each lot "packet" where a part of it is shown by a supplier's packet."""
    rows = set(case.joined("packed")["lot_row"][shown_by_packet(case)].tolist())
    return ["packet" if row in rows else "" for row in range(len(case.columns("lots")))]


def planting_through_packet(case: Case) -> list[str]:
    """For each planting "packet" where its supplier's packet shows where it came from."""
    rows = shown_plantings(case)
    return ["packet" if row in rows else "" for row in range(len(case.columns("plantings")))]


def _given(case: Case, counted: Array | None = None) -> tuple[Array, Array]:
    """For each lot how many parts it names, and what those that count weigh together, in milligrams."""
    packed, size = case.joined("packed"), len(case.columns("lots"))
    masses = np.nan_to_num(packed["weight_mg"])
    masses = masses if counted is None else np.where(counted, masses, 0)
    rows = packed["lot_row"]
    return np.bincount(rows, minlength=size), np.bincount(rows, weights=masses, minlength=size)


def lot_sources(case: Case) -> Array:
    """Named runs and lots, that are there, and suppliers whose packets vouch, add up to the lot."""
    from certgen.rules.seed.lots import list_circles

    lots, packed = case.columns("lots"), case.joined("packed")
    known = is_in(packed["batch"], case.columns("batches").first("batch"))
    known |= is_in(packed["source_lot"], lots.first("lot"))
    known |= shown_by_packet(case)
    named = [packed.known(name).astype("int64") for name in ("batch", "source_lot", "supplier")]
    known &= np.add.reduce(named) == 1
    parts, given = _given(case, known)
    circular = {lot for lots in list_circles(case) for lot in lots}
    met = lots["weight_mg"] - given <= np.maximum(parts, case.scale_step_mg)
    return met & _whole(len(lots), packed["lot_row"], known) & ~is_in(lots["lot"], circular)


def lot_variety(case: Case) -> Array:
    """Every part is of one known variety, the lot's."""
    from certgen.rules.seed.lots import list_parts

    parts = list_parts(case)
    same = is_equal(parts["variety"], parts["lot_variety"])
    return _whole(len(case.columns("lots")), parts["lot_row"], same)


def lot_status(case: Case) -> Array:
    """No part is of a lower status than the lot is called."""
    from certgen.rules.seed.lots import list_parts

    parts = list_parts(case)
    status, called = parts["status"], parts["lot_status"]
    good = (status == "organic") | (is_known(status) & (called != "organic"))
    return _whole(len(case.columns("lots")), parts["lot_row"], good)


def lot_packaging(case: Case) -> Array:
    """New packaging that is named; used packaging whose contents and cleaning are. None that contains what
    is barred, or held it and wasn't cleaned."""
    from certgen.rules.seed.storage import contains_banned, held_banned, is_cleaned

    lots = case.columns("lots")
    cleaned = is_cleaned(lots)
    barred = contains_banned(lots) | (held_banned(lots) & ~cleaned)
    barred |= lots["packaging_contains"] == "unknown"
    used = (lots["container_use"] == "re-used") & lots.known("previous_contents") & cleaned
    fit = (lots["container_use"] == "new") | used
    return (lots["status"] == "conventional") | (lots.known("packaging") & fit & ~barred)


def lot_undisturbed(case: Case) -> Array:
    """The lot's book shows nothing that came in from elsewhere."""
    still = {lot for lot, book in case.books.items() if not book.mixing}
    return is_in(case.columns("lots")["lot"], still)


def lot_accounted(case: Case) -> Array:
    """The lot's book meets every count, is never below nothing, and its sources weigh no more than it."""
    lots = case.columns("lots")
    met = {lot for lot, book in case.books.items() if not book.missing and book.overdrawn is None}
    parts, given = _given(case)
    return is_in(lots["lot"], met) & (given - lots["weight_mg"] <= np.maximum(parts, case.scale_step_mg))


def run_pickings(case: Case) -> Array:
    """Pickings that are there, and no other seed beside them."""
    runs, processed = case.columns("batches"), case.joined("processed")
    there = _whole(len(runs), processed["batch_row"], processed.known("harvest_row"))
    return there & runs.absent("other_seed")


def run_weight(case: Case) -> Array:
    """The dry seed is weighed, fits its fruit, and was not overdrawn."""
    from certgen.rules.harvest.drying import find_impossible
    from certgen.rules.seed.stock import tell_drawn

    runs, harvests, processed = case.columns("batches"), case.columns("harvests"), case.joined("processed")
    drawn = tell_drawn(case)
    over = drawn["drawn"] - drawn["slack"] > drawn["dry_weight_mg"]
    wrong = {*find_impossible(case), *np.flatnonzero(over).tolist()}
    practice = case.practice("fruit_weight_g")
    if practice is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            each = harvests["weight_mg"] / harvests["fruits"] / 1000
        odd = set(harvests["harvest"][(each < practice.limits[0]) | (each > practice.limits[1])].tolist())
        wrong |= set(processed["batch_row"][is_in(processed["harvest"], odd)].tolist())
    return runs.known("dry_weight_mg") & _without(len(runs), wrong)


def run_unmixed(case: Case) -> Array:
    """One variety, and no picking of a lower status than the run is called."""
    runs, processed = case.columns("batches"), case.joined("processed")
    varieties = group_rows(case.joined("batch_varieties")["batch"])
    one = {batch for batch, rows in varieties.items() if len(rows) == 1}
    claimed = runs["status"][processed["batch_row"]]
    good = (processed["harvest_status"] == "organic") | (claimed != "organic")
    return is_in(runs["batch"], one) & _whole(len(runs), processed["batch_row"], good)


def run_equipment(case: Case) -> Array:
    """Nothing of other seed stands between a cleaning and the run, on equipment that is named."""
    from certgen.rules.harvest.equipment import handles_other_seed

    runs = case.columns("batches")
    clean = _without(len(runs), case.dirty_runs)
    return clean & runs.known("equipment") if handles_other_seed(case) else clean


def run_remainder(case: Case) -> Array:
    """What was dried was packed or given an end."""
    from certgen.rules.seed.stock import tell_drawn

    drawn = tell_drawn(case)
    met: Array = np.abs(drawn["dry_weight_mg"] - drawn["drawn"] - drawn["kept"]) <= drawn["slack"]
    return met


def picking_bags(case: Case) -> Array:
    """Every fruit has its bag, and no bag more fruit than it can bear."""
    harvests, picked = case.columns("harvests"), case.joined("picked")
    practice = case.practice("fruits_per_bag")
    each = 1 if practice is None or practice.high is None else practice.high
    row, bag = picked["harvest_row"], picked["bag"]
    pairs = {pair for pair in zip(row.tolist(), bag.tolist(), strict=True) if pair[1] is not None}
    bags = np.bincount([at for at, _ in pairs], minlength=len(harvests)) if pairs else np.zeros(len(harvests))
    fits = (harvests["fruits"] <= bags * each) & (bags > 0)
    spent = {one for one, rows in group_rows(bag).items() if len(rows) > each}
    again = set(row[is_in(bag, spent)].tolist())
    known = picked.known("bag_row") & ~picked["loose"]
    bagged = _whole(len(harvests), row, known) & fits
    return ((harvests["fruits"] == 0) | bagged) & _without(len(harvests), again)


def picking_land(case: Case) -> Array:
    """The ground of each fruit was organic, certified since before, with its history."""
    harvests, picked, blocks = case.columns("harvests"), case.joined("picked"), case.columns("blocks")
    block = blocks.find("block", picked["block"])
    since = blocks.at("organic_since", block)
    told = is_known(since) & is_known(blocks.at("last_prohibited_substance", block))
    good = (blocks.at("status", block) == "organic") & ~(picked["date"] < since)
    if case.demand("land_years"):
        good &= told
    claims = harvests["status"][picked["harvest_row"]] == "organic"
    return (harvests["fruits"] == 0) | _whole(len(harvests), picked["harvest_row"], good | ~claims)


def bag_tag(case: Case) -> Array:
    """A tag with date, variety and tree that are the log's."""
    bags = case.joined("bags")
    named = ("tag.date", "tag.tree", "tag.variety", "covered", "variety")
    whole: Array = np.logical_and.reduce([bags.known(name) for name in named])
    return whole & ~_tags_that_differ(case)


def _tags_that_differ(case: Case) -> Array:
    differs = case.joined("tags_that_differ")
    found: Array = np.logical_or.reduce(
        [differs[name] for name in ("other_tree", "other_date", "other_variety", "other_bag")]
    )
    return found


def bag_bud(case: Case) -> Array:
    """The flower was a closed bud."""
    return is_in(case.columns("bagging")["stage"], case.profile.role("closed_stages"))


def bag_flower(case: Case) -> Array:
    """A flower that sets seed of its own pollen, or one that was given a fit tree's."""
    bags, profile, trees = case.joined("bags"), case.profile, case.joined("trees")
    selfing = is_in(bags["flower"], profile.role("selfing_flowers"))
    crossing = is_in(bags["flower"], profile.role("crossing_flowers"))
    given, gave = bags.known("pollen_parent"), trees.find("tree", bags["pollen_parent"])
    fit = is_equal(trees.at("variety", gave), bags["variety"])
    fit &= ~is_in(trees.at("sex", gave), profile.role("needs_pollen_parent"))
    other = is_in(bags["sex"], profile.words["flowers"]) & (bags["flower"] != bags["sex"])
    return ((selfing & (~given | fit)) | (crossing & given & fit)) & ~other


def bag_tied(case: Case) -> Array:
    """Somebody says that it was tied."""
    return _is_yes(case.columns("bagging")["secured"])


def bag_held(case: Case) -> Array:
    """Looks, or the day it came off, show that it lasted."""
    held: Array = case.joined("protection")["state"] == "held"
    return held


def bag_clean(case: Case) -> Array:
    """New, or used with its contents told and washed before."""
    bags = case.columns("bagging")
    washed = bags.known("previous_contents") & (bags["bag_cleaned"] <= bags["covered"])
    clean: Array = (bags["bag_use"] == "new") | ((bags["bag_use"] == "re-used") & washed)
    return clean


def bag_tag_own(case: Case) -> Array:
    """No bag with the same words on its tag failed, or is another bag by its log."""
    from certgen.rules.pollination.bagging import faulty_covers

    tags = case.tag_texts
    wrong = faulty_covers(case)[0] | _tags_that_differ(case)
    bad = {tag for tag in tags[wrong].tolist() if tag is not None}
    return ~(is_in(tags, bad) & ~wrong & is_shared(tags))


def bag_fruit(case: Case) -> Array:
    """Its fruit was picked under the cover or by its mark, once, and in a time in which it can ripen."""
    bags, picked = case.columns("bagging"), case.joined("picked")
    bag = bags.find("bag", picked["bag"])
    told = ~(bags.at("uncovered", bag) < picked["date"]) | _is_yes(bags.at("fruit_marked", bag))
    practice = case.practice("days_covering_to_picking")
    days = days_from(picked["covered"], picked["date"])
    ripe = is_known(days)
    if practice is not None:
        ripe = (days >= practice.range[0]) & (days <= practice.limits[1])
    hung = bag >= 0
    whole = _whole(len(bags), bag[hung], (told & ripe)[hung])
    return whole & ~is_in(bags["outcome"], ("dropped", "lost"))


def bag_tree(case: Case) -> Array:
    """Its tree, and the one that gave the pollen, stood there on that day; and could flower."""
    bags, trees = case.joined("bags"), case.joined("trees")
    practice = case.practice("days_planting_to_flowering")
    least = 0 if practice is None else practice.limits[0]
    age = days_from(bags["planted"], bags["covered"])
    there = (age >= max(least, 0)) & ~(bags["removed"] < bags["covered"])
    given = trees.find("tree", bags["pollen_parent"])
    gave = (trees.at("planted", given) <= bags["covered"]) & ~(trees.at("removed", given) < bags["covered"])
    return there & (bags.absent("pollen_parent") | gave)


def bag_screened(case: Case) -> Array:
    """Sound samples had cleared both parents of every event by the day on which the flower was covered."""
    bags, verdicts = case.columns("bagging"), case.joined("verdicts")
    clear = set(verdicts["tree"][verdicts["verdict"] == "clear"].tolist())
    cleared = {tree: day for tree, day in case.soundly_cleared.items() if tree in clear and day is not None}

    def is_clear(parents: Array) -> Array:
        days = [cleared.get(parent, "NaT") for parent in parents.tolist()]
        return np.array(days, dtype="datetime64[s]") <= bags["covered"]

    return is_clear(bags["tree"]) & (bags.absent("pollen_parent") | is_clear(bags["pollen_parent"]))


def bag_screened_by(case: Case) -> list[str]:
    """For each bag whose word clears its tree: that of a letter on many samples, or the sample's own."""
    attested, samples = case.season.attested, case.joined("samples")
    columns = [attested[key] for key in _OF_LETTERS if key in attested]
    told = zip(samples["row"].tolist(), samples["tree"].tolist(), strict=True)
    trees = {tree for row, tree in told if any(column[row].startswith("letter") for column in columns)}
    return ["letter" if tree in trees else "" for tree in case.columns("bagging")["tree"].tolist()]


#: What a laboratory's letter says of all its samples.
_OF_LETTERS: Final = tuple(("screening", field) for field in ("result", "report", "reported", "controls"))


def planting_origin(case: Case) -> Array:
    """An own lot of the same name and status, or a supplier with the papers that the material needs."""
    from certgen.rules.growing.plantings import excepts_seed_growing

    plantings, lots = case.joined("plantings"), case.columns("lots")
    material, lot = plantings["material_status"], lots.find("lot", plantings["origin.lot"])
    same = is_equal(case.spelling.spell(lots.at("variety", lot)), plantings["variety"])
    own = same & ((lots.at("status", lot) == "organic") | (material != "organic"))
    paper = plantings.known("origin.certificate") | plantings.known("evidence")
    paper |= ~_without(len(plantings), shown_plantings(case))
    bought = plantings.known("origin.supplier") & plantings.absent("origin.lot")
    organic = material == "organic"
    if excepts_seed_growing(case):
        searched, treated = np.ones(len(plantings), dtype=bool), np.zeros(len(plantings), dtype=bool)
    else:
        searched = plantings.known("search_log")
        treated = (material == "treated") & plantings.absent("evidence")
    stated = plantings.known("non_gm_statement") | plantings.known("origin.lot")
    kept = is_in(plantings["block_status"], ("organic", "transitional"))
    good = (own | bought) & (organic & (own | paper) | ~organic & searched & stated & ~treated)
    return ~kept | good


def block_edges(case: Case) -> Array:
    """The block's edges are described as the standards ask."""
    from certgen.rules.growing.orchard import lacking_edges

    blocks = case.columns("blocks")
    open_: Array = np.zeros(len(blocks), dtype=bool)
    for lacking in lacking_edges(case).values():
        open_ |= lacking
    return ~open_ | (blocks["status"] != "organic")
