"""What goes out, checked against the standards and against others' readers of them.

EPCIS 2.0: the cases below are those tried on the published schema file (repository gs1/EPCIS, file
EPCIS-JSON-Schema.json, commit of 13 July 2022) with format checks on; `epcis_required.json` is our own,
smaller schema, which must give the same verdict on each. PROV: read by the `prov` library; the constraints
are those of W3C PROV-CONSTRAINTS (from memory). SARIF: fields required by OASIS SARIF 2.1.0 (from memory).
"""

from __future__ import annotations

import copy
import datetime as dt
import json
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from seasons import without

from certgen.examination import Result, examine
from certgen.exchange.interchange.epcis import build_epcis
from certgen.exchange.interchange.layout import render_json
from certgen.exchange.interchange.provenance import build_prov
from certgen.exchange.interchange.sarif import build_sarif
from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.names import Names

COVERS = (
    "certgen.exchange.interchange.epcis",
    "certgen.exchange.interchange.provenance",
    "certgen.exchange.interchange.sarif",
)
SCHEMA = json.loads(Path(__file__).with_name("epcis_required.json").read_text())
VALIDATOR = jsonschema.Draft7Validator(SCHEMA, format_checker=jsonschema.Draft7Validator.FORMAT_CHECKER)
TIME = {"eventTime": "2026-03-04T00:00:00.000+00:00", "eventTimeZoneOffset": "+00:00"}
SEED = {"epcClass": "https://farm.example/lots/L1", "quantity": 1.2, "uom": "KGM"}
FRUIT = {"epcClass": "https://farm.example/harvests/H1", "quantity": 3.5, "uom": "KGM"}
HARVEST = {
    **TIME, "type": "ObjectEvent", "action": "ADD", "bizStep": "creating_class_instance",
    "quantityList": [FRUIT],
}  # fmt: skip
MADE = {**TIME, "type": "TransformationEvent", "inputQuantityList": [FRUIT], "outputQuantityList": [SEED]}
TIED = {
    **TIME, "type": "AssociationEvent", "action": "ADD", "parentID": "https://farm.example/trees/T1",
    "childEPCs": ["https://farm.example/bags/B1"],
}  # fmt: skip


CASES = [
    ("harvest in kilograms", HARVEST, True),
    ("a step that the vocabulary has not", {**HARVEST, "bizStep": "harvesting"}, False),
    ("a step under an address of one's own", {**HARVEST, "bizStep": "https://farm.example/picking"}, True),
    ("a class that is no address", {**HARVEST, "quantityList": [{**FRUIT, "epcClass": "L1"}]}, False),
    ("a transformation", MADE, True),
    ("a transformation with an action", {**MADE, "action": "ADD"}, False),
    ("a transformation without output", without(MADE, "outputQuantityList"), False),
    (
        "half a transformation, tied to its other half",
        {**without(MADE, "outputQuantityList"), "transformationID": "https://farm.example/runs/1"},
        True,
    ),
    ("offset Z", {**HARVEST, "eventTimeZoneOffset": "Z"}, False),
    ("no offset", without(HARVEST, "eventTimeZoneOffset"), False),
    ("offset -14:00", {**HARVEST, "eventTimeZoneOffset": "-14:00"}, True),
    ("offset +13:45", {**HARVEST, "eventTimeZoneOffset": "+13:45"}, True),
    ("offset +14:30", {**HARVEST, "eventTimeZoneOffset": "+14:30"}, False),
    ("unit kg", {**HARVEST, "quantityList": [{**FRUIT, "uom": "kg"}]}, False),
    ("a quantity as text", {**HARVEST, "quantityList": [{**FRUIT, "quantity": "1.2"}]}, False),
    ("no list at all", without(HARVEST, "quantityList"), False),
    ("an association without its parent", without(TIED, "parentID"), False),
    ("an association", TIED, True),
    ("shipping", {**HARVEST, "action": "OBSERVE", "bizStep": "shipping"}, True),
    (
        "a test that consumes seed",
        {
            **HARVEST,
            "action": "OBSERVE",
            "bizStep": "sampling",
            "bizTransactionList": [{"type": "testres", "bizTransaction": "https://farm.example/reports/1"}],
        },
        True,
    ),
    (
        "destruction",
        {**HARVEST, "action": "DELETE", "bizStep": "destroying", "disposition": "destroyed"},
        True,
    ),
    (
        "packets into a carton",
        {**TIED, "type": "AggregationEvent", "bizStep": "packing"},
        True,
    ),
    ("at a place that is no address", {**HARVEST, "readPoint": {"id": "the shed"}}, False),
    ("at a place without a name", {**HARVEST, "bizLocation": {}}, False),
    (
        "from somebody",
        {**HARVEST, "sourceList": [{"type": "owning_party", "source": "https://a.example/b"}]},
        True,
    ),
    ("from somebody in a word", {**HARVEST, "sourceList": [{"type": "owning_party", "source": "B"}]}, False),
    (
        "to nobody",
        {**HARVEST, "destinationList": [{"type": "owning_party"}]},
        False,
    ),
]


def document(event: dict[str, Any]) -> dict[str, Any]:
    """A document of one event."""
    return {
        "@context": ["https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": "2026-12-31T00:00:00.000Z",
        "epcisBody": {"eventList": [event]},
    }


@pytest.mark.parametrize(("name", "event", "valid"), CASES, ids=[case[0] for case in CASES])
def test_our_schema_judges_as_the_standards_does(name: str, event: dict[str, Any], valid: bool) -> None:
    """Each case has the verdict that the published schema gives with format checks on."""
    assert valid == VALIDATOR.is_valid(document(event)), name


def test_the_schema_counts_as_the_published_one() -> None:
    """41 steps, 33 dispositions, 13 kinds of document, 3 actions."""
    fields = SCHEMA["definitions"]["ObjectEvent"]["properties"]
    kinds = fields["bizTransactionList"]["items"]["properties"]["type"]["anyOf"][0]["enum"]

    assert [41, 33, 13, 3] == [
        len(fields["bizStep"]["anyOf"][0]["enum"]),
        len(fields["disposition"]["anyOf"][0]["enum"]),
        len(kinds),
        len(fields["action"]["enum"]),
    ]


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, dt.date(2026, 12, 31))


def test_the_examples_events_are_valid(result: Result) -> None:
    """Every event of the example season, with format checks on, in another offset too."""
    for offset in ("+00:00", "-10:00"):
        found = json.loads(render_json(build_epcis(result, Names(result.farm), offset=offset)))
        assert [] == [error.message for error in VALIDATOR.iter_errors(found)]


def test_no_event_is_lost(result: Result) -> None:
    """Each bag, picking, batch, lot, test and movement has its event, and each bears its own name."""
    events = build_epcis(result, Names(result.farm))["epcisBody"]["eventList"]
    season = result.season

    wanted = sum(
        len(season.tables[t])
        for t in ("bagging", "harvests", "batches", "lots", "tests", "movements", "screening")
    )
    trees = len(season.tables["trees"]) + int(season.tables["trees"]["removed"].notna().sum())
    assert (wanted + trees, len(events)) == (len(events), len({event["eventID"] for event in events}))


def test_every_lots_grams_are_in_its_event(result: Result) -> None:
    """A lot's weight in its event is its weight on record, in grams."""
    events = {
        event["eventID"]: event for event in build_epcis(result, Names(result.farm))["epcisBody"]["eventList"]
    }
    frame = result.season.tables["lots"]

    for lot, weight in zip(frame["lot"].tolist(), frame["weight_mg"].tolist(), strict=True):
        (made,) = (e for name, e in events.items() if name.endswith(f"/lots/{lot}/event"))
        (element,) = made.get("outputQuantityList") or made["quantityList"]
        assert (weight / 1000, "GRM") == (element["quantity"], element["uom"])


def test_every_event_says_where_and_every_sale_from_whom_to_whom(result: Result) -> None:
    """A block for what is done in the rows, the premises for the rest; the buyer that a sale names."""
    events = {
        event["eventID"]: event for event in build_epcis(result, Names(result.farm))["epcisBody"]["eventList"]
    }
    names, parties = Names(result.farm), 0

    for record in records_of(result.season, "movements"):
        event = events[names.address(names.event("movements", record["movement"]))]
        party = record.get("party")
        if party and record["kind"] == "sold":
            parties += 1
            assert [names.address(names.operation())] == [one["source"] for one in event["sourceList"]]
            assert [names.address(names.party(party))] == [
                one["destination"] for one in event["destinationList"]
            ]
            assert "bizLocation" not in event
        assert names.address(names.operation()) in event["readPoint"]["id"]
    assert parties > 3
    for record in records_of(result.season, "bagging"):
        event = events[names.address(names.event("bagging", record["bag"]))]
        assert "/blocks/" in event["readPoint"]["id"]


@pytest.mark.parametrize("offset", ["Z", "10:00", "+14:30", "+15:00", "-1:00"])
def test_a_wrong_offset_is_refused(result: Result, offset: str) -> None:
    """What the standard would refuse is not written."""
    with pytest.raises(ValueError, match="offset"):
        build_epcis(result, Names(result.farm), offset=offset)


def read_prov(content: dict[str, Any]) -> Any:
    """The document as the `prov` library reads it."""
    from prov.model import ProvDocument

    return ProvDocument.deserialize(content=render_json(content), format="json")


def test_prov_is_read_back_whole(result: Result) -> None:
    """The library finds every entity, activity and relation that was written."""
    written = build_prov(result, Names(result.farm))
    found = read_prov(written)

    assert sum(len(part) for name, part in written.items() if name != "prefix") == len(found.records)


def test_provs_derivations_have_no_circle(result: Result) -> None:
    """Nothing is derived from itself, however far round."""
    from prov.model import ProvDerivation

    behind: dict[str, set[str]] = {}
    for one in read_prov(build_prov(result, Names(result.farm))).get_records(ProvDerivation):
        behind.setdefault(str(one.args[0]), set()).add(str(one.args[1]))

    # A circle raises CycleError; everything derived comes out somewhere in the order.
    assert set(behind) <= set(TopologicalSorter(behind).static_order())
    assert len(behind) > 100


def test_provs_use_follows_generation(result: Result) -> None:
    """A thing comes into being before work uses it, wherever both have a day and the rules find none out of
    order.
    """
    written = build_prov(result, Names(result.farm))
    born = {
        one["prov:entity"]: one["prov:time"][:10]
        for one in written["wasGeneratedBy"].values()
        if "prov:time" in one
    }
    used = [
        (one["prov:entity"], written["activity"][one["prov:activity"]]["prov:endTime"][:10])
        for one in written["used"].values()
        if "prov:endTime" in written["activity"][one["prov:activity"]]
    ]
    disorderly = {
        gap.id for gap in result.gaps if "order" in gap.rule or "before" in gap.rule or "after" in gap.rule
    }

    assert [] == [
        (entity, day)
        for entity, day in used
        if born.get(entity, "") > day and entity.rpartition("/")[2] not in disorderly
    ]


def test_sarif_has_what_the_standard_requires(result: Result) -> None:
    """Version, driver, and for each result a message, a known rule and a place with a line."""
    found = build_sarif(result)
    (run,) = found["runs"]
    names = [rule["id"] for rule in run["tool"]["driver"]["rules"]]

    assert ("2.1.0", "certgen") == (found["version"], run["tool"]["driver"]["name"])
    assert len(run["results"]) == len(result.gaps) + len(result.errors)
    for one in run["results"]:
        assert one["ruleId"] == names[one["ruleIndex"]]
        assert one["level"] in {"error", "warning", "note"}
        assert one["message"]["text"]
        place = one["locations"][0]["physicalLocation"]
        assert "\\" not in place["artifactLocation"]["uri"]
        assert place.get("region", {"startLine": 1})["startLine"] >= 1


def test_writing_changes_nothing_of_the_result(result: Result) -> None:
    """Two exports of one result are the same."""
    first = copy.deepcopy(build_epcis(result, Names(result.farm)))
    build_prov(result, Names(result.farm))

    assert first == build_epcis(result, Names(result.farm))
