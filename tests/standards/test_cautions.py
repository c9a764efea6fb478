"""Cautions name what can hurt, stand at a piece of work, and leave the rest to whom they defer to."""

from __future__ import annotations

import pickle
import re

import pytest
import yaml

from certgen.cli.writers.due import _HEADINGS as DUE
from certgen.records.tables import load_tables
from certgen.standards import PROFILES, StandardError, load_profile, pieces_of_work
from certgen.standards.cautions import cautions_of, parse_cautions
from certgen.standards.reading import DATA, Section

#: What can hurt at each piece of work on papaya, as the brief of the trade has it.
HURTS = {
    "leaf round": ("latex", "ladder", "spray", "blade"),
    "laboratory": ("reagents", "acid"),
    "bag round": ("latex", "ladder", "spray"),
    "picking": ("latex", "ladder", "blade", "spray"),
    "extraction": ("blade", "electricity", "bleach", "burn"),
    "cleaning": ("bleach", "electricity", "unplug"),
    "drying": ("burn", "fans"),
    "treated seed": ("food", "feed"),
    "sprays": ("label", "protective"),
}
#: What a reader in the field takes in at a glance: about two lines of a sheet.
TWO_LINES = 150


def written(**changes):
    """The data as it is, with changes to the caution of ladders."""
    data = yaml.safe_load(DATA.joinpath("cautions.yaml").read_text(encoding="utf-8"))
    data["cautions"]["ladders"] |= changes
    return Section(data, "cautions.yaml")


def test_each_piece_of_work_names_what_hurts_there():
    """In the short form already, for nobody in the field reads the long one."""
    cautions = load_profile("papaya").cautions

    assert list(HURTS) == list(pieces_of_work())
    for work, words in HURTS.items():
        told = " ".join(one.line for one in cautions.at(work)).casefold()
        assert [] == [word for word in words if word not in told], work


@pytest.mark.parametrize("crop", PROFILES)
def test_every_crop_has_cautions_at_every_piece_of_work(crop):
    """A crop that names none of its own has those of every crop."""
    assert [] == [work for work in pieces_of_work() if not cautions_of(crop).at(work)]
    assert [] == [work for work in pieces_of_work() if not cautions_of("a crop to come").at(work)]
    assert {one for known in PROFILES for one in cautions_of(known).all} == set(parse_cautions(written())[1])


def test_they_defer_and_give_no_dose_no_hour_and_no_law():
    """No figure stands in any of them, none speaks as law, and each names whose word counts."""
    for one in parse_cautions(written())[1]:
        told = f"{one.title} {one.short} {one.long}"
        assert None is re.search(r"[0-9]|\b(hours?|minutes?|days?|per ?cent|ppm|legal|illegal|CFR)\b", told)
        assert one.defers_to
        assert TWO_LINES >= len(one.short), one.key
        assert one.line.endswith(f"This defers to {one.defers_to}.")


def test_what_only_some_plants_have_stands_with_those_only():
    """Latex and a hollow stem are the papaya's, hairs the squash's."""
    titles = {crop: {one.title for one in cautions_of(crop).all} for crop in PROFILES}

    assert {"Latex", "Ladders"} <= titles["papaya"] - titles["squash"]
    assert "Hairs, sap and bees" in titles["squash"] - titles["papaya"]


def test_work_is_named_as_the_records_and_the_diary_name_it():
    """A table, a subject of the list of what is due, or a draw that nobody knows would never be asked for."""
    work = pieces_of_work().values()

    assert set() == {table for one in work for table in one.tables} - set(load_tables())
    assert set() == {subject for one in work for subject in one.due} - set(DUE)
    assert {"bags", "trees", "seed"} == {kind for one in work for kind in one.draws}
    assert {"screening", "bagging", "harvests", "batches", "inputs", "tests", "lots", "cleaning"} <= {
        table for one in work for table in one.tables
    }


def test_a_caution_of_two_pieces_of_work_is_told_once():
    """A sheet for both says it once, in the order of the job."""
    told = cautions_of("papaya").at("picking", "leaf round")

    assert len(set(told)) == len(told)
    assert set(cautions_of("papaya").at("leaf round")) | set(cautions_of("papaya").at("picking")) == set(told)


def test_unknown_work_is_refused():
    """Whoever asks for work that isn't there would print nothing, and nobody would miss it."""
    with pytest.raises(StandardError, match="unknown work 'harvest'; known are leaf round"):
        cautions_of("papaya").at("harvest")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"work": ["harvest"]}, "ladders.work: name some of leaf round"),
        ({"work": []}, "ladders.work: name some of leaf round"),
        ({"short": ""}, "ladders.short: expected text"),
        ({"defers_to": None}, "ladders.defers_to: expected text"),
        ({"hours": 12}, "ladders: unknown entry hours"),
    ],
)
def test_mistaken_data_is_named(changes, said):
    """With its place, as everywhere in the standards."""
    with pytest.raises(StandardError, match=re.escape(said)):
        parse_cautions(written(**changes))


def test_they_travel_with_the_profile():
    """A result is handed from process to process."""
    profile = load_profile("papaya")

    assert profile.cautions == pickle.loads(pickle.dumps(profile)).cautions
