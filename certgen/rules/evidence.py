"""What shows each obligation of the claim: a column over its table, row for row.

Each function says what is there, not what is wrong; a value that is missing shows nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.records.rows import look_up
from certgen.rules.seed.purchases import shown_by_packet, shown_plantings

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.rules.case import Case


def _true(values: Series[Any]) -> Series[bool]:
    return values.fillna(value=False).astype(bool)


def _by_row(frame: DataFrame, rows: Series[Any], values: Series[bool]) -> Series[bool]:
    """For each row of a table whether all its parts are shown; false where it has none."""
    whole = values.groupby(rows).all()
    return _true(look_up(frame.index.to_series(), whole))


def lot_through_packet(case: Case) -> list[str]:
    """For each lot "packet" where a part of it is shown by a supplier's packet."""
    rows = set(case.packed["lot_row"][shown_by_packet(case)].tolist())
    return ["packet" if row in rows else "" for row in range(len(case.season.table("lots")))]


def planting_through_packet(case: Case) -> list[str]:
    """For each planting "packet" where its supplier's packet shows where it came from."""
    rows = shown_plantings(case)
    return ["packet" if row in rows else "" for row in range(len(case.season.table("plantings")))]


def lot_sources(case: Case) -> Series[bool]:
    """Named runs and lots, that are there, and suppliers whose packets vouch, add up to the lot."""
    from certgen.rules.seed.lots import list_circles

    lots, packed = case.season.table("lots"), case.packed
    known = packed["batch"].isin(case.keyed("batches").index) | packed["source_lot"].isin(
        case.keyed("lots").index
    )
    known |= shown_by_packet(case)
    known &= packed[["batch", "source_lot", "supplier"]].notna().sum(axis="columns") == 1
    given = packed["weight_mg"].where(known, 0).groupby(packed["lot_row"]).agg(["sum", "size"])
    row = lots.index.to_series()
    slack = look_up(row, given["size"]).clip(lower=case.scale_step_mg)
    short = lots["weight_mg"] - look_up(row, given["sum"])
    circular = {lot for lots in list_circles(case) for lot in lots}
    return _true(short <= slack) & _by_row(lots, packed["lot_row"], known) & ~lots["lot"].isin(circular)


def lot_variety(case: Case) -> Series[bool]:
    """Every part is of one known variety, the lot's."""
    from certgen.rules.seed.lots import list_parts

    parts = list_parts(case)
    same = _true(parts["variety"] == parts["lot_variety"])
    return _by_row(case.season.table("lots"), parts["lot_row"], same)


def lot_status(case: Case) -> Series[bool]:
    """No part is of a lower status than the lot is called."""
    from certgen.rules.seed.lots import list_parts

    parts = list_parts(case)
    good = _true(parts["status"] == "organic") | (
        parts["status"].notna() & (parts["lot_status"] != "organic")
    )
    return _by_row(case.season.table("lots"), parts["lot_row"], good)


def lot_packaging(case: Case) -> Series[bool]:
    """New packaging that is named; used packaging whose contents and cleaning are. None that contains what
    is barred, or held it and wasn't cleaned."""
    from certgen.rules.seed.storage import contains_banned, held_banned, is_cleaned

    lots = case.season.table("lots")
    clean = lots["previous_contents"].notna() & is_cleaned(lots)
    barred = contains_banned(lots) | (held_banned(lots) & ~is_cleaned(lots))
    barred |= lots["packaging_contains"] == "unknown"
    fit = (lots["container_use"] == "new") | ((lots["container_use"] == "re-used") & clean)
    claims = lots["status"] != "conventional"
    return ~claims | (lots["packaging"].notna() & _true(fit) & ~barred)


def lot_undisturbed(case: Case) -> Series[bool]:
    """The lot's book shows nothing that came in from elsewhere."""
    lots = case.season.table("lots")["lot"]
    still = {lot for lot, book in case.books.items() if not book.mixing}
    return lots.isin(still)


def lot_accounted(case: Case) -> Series[bool]:
    """The lot's book meets every count, is never below nothing, and its sources weigh no more than it."""
    lots, packed = case.season.table("lots"), case.packed
    met = {lot for lot, book in case.books.items() if not book.missing and book.overdrawn is None}
    given = packed.groupby("lot_row")["weight_mg"].agg(["sum", "size"])
    row = lots.index.to_series()
    slack = look_up(row, given["size"]).fillna(0).clip(lower=case.scale_step_mg)
    over = look_up(row, given["sum"]).fillna(0) - lots["weight_mg"]
    return lots["lot"].isin(met) & _true(over <= slack)


def run_pickings(case: Case) -> Series[bool]:
    """Pickings that are there, and no other seed beside them."""
    batches, processed = case.season.table("batches"), case.processed
    return (
        _by_row(batches, processed["batch_row"], processed["harvest_row"].notna())
        & batches["other_seed"].isna()
    )


def run_weight(case: Case) -> Series[bool]:
    """The dry seed is weighed, fits its fruit, and was not overdrawn."""
    from certgen.rules.harvest.drying import find_impossible
    from certgen.rules.seed.stock import tell_drawn

    batches = case.season.table("batches")
    drawn = tell_drawn(case)
    over = drawn["drawn"] - drawn["slack"] > drawn["dry_weight_mg"]
    wrong = {*find_impossible(case), *drawn.index[_true(over)].tolist()}
    harvests = case.season.table("harvests")
    practice = case.practice("fruit_weight_g")
    each = harvests["weight_mg"].astype("Float64") / harvests["fruits"].astype("Float64") / 1000
    odd = (
        harvests["harvest"].isna()
        if practice is None
        else (each < practice.limits[0]) | (each > practice.limits[1])
    )
    of_odd = case.processed["batch_row"][case.processed["harvest"].isin(harvests["harvest"][_true(odd)])]
    weighed = batches["dry_weight_mg"].notna()
    return weighed & ~batches.index.isin(list(wrong)) & ~batches.index.isin(of_odd)


def run_unmixed(case: Case) -> Series[bool]:
    """One variety, and no picking of a lower status than the run is called."""
    batches, processed = case.season.table("batches"), case.processed
    varieties = case.batch_varieties["batch"].value_counts()
    one = _true(look_up(batches["batch"], varieties) == 1)
    claimed = look_up(processed["batch_row"], batches["status"])
    good = _true(processed["harvest_status"] == "organic") | (claimed != "organic")
    return one & _by_row(batches, processed["batch_row"], good)


def run_equipment(case: Case) -> Series[bool]:
    """Nothing of other seed stands between a cleaning and the run, on equipment that is named."""
    from certgen.rules.harvest.equipment import handles_other_seed

    batches = case.season.table("batches")
    named = (batches["equipment"].str.len() > 0) | (not handles_other_seed(case))
    return named & ~batches.index.isin(list(case.dirty_runs))


def run_remainder(case: Case) -> Series[bool]:
    """What was dried was packed or given an end."""
    from certgen.rules.seed.stock import tell_drawn

    batches, drawn = case.season.table("batches"), tell_drawn(case)
    rest = drawn["dry_weight_mg"] - drawn["drawn"] - drawn["kept"]
    met = drawn.index[_true(rest.abs() <= drawn["slack"])]
    return batches.index.to_series().isin(met)


def picking_bags(case: Case) -> Series[bool]:
    """Every fruit has its bag, and no bag more fruit than it can bear."""
    harvests, picked = case.season.table("harvests"), case.picked
    each = case.practice("fruits_per_bag")
    known = picked["bag_row"].notna() & ~picked["loose"]
    bags = picked["bag"].groupby(picked["harvest_row"]).nunique()
    row = harvests.index.to_series()
    most = look_up(row, bags) * (1 if each is None or each.high is None else each.high)
    fits = _true(harvests["fruits"].astype("Float64") <= most)
    times = picked["bag"].value_counts()
    spent = set(times.index[times > (1 if each is None or each.high is None else each.high)])
    again = picked["harvest_row"][picked["bag"].isin(spent)]
    empty = _true(harvests["fruits"] == 0)
    return (empty | (_by_row(harvests, picked["harvest_row"], known) & fits)) & ~row.isin(again)


def picking_land(case: Case) -> Series[bool]:
    """The ground of each fruit was organic, certified since before, with its history."""
    harvests, picked, blocks = case.season.table("harvests"), case.picked, case.keyed("blocks")
    since = look_up(picked["block"], blocks["organic_since"])
    told = look_up(picked["block"], blocks["last_prohibited_substance"])
    history = (since.notna() & told.notna()) | (not case.demand("land_years"))
    good = (
        _true(look_up(picked["block"], blocks["status"]) == "organic") & ~(picked["date"] < since) & history
    )
    claims = look_up(picked["harvest_row"], harvests["status"]) == "organic"
    empty = _true(harvests["fruits"] == 0)
    return empty | _by_row(harvests, picked["harvest_row"], good | ~_true(claims))


def bag_tag(case: Case) -> Series[bool]:
    """A tag with date, variety and tree that are the log's."""
    whole = (
        case.bags[["tag.date", "tag.tree", "tag.variety", "covered", "variety"]].notna().all(axis="columns")
    )
    return whole & ~case.tags_that_differ.any(axis="columns")


def bag_bud(case: Case) -> Series[bool]:
    """The flower was a closed bud."""
    return case.bags["stage"].isin(case.profile.role("closed_stages"))


def bag_flower(case: Case) -> Series[bool]:
    """A flower that sets seed of its own pollen, or one that was given a fit tree's."""
    bags, profile, trees = case.bags, case.profile, case.tree_of
    selfing = bags["flower"].isin(profile.role("selfing_flowers"))
    crossing = bags["flower"].isin(profile.role("crossing_flowers"))
    given = bags["pollen_parent"]
    same = _true(look_up(given, trees["variety"]) == bags["variety"])
    fit = same & ~look_up(given, trees["sex"]).isin(profile.role("needs_pollen_parent"))
    other = bags["sex"].isin(profile.words["flowers"]) & (bags["flower"] != bags["sex"])
    return ((selfing & (given.isna() | fit)) | (crossing & given.notna() & fit)) & ~_true(other)


def bag_tied(case: Case) -> Series[bool]:
    """Somebody says that it was tied."""
    return _true(case.bags["secured"])


def bag_held(case: Case) -> Series[bool]:
    """Looks, or the day it came off, show that it lasted."""
    return case.protection["state"] == "held"


def bag_clean(case: Case) -> Series[bool]:
    """New, or used with its contents told and washed before."""
    bags = case.bags
    washed = bags["previous_contents"].notna() & _true(bags["bag_cleaned"] <= bags["covered"])
    return _true(bags["bag_use"] == "new") | (_true(bags["bag_use"] == "re-used") & washed)


def bag_tag_own(case: Case) -> Series[bool]:
    """No bag with the same words on its tag failed, or is another bag by its log."""
    from certgen.rules.pollination.bagging import faulty_covers

    tags = case.tag_texts
    wrong = faulty_covers(case)[0] | case.tags_that_differ.any(axis="columns")
    bad = set(tags[wrong].dropna())
    return ~(tags.isin(bad) & ~wrong & tags.duplicated(keep=False) & tags.notna())


def bag_fruit(case: Case) -> Series[bool]:
    """Its fruit was picked under the cover or by its mark, once, and in a time in which it can ripen."""
    bags, picked = case.bags, case.picked
    uncovered, marked = (
        look_up(picked["bag"], case.keyed("bagging")["uncovered"]),
        look_up(picked["bag"], case.keyed("bagging")["fruit_marked"]),
    )
    told = ~(uncovered < picked["date"]) | _true(marked)
    practice = case.practice("days_covering_to_picking")
    days = (picked["date"] - picked["covered"]).dt.days
    ripe = (
        (days >= practice.range[0]) & (days <= practice.limits[1]) if practice is not None else days.notna()
    )
    good = (told & _true(ripe)).groupby(picked["bag_row"]).all()
    outcome = bags["outcome"].isin(["dropped", "lost"])
    return _true(look_up(bags.index.to_series(), good)) & ~outcome


def bag_tree(case: Case) -> Series[bool]:
    """Its tree, and the one that gave the pollen, stood there on that day; and could flower."""
    bags, trees = case.bags, case.tree_of
    practice = case.practice("days_planting_to_flowering")
    least = 0 if practice is None else practice.limits[0]
    age = (bags["covered"] - bags["planted"]).dt.days
    there = _true(age >= max(least, 0)) & ~_true(bags["removed"] < bags["covered"])
    given = bags["pollen_parent"]
    gave = _true(look_up(given, trees["planted"]) <= bags["covered"]) & ~_true(
        look_up(given, trees["removed"]) < bags["covered"]
    )
    return there & (given.isna() | gave)


def bag_screened(case: Case) -> Series[bool]:
    """Sound samples had cleared both parents of every event by the day on which the flower was covered."""
    bags, cleared, trees = case.bags, case.soundly_cleared, case.tree_of
    clear = set(trees.index[trees["verdict"] == "clear"])

    def is_clear(parents: Series[Any]) -> Series[bool]:
        return parents.isin(clear) & _true(look_up(parents, cleared) <= bags["covered"])

    return is_clear(bags["tree"]) & (bags["pollen_parent"].isna() | is_clear(bags["pollen_parent"]))


def bag_screened_by(case: Case) -> list[str]:
    """For each bag whose word clears its tree: that of a letter on many samples, or the sample's own."""
    attested = case.season.attested
    columns = [attested[key] for key in _OF_LETTERS if key in attested]
    told = case.samples[["row", "tree"]]
    lettered = [any(column[row].startswith("letter") for column in columns) for row in told["row"].tolist()]
    trees = set(told["tree"][lettered])
    return ["letter" if tree in trees else "" for tree in case.season.table("bagging")["tree"].tolist()]


#: What a laboratory's letter says of all its samples.
_OF_LETTERS: Final = tuple(("screening", field) for field in ("result", "report", "reported", "controls"))


def planting_origin(case: Case) -> Series[bool]:
    """An own lot of the same name and status, or a supplier with the papers that the material needs."""
    from certgen.rules.growing.plantings import excepts_seed_growing

    plantings, lots = case.plantings, case.keyed("lots")
    lot = plantings["origin.lot"]
    same = _true(case.spelling.spell(look_up(lot, lots["variety"])) == plantings["variety"])
    own = same & (
        _true(look_up(lot, lots["status"]) == "organic") | (plantings["material_status"] != "organic")
    )
    paper = plantings["origin.certificate"].notna() | (plantings["evidence"].str.len() > 0)
    paper |= plantings.index.isin(list(shown_plantings(case)))
    bought = plantings["origin.supplier"].notna() & lot.isna()
    organic = plantings["material_status"] == "organic"
    excepted = excepts_seed_growing(case)
    searched = (plantings["search_log"].str.len() > 0) | excepted
    stated = (plantings["non_gm_statement"].str.len() > 0) | lot.notna()
    treated = (
        (plantings["material_status"] == "treated") & (plantings["evidence"].str.len() == 0) & (not excepted)
    )
    kept = plantings["block_status"].isin(["organic", "transitional"])
    good = (own | bought) & (organic & (own | paper) | ~organic & searched & stated & ~treated)
    return ~kept | good


def block_edges(case: Case) -> Series[bool]:
    """The block's edges are described as the standards ask."""
    from certgen.rules.growing.orchard import lacking_edges

    blocks = case.season.table("blocks")
    lacking = lacking_edges(case)
    whole = ~lacking.any(axis="columns") if len(lacking.columns) else blocks["block"].notna()
    return whole | (blocks["status"] != "organic")
