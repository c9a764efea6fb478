"""A lot is treated when any record on its way says so; silence says neither."""

from __future__ import annotations

import datetime as dt

import pytest
from stand_ins import StandIns, packet, packet_text

from certgen.dossier.treatment import Treatments
from certgen.examination import examine
from certgen.records.supplied import Treatment

THIRAM = {"treated": True, "with": "thiram", "harmful": True}
WARM = {"treated": True, "with": "hot water", "harmful": False}
NOT = {"treated": False}


@pytest.fixture
def treatments(seasons, tmp_path):
    """The treatments of a farm with these batches and lots."""

    def build(batches, lots):
        seasons.write_season(
            tmp_path,
            blocks=[seasons.block()],
            plantings=[seasons.planting()],
            trees=[seasons.tree("T1")],
            screening=[seasons.sample("S1", "T1")],
            bagging=[seasons.bag("B1", "T1")],
            harvests=[seasons.harvest("H1", ["B1"])],
            batches=[seasons.batch(name, ["H1"], **more) for name, more in batches.items()],
            lots=[seasons.lot(name, sources, 4, **more) for name, (sources, more) in lots.items()],
        )
        result = examine(tmp_path, dt.date(2026, 12, 1))
        assert () == tuple(result.errors)
        return Treatments(result.case)

    return build


def of_batch(name, **more):
    """A lot out of one batch."""
    return [{"batch": name, "weight": "4 g"}], more


def of_lot(*names, **more):
    """A lot out of other lots."""
    return [{"lot": name, "weight": "1 g"} for name in names], more


@pytest.mark.parametrize(
    ("batch", "lot", "found"),
    [
        ({}, {}, Treatment(None)),
        ({}, {"treatment": NOT}, Treatment(False)),
        ({"treatment": NOT}, {}, Treatment(False)),
        ({"treatment": THIRAM}, {}, Treatment(True, ("thiram",), True, True)),
        ({"treatment": WARM}, {}, Treatment(True, ("hot water",), True, False)),
        ({}, {"treatment": WARM}, Treatment(True, ("hot water",), True, False)),
        # Said twice it is one treatment; denied and said, it is said.
        ({"treatment": THIRAM}, {"treatment": THIRAM}, Treatment(True, ("thiram",), True, True)),
        ({"treatment": THIRAM}, {"treatment": NOT}, Treatment(True, ("thiram",), True, True)),
        # Two treatments: both named, and the harm of either counts; silence on one leaves it open.
        ({"treatment": WARM}, {"treatment": THIRAM}, Treatment(True, ("hot water", "thiram"), True, True)),
        (
            {"treatment": WARM},
            {"treatment": {"treated": True}},
            Treatment(True, ("hot water",), False, None),
        ),
        ({}, {"treatment": {"treated": True}}, Treatment(True, (), False, None)),
    ],
)
def test_batch_and_lot_speak_for_a_lot(treatments, batch, lot, found):
    """What is said of the run is said of the lot."""
    assert found == treatments({"X1": batch}, {"L1": of_batch("X1", **lot)}).of("L1")


def test_a_blend_is_treated_when_one_part_is(treatments):
    """However far back."""
    known = treatments(
        {"X1": {"treatment": THIRAM}, "X2": {"treatment": NOT}},
        {
            "L1": of_batch("X1"), "L2": of_batch("X2"), "L3": of_lot("L1", "L2"), "L4": of_lot("L3", "L2"),
            "L5": of_lot("L2"),
        },
    )  # fmt: skip

    assert [True, False, True, True, False] == [known.of(f"L{n}").treated for n in range(1, 6)]


def test_untreated_needs_every_part_to_say_so(treatments):
    """One part of which nothing is said, or seed that was bought, leaves the blend open."""
    known = treatments(
        {"X1": {"treatment": NOT}, "X2": {}},
        {
            "L1": of_batch("X1"),
            "L2": of_batch("X2"),
            "L3": of_lot("L1", "L2"),
            "L4": ([{"supplier": "Sallow Reach Seed Exchange", "weight": "4 g"}], {}),
            "L5": ([{"batch": "X1", "weight": "2 g"}, {"lot": "L4", "weight": "2 g"}], {}),
            "L6": of_lot("L3", treatment=NOT),
        },
    )

    assert [False, None, None, None, None, False] == [known.of(f"L{n}").treated for n in range(1, 7)]


def test_lots_that_go_round_in_circles_end(treatments):
    """Two lots blended from each other and a treated third: the records are wrong, the seed treated."""
    known = treatments(
        {"X1": {"treatment": THIRAM}},
        {"L1": of_lot("L2"), "L2": of_lot("L1", "L3"), "L3": of_batch("X1")},
    )

    assert (True, True) == (known.of("L1").treated, known.of("L2").treated)
    assert Treatment(None) == known.of("no such lot")


@pytest.mark.parametrize(
    ("theirs", "signed", "own", "found"),
    [
        ({"treated": True, "substances": ["thiram"], "harmful": True}, True, {},
         Treatment(True, ("thiram",), True, True)),
        # What speaks against seed counts whoever signed it, and whatever is said here.
        ({"treated": True, "substances": ["thiram"], "harmful": True}, False, {"treatment": NOT},
         Treatment(True, ("thiram",), True, True)),
        ({"treated": False}, True, {}, Treatment(False)),
        ({"treated": False}, False, {}, Treatment(None)),
        ({}, True, {}, Treatment(None)),
        ({}, True, {"treatment": NOT}, Treatment(False)),
    ],
)  # fmt: skip
def test_a_suppliers_packet_speaks_for_bought_seed(seasons, tmp_path, theirs, signed, own, found):
    """Its word that seed is treated counts always; its word that it isn't, where the packet counts."""
    lots = packet()["lots"]
    lots["T-26-4"] = {**lots["T-26-4"], "treatment": theirs}
    text = packet_text(lots=lots, **({} if signed else {"signers": []}))
    bought = {
        "supplier": "Tarrowmere Seed Exchange", "certificate": "C-0912", "supplier_lot": "T-26-4",
        "weight": "2 g", "packet": "tarrowmere.pdf",
    }  # fmt: skip
    key = {
        "party": "Tarrowmere Seed Exchange", "key": packet()["signers"][0]["key"],
        "told_by": "M. Tarrow by telephone", "date": dt.date(2026, 7, 1),
    }  # fmt: skip
    seasons.write_season(
        tmp_path,
        details={"known_signers": [key]},
        lots=[seasons.lot("L1", [bought], 2, packed=dt.date(2026, 7, 20), **own)],
    )
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "tarrowmere.pdf").write_text(text, encoding="utf-8")

    result = examine(tmp_path, dt.date(2026, 12, 1), packets=StandIns())

    assert () == tuple(result.errors)
    assert [signed] == [one.shown for one in result.case.purchases]
    assert found == Treatments(result.case).of("L1")
