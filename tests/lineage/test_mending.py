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


def unproven(*supplies):
    """Faults that an entry each would mend."""
    return tuple(Fault("unproven", (LOT,), supply=supply) for supply in supplies)


def lot(atoms, moves=(), name="L1", floor="traced"):
    """A lot of (milligrams, faults) atoms, each a part of its own, and of such movements."""
    parts = tuple(Atom(mass, part, floor, frozenset(faults)) for part, (mass, faults) in enumerate(atoms))
    sources = tuple(Node("batches", f"X{part}") for part in range(len(parts)))
    held = tuple((mass, frozenset(faults)) for mass, faults in moves)
    return LotGrams(name, "", sum(atom.weight_mg for atom in parts), sources, parts, held)


def steps(faults, *lots):
    """What is to be done, as (entries, milligrams, lots, gaps)."""
    found = find_mending(Standings(tuple(faults), {one.lot: one for one in lots}))
    return [(mend.entries, mend.proves_mg, mend.lots, mend.gaps) for mend in found]


@pytest.mark.parametrize(("entries", "first"), [(12, ("a", "b", "c")), (13, ("a", "b"))])
def test_every_bundle_is_tried_up_to_twelve_entries(entries, first):
    """Three pairs of a, b and c prove most together; nothing waits for all three of them alone."""
    faults = unproven("a", "b", "c", *(f"d{number}" for number in range(entries - 3)))
    singles = [(1, {at}) for at in range(3, entries)]
    found = steps(faults, lot([(10, {0, 1}), (10, {0, 2}), (10, {1, 2}), *singles]))

    assert first == found[0][0]
    assert 30 + len(singles) == sum(grams for _, grams, *_ in found)


def test_of_equal_bundles_the_smaller_then_the_first_by_name():
    """Ten grams an entry each: a single before a pair, and b before c, though c is written first."""
    faults = unproven("c", "b", "a1", "a2")

    assert [("b",), ("c",), ("a1", "a2")] == [
        entries for entries, *_ in steps(faults, lot([(10, {0}), (10, {1}), (20, {2, 3})]))
    ]


def test_a_gram_that_waits_for_nothing_is_no_step():
    """Nor is one that no entry can prove, or one whose floor is below."""
    faults = (*unproven("a"), Fault("rejects", (LOT,)))

    assert [] == steps(faults, lot([(10, ())]))
    assert [] == steps(faults, lot([(10, {1}), (10, {0, 1})]))
    assert [] == steps(faults, lot([(10, {0})], floor="unproven"))
    assert [] == steps((), lot([(10, ())]))


def test_a_milligram_is_a_step():
    """The least that can be proved."""
    assert [(("a",), 1, ("L1",), (0,))] == steps(unproven("a"), lot([(1, {0})]))


def test_faults_of_one_entry_are_mended_together():
    """Both positions are told; one without an entry is asked for by its own number."""
    assert [(("a",), 30, ("L1",), (0, 2))] == steps(unproven("a", "b", "a"), lot([(10, {0}), (20, {0, 2})]))
    assert [(("what gap 2 asks for",), 10, ("L1",), (1,))] == steps(unproven("a", ""), lot([(10, {1})]))


def test_the_steps_add_up_over_lots():
    """Each step names the lots in which it proves something, and counts what is new."""
    faults = unproven("a", "b")
    found = steps(
        faults, lot([(10, {0}), (5, {0, 1})]), lot([(7, {1})], name="L2"), lot([(9, ())], name="L3")
    )

    # b proves 7 of L2 alone, a 10 of L1; both 22, which is 11 an entry.
    assert [(("a", "b"), 22, ("L1", "L2"), (0, 1))] == found


def test_a_lot_that_gains_nothing_is_not_named():
    """L2's grams are held by a movement as heavy as they are, which waits for something else."""
    faults = (*unproven("a"), Fault("rejects", (LOT,)))

    assert [(("a",), 10, ("L1",), (0,))] == steps(
        faults, lot([(10, {0})]), lot([(5, {0})], [(5, {1})], name="L2")
    )


@pytest.mark.parametrize(("moved", "proved"), [(4, 6), (9, 1), (10, None), (15, None)])
def test_grams_that_a_movement_holds_are_not_proved(moved, proved):
    """What nothing can mend takes its grams away, and never more than there are."""
    faults = (*unproven("a"), Fault("rejects", (LOT,)))

    assert ([] if proved is None else [proved]) == [
        grams for _, grams, *_ in steps(faults, lot([(10, {0})], [(moved, {1})]))
    ]


def test_a_movement_waits_for_its_own_entry():
    """Its grams are traced once it has it; they count once."""
    faults = unproven("a", "b")

    assert [(("b",), 4, ("L1",), (1,))] == steps(faults, lot([(10, ())], [(4, {1})]))
    assert [(("a",), 6, ("L1",), (0,)), (("b",), 4, ("L1",), (1,))] == steps(
        faults, lot([(10, {0})], [(4, {1})])
    )


def test_taking_out_comes_where_it_proves_more_an_entry():
    """Of a part taken out the grams that are left count; of equals the entry stands first."""
    faults = (*unproven("a"), Fault("rejects", (LOT,)))
    for left, actions in (
        (11, ["take out", "supply"]),
        (10, ["supply", "take out"]),
        (9, ["supply", "take out"]),
    ):
        mixed = lot([(left, ()), (3, {1})])
        found = find_mending(Standings(faults, {"L1": mixed, "L2": lot([(10, {0})], name="L2")}))

        assert actions == [mend.action for mend in found]
        assert {"supply": 10, "take out": left} == {mend.action: mend.proves_mg for mend in found}


def test_removals_stand_by_what_they_leave():
    """The one that leaves most first; several parts of one lot are one thing to do, of several entries."""
    faults = (Fault("rejects", (LOT,)),)
    lots = {
        "L1": lot([(10, ()), (3, {0})]),
        "L2": lot([(50, ()), (3, {0}), (4, {0})], name="L2"),
        "L3": lot([(20, ()), (3, {0})], name="L3"),
    }
    found = find_mending(Standings(faults, lots))

    assert [("L2", 50, 2), ("L3", 20, 1), ("L1", 10, 1)] == [
        (*mend.lots, mend.proves_mg, len(mend.entries)) for mend in found
    ]


def test_a_removal_that_helps_only_later_stands_last():
    """What is left must be proved first: however much it is, the entries above it come first."""
    faults = (*unproven("a", "b"), Fault("rejects", (LOT,)))
    mixed = lot([(90, {0}), (3, {2})])
    found = find_mending(Standings(faults, {"L1": mixed, "L2": lot([(10, {1})], name="L2")}))

    assert [("supply", 90), ("supply", 10), ("take out", 90)] == [
        (mend.action, mend.proves_mg) for mend in found
    ]
    # A single milligram that is traced already helps at once, and it is what counts.
    at_once = lot([(90, {0}), (1, ()), (3, {2})])
    (*_, last) = find_mending(Standings(faults, {"L1": at_once}))
    assert ("take out", 1) == (last.action, last.proves_mg)
    least = {"L1": lot([(1, ()), (3, {2})]), "L2": lot([(1, {0, 1})], name="L2")}
    assert ["take out", "supply"] == [mend.action for mend in find_mending(Standings(faults, least))]
    first, *_ = find_mending(
        Standings(faults, {"L1": lot([(200, ()), (3, {2})]), "L2": lot([(10, {1})], name="L2")})
    )
    assert ("take out", 200) == (first.action, first.proves_mg)


def test_what_is_left_must_be_worth_something():
    """Grams whose floor is below, or which something else rejects, are not worth a removal."""
    reject, other = Fault("rejects", (LOT,)), Fault("rejects", (LOT,))

    assert [] == steps((reject, other), lot([(10, {1}), (3, {0})]))
    below = (Atom(10, 0, "unproven", frozenset()), Atom(3, 1, "traced", frozenset({0})))
    sources = (Node("batches", "X0"), Node("batches", "X1"))
    assert [] == steps((reject,), LotGrams("L1", "", 13, sources, below))
    mixed = (Atom(10, 0, "unproven", frozenset({1})), Atom(3, 1, "traced", frozenset({0})))
    assert [] == steps((reject, *unproven("a")), LotGrams("L1", "", 13, sources, mixed))


def test_a_part_that_a_rule_names_is_taken_out_with_what_else_is_rejected():
    """X1 is named, X2 is rejected of itself, X0 is left; a part of another lot is none of this one's."""
    named = Fault("rejects", (LOT,), take_out=(Node("batches", "X1"), Node("batches", "X9")))
    atoms = [(10, {0}), (3, {0}), (4, {0, 1})]
    (one,) = find_mending(Standings((named, Fault("rejects", (LOT,))), {"L1": lot(atoms)}))

    assert (10, 2, (0, 1)) == (one.proves_mg, len(one.entries), one.gaps)
    assert ["X1", "X2"] == [entry.split()[-4] for entry in one.entries]
    # No source of the lot is named: nothing that could be taken out would mend it.
    elsewhere = Fault("rejects", (LOT,), take_out=(Node("batches", "X9"),))
    assert [] == steps((elsewhere,), lot([(10, {0}), (3, {0})]))
    assert [] == steps((elsewhere, Fault("rejects", (LOT,))), lot([(10, {0}), (3, {0, 1})]))


def test_parts_are_told_by_what_they_are():
    """Of a batch, of a lot, or of nobody knows what."""
    faults = (Fault("rejects", (LOT,)),)
    atoms = tuple(Atom(1000, part, "traced", frozenset({0} if part else ())) for part in range(4))
    sources = (Node("batches", "X0"), Node("batches", "X1"), Node("lots", "K1"), None)
    (mend,) = find_mending(Standings(faults, {"L1": LotGrams("L1", "", 4000, sources, atoms)}))

    assert (
        "the 1 g from batch X1 in lot L1, the 1 g from lot K1 in lot L1 and "
        "the 1 g that no source accounts for in lot L1"
    ) == mend.text.replace("\xa0", " ")
