"""A season as the rules see it, and what one rule finds in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from certgen.lineage import build_lineage
from certgen.records.farm import join_seasons
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook


@pytest.fixture(scope="session")
def case_of():
    """`case_of(season, *standards, on=…, profile=…)`: the season as the rules see it."""

    def case_of(season, *standards, on=date(2026, 10, 31), profile=None):
        rulebooks = tuple(load_rulebook(key) for key in standards or ("us-nop",))
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
