"""What a supplier's packet shows of bought seed, and why it doesn't."""

from __future__ import annotations

import json
from datetime import date

import pytest
from printed import plain
from seasons import write_season
from stand_ins import StandIns, packet, packet_text

from certgen.dossier.suppliers import list_through
from certgen.examination import examine, examine_season
from certgen.records.supplied import fingerprint_of
from certgen.standards.season_reading import read_case

COVERS = ("certgen.rules.seed.suppliers", "certgen.dossier.suppliers")

ON = date(2026, 10, 31)
FILE = "packets/t.pdf"
KEY = "8c1f6e0b54a92d37e1f0c6b8a5d493728e6b1c0f7d92a4583b6e1f0c9a7d4e52"
KNOWN = {
    "party": "Tarrowmere Seed Exchange", "key": fingerprint_of(KEY), "told_by": "P. Tarrow",
    "date": "2026-07-09",
}  # fmt: skip
PART = {
    "supplier": "Tarrowmere Seed Exchange", "certificate": "C-0912", "supplier_lot": "T-26-4",
    "packet": FILE, "weight": "2 g",
}  # fmt: skip
LOT = {"variety": "Amber Kestrel", "status": "organic", "standing": "traced"}
LOT |= {"weight_mg": 40_000, "traced_mg": 40_000}
GONE = {"lot": "T-26-4", "party": "Larkfold Seed Orchard", "date": "2026-07-06", "weight_mg": 2_000}


@pytest.fixture
def bought(seasons, tmp_path):
    """`bought(parts, known=…, files=…, **tables)`: lots of bought parts, examined with their packets.

    Lots are L7, L8 ...; each of `parts` is one lot's only source.
    """

    def build(*parts, known=(KNOWN,), files=None, on=ON, reader=None, packed=date(2026, 7, 10), **tables):
        lots = [
            seasons.lot(f"L{7 + at}", [part], 2, packed=packed, weight=part["weight"])
            for at, part in enumerate(parts)
        ]
        line = seasons.one_line()
        whole = {**line, "lots": [*line["lots"], *lots], **tables}
        write_season(tmp_path, details={"known_signers": list(known)} if known else {}, **whole)
        for file, text in ({FILE: packet_text()} if files is None else files).items():
            path = tmp_path / "evidence" / file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return examine(tmp_path, on, packets=reader or StandIns())

    return build


def told(result, lot="L7"):
    """The rules that speak of a lot's seed, and its standing."""
    rules = {gap.rule for gap in result.gaps if lot in gap.lots and gap.rule.startswith(("packet", "bought"))}
    return sorted(rules), result.lots[lot].standing


def test_a_sound_packet_traces_the_grams_through_it(bought) -> None:
    """They are a part of their own, shown by the packet; and it is said through whom."""
    result = bought(PART)
    lot = result.lots["L7"]

    assert ([], "traced") == told(result)
    assert (2_000, 2_000, 0, 0) == (lot.weight_mg, lot.traced_mg, lot.unproven_mg, lot.rejected_mg)
    assert ["packets"] == [part.source.table for part in lot.parts]
    shown = {one.obligation.key: dict(one.by) for one in result.proof("L7")}
    assert {"packet": 1} == shown["lot-sources"] == shown["lot-variety"] == shown["lot-status"]
    (through,) = list_through(result, "L7")
    assert (
        "2 g of lot L7 are traced through the packet of Tarrowmere Seed Exchange, of 8 July 2026, "
        "fingerprint 5d21 90ae c4f7 1b36 e802 7f5c 3a94 d10b, which traces lot T-26-4; it is signed with the "
        f"key {fingerprint_of(KEY)}. That this is the key of Tarrowmere Seed Exchange is the operation’s own "
        "statement, as told by P. Tarrow on 9 July 2026."
    ) == plain(through.text())
    assert () == list_through(result, "L1")


def test_without_a_reader_no_packet_proves_anything(bought, tmp_path) -> None:
    """Whoever verifies nothing believes nothing."""
    bought(PART)
    season, errors = read_case(tmp_path)

    assert () == errors
    assert (["packet-unsound"], "unproven") == told(examine_season(season, ON))


@pytest.mark.parametrize(
    ("change", "rule", "standing"),
    [
        ({"faults": ["page 1 differs"]}, "packet-unsound", "unproven"),
        ({"faults": ["page 1 differs"], "signers": []}, "packet-unsound", "unproven"),
        ({"operation": {"name": "Larkfold Seed Orchard"}}, "packet-circular", "unproven"),
        ({"operation": {"name": "X", "certificate": "c-0417"}}, "packet-circular", "unproven"),
        ({"behind": [{"name": "LARKFOLD  seed orchard"}], "depth": 2}, "packet-circular", "unproven"),
        ({"behind": [{"name": "Y", "certificate": "C-0417"}], "depth": 2}, "packet-circular", "unproven"),
        ({"depth": 6}, "packet-circular", "unproven"),
        ({"depth": 5}, None, "traced"),
        ({"operation": {"name": "Hollin Seeds"}}, "packet-of-another", "unproven"),
        ({"operation": {"name": "tarrowmere seed exchange", "certificate": ""}}, None, "traced"),
        ({"operation": {"name": "Tarrowmere Seed Exchange", "certificate": "Z"}}, "packet-of-another",
         "unproven"),
        ({"crop": "tomato"}, "packet-of-another", "unproven"),
        ({"lots": {}}, "packet-lot-differs", "unproven"),
        ({"lots": {"T-26-4": {**LOT, "standing": "rejected"}}}, "packet-lot-untraced", "rejected"),
        ({"lots": {"T-26-4": {**LOT, "standing": "rejected"}}, "signers": []}, "packet-lot-untraced",
         "rejected"),
        ({"lots": {"T-26-4": {**LOT, "standing": "unproven"}}}, "packet-lot-untraced", "unproven"),
        ({"lots": {"T-26-4": {**LOT, "variety": "Moth Lantern"}}}, "packet-lot-differs", "rejected"),
        ({"lots": {"T-26-4": {**LOT, "status": "transitional"}}}, "packet-lot-differs", "rejected"),
        ({"lots": {"T-26-4": {**LOT, "variety": "amber  kestrel"}}}, None, "traced"),
        ({"lots": {"T-26-4": {**LOT, "traced_mg": 1_999}}}, "packet-grams-exceeded", "unproven"),
        ({"signers": []}, "packet-signer-unknown", "unproven"),
        ({"signers": [{"key": KEY, "holds": False}]}, "packet-signer-unknown", "unproven"),
        ({"signers": [{"key": "ab" * 32, "holds": True}]}, "packet-signer-unknown", "unproven"),
        ({"signers": [{"key": "ab" * 32, "holds": True}, {"key": KEY, "holds": True}]}, None, "traced"),
        ({"signers": [{"key": KEY, "name": "Larkfold Seed Orchard", "holds": True}]}, "packet-circular",
         "unproven"),
        ({"on": "2026-07-05"}, "packet-outdated", "unproven"),
        ({"on": "2026-07-06"}, None, "traced"),
        ({"on": None}, "packet-outdated", "unproven"),
        ({"on": "2026-11-01"}, "packet-outdated", "unproven"),
        ({"dispatches": []}, "packet-outdated", "unproven"),
        ({"dispatches": [], "on": "2026-08-01"}, "packet-grams-exceeded", "unproven"),
        ({"dispatches": [{**GONE, "weight_mg": 1_999}]}, "packet-grams-exceeded", "unproven"),
        ({"dispatches": [{**GONE, "weight_mg": 1_000}, {**GONE, "weight_mg": 1_000}]}, None, "traced"),
        ({"dispatches": [{**GONE, "party": "Larkfold Seed Orchard."}]}, None, "traced"),
        ({"dispatches": [{**GONE, "party": "Larkfold"}], "on": "2026-08-01"}, "packet-grams-exceeded",
         "unproven"),
        ({"dispatches": [{**GONE, "lot": "T-26-5"}], "on": "2026-08-01"}, "packet-grams-exceeded",
         "unproven"),
        ({"dispatches": [{**GONE, "date": "2026-07-11"}], "on": "2026-08-01"}, "packet-grams-exceeded",
         "unproven"),
        ({"dispatches": [{**GONE, "weight_mg": 0}]}, "packet-grams-exceeded", "unproven"),
    ],
)  # fmt: skip
def test_what_a_packet_shows(bought, change, rule, standing) -> None:
    """One thing amiss and it shows nothing; what speaks against the seed counts whoever signed it."""
    result = bought(PART, files={FILE: packet_text(**change)})

    assert ([rule] if rule else [], standing) == told(result)


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"supplier_lot": "T-26-9"}, "packet-lot-differs"),
        ({"supplier_lot": "T-26-5"}, "packet-lot-differs"),
        ({"supplier": "Hollin Seeds"}, "packet-of-another"),
        ({"certificate": "C-1"}, "packet-of-another"),
        ({"weight": "2.001 g"}, "packet-grams-exceeded"),
        ({"packet": "packets/none.pdf"}, "bought-seed-unproven"),
    ],
)
def test_what_a_record_says_of_its_packet(bought, change, rule) -> None:
    """It has to name the lot, the supplier and a file that is there."""
    assert [rule] == told(bought({**PART, **change}))[0]


def test_the_lot_at_the_supplier_has_to_be_named(bought) -> None:
    """A packet tells of many lots."""
    part = {name: value for name, value in PART.items() if name != "supplier_lot"}

    assert (["packet-lot-differs"], "unproven") == told(bought(part))


@pytest.mark.parametrize(
    ("known", "rule"),
    [
        ((), "packet-signer-unknown"),
        (({**KNOWN, "key": KEY},), None),
        (({**KNOWN, "key": KEY.upper()},), None),
        (({**KNOWN, "party": "Hollin Seeds"},), "packet-signer-unknown"),
        ((KNOWN, {**KNOWN, "party": "Hollin Seeds"}), "packet-signer-unknown"),
        ((KNOWN, {**KNOWN, "told_by": "A. Tarrow"}), None),
        (({**KNOWN, "told_by": "?"},), "packet-signer-unknown"),
        (({**KNOWN, "date": "2026-11-01"},), "packet-signer-unknown"),
        (({**KNOWN, "party": "Larkfold Seed Orchard"},), "packet-circular"),
        ((KNOWN, {**KNOWN, "party": "Larkfold Seed Orchard"}), "packet-circular"),
    ],
)
def test_whose_key_it_is_is_stated(bought, known, rule) -> None:
    """In the operation's own name, of one party, by somebody who was told; never its own."""
    assert ([rule] if rule else []) == told(bought(PART, known=known))[0]


def test_a_packet_that_another_replaces_is_no_longer_the_suppliers_word(bought) -> None:
    """Whether a record names the other or not."""
    newer = packet_text(fingerprint="other", replaces=packet()["fingerprint"])
    result = bought(PART, files={FILE: packet_text(), "newer.pdf": newer})

    assert (["packet-outdated"], "unproven") == told(result)
    assert "newer.pdf replaces it" in next(
        gap.message for gap in result.gaps if gap.rule == "packet-outdated"
    )


def test_no_more_is_drawn_than_left_for_here(bought) -> None:
    """All lots that draw on one lot there are added up, whichever packet and spelling they name."""
    other = packet_text(fingerprint="later", operation={"name": "Tarrowmere Seeds", "certificate": "C-0912"})
    files = {FILE: packet_text(), "p2.pdf": other}
    half = {**PART, "weight": "1 g"}
    known = (KNOWN, {**KNOWN, "party": "Tarrowmere Seeds", "key": "cd" * 32})

    assert ([], "traced") == told(bought(half, half), "L8")
    assert ["packet-grams-exceeded"] == told(bought(half, PART), "L7")[0]
    assert ["packet-grams-exceeded"] == told(bought(half, PART), "L8")[0]
    unnamed = {name: value for name, value in PART.items() if name != "packet"}
    assert ["packet-grams-exceeded"] == told(bought(half, unnamed), "L7")[0]
    renamed = {**PART, "supplier": "Tarrowmere Seeds", "packet": "p2.pdf"}
    assert ["packet-grams-exceeded"] == told(bought(PART, renamed, files=files, known=known), "L7")[0]


def test_a_packet_is_verified_once_and_only_if_a_record_names_it(bought) -> None:
    """However many lots name it; what merely lies there is not."""
    reader = StandIns()
    half = {**PART, "weight": "1 g"}
    bought(half, half, files={FILE: packet_text(), "lies-there.pdf": packet_text()}, reader=reader)

    assert ["t.pdf"] == reader.read
    bought({"supplier": "Tarrowmere Seed Exchange", "weight": "2 g"}, files={"z.pdf": "x"}, reader=reader)
    assert ["t.pdf"] == reader.read


def test_a_part_that_no_packet_shows_stays_unproven_beside_one_that_it_does(bought) -> None:
    """Each gram by its own paper."""
    result = bought(PART)
    assert 2_000 == result.lots["L7"].traced_mg

    other = {**PART, "supplier_lot": "T-26-5", "weight": "1 g"}
    season = bought(PART, lots=[two_parts([PART, other])]).lots["L7"]
    assert (2_000, 1_000, "rejected") == (season.traced_mg, season.rejected_mg, season.standing)
    bare = {"supplier": "Tarrowmere Seed Exchange", "weight": "1 g"}
    season = bought(PART, lots=[two_parts([PART, bare])]).lots["L7"]
    assert (2_000, 1_000, "unproven") == (season.traced_mg, season.unproven_mg, season.standing)


def two_parts(parts):
    """A lot of 3 g of the parts."""
    from seasons import lot

    return lot("L7", parts, 3, packed=date(2026, 7, 10))


def test_a_batch_and_a_packet_are_no_source_together(bought) -> None:
    """The grams of one part are counted once."""
    result = bought({**PART, "batch": "X1"})
    lot = result.lots["L7"]

    assert ("unproven", 0) == (lot.standing, lot.traced_mg)
    assert ["batches"] == [part.source.table for part in lot.parts]


@pytest.mark.parametrize(
    ("change", "rule", "standing"),
    [
        ({}, None, "traced"),
        ({"signers": []}, "packet-signer-unknown", "unproven"),
        ({"faults": ["page 1 differs"]}, "packet-unsound", "unproven"),
        ({"lots": {"T-26-4": {**LOT, "standing": "rejected"}}}, "packet-lot-untraced", "unproven"),
        ({"lots": {"T-26-4": {**LOT, "standing": "unproven"}}}, "packet-lot-untraced", "unproven"),
        ({"lots": {"T-26-4": {**LOT, "variety": "Moth Lantern"}}}, "packet-lot-differs", "unproven"),
        ({"dispatches": []}, "packet-outdated", "unproven"),
    ],
)
def test_a_planting_is_no_better_than_what_it_was_sown_of(seasons, bought, change, rule, standing) -> None:
    """The packet shows its origin, without a certificate beside it; and takes its lots with it."""
    origin = {
        "supplier": "Tarrowmere Seed Exchange", "supplier_lot": "T-26-4", "packet": FILE,
    }  # fmt: skip
    early = {"on": "2025-02-08", "dispatches": [{**GONE, "date": "2025-02-06"}]}
    result = bought(
        plantings=[seasons.planting(origin=origin)], files={FILE: packet_text(**{**early, **change})}
    )

    rules = [gap.rule for gap in result.gaps if gap.table == "plantings" and gap.rule.startswith("packet")]
    assert ([rule] if rule else []) == rules
    assert standing == result.lots["L1"].standing
    told_of = [one.table for one in list_through(result, "L1")]
    assert (["plantings"] if standing == "traced" else []) == told_of


def test_what_no_packet_says_changes_nothing(bought) -> None:
    """A season without packets reads none."""
    reader = StandIns()
    result = bought(files={}, reader=reader)

    assert [] == reader.read
    assert () == result.case.purchases
    assert "traced" == result.lots["L1"].standing


def test_json_of_a_stand_in_is_the_sound_packet() -> None:
    """What the tests lay into evidence is what the examples' packet shows."""
    assert packet()["operation"] == json.loads(packet_text())["operation"]
