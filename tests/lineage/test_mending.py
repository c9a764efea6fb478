from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.lineage import Fault, Node, find_mending
from certgen.lineage.standing import Atom, LotGrams, Standings

LOT = Node("lots", "L1")


def traced(standings, mended):
    """The traced grams of all lots, with some faults mended."""
    return sum(lot.traced_mg for lot in standings.judge(mended).values())


@st.composite
def some_standings(draw, most=5):
    """Two lots of a few atoms, unproven faults that share entries, a movement."""
    count = draw(st.integers(1, most))
    faults = tuple(
        Fault(
            draw(st.sampled_from(["unproven", "unproven", "rejects"])),
            (LOT,),
            supply=f"entry {draw(st.integers(0, most - 1))}",
        )
        for _ in range(count)
    )
    sets = st.lists(st.integers(0, count - 1), max_size=3).map(frozenset)
    some = st.lists(st.integers(0, count - 1), min_size=1, max_size=3).map(frozenset)
    lots = {}
    for name in ("L1", "L2"):
        atoms = tuple(
            Atom(
                draw(st.integers(1, 50)),
                part,
                draw(st.sampled_from(["traced", "traced", "unproven"])),
                draw(sets),
            )
            for part in range(draw(st.integers(1, 4)))
        )
        weight = sum(atom.weight_mg for atom in atoms)
        moves = draw(st.lists(st.tuples(st.integers(1, 20), some), max_size=1))
        sources = tuple(Node("batches", f"X{part}") for part in range(len(atoms)))
        lots[name] = LotGrams(name, "", weight, sources, atoms, tuple(moves))
    return Standings(faults, lots)


@settings(max_examples=150)
@given(some_standings())
def test_each_step_is_the_best_bundle_that_is_left(standings):
    """Against trying every set of entries: the first step proves the most grams an entry, then the next."""
    steps = [mend for mend in find_mending(standings) if mend.action == "supply"]
    by_entry = {}
    for position, fault in enumerate(standings.faults):
        if fault.weight == "unproven":
            by_entry.setdefault(fault.supply, set()).add(position)
    done = set()
    for step in [*steps, None]:
        left = [entry for entry in by_entry if not by_entry[entry] <= done]
        best = Fraction(0)
        for size in range(1, len(left) + 1):
            for bundle in combinations(left, size):
                gain = traced(standings, done.union(*(by_entry[one] for one in bundle))) - traced(
                    standings, done
                )
                best = max(best, Fraction(gain, size))
        if step is None:
            assert 0 == best
            break
        mended = done.union(*(by_entry[entry] for entry in step.entries))
        gain = traced(standings, mended) - traced(standings, done)
        assert step.proves_mg == gain
        assert best == Fraction(gain, len(step.entries))
        assert set().union(*(by_entry[entry] for entry in step.entries)) == set(step.gaps)
        done = mended


@settings(max_examples=60)
@given(some_standings(most=20))
def test_many_entries_prove_as_much_in_the_end(standings):
    """Beyond the exact search, too, what can be proved is proved, and nothing twice."""
    steps = [mend for mend in find_mending(standings) if mend.action == "supply"]
    entries = [entry for step in steps for entry in step.entries]
    unproven = {position for position, fault in enumerate(standings.faults) if fault.weight == "unproven"}

    assert len(set(entries)) == len(entries)
    assert traced(standings, unproven) - traced(standings, ()) == sum(step.proves_mg for step in steps)


def test_a_rejected_part_is_taken_out_where_something_traced_is_left():
    """The other part of the lot is then whole; a lot that is rejected through and through has no way out."""
    faults = (Fault("rejects", (Node("batches", "X1"),)),)
    sources = (Node("batches", "X1"), Node("batches", "X2"))
    mixed = LotGrams(
        "L1",
        "",
        50_000,
        sources,
        (Atom(20_000, 0, "traced", frozenset({0})), Atom(30_000, 1, "traced", frozenset())),
    )
    lost = LotGrams("L2", "", 20_000, sources[:1], (Atom(20_000, 0, "traced", frozenset({0})),))
    (mend,) = find_mending(Standings(faults, {"L1": mixed, "L2": lost}))

    assert ("take out", 30_000, ("L1",), (0,)) == (mend.action, mend.proves_mg, mend.lots, mend.gaps)
    assert "the 20 g from batch X1 in lot L1" == mend.text.replace("\xa0", " ")


def test_a_mixed_lot_is_mended_by_taking_out_what_does_not_belong():
    """The rule names the part; the whole lot was rejected, and what is left becomes traced."""
    faults = (Fault("rejects", (LOT,), take_out=(Node("batches", "X2"),)),)
    sources = (Node("batches", "X1"), Node("batches", "X2"))
    atoms = tuple(
        Atom(weight, part, "traced", frozenset({0})) for part, weight in enumerate((30_000, 10_000))
    )
    (mend,) = find_mending(Standings(faults, {"L1": LotGrams("L1", "", 40_000, sources, atoms)}))

    assert ("take out", 30_000) == (mend.action, mend.proves_mg)
    assert "batch X2" in mend.text


@pytest.mark.parametrize(("count", "named"), [(1, 1), (5, 5), (6, 4)])
def test_beyond_a_few_entries_the_rest_are_counted(count, named):
    """Five are named, of six the first four; all of them stay in the list."""
    faults = tuple(
        Fault("unproven", (Node("batches", f"X{number}"),), supply=f"paper {number}")
        for number in range(count)
    )
    atoms = (Atom(9_000, 0, "traced", frozenset(range(count))),)
    lot = LotGrams("L1", "", 9_000, (Node("batches", "X0"),), atoms)
    (mend,) = find_mending(Standings(faults, {"L1": lot}))

    assert (count, named) == (len(mend.entries), mend.text.count("paper"))
    assert (count > named) == mend.text.endswith(f" and {count - named} more")


def test_nothing_is_taken_out_for_what_can_still_be_proved():
    """The fault names a part, but only doubts it: the one way out is the entry that is missing."""
    faults = (Fault("unproven", (LOT,), take_out=(Node("batches", "X2"),)),)
    sources = (Node("batches", "X1"), Node("batches", "X2"))
    atoms = tuple(
        Atom(weight, part, "traced", frozenset({0})) for part, weight in enumerate((30_000, 10_000))
    )
    mends = find_mending(Standings(faults, {"L1": LotGrams("L1", "", 40_000, sources, atoms)}))

    assert [("supply", 40_000)] == [(mend.action, mend.proves_mg) for mend in mends]
