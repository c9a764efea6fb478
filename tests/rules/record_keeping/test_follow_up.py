from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.examination import examine_season

ON = date(2026, 10, 31)


def farm(seasons, **tables):
    """A tree with a lot of its seed."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block(), seasons.block("West", status="conventional")],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1")],
            "bagging": [seasons.bag("B1", "T1")],
            "harvests": [seasons.harvest("H1", ["B1"])],
            "batches": [seasons.batch("X1", ["H1"])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            **tables,
        }
    )


@pytest.mark.parametrize(("block", "expected"), [("East", [("unproven", ("L1",))]), ("West", [])])
def test_a_material_on_organic_land_needs_its_permission(seasons, block, expected, find):
    """Seed of that land rests on it; other land is free."""
    entry = {"input": "I1", "date": date(2026, 3, 1), "block": block, "material": "fish meal"}
    season = farm(seasons, inputs=[entry])

    assert expected == [(gap.weight, gap.lots) for gap in find(season, "input-unlisted")]


def incident(**more):
    """A storm."""
    return {"incident": "E1", "date": date(2026, 2, 3), "kind": "torn bags", "about": ("B1",), **more}


@pytest.mark.parametrize(
    ("record", "weight", "said"),
    [
        (incident(), "advice", "has neither action nor day on which it was closed"),
        (incident(action="looked at each bag"), "advice", "has no day on which it was closed"),
        (incident(closed=date(2026, 2, 4)), "advice", "has no action"),
        (incident(about=("B1", "L1")), "advice", "has neither"),
        (incident(action="looked at each bag", closed=date(2026, 2, 4)), None, ""),
    ],
)
def test_an_open_incident_is_asked_for_its_end(seasons, record, weight, said, find):
    """What it does to seed is told by what it is about, closed or not."""
    found = find(farm(seasons, incidents=[record]), "incident-open")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(("kind", "expected"), [("drift", 1), ("mixing", 1), ("torn bags", 0)])
def test_the_certifier_hears_of_what_touches_the_claim(seasons, kind, expected, find):
    """Not of every storm."""
    season = farm(seasons, incidents=[incident(kind=kind)])
    told = farm(seasons, incidents=[incident(kind=kind, certifier_notified=date(2026, 2, 3))])

    assert expected == len(find(season, "certifier-not-told"))
    assert () == find(told, "certifier-not-told")


@pytest.mark.parametrize(
    ("change", "found"),
    [({}, 1), ({"allowed_by": "205.601"}, 0), ({"block": "South"}, 1), ({"block": "Nowhere"}, 1)],
)
def test_only_what_nothing_allows_is_told(seasons, change, found, find):
    """Land in transition counts its years as well, and unknown land is taken for the claim's."""
    entry = {"input": "I1", "date": date(2026, 3, 1), "block": "East", "material": "fish meal", **change}
    blocks = [seasons.block(), seasons.block("South", status="transitional")]
    gap = find(farm(seasons, blocks=blocks, inputs=[entry]), "input-unlisted")

    assert found == len(gap)
    assert all(one.message.startswith("Fish meal was put on block") for one in gap)


@pytest.mark.parametrize(
    ("more", "field"),
    [({}, ("action",)), ({"action": "looked"}, ("closed",)), ({"closed": date(2026, 2, 4)}, ("action",))],
)
def test_an_open_incident_is_told_where_something_is_missing(seasons, more, field, find):
    """Its action first; by itself it touches no lot."""
    (gap,) = find(farm(seasons, incidents=[incident(about=("B1", "L1"), **more)]), "incident-open")

    assert (field, (), "advice") == (gap.field, gap.lots, gap.weight)


@pytest.mark.parametrize(("standard", "found"), [("us-nop", 1), ("codex", 0)])
def test_the_certifier_is_told_where_a_standard_asks(seasons, standard, found, find):
    """It cites that standard's clause, and touches no lot."""
    season = farm(seasons, incidents=[incident(kind="drift", about=("L1",))])
    told = find(season, "certifier-not-told", standard)

    assert [("advice", (), True)] * found == [(gap.weight, gap.lots, bool(gap.clauses)) for gap in told]


KINDS = ("positive screening", "torn bags", "storm", "drift", "recall", "complaint", "other")
CLOSED = {"action": "the buyer was written to", "closed": date(2026, 9, 30)}


@pytest.mark.parametrize("kind", KINDS)
def test_a_lot_in_question_is_unproven_until_something_shows_how_it_ended(seasons, kind, find):
    """Whatever the incident is called; that it is closed, and what was done, shows nothing."""
    season = farm(seasons, incidents=[incident(kind=kind, about=("L1", "B1"), **CLOSED)])
    (gap,) = find(season, "incident-unresolved")

    assert ("unproven", ("L1",), ("evidence",)) == (gap.weight, gap.lots, gap.field)
    assert f"Incident E1 ({kind}) is about lot L1, and no paper or test shows how it ended." == gap.message


@pytest.mark.parametrize("about", [("B1",), ("X1",), ("L9",), ()])
def test_an_incident_that_names_no_lot_leaves_none_in_question(seasons, about, find):
    """What it does to a bag or a run has rules of its own."""
    season = farm(seasons, incidents=[incident(kind="other", about=about)])

    assert () == find(season, "incident-unresolved")


@pytest.mark.parametrize(
    ("days", "more", "expected"),
    [
        (-1, {}, ["L1"]),
        (0, {}, []),
        (0, {"controls": "failed"}, ["L1"]),
        (0, {"controls": "not run"}, ["L1"]),
        (0, {"lot": "L2"}, ["L1"]),
    ],
)
def test_a_test_since_the_incident_settles_it(seasons, days, more, expected, find):
    """Of that lot, on that day or later, and sound."""
    day = date(2026, 9, 1)
    test = {
        "test": "G1", "lot": "L1", "date": day + timedelta(days), "kind": "transgene", "pools": 4,
        "seeds_per_pool": 100, "positive_pools": 0, "targets": ("35S",), "controls": "passed", **more,
    }  # fmt: skip
    season = farm(seasons, tests=[test], incidents=[incident(kind="complaint", date=day, about=("L1",))])
    found = find(season, "incident-unresolved")

    assert expected == [lot for gap in found for lot in gap.lots]


@pytest.mark.parametrize(("file", "expected"), [("letters/BF-2201.txt", 0), ("letters/none.txt", 1)])
def test_a_filed_paper_settles_an_incident(seasons, file, expected, find):
    """One that lies in the evidence folder; a file's name alone shows nothing."""
    for slug, kind, about in (
        ("incident-unresolved", "complaint", "L1"), ("incident-of-drift", "drift", "East"),
    ):  # fmt: skip
        record = incident(kind=kind, about=(about,), evidence=file)
        season = farm(seasons, incidents=[record], screening=[seasons.sample("S1", "T1")])

        assert expected == len(find(season, slug))


def two_pickings(seasons, **tables):
    """H1 of East and H2 of West on one day, and H3 of East a week later, each its own lot."""
    harvests = [
        seasons.harvest("H1", ["B1"]),
        seasons.harvest("H2", ["B2"]),
        seasons.harvest("H3", ["B3"], date=seasons.PICKED + timedelta(7)),
    ]
    return farm(
        seasons,
        **{
            "blocks": [seasons.block(), seasons.block("West")],
            "plantings": [seasons.planting(), seasons.planting("P2", block="West")],
            "trees": [seasons.tree("T1"), seasons.tree("T2", planting="P2")],
            "bagging": [seasons.bag(f"B{n}", f"T{2 if n == 2 else 1}") for n in (1, 2, 3)],
            "harvests": harvests,
            "batches": [seasons.batch(f"X{n}", [f"H{n}"]) for n in (1, 2, 3)],
            "lots": [seasons.lot(f"L{n}", [{"batch": f"X{n}", "weight": "8 g"}], 8) for n in (1, 2, 3)],
            **tables,
        },
    )


@pytest.mark.parametrize("about", ["East", "P1", "T1", "B1"])
@pytest.mark.parametrize(
    ("days", "lots"), [(-1, ("L1", "L3")), (0, ("L1", "L3")), (1, ("L3",)), (7, ("L3",)), (8, ())]
)
def test_drift_touches_what_was_picked_of_that_land_since(seasons, about, days, lots, find):
    """The whole block, by whatever of it is named; the day of picking counts, and closing changes nothing."""
    record = incident(kind="drift", date=seasons.PICKED + timedelta(days), about=(about,), **CLOSED)
    (gap,) = find(two_pickings(seasons, incidents=[record]), "incident-of-drift")

    assert lots == gap.lots
    assert ("unproven" if lots else "advice") == gap.weight


@pytest.mark.parametrize("about", [("X1",), ("H1",), ("B1",)])
def test_a_run_or_picking_that_something_got_into_is_refused(seasons, about, find):
    """By the grower's own word, closed or not; other runs aren't touched."""
    record = incident(kind="mixing", about=about, **CLOSED)
    (gap,) = find(two_pickings(seasons, incidents=[record]), "incident-of-mixing")

    assert ("rejects", ("L1",)) == (gap.weight, gap.lots)
    loose = farm(seasons, incidents=[record], lots=[])
    assert ["advice"] == [one.weight for one in find(loose, "incident-of-mixing")]


def test_what_got_into_a_lot_touches_what_was_there_then(seasons):
    """Sold before, it isn't touched; sold that day or later, or still there, it is."""
    sales = [
        seasons.movement(f"M{n}", "L1", "sold", 2, 70 + n, party="Quillmere", document=f"INV-{n}",
                         status="organic", last_certified_operation=seasons.OPERATION)
        for n in (1, 2, 3)
    ]  # fmt: skip
    record = incident(kind="mixing", date=seasons.PICKED + timedelta(72), about=("L1",), **CLOSED)
    tables = {**seasons.one_line(), "movements": sales, "incidents": [record]}
    result = examine_season(seasons.season_of(**tables), ON)
    lot = result.lots["L1"]

    assert (2_000, 0, 6_000) == (lot.traced_mg, lot.unproven_mg, lot.rejected_mg)
    assert ["incident-of-mixing", "suspect-seed-left", "suspect-seed-left"] == sorted(
        gap.rule for gap in result.gaps if gap.weight == "rejects"
    )
    assert ["M2", "M3"] == sorted(gap.id for gap in result.gaps if gap.rule == "suspect-seed-left")


@pytest.mark.parametrize(
    ("about", "expected"),
    [(("L1",), ["L1"]), (("L1", "L2"), ["L1", "L2"]), (("X1", "L2"), ["L1", "L2"]), (("T1",), [])],
)
def test_each_thing_that_something_got_into_is_a_gap_of_its_own(seasons, about, expected, find):
    """A tree or a block can't be mixed."""
    season = two_pickings(seasons, incidents=[incident(kind="mixing", about=about)])

    assert expected == [lot for gap in find(season, "incident-of-mixing") for lot in gap.lots]


@pytest.mark.parametrize(
    ("block", "days", "expected"),
    [
        ("East", -30, ("L1", "L3")),
        ("East", 0, ("L1", "L3")),
        ("East", 1, ("L3",)),
        ("East", 8, ()),
        ("West", -30, ("L2",)),
    ],
)
def test_a_prohibited_material_refuses_what_was_picked_since(seasons, block, days, expected, find):
    """By its own name, whatever is written as its permission; the day of picking counts."""
    entry = {"input": "I1", "date": seasons.PICKED + timedelta(days), "block": block,
             "material": "Ammonium nitrate, 50 kg", "allowed_by": "our plan, page 4"}  # fmt: skip
    (gap,) = find(two_pickings(seasons, inputs=[entry]), "input-prohibited")

    assert (("rejects" if expected else "advice"), expected) == (gap.weight, gap.lots)
    assert gap.message.startswith(f"Ammonium nitrate, 50 kg was put on block {block} on ")


@pytest.mark.parametrize(
    ("material", "status", "expected"),
    [
        ("urea", "organic", 1),
        ("UREA 46-0-0", "transitional", 1),
        ("urea", "conventional", 0),
        ("fish meal", "organic", 0),
        ("compost", "organic", 0),
    ],
)
def test_a_material_is_prohibited_by_its_name_on_land_that_claims(seasons, material, status, expected, find):
    """What isn't on the list is not therefore allowed: that is asked by another rule."""
    entry = {"input": "I1", "date": date(2026, 3, 1), "block": "South", "material": material}
    blocks = [seasons.block(), seasons.block("South", status=status)]

    assert expected == len(find(farm(seasons, blocks=blocks, inputs=[entry]), "input-prohibited"))


@pytest.mark.parametrize(("about", "expected"), [((), 1), (("L1",), 0), (("L9",), 0)])
def test_an_incident_is_about_something(seasons, about, expected, find):
    """A number that no record bears is told elsewhere."""
    found = find(farm(seasons, incidents=[incident(about=about)]), "incident-about-nothing")

    assert [("E1", ("about",), "advice")] * expected == [(gap.id, gap.field, gap.weight) for gap in found]


@pytest.mark.parametrize(
    ("agent", "allowed_by", "expected"),
    [
        (None, None, 0),
        ("water only", None, 0),
        ("hot water and a brush", None, 0),
        ("none but water", None, 0),
        ("peracetic acid", None, 1),
        ("water with bleach", None, 1),
        ("peracetic acid", "plan, page 14", 0),
    ],
)
def test_a_cleaning_agent_needs_its_permission(seasons, find, agent, allowed_by, expected):
    """Water needs none. It is advice: what was cleaned is cleaned."""
    entry = {"cleaning": "C1", "date": date(2026, 6, 1), "equipment": ("mixer",), "method": "washed"}
    more = {"agent": agent, "agent_allowed_by": allowed_by}
    entry |= {name: value for name, value in more.items() if value}

    found = find(farm(seasons, cleaning=[entry]), "cleaning-agent-unlisted")
    assert ["advice"] * expected == [gap.weight for gap in found]


@pytest.mark.parametrize(
    ("kind", "action", "expected"),
    [("store pests", None, 1), ("store pests", "traps", 0), ("torn bags", None, 0)],
)
def test_pests_in_the_store_were_answered(seasons, find, kind, action, expected):
    """What was done is told; a store's pests are told by this rule alone."""
    made = incident(kind=kind, closed=date(2026, 2, 4))
    made |= {"action": action} if action else {}
    season = farm(seasons, incidents=[made])

    assert expected == len(find(season, "store-pests-unanswered"))
    assert (kind == "torn bags") == bool(find(season, "incident-open"))
