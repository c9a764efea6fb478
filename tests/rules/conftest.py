"""A season as the rules see it, and what one rule finds in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.lineage import build_lineage
from certgen.records.joining.farm import join_seasons
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook


@pytest.fixture(scope="session")
def case_of():
    """`case_of(season, *standards, on=…, profile=…)`: the season as the rules see it."""

    def case_of(season, *standards, on=date(2026, 10, 31), profile=None):
        rulebooks = tuple(load_rulebook(key) for key in standards or season.details.standards)
        profile = profile or load_profile(season.details.crop)
        farm = join_seasons(season)
        return Case(farm, build_lineage(farm), profile, rulebooks, on)

    return case_of


@pytest.fixture(scope="session")
def find(case_of):
    """`find(season, slug, *standards, on=…, profile=…)`: what one rule finds, run by itself."""

    def find(season, slug, *standards, on=date(2026, 10, 31), profile=None):
        case = case_of(season, *standards, on=on, profile=profile)
        found, crashed, _ = run_rules(case, {slug: RULES[slug]})
        assert () == crashed
        return found

    return find


@pytest.fixture(scope="session")
def crop():
    """`crop(rinses={"low": None}, drying_c=None)`: the profile with figures changed, or taken out."""

    def crop(**figures):
        profile = load_profile("papaya")
        practice = dict(profile.practice)
        for key, change in figures.items():
            figure = practice.pop(key)
            if change is not None:
                practice[key] = replace(figure, **change)
        return replace(profile, practice=practice)

    return crop


@pytest.fixture
def stocked(seasons):
    """`stocked(**tables)`: one tree, bag, picking, batch X1 of 8 g and lot L1; tables given replace these."""

    def build(**tables):
        return seasons.season_of(**{**seasons.one_line(), **tables})

    return build


@pytest.fixture
def last_year(seasons):
    """`last_year(**tables)`: the season before, of one line as well: tree T9, picking H9, run X9, lot K1."""

    def shift(value):
        if isinstance(value, dict):
            return {name: shift(part) for name, part in value.items()}
        if isinstance(value, (list, tuple)):
            return [shift(part) for part in value]
        return value - timedelta(365) if isinstance(value, date) else value

    def build(**tables):
        planting = seasons.planting("P9", planted=date(2023, 2, 10))
        made = {
            "trees": [seasons.tree("T9", planting="P9")],
            "screening": [shift(seasons.sample("S9", "T9"))],
            "bagging": [shift(seasons.bag("B9", "T9"))],
            "harvests": [shift(seasons.harvest("H9", ["B9"]))],
            "batches": [shift(seasons.batch("X9", ["H9"]))],
            "lots": [shift(seasons.lot("K1", [{"batch": "X9", "weight": "8 g"}], 8))],
            "tests": [shift(seasons.germination("G9", "K1"))],
        }
        standing = {"blocks": [seasons.block()], "plantings": [planting]}
        season = seasons.season_of(label="2025", **{**standing, **made, **tables})
        years = {"start": date(2024, 11, 1), "end": date(2025, 10, 31)}
        return replace(season, details=replace(season.details, **years))

    return build


@pytest.fixture
def carried(seasons, stocked, last_year):
    """`carried(before={...}, **tables)`: this season after the last; it opens with what K1 held, 8 g."""

    def build(before=None, **tables):
        opening = {**seasons.movement("M0", "K1", "opening stock", 8), "date": date(2025, 11, 1)}
        moves = [opening, *tables.pop("movements", [])]
        return replace(stocked(movements=moves, **tables), previous=last_year(**(before or {})))

    return build
