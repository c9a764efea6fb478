from __future__ import annotations

from datetime import date

import pytest
from seasons import write_season

from certgen.dossier.due import list_due
from certgen.examination import examine
from certgen.rules.growing.selection import list_unfit

ON = date(2026, 10, 31)
SEEN = {
    "observation": "O1",
    "date": "2026-06-02",
    "trees": ["T1"],
    "kind": "off-type",
    "seen": "yellow flesh",
}
PHOTO = "photos/T1.txt"


@pytest.fixture
def watched(seasons, tmp_path):
    """The result of one line from tree T1 to lot L1, with a second tree, and observations."""

    def build(*observations, trees=(), **tables):
        line = seasons.one_line()
        line["trees"] = [*line["trees"], seasons.tree("T2"), *trees]
        line["screening"] = [*line["screening"], seasons.sample("S2", "T2")]
        told = [{**SEEN, "observation": f"O{at}", **one} for at, one in enumerate(observations, 1)]
        write_season(tmp_path, **{**line, "observations": told, **tables})
        path = tmp_path / "evidence" / PHOTO
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("A photo.\n", encoding="utf-8")
        result = examine(tmp_path, ON)
        assert () == tuple(result.errors)
        return result

    return build


def gaps_of(result, slug):
    """The weights of a rule's gaps, with the lots that they reach."""
    return [(gap.weight, gap.lots) for gap in result.gaps if gap.rule == slug]


@pytest.mark.parametrize(
    ("told", "standing"),
    [
        ({}, "unproven"),
        ({"decision": "felled"}, "unproven"),
        ({"decision": "kept"}, "unproven"),
        ({"decision": "kept", "because": "it fruits well"}, "unproven"),
        ({"decision": "kept", "evidence": PHOTO}, "unproven"),
        ({"decision": "kept", "because": "true to type", "evidence": "photos/none.txt"}, "unproven"),
        ({"decision": "kept", "because": "true to type", "evidence": PHOTO}, "traced"),
        ({"decision": "not a parent", "because": "true to type", "evidence": PHOTO}, "unproven"),
        ({"trees": ["T2"]}, "traced"),
        ({"kind": "symptom"}, "traced"),
        ({"kind": "vigour", "decision": "felled"}, "traced"),
    ],
)
def test_an_off_types_seed_is_not_proved_to_be_the_variety(watched, told, standing):
    """A decision alone shows nothing; a reason with a paper or photo does."""
    result = watched(told)

    assert standing == result.lots["L1"].standing
    found = [("unproven", ("L1",))] if standing == "unproven" else []
    assert found == gaps_of(result, "off-type-parent")


@pytest.mark.parametrize(
    ("told", "found"),
    [
        ({"kind": "symptom", "seen": "rings on fruit"}, [("advice", ())]),
        ({"kind": "symptom", "decision": "kept", "because": "not in seed", "evidence": PHOTO}, []),
        ({"kind": "symptom", "trees": ["T2"]}, []),
        ({"kind": "fruit"}, []),
    ],
)
def test_whether_a_disease_goes_along_with_seed_is_asked(watched, told, found):
    """It is advice: which diseases do, no record here says."""
    assert found == gaps_of(watched(told), "diseased-parent")


@pytest.mark.parametrize(
    ("told", "unfit"),
    [
        ([{}], {"T1": date(2026, 6, 2)}),
        ([{"trees": ["T1", "T2"], "kind": "symptom"}], dict.fromkeys(("T1", "T2"), date(2026, 6, 2))),
        ([{"kind": "vigour"}], {}),
        ([{"kind": "fruit", "decision": "not a parent"}], {"T1": date(2026, 6, 2)}),
        ([{"decision": "kept", "because": "true to type"}], {"T1": date(2026, 6, 2)}),
        ([{}, {"date": "2026-07-01", "decision": "kept", "because": "true", "evidence": PHOTO}], {}),
        (
            [{"decision": "kept", "because": "true", "evidence": PHOTO}, {"date": "2026-07-01"}],
            {"T1": date(2026, 7, 1)},
        ),
    ],
)
def test_trees_that_can_be_no_parents_are_known_from_a_day_on(watched, told, unfit):
    """The last word counts, and keeping a tree takes a reason and something that shows it."""
    assert unfit == dict(list_unfit(watched(*told).case))


def test_only_trees_that_can_be_parents_are_listed_for_bagging(watched):
    """Two cleared trees, of which one was seen to be stunted and not to be bagged again."""
    result = watched({"trees": ["T2"], "kind": "vigour", "decision": "not a parent"})

    assert ["T1"] == [one.identifier for one in list_due(result) if one.subject == "cleared for bagging"]


@pytest.mark.parametrize(
    ("told", "found"),
    [({}, 1), ({"kind": "symptom"}, 1), ({"kind": "fruit"}, 0), ({"decision": "felled"}, 0)],
)
def test_what_speaks_against_a_tree_wants_a_decision(watched, told, found):
    """Of other things that are seen none is asked for."""
    assert [("advice", ())] * found == gaps_of(watched({"trees": ["T2"], **told}), "observation-undecided")


@pytest.mark.parametrize(
    ("register", "seen", "found"),
    [
        ("hermaphrodite", "female", 1),
        ("hermaphrodite", "hermaphrodite", 0),
        ("unknown", "female", 0),
        ("hermaphrodite", "unknown", 0),
    ],
)
def test_the_sex_seen_is_the_registers(seasons, watched, register, seen, found):
    """What wasn't known before is no contradiction."""
    told = {"trees": ["T3"], "kind": "sex", "sex": seen}
    result = watched(told, trees=[seasons.tree("T3", sex=register)])

    assert [("advice", ())] * found == gaps_of(result, "sex-seen-differs")


@pytest.mark.parametrize(("removed", "found"), [(None, 1), ("2026-06-02", 0)])
def test_a_felled_tree_is_gone_from_the_register(seasons, watched, removed, found):
    """On whatever day."""
    tree = seasons.tree("T3", **({"removed": removed} if removed else {}))
    result = watched({"trees": ["T3"], "kind": "vigour", "decision": "felled"}, trees=[tree])

    assert [("advice", ())] * found == gaps_of(result, "felled-tree-standing")
