"""How long each bag kept foreign pollen out, and what shows it.

A bag protects from the day it was put on to the last look that found it intact, or to its removal. A failure
that a look finds reaches back to the look before it; after a storm only a look tells whether the bag held.
The stigma takes pollen until the petals have fallen, or for as many days as the crop's profile says; of a
crop whose profile says nothing, until somebody has seen them fall.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.rules.case import Case

FAILURES: Final = ("torn", "loose", "gone")
#: What a bag's days come to: it held; nobody looked; it came off too soon; a storm came and nobody looked
#: since; it was found open later than the flower needed it, or while it did; nobody knows when it was put on.
STATES: Final = ("held", "unwatched", "early", "storm", "doubtful", "failed", "undated")


def list_looks(case: Case) -> DataFrame:
    """One row a look at a bag: `row` and number (`bag`), `position` in its list, `date`, `condition`.

    An incident of torn bags is a look as well: it has no position in the bag's own list (-1).
    """
    import pandas as pd

    frame = case.season.exploded("bagging", "checks")
    looks = frame["value"].tolist()
    dates = pd.Series([look.get("date") for look in looks], index=frame.index, dtype="datetime64[s]")
    words = pd.Series([look.get("condition") for look in looks], index=frame.index, dtype="str")
    own = frame.drop(columns="value").rename(columns={"id": "bag"}).assign(date=dates, condition=words)
    told = _torn_by_incident(case)
    return own if told.empty else pd.concat([own, told[own.columns]], ignore_index=True)


def _torn_by_incident(case: Case) -> DataFrame:
    incidents = case.season.table("incidents")
    about = case.season.exploded("incidents", "about")
    bags = case.keyed("bagging")
    torn = about[(look_up(about["row"], incidents["kind"]) == "torn bags") & about["value"].isin(bags.index)]
    return torn.assign(
        row=look_up(torn["value"], bags["row_of"]),
        bag=torn["value"],
        position=-1,
        date=look_up(torn["row"], incidents["date"]),
        condition="torn",
    )


def list_storms(case: Case) -> DataFrame:
    """One row a bag and storm that it hung through: `row` of the bag, `date`, and `source` in words."""
    import pandas as pd

    bags = case.bags
    told: list[tuple[Any, str, Series[bool]]] = []
    rounds = case.season.table("rounds")
    for at in rounds.index[rounds["kind"] == "storm"].tolist():
        entry = rounds.loc[at]
        hit = bags["block"].isin(entry["blocks"])
        hit |= bags["tree"].isin(_named(case, "trees", entry["trees"]))
        hit |= bags["bag"].isin(_named(case, "bagging", entry["bags"]))
        told.append((entry["date"], f"round {entry['round']}", hit))
    incidents = case.season.table("incidents")
    for at in incidents.index[incidents["kind"].isin(["storm", "torn bags"])].tolist():
        entry = incidents.loc[at]
        named = set(entry["about"])
        hit = bags["block"].isin(named) | bags["tree"].isin(named) | bags["planting"].isin(named)
        if entry["kind"] == "storm":
            hit |= bags["bag"].isin(named)
        told.append((entry["date"], f"incident {entry['incident']}", hit))
    found = [
        pd.DataFrame({"row": bags.index[hit], "date": day, "source": source}) for day, source, hit in told
    ]
    empty = pd.DataFrame(
        {"row": pd.Series(dtype="int64"), "date": pd.Series(dtype="datetime64[s]"), "source": ""}
    )
    return pd.concat(found, ignore_index=True) if found else empty


def _named(case: Case, table: str, entries: tuple[str, ...]) -> set[str]:
    return {name for entry in entries for name in case.ranges(table).expand(entry)}


def judge_bags(case: Case) -> DataFrame:
    """Bags, row for row: `need` (the day until which the cover was needed), `state`, and what it rests on.

    `looked` is the last look that found the bag intact before any failure, `failed` and `failure` the first
    that didn't; `storm` is the day of a storm that no look followed, `storm_source` who tells of it.
    """
    import pandas as pd

    bags = case.bags
    practice = case.practice("days_covered")
    covered, uncovered = bags["covered"], bags["uncovered"]
    need = bags["petal_fall"]
    if practice is not None and practice.low is not None:
        need = need.fillna(covered + pd.to_timedelta(practice.low, unit="D"))
    looks = case.checks
    # What was picked under its cover hung there until then.
    first = case.picked.groupby("bag_row")["date"].min()
    off = uncovered.fillna(look_up(bags.index.to_series(), first))
    looks = looks.assign(covered=look_up(looks["row"], covered), off=look_up(looks["row"], off))
    # Before it hung and after it came off a look says nothing.
    looks = looks[~(looks["date"] < looks["covered"]) & ~(looks["date"] > looks["off"])]
    bad = looks[looks["condition"].isin(FAILURES)].sort_values(["row", "date"], kind="stable")
    bad = bad[~bad["row"].duplicated()].set_index("row")
    failed, failure = (
        look_up(bags.index.to_series(), bad["date"]),
        look_up(bags.index.to_series(), bad["condition"]),
    )
    good = looks[looks["condition"] == "intact"]
    until = look_up(good["row"], failed)
    good = good[~(good["date"] >= until)]
    looked = look_up(bags.index.to_series(), good.groupby("row")["date"].max())
    storms = _unchecked_storms(case, bags, good, need)
    storm = look_up(bags.index.to_series(), storms["date"])
    seen = looked >= need
    removed = uncovered >= need
    broke = failure.notna()
    state = pd.Series("unwatched", index=bags.index, dtype="str")
    state = state.mask(removed & storm.isna() & ~broke, "held").mask(
        removed & storm.notna() & ~broke, "storm"
    )
    state = state.mask(uncovered < need, "early")
    state = state.mask(broke, "doubtful").mask(broke & ~(failed > need), "failed").mask(seen, "held")
    state = state.mask(covered.isna(), "undated")
    return pd.DataFrame({
        "need": need, "looked": looked, "failed": failed, "failure": failure, "storm": storm,
        "storm_source": look_up(bags.index.to_series(), storms["source"]), "state": state,
    })  # fmt: skip


def _unchecked_storms(case: Case, bags: DataFrame, good: DataFrame, need: Series[Any]) -> DataFrame:
    """By bag's row the storm that it hung through while it was needed, and after which nobody looked."""
    storms = list_storms(case)
    row = storms["row"]
    hung = (look_up(row, bags["covered"]) <= storms["date"]) & ~(
        look_up(row, bags["uncovered"]) < storms["date"]
    )
    last = look_up(row, good.groupby("row")["date"].max())
    open_ = storms[hung & (storms["date"] < look_up(row, need)) & ~(last > storms["date"])]
    return open_[~open_["row"].duplicated()].set_index("row")
