from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from certgen import standards
from certgen.standards import PROFILES, ROLES, WORDS, StandardError, load_profile, load_rulebook
from certgen.standards.profile import parse_profile
from certgen.standards.reading import DATA, Section


def squash(**changes):
    """The squash profile's data, with changes at its top."""
    data = yaml.safe_load(DATA.joinpath("profiles", "squash.yaml").read_text(encoding="utf-8"))
    return Section(data | changes, "squash.yaml")


@pytest.mark.parametrize("key", PROFILES)
def test_every_vocabulary_and_every_role_is_answered(key) -> None:
    """A rule may ask any profile for any role, and gets words of the right vocabulary."""
    profile = load_profile(key)

    assert set(WORDS) == set(profile.words)
    assert set(ROLES) == set(profile.roles)
    assert all(set(profile.role(role)) <= set(profile.words[words]) for role, words in ROLES.items())
    assert set(profile.words["assay_methods"]) == set(profile.methods)


@pytest.mark.parametrize("key", PROFILES)
def test_words_with_opposite_roles_do_not_overlap(key) -> None:
    """A flower stage is closed or open, a flower selfs, crosses or gives pollen, a sex bears selfed seed
    or not.
    """
    profile = load_profile(key)

    for roles in (
        ("closed_stages", "open_stages"),
        ("selfing_flowers", "crossing_flowers", "pollen_flowers"),
        ("seed_parents", "needs_pollen_parent", "non_parents", "unknown_sex"),
        ("seed_materials", "stock_materials", "seedling_materials"),
    ):
        words = [word for role in roles for word in profile.role(role)]
        assert len(words) == len(set(words)), roles


@pytest.mark.parametrize("key", PROFILES)
def test_each_storage_has_its_months(key) -> None:
    """However seed is stored, the profile says how long that usually keeps it."""
    profile = load_profile(key)

    for word in profile.words["storage"]:
        months = profile.practice_for("storage_months", word)
        assert months is not None
        assert "months" == months.unit


def test_papaya_words_play_their_roles() -> None:
    """What the job asks of papaya's words is answered by data."""
    papaya = load_profile("papaya")

    assert "hermaphrodite" == papaya.parent_sex
    assert ("female",) == papaya.role("needs_pollen_parent")
    assert papaya.words["ripeness_stages"][1:] == papaya.role("harvest_stages")
    assert ("colour break", "over-ripe") == (papaya.role("harvest_stages")[0], papaya.role("ripe_stages")[-1])
    assert ("freezer",) == papaya.role("harmful_storage")
    assert ("sharp",) == papaya.role("unsafe_blades")
    assert "perennial" == papaya.life


def test_an_unknown_role_is_a_mistake() -> None:
    """A misspelt role is told apart from one that no word plays."""
    assert () == load_profile("squash").role("harmful_storage")
    with pytest.raises(StandardError, match="unknown role 'harmfull_storage'"):
        load_profile("squash").role("harmfull_storage")


def test_default_events_are_the_known_us_events() -> None:
    """Unless a season says otherwise, the three events known in the US are to be ruled out."""
    assert ("55-1", "63-1", "X17-2") == load_profile("papaya").default_events


@pytest.mark.parametrize(
    ("text", "event"),
    [
        ("55-1", "55-1"),
        ("event x17-2", "X17-2"),
        ("ufl-x17cp-9", "X17-2"),
        ("UFL-X17CP-6", None),
        ("huanong no 1", "Huanong No. 1"),
        ("", None),
        ("event ", None),
        ("--", None),
    ],
)
def test_events_are_found_by_what_growers_type(text, event) -> None:
    """Key or identifier, in any case; an empty or wrong one finds none."""
    found = load_profile("papaya").event(text)

    assert event == (found.key if found else None)


def test_blind_spots_of_a_stain_alone() -> None:
    """A tree with a clean stain only is not shown free of X17-2; a promoter test beside it closes the gap."""
    papaya = load_profile("papaya")

    assert ("X17-2",) == papaya.blind_spots([("gus", [])])
    assert () == papaya.blind_spots([("gus", []), ("pcr", ["35S"])])
    assert ("16-0-1",) == papaya.blind_spots([("gus", [])], ["55-1", "16-0-1"])
    assert papaya.default_events == papaya.blind_spots([("tasting", [])])


def test_inheritance_shares_are_mendels() -> None:
    """One unlinked insert: the shares follow from which gametes carry it (standard genetics)."""
    gametes = {"clean": 0.0, "hemizygous": 0.5, "homozygous": 1.0}

    for key, one in load_profile("papaya").inheritance.items():
        mother, _, father = key.replace("_selfed", f"_by_{key.split('_')[0]}").partition("_by_")
        assert 1 - (1 - gametes[mother]) * (1 - gametes[father]) == one.share, key
        assert (gametes[mother] > 0) == one.leaf_positive, key


@pytest.mark.parametrize("key", PROFILES)
def test_no_practice_figure_calls_itself_a_standard(key) -> None:
    """A plausibility figure or a habit of the trade is not law."""
    for practice in load_profile(key).practice.values():
        assert "standard" not in f"{practice.title} {practice.source} {practice.mark}".casefold(), (
            practice.key
        )


@pytest.mark.parametrize(
    ("key", "bounds"),
    [
        # Plausibility limits judged from published papaya work; see each entry's source.
        ("days_covering_to_picking", (84, 112, 210, 300)),
        ("seeds_per_fruit", (0, 50, 1200, 1200)),
        ("thousand_seed_weight_g", (5, 10, 25, 25)),
        ("moisture_pct", (3, 7.9, 10, 20)),
        ("drying_c", (None, None, 40, 60)),
        ("storage_c", (-20, 10, 20, None)),
        ("germination_test_age_months", (0, 0, 6, 12)),
    ],
)
def test_plausibility_limits(key, bounds) -> None:
    """Unusual and impossible begin where the evidence puts them."""
    found = load_profile("papaya").practice[key]

    assert bounds == (found.impossible_low, found.low, found.high, found.impossible_high)


def test_the_germination_that_the_trade_expects_depends_on_the_parent() -> None:
    """Seventy per cent from hermaphrodites, sixty from females (papaya handbook of 2016), marked common
    practice.
    """
    papaya = load_profile("papaya")
    found = [papaya.practice_for("germination_min_pct", sex) for sex in ("hermaphrodite", "female", "male")]

    assert [(70, "common practice"), (60, "common practice"), None] == [
        one and (one.low, one.mark) for one in found
    ]


def test_a_practice_figure_can_be_cited_like_a_clause() -> None:
    """The report prints practice beside law, each with its mark."""
    clause = load_profile("papaya").clause("practice:storage_c")

    assert clause.asks.startswith(
        "Usual: 10 to 20 °C. Colder is not better: papaya seed is neither orthodox "
    )
    assert "plausibility" == clause.mark
    for wrong in ("practice:colour", "storage_c"):
        with pytest.raises(StandardError, match="no practice figure"):
            load_profile("papaya").clause(wrong)


@pytest.mark.parametrize("key", PROFILES)
def test_listings_speak_of_rulebooks(key) -> None:
    """Whether the crop is a listed kind is said of a rulebook that exists."""
    for rulebook, listing in load_profile(key).listings.items():
        assert rulebook == load_rulebook(rulebook).key
        assert listing.text


def test_papaya_is_not_a_listed_kind() -> None:
    """Papaya stands in none of the tables of 7 CFR 201.31 and 201.36c."""
    assert not load_profile("papaya").listings["seed-law"].listed


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"words": {}}, r"squash\.yaml\.words: missing assay_methods"),
        ({"roles": {}}, r"squash\.yaml\.roles: missing closed_stages"),
        ({"life": "biennial"}, "expected one of perennial"),
        ({"colour": "green"}, "unknown entry colour"),
        ({"methods": {}}, r"methods: missing pcr"),
        (
            {"inheritance": {"x": {"title": "t", "leaf_positive": True, "share": 2, "mark": "derived"}}},
            "from 0 to 1",
        ),
    ],
)
def test_a_wrong_profile_is_refused_by_its_place(changes, message) -> None:
    """Each mistake is named where it stands."""
    with pytest.raises(StandardError, match=message):
        parse_profile("squash", squash(**changes))


@pytest.mark.parametrize(
    ("role", "words", "message"),
    [
        ("seed_parents", [], "name the sex that bears seed"),
        ("harvest_stages", ["purple"], "purple is not among ripeness_stages"),
    ],
)
def test_a_role_is_played_by_a_known_word(role, words, message) -> None:
    """A role that points outside its vocabulary would never match a record."""
    roles = yaml.safe_load(DATA.joinpath("profiles", "squash.yaml").read_text(encoding="utf-8"))["roles"]

    with pytest.raises(StandardError, match=message):
        parse_profile("squash", squash(roles=roles | {role: words}))


def test_no_crops_word_is_in_the_code() -> None:
    """The loader knows neither crop: every word that only one profile has stands in data alone."""
    code = "\n".join(
        path.read_text(encoding="utf-8").split("from __future__", 1)[-1]
        for path in Path(standards.__file__).parent.glob("*.py")
        if path.name != "loader.py"  # names the profiles that there are
    )
    literals = set(re.findall(r'"([^"\n]*)"', code))
    vocabularies = [
        {word for words in load_profile(key).words.values() for word in words}
        | set(load_profile(key).events)
        | {event.oecd for event in load_profile(key).events.values() if event.oecd}
        for key in PROFILES
    ]

    assert set() == literals & (vocabularies[0] ^ vocabularies[1])
