from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from certgen.examination import examine_season
from certgen.lineage import Node
from certgen.records.joining.farm import join_seasons
from certgen.records.tables import load_tables
from certgen.rules import RULES, run_rules
from certgen.rules.obligations import GENERAL, OBLIGATIONS, open_rows
from certgen.rules.proofs import Proofs
from certgen.rules.wording import name
from certgen.standards.season_reading import read_case

COVERS = ("certgen.rules.proofs",)
ON = date(2026, 10, 31)
BY_KEY = {one.key: one for one in OBLIGATIONS}


# Clean seasons: of one line in plain records, and what needs more to be shown


def plain(seasons):
    """One line from land to lot, everything in its own record."""
    return seasons.one_line()


def crossed(seasons):
    """A female flower that was given another tree's pollen."""
    tables = seasons.one_line()
    tables["trees"] = [seasons.tree("T1", sex="female"), seasons.tree("T2")]
    tables["screening"] = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2")]
    tables["bagging"] = [seasons.bag("B1", "T1", flower="female", pollen_parent="T2")]
    return tables


def withered(seasons):
    """A bag that came off on the fifth day, since the petals had fallen on the fourth."""
    days = {name: seasons.COVERED + timedelta(at) for name, at in (("petal_fall", 4), ("uncovered", 5))}
    return {**seasons.one_line(), "bagging": [seasons.bag("B1", "T1", **{"checks": [], **days})]}


def remainder(seasons):
    """A run of which a gram was never packed."""
    kept = {"weight": "1 g", "why": "for our own trials"}
    return {
        **seasons.one_line(),
        "batches": [seasons.batch("X1", ["H1"], never_packed=kept)],
        "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "7 g"}], 7)],
    }


def twins(seasons):
    """Two bags of one day and tree, told apart by the numbers on their tags; the other one wasn't tied."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T1", secured=False)]
    bags = [{**bag, "tag": {**bag["tag"], "bag": bag["bag"]}} for bag in bags]
    return {**seasons.one_line(), "bagging": bags}


def two_sorts(seasons):
    """Two varieties, each run on equipment of its own."""
    tables = seasons.one_line()
    other = "Moth Lantern"
    parts = {
        "plantings": seasons.planting("P2", variety=other),
        "trees": seasons.tree("T2", planting="P2"),
        "screening": seasons.sample("S2", "T2"),
        "bagging": seasons.bag("B2", "T2", variety=other),
        "harvests": seasons.harvest("H2", ["B2"]),
        "batches": seasons.batch("X2", ["H2"], equipment=("sieve",), day=20),
        "lots": seasons.lot("L2", [{"batch": "X2", "weight": "8 g"}], 8, variety=other, day=20),
    }
    return {name: [*tables[name], *([parts[name]] if name in parts else [])] for name in tables}


def walked(seasons):
    """The bag and the leaf by rounds: their records bear no more than their numbers."""
    by = {"by": "R. Alder"}
    rounds = [
        {"round": "R1", "kind": "bagging", "date": seasons.COVERED, "bags": ["B1"], "stage": "closed bud",
         "flower": "hermaphrodite", "secured": True, "bag_use": "new", "tagged": True, **by},
        {"round": "R2", "kind": "check", "date": seasons.COVERED + timedelta(8), "blocks": ["East"],
         "condition": "intact", **by},
        {"round": "R3", "kind": "uncovering", "date": seasons.COVERED + timedelta(12), "bags": ["B1"],
         "outcome": "set", "fruit_marked": True, **by},
        {"round": "R4", "kind": "sampling", "date": seasons.SCREENED, "samples": ["S1"], "marked": True,
         **by},
    ]  # fmt: skip
    sample = seasons.sample("S1", "T1")
    return {
        **seasons.one_line(),
        "bagging": [{"bag": "B1", "tree": "T1"}],
        "screening": [{key: value for key, value in sample.items() if key not in {"collected", "mark"}}],
        "rounds": rounds,
    }


def walked_twins(seasons):
    """Two bags of one tree by a round that numbered their tags; the other one wasn't tied."""
    tables = walked(seasons)
    tables["bagging"] = [{"bag": "B1", "tree": "T1"}, {"bag": "B2", "tree": "T1"}]
    tables["rounds"][0] |= {"bags": ["B1", "B2"], "numbered": True,
                            "exceptions": [{"about": ["B2"], "secured": False}]}  # fmt: skip
    return tables


def walked_withered(seasons):
    """A check that saw the petals fallen on the fourth day, and bags that came off on the fifth."""
    tables = walked(seasons)
    tables["rounds"][1] |= {"date": seasons.COVERED + timedelta(4), "petals_fallen": True}
    tables["rounds"][2] |= {"date": seasons.COVERED + timedelta(5)}
    return tables


def lettered(seasons):
    """The leaf's test by the laboratory's letter."""
    letter = {
        "letter": "BF-2201", "laboratory": "Bracken Ford Plant Diagnostics", "method": "pcr",
        "targets": ["35S", "nptII"], "samples": ["S1"], "result": "negative",
        "reported": seasons.SCREENED + timedelta(8),
    }  # fmt: skip
    sample = {"sample": "S1", "tree": "T1", "mark": "T1", "collected": seasons.SCREENED}
    return {**seasons.one_line(), "screening": [sample], "letters": [letter]}


def lettered_stain(seasons):
    """An own bench's stain, of which its letter says that the controls passed and how long it stood."""
    tables = lettered(seasons)
    tables["letters"][0] |= {"laboratory": "our own bench", "controls": "passed"}
    return tables


#: What a routine may say, and of which records.
ROUTINE = {
    "laboratory": ("screening", "Bracken Ford Plant Diagnostics"),
    "equipment": ("batches", ["mixer"]),
    "bag_use": ("bagging", "new"),
    "packaging": ("lots", "foil pouch"),
    "container_use": ("lots", "new"),
}


def routine(seasons):
    """What doesn't change from day to day, said once; other seed is run on equipment of its own."""
    tables = two_sorts(seasons)
    for field, (table, _) in ROUTINE.items():
        tables[table][0] = {key: value for key, value in tables[table][0].items() if key != field}
    told = {field: value for field, (_, value) in ROUTINE.items()}
    return {**tables, "details": {"routine": {"stated_by": "R. Alder", **told}}}


BASES = {
    one.__name__: one
    for one in (
        plain, crossed, withered, remainder, twins, two_sorts, walked, walked_twins, walked_withered,
        lettered, lettered_stain, routine,
    )
}  # fmt: skip


@pytest.mark.parametrize("base", BASES)
def test_each_way_of_saying_it_is_enough(seasons, base):
    """All of these seasons are traced to the last milligram, and every obligation of L1's line is shown."""
    season = seasons.season_of(**BASES[base](seasons))
    result = examine_season(season, ON)
    lot = result.lots["L1"]

    assert [] == [gap.message for gap in result.gaps if gap.weight != "advice" and "L1" in gap.lots]
    assert ("traced", lot.weight_mg) == (lot.standing, lot.traced_mg)
    assert [] == [one.obligation.key for one in Proofs(result.case).of_lot("L1", lot.parts) if not one.whole]


# Evidence taken away, one at a time

Step = str | int


@dataclass(frozen=True)
class Way:
    """One kind of evidence of an obligation in one of the seasons: where it stands; it is cut from there.

    `field` is the column that shows it; `instead` is what is put in its place, if anything.
    """

    key: str
    base: str
    field: str
    cuts: tuple[tuple[Step, ...], ...]
    instead: object = None

    def __str__(self):
        cut = ".".join(map(str, self.cuts[0]))
        return f"{self.key}-{self.base}-{self.field}-{cut}" + ("" if self.instead is None else "-otherwise")


def way(key, base, field, *cuts, instead=None):
    """A kind of evidence, its place written with full stops: 'bagging.0.tag.date'."""
    steps = [tuple(int(part) if part.isdigit() else part for part in cut.split(".")) for cut in cuts]
    return Way(key, base, field, tuple(steps), instead)


#: What comes into a lot, and what is missing of it, by the day of a test that every lot has.
RECEIVED, COUNTED = (
    [{"movement": "M1", "date": date(2026, 9, 1), "lot": "L1", "kind": kind, "weight": "1 g",
      "party": "Hollin Nursery", "document": "D-1"}]
    for kind in ("received", "counted")
)  # fmt: skip
OF_SAMPLE = ("mark", "collected", "method", "targets", "laboratory", "result", "tree")
WAYS: Sequence[Way] = (
    way("lot-sources", "plain", "sources", "lots.0.sources"),
    way("lot-sources", "plain", "sources", "lots.0.sources.0.batch"),
    way("lot-sources", "plain", "sources", "batches.0"),
    way("lot-variety", "plain", "sources", "lots.0.sources"),
    way("lot-variety", "plain", "variety", "lots.0.variety"),
    way("lot-variety", "plain", "variety", "trees.0"),
    way("lot-status", "plain", "sources", "lots.0.sources"),
    way("lot-status", "plain", "status", "batches.0.status"),
    way("lot-packaging", "plain", "packaging", "lots.0.packaging"),
    way("lot-packaging", "plain", "container_use", "lots.0.container_use"),
    way("lot-packaging", "routine", "packaging", "details.routine.packaging"),
    way("lot-packaging", "routine", "container_use", "details.routine.container_use"),
    way("lot-packaging", "routine", "packaging", "details.routine"),
    way("lot-packaging", "routine", "packaging", "details.routine.stated_by", instead="?"),
    way("lot-packaging", "routine", "packaging", "details.routine.packaging", instead="-"),
    way("lot-undisturbed", "plain", "lot", "lots.0.lot"),
    way("lot-undisturbed", "plain", "lot", "movements", instead=RECEIVED),
    way("lot-accounted", "plain", "weight", "lots.0.weight"),
    way("lot-accounted", "plain", "weight", "movements", instead=COUNTED),
    way("run-pickings", "plain", "harvests", "batches.0.harvests"),
    way("run-pickings", "plain", "harvests", "harvests.0"),
    way("run-weight", "plain", "dry_weight", "batches.0.dry_weight"),
    way("run-unmixed", "plain", "harvests", "batches.0.harvests"),
    way("run-unmixed", "plain", "status", "batches.0.status"),
    way("run-equipment", "two_sorts", "equipment", "batches.0.equipment"),
    way("run-equipment", "routine", "equipment", "details.routine.equipment"),
    way("run-equipment", "routine", "equipment", "details.routine.stated_by", instead="?"),
    way("run-remainder", "remainder", "never_packed.weight", "batches.0.never_packed"),
    way("run-remainder", "remainder", "never_packed.weight", "batches.0.never_packed.why", instead="?"),
    way("picking-bags", "plain", "bags", "harvests.0.bags"),
    way("picking-bags", "plain", "bags", "bagging.0"),
    way("picking-bags", "plain", "fruits", "harvests.0.fruits"),
    way("picking-land", "plain", "status", "harvests.0.status"),
    way("picking-land", "plain", "status", "blocks.0.organic_since"),
    way("picking-land", "plain", "status", "blocks.0.last_prohibited_substance"),
    way("picking-land", "plain", "status", "blocks.0"),
    way("bag-tag", "plain", "tag.date", "bagging.0.tag.date"),
    way("bag-tag", "plain", "tag.variety", "bagging.0.tag.variety"),
    way("bag-tag", "plain", "tag.tree", "bagging.0.tag.tree"),
    way("bag-tag", "plain", "tag.tree", "bagging.0.tag"),
    *(way("bag-tag", "walked", f"tag.{field}", "rounds.0.tagged") for field in ("date", "variety", "tree")),
    way("bag-tag", "walked", "tag.tree", "rounds.0.tagged", instead=False),
    way("bag-bud", "plain", "stage", "bagging.0.stage"),
    way("bag-bud", "walked", "stage", "rounds.0.stage"),
    way("bag-flower", "plain", "flower", "bagging.0.flower"),
    way("bag-flower", "walked", "flower", "rounds.0.flower"),
    way("bag-flower", "crossed", "pollen_parent", "bagging.0.pollen_parent"),
    way("bag-tied", "plain", "secured", "bagging.0.secured"),
    way("bag-tied", "walked", "secured", "rounds.0.secured"),
    way("bag-tied", "walked", "secured", "rounds.0.by", instead="?"),
    way("bag-held", "plain", "checks", "bagging.0.checks", "bagging.0.uncovered"),
    way("bag-held", "plain", "uncovered", "bagging.0.uncovered"),
    way("bag-held", "withered", "petal_fall", "bagging.0.petal_fall"),
    way("bag-held", "walked", "checks", "rounds.1.condition", "rounds.2"),
    way("bag-held", "walked", "checks", "rounds.1.by", "rounds.2.by", instead="-"),
    way("bag-held", "walked", "uncovered", "rounds.1", "rounds.1"),
    way("bag-held", "walked_withered", "petal_fall", "rounds.1.petals_fallen"),
    way("bag-clean", "plain", "bag_use", "bagging.0.bag_use"),
    way("bag-clean", "walked", "bag_use", "rounds.0.bag_use"),
    way("bag-clean", "routine", "bag_use", "details.routine.bag_use"),
    way("bag-tag-own", "twins", "tag.bag", "bagging.0.tag.bag", "bagging.1.tag.bag"),
    way("bag-tag-own", "walked_twins", "tag.bag", "rounds.0.numbered"),
    way("bag-fruit", "plain", "fruit_marked", "bagging.0.fruit_marked"),
    way("bag-fruit", "walked", "fruit_marked", "rounds.2.fruit_marked"),
    way("bag-tree", "plain", "tree", "bagging.0.tree"),
    way("bag-tree", "plain", "tree", "trees.0"),
    way("bag-tree", "plain", "tree", "plantings.0"),
    way("bag-tree", "plain", "covered", "bagging.0.covered"),
    way("bag-tree", "walked", "covered", "rounds.0.bags"),
    way("bag-tree", "walked", "covered", "rounds.0"),
    way("bag-screened", "plain", "tree", "screening.0"),
    *(way("bag-screened", "plain", "tree", f"screening.0.{field}") for field in OF_SAMPLE),
    way("bag-screened", "plain", "tree", "screening.0.report", "screening.0.evidence"),
    way("bag-screened", "crossed", "tree", "screening.1"),
    *(way("bag-screened", "crossed", "tree", f"screening.1.{field}") for field in OF_SAMPLE),
    way("bag-screened", "walked", "tree", "rounds.3.marked"),
    way("bag-screened", "walked", "tree", "rounds.3.samples"),
    way("bag-screened", "walked", "tree", "rounds.3"),
    *(
        way("bag-screened", "lettered", "tree", f"letters.0.{field}")
        for field in ("laboratory", "method", "targets", "result", "samples")
    ),
    way("bag-screened", "lettered", "tree", "letters.0"),
    way("bag-screened", "lettered", "tree", "letters.0.laboratory", instead="unknown"),
    way("bag-screened", "lettered_stain", "tree", "letters.0.controls"),
    way("bag-screened", "routine", "tree", "details.routine.laboratory"),
    way("planting-origin", "plain", "origin.supplier", "plantings.0.origin"),
    way("planting-origin", "plain", "origin.supplier", "plantings.0.origin.supplier", instead="?"),
    way("planting-origin", "plain", "origin.supplier", "plantings.0.origin.certificate"),
    way("block-status", "plain", "status", "blocks.0.status"),
    way("block-status", "plain", "boundary", "blocks.0.boundary"),
    way("block-status", "plain", "boundary", "blocks.0.buffer"),
)  # fmt: skip
#: What the reader asks for: without it a record is left out, and that is a gap of its own.
ASKED_BY_READER = {
    "lots.variety", "lots.status", "lots.lot", "lots.weight", "batches.status", "harvests.fruits",
    "harvests.status", "bagging.tree", "blocks.status",
}  # fmt: skip


def take_away(tables, one):
    """The tables, less what a way of saying it says."""
    tables = copy.deepcopy(tables)
    for cut in one.cuts:
        at = tables
        for step in cut[:-1]:
            at = at[step]
        if one.instead is not None:
            at[cut[-1]] = one.instead
        else:
            del at[cut[-1]]
    return tables


@pytest.fixture
def lost(seasons, tmp_path):
    """`lost(way)`: the season as it is read once the evidence is taken away, and what couldn't be read."""

    def lost(one):
        seasons.write_season(tmp_path, **take_away(BASES[one.base](seasons), one))
        return read_case(tmp_path)

    return lost


@pytest.mark.parametrize("one", WAYS, ids=str)
def test_evidence_that_is_taken_away_is_never_traced_and_never_silent(lost, case_of, one):
    """Whoever said it: the record, a round, a letter or the routine. Some rule says what is missing."""
    season, errors = lost(one)
    found, crashed, standings = run_rules(case_of(season))
    lot = standings.judge().get("L1")
    told = {gap.rule for gap in found if gap.weight != "advice" and "L1" in gap.lots}

    assert () == crashed
    assert lot is None or (lot.standing != "traced" and (lot.traced_mg == 0 or one.key in WHOLE))
    assert told or (errors and lot is None)
    assert bool(errors) == ("record-unread" in {gap.rule for gap in found})


#: What leaves a lot open as a whole, and moves no gram.
WHOLE = {"run-remainder", "lot-accounted"}


@pytest.mark.parametrize("one", WAYS, ids=str)
def test_what_no_rule_has_a_word_for_is_unproven_all_the_same(lost, case_of, one):
    """With all other rules switched off, those of the obligation among them, what isn't shown is a gap."""
    season, errors = lost(one)
    case, obligation = case_of(season), BY_KEY[one.key]
    found, crashed, standings = run_rules(case, {"claim-unproven": RULES["claim-unproven"]})
    nodes = [Node(obligation.table, name) for _, name in open_rows(case, obligation)]
    told = [(gap.starts, gap.weight) for gap in found if gap.message == _silence(obligation, nodes)]

    assert () == crashed
    assert nodes or errors
    assert ([(tuple(nodes), "unproven")] if nodes else []) == told
    assert errors or "traced" != standings.judge()["L1"].standing


def _silence(obligation, nodes):
    """What a gap says of records that nothing shows an obligation of."""
    was = "was" if len(nodes) == 1 else "were"
    names = name(obligation.table, [node.id for node in nodes]) if nodes else ""
    return f"Nothing in the records shows that {obligation.says.format(names=names, was=was)}."


@pytest.mark.parametrize("one", OBLIGATIONS, ids=lambda one: one.key)
def test_an_obligation_without_its_rules_is_told_by_the_claim(seasons, case_of, one):
    """With all other rules at work but its own, and those that may explain anything. For each obligation
    the first of its ways that the reader doesn't ask for."""
    first = next(way for way in WAYS if way.key == one.key and not _is_asked_for(way))
    case = case_of(seasons.season_of(**take_away(BASES[first.base](seasons), first)))
    off = {*one.rules, *GENERAL}
    found, _, standings = run_rules(case, {slug: rule for slug, rule in RULES.items() if slug not in off})
    told = {node for gap in found if gap.rule == "claim-unproven" for node in gap.starts}

    assert open_rows(case, one)
    assert {Node(one.table, name) for _, name in open_rows(case, one)} <= told
    assert "traced" != standings.judge()["L1"].standing


def _is_asked_for(one):
    table, _, field = one.cuts[0][:3] if len(one.cuts[0]) > 2 else ("", "", "")
    return f"{table}.{field}" in ASKED_BY_READER


def test_every_field_of_every_obligation_is_taken_away():
    """So that no kind of evidence is left untried."""
    tried = {(one.key, one.field) for one in WAYS}

    assert {(one.key, field) for one in OBLIGATIONS for field in one.fields} == tried


def test_every_word_of_a_round_letter_or_routine_is_taken_away(seasons):
    """Whatever of an obligation's evidence these seasons say in a round, a letter or the routine is cut there
    as well. What a letter says of a leaf, and a walk of its mark, shows the screening of the bags."""
    tried = {(one.key, one.base, one.field) for one in WAYS}
    for base in ("walked", "walked_twins", "walked_withered", "routine"):
        attested = join_seasons(seasons.season_of(**BASES[base](seasons))).attested
        said = {place for place, words in attested.items() if any(words)}
        for one in OBLIGATIONS:
            for field in one.fields:
                if (one.table, field) in said:
                    families = {base, "walked"} if base.startswith("walked") else {base}
                    assert any((one.key, family, field) in tried for family in families), (
                        one.key,
                        base,
                        field,
                    )


@pytest.mark.parametrize("one", OBLIGATIONS, ids=lambda one: one.key)
def test_an_obligation_names_what_there_is(one):
    """Its table and columns, its rules, and words that can be filled in."""
    columns = {column.name for column in load_tables()[one.table].columns}

    assert set(one.fields) <= columns
    assert set(one.rules) <= RULES.keys()
    assert one.rules
    assert "X1" in one.says.format(names="batch X1", was="was") or "{names}" not in one.says
    assert "{names}" in one.says


def test_obligations_have_names_of_their_own():
    """Some twenty-five, each once; and the rules that may explain anything are there."""
    assert len(BY_KEY) == len(OBLIGATIONS)
    assert set(GENERAL) - {"rule-crashed"} <= RULES.keys()


# What is shown, row for row


def test_only_what_stands_on_some_lots_line_is_open(seasons, stocked, case_of):
    """B2 was tied by nobody, and nothing was picked of it."""
    bags = [seasons.bag("B1", "T1"), {k: v for k, v in seasons.bag("B2", "T1").items() if k != "secured"}]
    case = case_of(stocked(bagging=bags))

    assert [True, False] == case.shown["bag-tied"].tolist()
    assert [] == open_rows(case, BY_KEY["bag-tied"])
    both = case_of(stocked(bagging=bags, harvests=[seasons.harvest("H1", ["B1", "B2"])]))
    assert [(1, "B2")] == open_rows(both, BY_KEY["bag-tied"])


def test_a_lot_is_proved_by_all_that_stands_on_its_line(seasons, stocked):
    """Each obligation with the records that it stands on, those shown, by whom, and what is left open."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2", secured=False), seasons.bag("B3", "T2")]
    trees = [seasons.tree("T1"), seasons.tree("T2")]
    season = stocked(
        trees=trees,
        screening=[seasons.sample("S1", "T1"), seasons.sample("S2", "T2")],
        bagging=bags,
        harvests=[seasons.harvest(f"H{at}", [f"B{at}"]) for at in (1, 2, 3)],
        batches=[seasons.batch(f"X{at}", [f"H{at}"]) for at in (1, 2, 3)],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}, {"batch": "X2", "weight": "5 g"}], 13),
            seasons.lot("L2", [{"batch": "X3", "weight": "8 g"}], 8),
        ],
    )  # fmt: skip
    result = examine_season(season, ON)
    shown = {one.obligation.key: one for one in Proofs(result.case).of_lot("L1", result.lots["L1"].parts)}
    tied = shown["bag-tied"]

    assert BY_KEY.keys() == shown.keys()
    assert (2, 1, ("B2",), 8_000, False) == (tied.records, tied.shown, tied.open, tied.weight_mg, tied.whole)
    assert (2, 2, (), 13_000, True) == (
        shown["bag-bud"].records, shown["bag-bud"].shown, shown["bag-bud"].open, shown["bag-bud"].weight_mg,
        shown["bag-bud"].whole,
    )  # fmt: skip
    assert {"record": 2} == shown["bag-bud"].by
    other = {one.obligation.key: one for one in Proofs(result.case).of_lot("L2", result.lots["L2"].parts)}
    assert (1, 1) == (other["bag-tied"].records, other["bag-tied"].shown)


@pytest.mark.parametrize(
    ("base", "expected"),
    [
        ("plain", {"bag-tied": "record", "bag-screened": "record", "lot-packaging": "record"}),
        ("walked", {"bag-tied": "round", "bag-bud": "round", "bag-held": "round", "lot-packaging": "record"}),
        ("lettered", {"bag-tied": "record", "bag-screened": "letter"}),
        ("routine", {"bag-clean": "routine", "lot-packaging": "routine", "run-equipment": "routine",
                     "bag-tied": "record"}),
    ],
)  # fmt: skip
def test_whose_word_it_is_is_counted(seasons, base, expected):
    """Of several fields the one furthest from the record."""
    result = examine_season(seasons.season_of(**BASES[base](seasons)), ON)
    shown = {one.obligation.key: one.by for one in Proofs(result.case).of_lot("L1", result.lots["L1"].parts)}

    assert {key: {word: 1} for key, word in expected.items()} == {key: shown[key] for key in expected}


GENERATED = settings(
    max_examples=6,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


@given(data=st.data())
@GENERATED
def test_traced_means_that_all_is_shown(data, seasons, case_of):
    """In clean seasons with any one field lost: what is traced is shown, and what isn't shown is no lot's
    traced gram."""
    tables = data.draw(seasons.clean_tables())
    # No test of a lot shows anything of it.
    table = data.draw(st.sampled_from(sorted(name for name in tables if tables[name] and name != "tests")))
    at = data.draw(st.integers(0, len(tables[table]) - 1))
    fields = load_tables()[table].fields
    forgettable = sorted(name for name in tables[table][at] if not fields[name].required)
    field = data.draw(st.sampled_from(["", *forgettable]))
    records = list(tables[table])
    records[at] = {key: value for key, value in records[at].items() if key != field}
    if not field:
        del records[at]
    case = case_of(seasons.season_of(**{**tables, table: records}))
    standings = run_rules(case).standings.judge()

    assert all(np.asarray(shown).dtype == bool for shown in case.shown.values())
    for lot, standing in standings.items():
        whole = all(one.whole for one in Proofs(case).of_lot(lot, standing.parts))
        assert whole or standing.standing != "traced"
