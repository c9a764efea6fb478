"""The standing of every lot that a season tells of, by gram."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from second_engine.equipment import write_equipment
from second_engine.facts import Writer
from second_engine.farm import Farm, Thing
from second_engine.grams import REJECTED, TRACED, UNPROVEN, Account, Grams
from second_engine.measures import Measures
from second_engine.reading import read_seasons, same_operation
from second_engine.said import Said
from second_engine.seed_tests import Tests
from second_engine.solving import Answer, solve
from second_engine.vouching import Vouching
from second_engine.weights import Weights


@dataclass(frozen=True)
class Standing:
    """A lot's grams in milligrams, the word for it, and what touches it."""

    standing: str
    weight: int
    traced: int
    unproven: int
    rejected: int
    unaccounted: int
    why: tuple[str, ...] = ()

    @property
    def masses(self) -> tuple[int, int, int, int]:
        """Traced, unproven, rejected and unaccounted."""
        return self.traced, self.unproven, self.rejected, self.unaccounted


def standings(folder: Path, on: date) -> dict[str, Standing]:
    """Every lot that the season in a folder tells of, as known on a day; by its number."""
    seasons = read_seasons(folder)
    alien = {one.at for one in seasons if not same_operation(one, seasons[0])}
    farm = Farm(seasons)
    said = Said(farm, {one.at for one in seasons} - alien)
    said.write()
    farm.join()
    writer = Writer(farm, on.toordinal(), alien)
    writer.write()
    Measures(farm, writer, said).write()
    Tests(farm, writer).write()
    Vouching(farm, writer, on.toordinal()).write()
    weights = Weights(farm, writer)
    weights.write()
    write_equipment(farm, writer, weights)
    answer = solve(writer.facts.text())
    lots = [one for one in farm.things if one.table == "lots"]
    grams = Grams(weights, answer, lots, _sown(farm))
    for planting in farm.things:
        lot = planting.fields.get("origin", {}).get("lot") if planting.table == "plantings" else None
        origin = lot and farm.thing("lots", lot, planting.season)
        if origin:
            grams.plantings[planting.id] = (origin.id, planting.day("planted") or 0)
    found: dict[str, Standing] = {}
    for lot in lots:
        account = grams.account(lot.id)
        if farm.thing("lots", lot.key, lot.season) is not lot:
            # A second record of one number: nobody can name it.
            continue
        if account is not None and _told_of(lot, farm, weights, account, answer):
            name = lot.key if lot.key not in found else f"{lot.key} ({seasons[lot.season].details['label']})"
            found[name] = _standing(lot, account, answer, grams)
    return found


def _sown(farm: Farm) -> dict[tuple[int, int], int]:
    found = {}
    for move in farm.things:
        if move.table == "movements" and move.fields["kind"] == "sown" and "planting" in move.fields:
            lot = farm.thing("lots", move.fields["lot"], move.season)
            planting = farm.thing("plantings", move.fields["planting"], move.season)
            if lot and planting:
                found.setdefault((lot.id, planting.id), move.id)
    return found


def _told_of(lot: Thing, farm: Farm, weights: Weights, account: Account, answer: Answer) -> bool:
    """This season's lots, and earlier ones that it moves, blends, was left with, or speaks against."""
    if lot.season == 0 or lot.id in answer.against:
        return True
    for move in farm.things:
        if move.table == "movements" and move.season == 0 and move.fields["lot"] == lot.key:
            return True
    for drawer, part, _ in weights.writer.parts:
        if drawer.season == 0 and weights.sources[part][0] is lot:
            return True
    # Also one that was packed after its season's end, which no count of that year can know.
    return bool(account.closes) and account.closes[-1][1] > farm.seasons[1].step


def _standing(lot: Thing, account: Account, answer: Answer, grams: Grams) -> Standing:
    masses = [left + held for left, held in zip(account.left, account.held, strict=True)]
    custody = answer.custody.get(lot.id, set())
    word = "traced"
    if masses[REJECTED]:
        word = "rejected"
    elif masses[UNPROVEN] or account.unaccounted or custody:
        word = "unproven"
    why = {f"lot: {slug}" for slug in answer.touched.get(("lot", lot.id), ())}
    why |= {f"custody: {slug}" for slug in custody}
    for part in grams.parts[lot.id]:
        why |= {f"part: {slug}" for slug in answer.touched.get(("part", part), ())}
        named, _ = grams.weights.sources[part]
        if named is not None and named.table == "batches":
            why |= {f"run {named.key}: {slug}" for slug in answer.touched.get(("run", named.id), ())}
    why |= account.why
    for entry in grams.weights.books[lot.id]:
        why |= {f"{entry.kind}: {slug}" for slug in answer.touched.get(("move", entry.number), ())}
    return Standing(
        word, account.weight, masses[TRACED], masses[UNPROVEN], masses[REJECTED], account.unaccounted,
        tuple(sorted(why)),
    )  # fmt: skip
