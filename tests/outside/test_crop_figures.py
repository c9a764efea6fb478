"""What the crop profiles say, each value beside the source that it was read in (no data file of ours)."""

from __future__ import annotations

import re

import pytest

from certgen.figures.identifiers import verify_identifier
from certgen.standards import load_profile

COVERS = ("certgen.standards.profile", "certgen.standards.practice", "certgen.standards.screening")
PAPAYA = load_profile("papaya")
#: Where a figure was read, as the profile's own source must let one find it.
STUDY_1991 = "1991"  # Seed Science Research 1991: 7.9 to 9.4 %, twelve months, 15 °C; colder or drier died.
EMBRYOS_2004 = (
    "2004"  # Journal of the Food Hygienic Society of Japan 45:19: twelve embryos, 37 °C, 10 to 15 h.
)


@pytest.mark.parametrize(
    ("key", "bound", "value", "source"),
    [
        # Seed Science Research 1991 (abstract).
        ("moisture_pct", "low", 7.9, STUDY_1991),
        ("storage_c", "usual", 15, STUDY_1991),
        ("storage_months_cool_room", "high", 12, STUDY_1991),
        ("storage_months_freezer", "high", 0, STUDY_1991),
        # What the words stand for: corrections, section 11.
        ("storage_c_cool_room", "low", 10, "word means"),
        ("storage_c_cool_room", "high", 15, "word means"),
        ("storage_c_refrigerator", "low", 2, "word means"),
        ("storage_c_refrigerator", "high", 8, "word means"),
        # Bagged fruit, Cameroon (abstract): sixteen weeks with fruit that was kept after picking.
        ("days_covering_to_picking", "low", 16 * 7, "study of fruit age"),
        # Five laboratories, 2004.
        ("embryos_per_fruit", "usual", 12, EMBRYOS_2004),
        ("incubation_c", "usual", 37, "37 °C"),
        # BMC Biotechnology 2013, 13:69: real mixtures of seed were found down to 0.4 %, one seed in 250.
        ("seeds_per_pool_max", "high", 1000 / 4, "0.4 %"),
        # Ciência Rural 35(3), 2005, and a post-harvest textbook: 9 to 13 days at 25 °C, 22.5 to 27.5 °C.
        ("ripening_c", "low", 22.5, "textbook"),
        ("ripening_c", "high", 27.5, "textbook"),
        ("ripening_c", "usual", 25, "textbook"),
        # A germination method for papaya, 2022: first count on day 15, last on day 22.
        ("germination_first_count_days", "usual", 15, "2022"),
        ("germination_final_count_days", "usual", 22, "2022"),
        # Papaya handbook of 2016, chapter 8.
        ("germination_min_pct_hermaphrodite", "low", 70, "2016"),
        ("germination_min_pct_female", "low", 60, "2016"),
        # A review of papaya, 2019: the stigma takes pollen two days before opening to five after.
        ("stigma_receptive_days_before_opening", "usual", 2, "2019"),
        ("stigma_receptive_days_after_opening", "usual", 5, "2019"),
        # A count of 2002: 1,838 hermaphrodites and 783 females.
        ("progeny_seed_parent_pct", "usual", round(100 * 1838 / (1838 + 783), 1), "2002"),
        # Guidance to US growers: a quarter of a mile, in round metres.
        ("isolation_m", "low", round(1609.344 / 4, -2), "quarter of a mile"),
    ],
)
def test_a_figure_is_what_its_source_prints(key, bound, value, source) -> None:
    """And the profile names the source beside it."""
    figure = PAPAYA.practice[key]

    assert value == getattr(figure, bound)
    assert source in figure.source


@pytest.mark.parametrize(
    ("key", "printed"),
    [
        # Cameroon: weeks after the last bud stage, in days.
        ("days_covering_to_picking", [14 * 7, 19 * 7, 13 * 7, 16 * 7]),
        ("moisture_pct", [7.9, 9.4]),
        ("embryos_per_fruit", [37, 10, 15]),
        ("incubation_h", [10, 15]),
        # Longdom 2013: fresh full-coloured fruit against quarter-coloured fruit that ripened after picking.
        ("ripening_days", [52.5, 94, 9, 13]),
        ("storage_months_airtight_dry_room", [45, 10]),
    ],
)
def test_a_source_is_quoted_with_its_numbers(key, printed) -> None:
    """98, 133, 91 and 112 days; 7.9 to 9.4 %; 37 °C for 10 to 15 hours."""
    figure = PAPAYA.practice[key]
    numbers = [float(one) for one in re.findall(r"\d+(?:\.\d+)?", f"{figure.source} {figure.note}")]

    assert [] == [one for one in printed if one not in numbers]


@pytest.mark.parametrize(
    ("event", "identifier", "carries", "lacks"),
    [
        # isaaa.org event register, 227 and 228.
        ("55-1", "CUH-CP551-8", {"uidA", "nptII", "CP"}, {"CP-YK"}),
        ("63-1", "CUH-CP631-7", {"uidA", "nptII", "CP"}, {"CP-YK"}),
        # Biosafety clearing-house, record 106312: nos-nptII-nos, 35S-CP-nos and a uidA leader alone.
        ("X17-2", "UFL-X17CP-9", {"nptII", "35S", "NOS", "CP"}, {"uidA"}),
    ],
)
def test_an_event_is_what_its_register_says(event, identifier, carries, lacks) -> None:
    """Its identifier, whose check digit holds, and the elements that were read."""
    found = PAPAYA.events[event]

    assert identifier == found.oecd
    assert verify_identifier(found.oecd)
    assert carries == {key for key, mark in found.elements.items() if mark == "read"}
    assert set() == lacks & {*found.elements}


# Frontiers in Sustainable Food Systems 2020: the virus's hosts are Brassicaceae and Solanaceae.
@pytest.mark.parametrize("crop", ["papaya", "squash"])
def test_the_cauliflower_mosaic_virus_is_no_excuse(crop) -> None:
    """It lives on neither crop, so a hit for its promoter isn't put down to it."""
    told = load_profile(crop).targets["35S"].positive_means

    assert f"cabbage and nightshade families, not on {crop}" in told


# The ringspot virus is an RNA virus (read); uidA and nptII come from E. coli (read).
@pytest.mark.parametrize(
    ("target", "said"),
    [
        ("CP", "RNA (RT-PCR) or of protein (strip, ELISA)"),
        ("CP", "a plain DNA test does not see"),
        ("uidA", "common in bacteria"),
        ("nptII", "comes from E. coli"),
        ("NOS", "Agrobacterium (from memory)"),
    ],
)
def test_what_may_mislead_is_told_by_assay(target, said) -> None:
    """And a hit for an element alone is something to look into."""
    told = PAPAYA.targets[target].positive_means

    assert said in told
    assert "nvestigate" in told


def test_a_clean_stain_speaks_of_a_working_marker() -> None:
    """A silenced gene stays white, so the tree may still be of either event."""
    assert "no working marker of 55-1 or 63-1" in PAPAYA.methods["gus"].negative_means
    assert "is not 55-1" not in PAPAYA.methods["gus"].negative_means
    assert not {"X17-2"} & PAPAYA.methods["gus"].sees()


# Pertanika JTAS 18(3), 1995: ripe and over-ripe fruit is best; picking from colour break on is practice.
def test_fruit_is_for_seed_from_colour_break_to_over_ripe() -> None:
    """In the order of ripening, without a hole, and nothing greener."""
    stages = PAPAYA.words["ripeness_stages"]

    assert ("mature green", "colour break", "over-ripe") == (stages[0], stages[1], stages[-1])
    assert stages[1:] == PAPAYA.role("harvest_stages")
    assert ("ripe", "over-ripe") == PAPAYA.role("ripe_stages")


def test_no_year_is_promised_of_a_refrigerator() -> None:
    """The twelve months of 1991 were at 15 °C; no study read supports 2 to 8 °C for long."""
    cold = PAPAYA.practice["storage_months_refrigerator"]

    assert cold.high is not None
    assert cold.high < 12
    assert "1991" not in cold.source
    assert "No study read supports 2 to 8 °C" in cold.note


@pytest.mark.parametrize("crop", ["papaya", "squash"])
def test_a_figure_without_a_source_says_from_memory(crop) -> None:
    """'No source read' and 'from memory' go together, and nothing is merely 'judged'."""
    for key, figure in load_profile(crop).practice.items():
        assert figure.source not in {"Judged", "Common practice", ""}, key
        assert ("No source read" in figure.source) <= (figure.mark == "from memory"), key
