"""A record has one name, whichever format, season or copy tells of it, and no two records share one."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.dossier.search import UnknownRecordError, find_records
from certgen.examination import Result, examine
from certgen.exchange.interchange.epcis import build_epcis
from certgen.exchange.interchange.provenance import build_prov
from certgen.exchange.lot_card.facts import gather_facts
from certgen.lineage import Node
from certgen.records.names import DEFAULT_BASE, Names, check_base, digest_codes, write_segment
from certgen.report.packet import find_maker

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ON = dt.date(2026, 12, 31)
BASE = "https://farm.example/id/"


@pytest.fixture(scope="module")
def later(example_season: Path) -> Result:
    """The example season."""
    return examine(example_season, ON)


@pytest.fixture(scope="module")
def earlier(example_season: Path) -> Result:
    """The season before it, by itself."""
    return examine(example_season / ".season-2025", dt.date(2025, 12, 31))


@pytest.fixture(scope="module")
def members(example_season: Path) -> list[Result]:
    """The co-op's members whose season is a folder."""
    coop = example_season.parent / "example_coop" / "members"
    return [examine(coop / one, ON) for one in ("office", "alder/2026")]


def addresses(content: Any) -> Iterator[str]:
    """Every address of a farm's own below the base in a document."""
    if isinstance(content, dict):
        for value in content.values():
            yield from addresses(value)
    elif isinstance(content, list):
        for value in content:
            yield from addresses(value)
    elif isinstance(content, str) and content.startswith(DEFAULT_BASE):
        yield content


def epcis(result: Result, **kind: Any) -> set[str]:
    """The names in the EPCIS events of a season."""
    return set(addresses(build_epcis(result, Names(result.farm, **kind))))


def prov(result: Result) -> set[str]:
    """The names in the PROV document of a season, written out."""
    content = build_prov(result, Names(result.farm))
    told = (name for part in ("entity", "activity", "agent") for name in content[part])
    return {content["prefix"]["r"] + name.removeprefix("r:") for name in told}


def of_records(names: set[str], table: str) -> set[str]:
    """Those that name a record of a table."""
    return {one for one in names if f"/{table}/" in one and not one.endswith(("/event", "/removal"))}


@pytest.mark.parametrize("table", ["lots", "trees", "bagging", "harvests", "batches"])
def test_two_formats_give_a_record_one_name(later: Result, table: str) -> None:
    """What the events name, the lineage names too, and in the same letters."""
    told = of_records(epcis(later), table)

    assert told
    assert set() == told - prov(later)


def test_the_work_has_one_name_in_both_formats(later: Result) -> None:
    """An activity of the lineage is an event: pickings, runs, packings, tests."""
    activities = {one for one in prov(later) if one.endswith("/event") and "/2026/" in one}
    tables = ("bagging", "harvests", "batches", "lots", "screening", "tests")
    done = {one for one in activities if any(f"/{table}/" in one for table in tables)}

    assert len(done) > 200
    assert set() == done - epcis(later)


def test_two_seasons_give_a_record_one_name(later: Result, earlier: Result) -> None:
    """A lot, a tree and a bag of 2025 are called the same by 2025's export and by 2026's."""
    here, there = prov(later), prov(earlier)
    theirs = {
        one
        for table in ("lots", "trees", "plantings", "blocks", "bagging", "harvests", "batches", "screening")
        for one in of_records(there, table)
    }

    assert len(theirs) > 60
    assert set() == theirs - here
    assert f"{DEFAULT_BASE}QR-2018-0147/2025/lots/AK-25-2" in here & there & epcis(later)


def test_what_lives_on_is_owned_by_the_earliest_season_that_tells_it(later: Result, earlier: Result) -> None:
    """A tree that both years' files hold stays 2025's, one planted in 2026's alone is 2026's."""
    names = Names(later.farm)
    old = set(earlier.season.tables["trees"]["tree"].tolist())

    for tree in later.season.tables["trees"]["tree"].tolist():
        assert f"QR-2018-0147/{2025 if tree in old else 2026}/trees/{tree}" == names.of("trees", tree)
    assert {"2025", "2026"} == {
        names.of("trees", tree).split("/")[1] for tree in later.farm.tables["trees"]["tree"]
    }


def test_no_two_records_share_a_name(later: Result, members: list[Result]) -> None:
    """Within a farm with two seasons, and among several farms of one base."""
    for result in (later, *members):
        names = Names(result.farm)
        told = [names.of(node.table, node.id) for node in result.lineage.nodes]
        assert len(told) == len(set(told))


def test_two_farms_share_no_name(later: Result, members: list[Result]) -> None:
    """Members of a co-op export below one base, and nothing of one is called as another's."""
    told = [epcis(result) | prov(result) for result in (later, *members)]

    for at, names in enumerate(told):
        assert names
        assert set() == names & set().union(*told[:at])


def test_a_farm_without_a_certificate_is_told_by_its_name(later: Result) -> None:
    """And never like one whose certificate bears that name."""
    details = later.farm.details
    bare = replace(details, operation=replace(details.operation, certificate="", name="Ash Farm"))
    like = replace(details, operation=replace(details.operation, certificate="Ash Farm"))
    paths = []
    for told in (bare, like):
        stretches = (later.farm.stretches[0]._replace(details=told), *later.farm.stretches[1:])
        farm = replace(later.farm, details=told, stretches=stretches)
        paths.append(Names(farm).of("lots", "AK-26-1"))

    assert ["@Ash%20Farm/2026/lots/AK-26-1", "Ash%20Farm/2026/lots/AK-26-1"] == paths


def test_two_seasons_of_one_label_stay_apart(later: Result) -> None:
    """The label is a slip, and their records are still not the same."""
    first, second = later.farm.stretches
    twin = second._replace(details=replace(second.details, label=first.details.label))
    farm = replace(later.farm, stretches=(first, twin))

    assert "QR-2018-0147/2026@2025-01-01/lots/AK-25-2" == Names(farm).of("lots", "AK-25-2")


def test_codes_of_one_copy_are_no_names_of_the_farm(later: Result) -> None:
    """What a buyer is shown in codes is named in that copy alone, but for the lot they know."""
    coded = epcis(later, coded=digest_codes(later.season), told=frozenset({"AK-26-1"}))
    plain = epcis(later)

    assert f"{DEFAULT_BASE}QR-2018-0147/2026/lots/AK-26-1" in coded & plain
    assert {f"{DEFAULT_BASE}QR-2018-0147/2026/lots/AK-26-1"} == of_records(coded & plain, "lots")
    assert set() == of_records(coded & plain, "trees")


def test_the_card_and_the_trace_know_the_name(later: Result) -> None:
    """A card bears the name of its lot, and `trace` takes it, below whatever address."""
    facts = gather_facts(later, "AK-26-1", "0" * 64, find_maker(later))

    assert "QR-2018-0147/2026/lots/AK-26-1" == facts["name"]
    for written in (facts["name"], BASE + facts["name"], f" {DEFAULT_BASE}{facts['name']}"):
        assert (Node("lots", "AK-26-1"),) == find_records(later, written)
    assert (Node("lots", "AK-25-2"),) == find_records(later, "QR-2018-0147/2025/lots/AK-25-2")
    with pytest.raises(UnknownRecordError):
        find_records(later, "QR-2018-0147/2025/lots/AK-26-1")


@given(st.text(min_size=1, max_size=40), st.text(min_size=1, max_size=40))
def test_a_part_says_one_text(one: str, other: str) -> None:
    """What is written is read back as one text, and no part leaves its place."""
    first, second = (write_segment(text.replace("\ud800", "")) for text in (one, other))

    assert (write_segment(unquote(first)) == write_segment(unquote(second))) == (first == second)
    assert f"/{first}" == urlsplit(f"https://a.example/{first}").path
    assert first.isascii()
    assert first not in {"", ".", ".."}


def test_letters_typed_in_two_ways_are_one() -> None:
    """é is one sign or two, by keyboard."""
    assert "caf%C3%A9" == write_segment("cafe\u0301") == write_segment("caf\u00e9")


@pytest.mark.parametrize("base", ["farm", "javascript:alert(1)", "https://a b/", "ftp://x/"])
def test_a_wrong_base_is_refused(base: str) -> None:
    """Names begin with an address or they are none."""
    with pytest.raises(ValueError, match="address"):
        check_base(base)


def test_a_base_ends_where_names_begin() -> None:
    """A stroke is put behind it unless one, or a colon, stands there."""
    assert ["https://a.example/", "https://a.example/b/", "urn:farm:x:"] == [
        check_base(base) for base in ("https://a.example", "https://a.example/b/", "urn:farm:x:")
    ]
