"""The builder and the generator of seasons, for tests of rules."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from certgen.lineage import build_lineage
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook


@pytest.fixture(scope="session")
def seasons():
    """`tests/seasons.py`, which is part of no package."""
    path = Path(__file__).resolve().parents[1] / "seasons.py"
    spec = importlib.util.spec_from_file_location("built_seasons", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def case_of():
    """`case_of(season, *standards, on=…, profile=…)`: the season as the rules see it."""

    def case_of(season, *standards, on=date(2026, 10, 31), profile=None):
        rulebooks = tuple(load_rulebook(key) for key in standards or ("us-nop",))
        profile = profile or load_profile(season.details.crop)
        return Case(season, build_lineage(season), profile, rulebooks, on)

    return case_of


@pytest.fixture(scope="session")
def find(case_of):
    """`find(season, slug, *standards, on=…, profile=…)`: what one rule finds, run by itself."""

    def find(season, slug, *standards, on=date(2026, 10, 31), profile=None):
        case = case_of(season, *standards, on=on, profile=profile)
        found, crashed = run_rules(case, {slug: RULES[slug]})
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
        records = {
            "blocks": [seasons.block()],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1")],
            "screening": [seasons.sample("S1", "T1")],
            "bagging": [seasons.bag("B1", "T1")],
            "harvests": [seasons.harvest("H1", ["B1"])],
            "batches": [seasons.batch("X1", ["H1"])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            "tests": [seasons.germination("G1", "L1")],
        }
        return seasons.season_of(**{**records, **tables})

    return build
