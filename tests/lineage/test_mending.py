from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import plain

from certgen.lineage import Fault, Node
from certgen.lineage import find_mending as weigh
from certgen.lineage.standing import Atom, LotGrams, Standings

COVERS = ("certgen.lineage.weighing",)
LOT = Node("lots", "L1")


def find_mending(standings, separable=()):
    """What to do first, where nothing was left unweighed."""
    found = weigh(standings, separable)

    assert found.weighed == found.lots
    return found.mends


def traced(standings, mended):
    """The traced grams of all lots, with some faults mended."""
    return sum(lot.traced_mg for lot in standings.judge(mended).values())


@st.composite
def some_standings(draw, most=5):
    """Two lots of a few atoms at two stages, faults that share entries, a movement.

    The last fault may name a part of L1: it stands at that lot and touches all of it.
    """
    count = draw(st.integers(1, most))
    faults = tuple(
        Fault(
            draw(st.sampled_from(["unproven", "unproven", "rejects"])),
            (LOT,),
            draw(st.sampled_from(["own", "own", "own", "missing", "whole"])),
            supply=f"entry {draw(st.integers(0, most - 1))}",
        )
        for _ in range(count)
    )
    named = draw(st.lists(st.integers(0, 3), max_size=2))
    if named:
        parts = tuple(Node("batches", f"L1-{at}") for at in named)
        faults = (*faults, Fault("rejects", (LOT,), take_out=parts))
    # What is open about a lot as a whole touches no gram, and what a count missed is no movement's.
    own = [at for at, fault in enumerate(faults) if fault.touches == "own"]
    sets = _some([at for at, fault in enumerate(faults) if fault.touches != "whole"])
    floors = st.sampled_from(["traced", "traced", "traced", "unproven", "unaccounted"])
    lots = {}
    for name in ("L1", "L2"):
        parts = draw(st.integers(1, 4))
        atoms = tuple(
            Atom(draw(st.integers(1, 50)), at % parts, at // parts, draw(floors), draw(sets))
            for at in range(draw(st.integers(parts, 2 * parts)))
        )
        weight = sum(atom.weight_mg for atom in atoms)
        held = st.tuples(st.integers(1, 20), _some(own, 1))
        moves = draw(st.lists(held, max_size=1)) if own else []
        if named and name == "L1":
            atoms = tuple(atom._replace(faults=atom.faults | {count}) for atom in atoms)
        sources = tuple(Node("batches", f"{name}-{at}") for at in range(parts))
        lots[name] = LotGrams(name, "", weight, sources, atoms, tuple(moves))
    return Standings(faults, lots)


def _some(positions, least=0):
    if not positions:
        return st.just(frozenset())
    return st.lists(st.sampled_from(positions), min_size=least, max_size=3).map(frozenset)


def entries_of(standings):
    """By entry the faults that it mends: those that doubt grams."""
    found = {}
    for position, fault in enumerate(standings.faults):
        if fault.weight == "unproven" and fault.touches != "whole":
            found.setdefault(fault.supply, set()).add(position)
    return found


def without(standings, name, texts):
    """The standings with parts of a lot taken out, and without what only they had wrong there."""
    grams = standings.lots[name]
    out = {
        part for part, source in enumerate(grams.sources)
        if any(f" from batch {source.id} in lot {name}" in text for text in texts)
    }  # fmt: skip
    cured = {
        at for at, fault in enumerate(standings.faults)
        if fault.weight == "rejects" and set(fault.take_out) & set(grams.sources)
    }  # fmt: skip
    atoms = tuple(atom._replace(faults=atom.faults - cured) for atom in grams.atoms if atom.part not in out)
    return Standings(standings.faults, {**standings.lots, name: replace(grams, atoms=atoms)})


class Done:
    """What is traced after some lines of the list were done, worked out by judging anew."""

    def __init__(self, standings):
        self.standings, self.by_entry, self.mended = standings, entries_of(standings), frozenset()

    def after(self, mend):
        """After one more line."""
        other = Done(self.standings)
        other.mended = self.mended
        if mend.action == "take out":
            other.standings = without(self.standings, *mend.lots, mend.entries)
        else:
            other.mended |= frozenset[int]().union(*(self.by_entry[entry] for entry in mend.entries))
        return other

    @property
    def traced(self):
        """The traced grams of all lots."""
        return traced(self.standings, self.mended)


@settings(max_examples=200)
@given(standings=some_standings(), separable=st.sets(st.sampled_from(["L1", "L2"])))
def test_each_line_adds_what_it_says(standings, separable):
    """Judged anew after each line: what it adds to those above, most first, in all what isn't traced yet."""
    mends = find_mending(standings, separable)
    done, untraced = Done(standings), sum(one.weight_mg for one in standings.lots.values())
    untraced -= done.traced
    proving = [mend for mend in mends if not mend.frees_mg]

    assert mends == (*proving, *(mend for mend in mends if mend.frees_mg))
    for number, mend in enumerate(proving):
        others = [done.after(other).traced for other in proving[number:]]
        assert mend.proves_mg == done.after(mend).traced - done.traced == max(others) - done.traced
        done = done.after(mend)
    assert sum(mend.proves_mg for mend in mends) <= untraced
    for mend in mends[len(proving) :]:
        assert ("take out", 0) == (mend.action, mend.proves_mg)
        freed = done.after(mend).standings.judge(done.mended)[mend.lots[0]]
        # A movement that holds grams back doesn't bind those of the lot as it lies there.
        assert freed.traced_mg <= mend.frees_mg <= freed.weight_mg


@settings(max_examples=150)
@given(standings=some_standings(), separable=st.sets(st.sampled_from(["L1", "L2"])))
def test_all_that_can_be_proved_is_proved(standings, separable):
    """Doing everything that any list could name adds no gram to what this one does; nothing stands twice."""
    mends = find_mending(standings, separable)
    done = Done(standings)
    for mend in mends:
        done = done if mend.frees_mg else done.after(mend)
    done.mended = frozenset[int]().union(*done.by_entry.values())
    entries = [entry for mend in mends for entry in mend.entries]

    assert traced(standings, ()) + sum(mend.proves_mg for mend in mends) == done.traced
    assert len(set(entries)) == len(entries)


@settings(max_examples=100)
@given(some_standings())
def test_a_part_is_taken_out_only_of_a_lot_that_lies_there_whole(standings):
    """From a lot of which something has left nothing can be taken out any more."""
    lots = [
        {mend.lots for mend in find_mending(standings, separable) if mend.action == "take out"}
        for separable in ((), ("L1",), ("L1", "L2"))
    ]

    assert set() == lots[0]
    assert lots[1] <= {("L1",)}
    assert lots[1] <= lots[2] <= {("L1",), ("L2",)}


@settings(max_examples=150)
@given(some_standings())
def test_entries_go_together_by_the_best_bundle_that_is_left(standings):
    """Against trying every set of entries: one bundle proves the most grams an entry, then the next."""
    waiting = list(find_mending(standings))
    by_entry = entries_of(standings)
    done = frozenset()
    while True:
        left = [entry for entry in by_entry if not by_entry[entry] <= done]
        best = Fraction(0)
        for size in range(1, len(left) + 1):
            for bundle in combinations(left, size):
                best = max(best, Fraction(_gain(standings, by_entry, done, bundle), size))
        if not best:
            break
        able = [
            mend for mend in waiting
            if Fraction(_gain(standings, by_entry, done, mend.entries), len(mend.entries)) == best
        ]  # fmt: skip
        assert able
        step = min(able, key=lambda mend: (len(mend.entries), mend.entries))
        waiting.remove(step)
        done = done.union(*(by_entry[entry] for entry in step.entries))
        assert set().union(*(by_entry[entry] for entry in step.entries)) == set(step.gaps)

    assert [] == waiting


def _gain(standings, by_entry, done, entries):
    mended = done.union(*(by_entry[entry] for entry in entries))
    return traced(standings, mended) - traced(standings, done)


@settings(max_examples=60)
@given(some_standings(most=20))
def test_many_entries_prove_as_much_in_the_end(standings):
    """Beyond the exact search, too, what can be proved is proved, and nothing twice."""
    steps = [mend for mend in find_mending(standings) if mend.action == "supply"]
    entries = [entry for step in steps for entry in step.entries]
    unproven = frozenset[int]().union(*entries_of(standings).values())

    assert len(set(entries)) == len(entries)
    assert traced(standings, unproven) - traced(standings, ()) == sum(step.proves_mg for step in steps)


def mixed_lot(faults=frozenset({0}), clean=frozenset()):
    """L1: 20 g of X1 with the faults, 30 g of X2."""
    sources = (Node("batches", "X1"), Node("batches", "X2"))
    atoms = (Atom(20_000, 0, 0, "traced", faults), Atom(30_000, 1, 0, "traced", clean))
    return LotGrams("L1", "", 50_000, sources, atoms)


def test_a_rejected_part_is_taken_out_where_something_traced_is_left():
    """The rest, traced already, is then a lot without a fault; where all is rejected there is no way out."""
    faults = (Fault("rejects", (Node("batches", "X1"),)),)
    lost = LotGrams(
        "L2", "", 20_000, (Node("batches", "X1"),), (Atom(20_000, 0, 0, "traced", frozenset({0})),)
    )
    (mend,) = find_mending(Standings(faults, {"L1": mixed_lot(), "L2": lost}), {"L1", "L2"})

    assert ("take out", 0, 30_000, ("L1",), (0,)) == (
        mend.action, mend.proves_mg, mend.frees_mg, mend.lots, mend.gaps
    )  # fmt: skip
    assert "the 20 g from batch X1 in lot L1" == plain(mend.text)


def test_a_mixed_lot_is_mended_by_taking_out_what_does_not_belong():
    """The rule names the part; the whole lot was rejected, and what is left becomes traced."""
    faults = (Fault("rejects", (LOT,), take_out=(Node("batches", "X1"),)),)
    (mend,) = find_mending(Standings(faults, {"L1": mixed_lot(clean=frozenset({0}))}), {"L1"})

    assert ("take out", 30_000, 0) == (mend.action, mend.proves_mg, mend.frees_mg)
    assert "batch X1" in mend.text


@pytest.mark.parametrize("faults", [(Fault("rejects", (LOT,)),), (
    Fault("rejects", (LOT,), take_out=(Node("batches", "X1"),)),)])  # fmt: skip
def test_nothing_is_taken_out_of_a_lot_of_which_something_left(faults):
    """What was sold was of all its parts: they can't be told apart any more."""
    assert () == find_mending(Standings(faults, {"L1": mixed_lot()}), {"L2"})


@pytest.mark.parametrize(("count", "named"), [(1, 1), (5, 5), (6, 4)])
def test_beyond_a_few_entries_the_rest_are_counted(count, named):
    """Five are named, of six the first four; all of them stay in the list."""
    faults = tuple(
        Fault("unproven", (Node("batches", f"X{number}"),), supply=f"paper {number}")
        for number in range(count)
    )
    atoms = (Atom(9_000, 0, 0, "traced", frozenset(range(count))),)
    lot = LotGrams("L1", "", 9_000, (Node("batches", "X0"),), atoms)
    (mend,) = find_mending(Standings(faults, {"L1": lot}))

    assert (count, named) == (len(mend.entries), mend.text.count("paper"))
    assert (count > named) == mend.text.endswith(f" and {count - named} more")


def test_nothing_is_taken_out_for_what_can_still_be_proved():
    """The fault names a part, but only doubts it: the one way out is the entry that is missing."""
    faults = (Fault("unproven", (LOT,), take_out=(Node("batches", "X2"),)),)
    mends = find_mending(Standings(faults, {"L1": mixed_lot(clean=frozenset({0}))}), {"L1"})

    assert [("supply", 50_000)] == [(mend.action, mend.proves_mg) for mend in mends]


def unproven(*supplies):
    """Faults that an entry each would mend."""
    return tuple(Fault("unproven", (LOT,), supply=supply) for supply in supplies)


def lot(atoms, moves=(), name="L1", floor="traced"):
    """A lot of (milligrams, faults) atoms, each a part of its own, and of such movements."""
    parts = tuple(Atom(mass, part, 0, floor, frozenset(faults)) for part, (mass, faults) in enumerate(atoms))
    sources = tuple(Node("batches", f"X{part}") for part in range(len(parts)))
    held = tuple((mass, frozenset(faults)) for mass, faults in moves)
    return LotGrams(name, "", sum(atom.weight_mg for atom in parts), sources, parts, held)


def steps(faults, *lots):
    """What is to be done, as (entries, milligrams, lots, gaps)."""
    found = find_mending(Standings(tuple(faults), {one.lot: one for one in lots}), [one.lot for one in lots])
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
    """Ten grams an entry each: b before c, though c is written first; the pair adds most and stands first."""
    faults = unproven("c", "b", "a1", "a2")

    assert [("a1", "a2"), ("b",), ("c",)] == [
        entries for entries, *_ in steps(faults, lot([(10, {0}), (10, {1}), (20, {2, 3})]))
    ]
    # Either pair would do: what c gives alone is proved by it, and the rest by both of the others.
    assert [("b",), ("a1", "a2")] == [
        entries for entries, *_ in steps(unproven("a1", "b", "a2"), lot([(10, {1}), (10, {0, 2})]))
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


def called_otherwise(*names):
    """A fault of a lot that parts of it, taken out, would mend."""
    return Fault("rejects", (LOT,), take_out=tuple(Node("batches", name) for name in names))


@pytest.mark.parametrize(
    ("left", "actions"),
    [(11, ["take out", "supply"]), (10, ["supply", "take out"]), (9, ["supply", "take out"])],
)
def test_taking_out_comes_where_it_adds_more(left, actions):
    """Of a part taken out the grams that are left count; of equals the entry stands first."""
    faults = (*unproven("a"), called_otherwise("X1"))
    mixed = lot([(left, {1}), (3, {1})])
    found = find_mending(Standings(faults, {"L1": mixed, "L2": lot([(10, {0})], name="L2")}), ["L1"])

    assert actions == [mend.action for mend in found]
    assert {"supply": 10, "take out": left} == {mend.action: mend.proves_mg for mend in found}


def test_removals_stand_by_what_they_add():
    """The one that leaves most first; several parts of one lot are one thing to do, of several entries."""
    faults = (called_otherwise("X1", "X2"),)
    lots = {
        "L1": lot([(10, {0}), (3, {0})]),
        "L2": lot([(50, {0}), (3, {0}), (4, {0})], name="L2"),
        "L3": lot([(20, {0}), (3, {0})], name="L3"),
    }
    found = find_mending(Standings(faults, lots), lots)

    assert [("L2", 50, 2), ("L3", 20, 1), ("L1", 10, 1)] == [
        (*mend.lots, mend.proves_mg, len(mend.entries)) for mend in found
    ]


def test_a_removal_that_adds_nothing_stands_last():
    """It proves nothing new and says what it frees: grams that the entries above it have proved."""
    faults = (*unproven("a", "b"), Fault("rejects", (LOT,)))
    found = find_mending(
        Standings(faults, {"L1": lot([(90, {0}), (3, {2})]), "L2": lot([(10, {1})], name="L2")}), ["L1"]
    )

    assert [("supply", 90, 0), ("supply", 10, 0), ("take out", 0, 90)] == [
        (mend.action, mend.proves_mg, mend.frees_mg) for mend in found
    ]


def test_a_removal_and_an_entry_that_need_each_other_are_two_lines():
    """Ninety milligrams wait for both: the first adds nothing yet, the second adds them all, once."""
    faults = (*unproven("a"), called_otherwise("X1"))
    found = find_mending(Standings(faults, {"L1": lot([(90, {0, 1}), (3, {1})])}), ["L1"])

    assert [0, 90] == sorted(mend.proves_mg for mend in found)
    assert {"supply", "take out"} == {mend.action for mend in found}


def test_a_part_that_is_rejected_in_part_takes_its_good_grams_along():
    """What an entry proves of it counts as proved; the rest of the lot is what a removal frees."""
    faults = (*unproven("a"), Fault("rejects", (LOT,)))
    atoms = (
        Atom(5, 0, 0, "traced", frozenset({1})), Atom(7, 0, 0, "traced", frozenset({0})),
        Atom(20, 1, 0, "traced", frozenset()),
    )  # fmt: skip
    blend = LotGrams("L1", "", 32, (Node("lots", "K1"), Node("batches", "X1")), atoms)

    assert [("supply", 7, 0), ("take out", 0, 20)] == [
        (mend.action, mend.proves_mg, mend.frees_mg)
        for mend in find_mending(Standings(faults, {"L1": blend}), ["L1"])
    ]


def test_what_is_left_must_be_worth_something():
    """Grams whose floor is below, or which something else rejects, are not worth a removal."""
    reject, other = Fault("rejects", (LOT,)), Fault("rejects", (LOT,))

    assert [] == steps((reject, other), lot([(10, {1}), (3, {0})]))
    below = (Atom(10, 0, 0, "unproven", frozenset()), Atom(3, 1, 0, "traced", frozenset({0})))
    sources = (Node("batches", "X0"), Node("batches", "X1"))
    assert [] == steps((reject,), LotGrams("L1", "", 13, sources, below))
    mixed = (Atom(10, 0, 0, "unproven", frozenset({1})), Atom(3, 1, 0, "traced", frozenset({0})))
    assert [] == steps((reject, *unproven("a")), LotGrams("L1", "", 13, sources, mixed))


def test_a_part_that_a_rule_names_is_taken_out_with_what_else_is_rejected():
    """X1 is named, X2 is rejected of itself, X0 is left; a part of another lot is none of this one's."""
    named = Fault("rejects", (LOT,), take_out=(Node("batches", "X1"), Node("batches", "X9")))
    atoms = [(10, {0}), (3, {0}), (4, {0, 1})]
    (one,) = find_mending(Standings((named, Fault("rejects", (LOT,))), {"L1": lot(atoms)}), ["L1"])

    assert (10, 2, (0, 1)) == (one.proves_mg, len(one.entries), one.gaps)
    assert ["X1", "X2"] == [entry.split()[-4] for entry in one.entries]
    # No source of the lot is named: nothing that could be taken out would mend it.
    elsewhere = Fault("rejects", (LOT,), take_out=(Node("batches", "X9"),))
    assert [] == steps((elsewhere,), lot([(10, {0}), (3, {0})]))
    assert [] == steps((elsewhere, Fault("rejects", (LOT,))), lot([(10, {0}), (3, {0, 1})]))


def test_parts_are_told_by_what_they_are():
    """Of a batch, of a lot, or of nobody knows what."""
    faults = (Fault("rejects", (LOT,)),)
    atoms = tuple(Atom(1000, part, 0, "traced", frozenset({0} if part else ())) for part in range(4))
    sources = (Node("batches", "X0"), Node("batches", "X1"), Node("lots", "K1"), None)
    (mend,) = find_mending(Standings(faults, {"L1": LotGrams("L1", "", 4000, sources, atoms)}), ["L1"])

    assert (
        "the 1 g from batch X1 in lot L1, the 1 g from lot K1 in lot L1 and "
        "the 1 g that no source accounts for in lot L1"
    ) == plain(mend.text)


def test_what_a_count_missed_waits_for_its_own_entry():
    """Grams that are nowhere are traced once somebody says where they are; at their floor they stay."""
    faults = (Fault("unproven", (LOT,), "missing", supply="where they are"),)

    assert [(("where they are",), 6, ("L1",), (0,))] == steps(faults, lot([(34, ()), (6, {0})]))
    assert [] == steps(faults, lot([(6, {0})], floor="unaccounted"))


def test_what_is_open_about_a_lot_as_a_whole_is_no_line():
    """No gram waits for it."""
    faults = (Fault("unproven", (LOT,), "whole", supply="the rest of the run"),)
    whole = replace(lot([(40, ())]), whole=frozenset({0}))

    assert "unproven" == Standings(faults, {"L1": whole}).judge()["L1"].standing
    assert [] == steps(faults, whole)


def test_what_is_too_much_is_left_unweighed_and_counted():
    """Lots that wait for all that earlier ones wait for: those for which least is missing are weighed."""
    faults = unproven(*(f"entry {number:04}" for number in range(1000)))
    lots = {
        f"L{number}": lot([(10, set(range(number + 1)))], name=f"L{number}") for number in range(len(faults))
    }
    found = weigh(Standings(faults, lots))

    assert len(lots) == found.lots
    assert 0 < found.weighed < found.lots
    assert [((f"entry {number:04}",), 10) for number in range(found.weighed)] == [
        (mend.entries, mend.proves_mg) for mend in found.mends
    ]


def test_what_hangs_together_nowhere_is_weighed_whole():
    """Thousands of lots, each waiting for entries of its own, are no more than a list."""
    faults = unproven(*(f"entry {number:04}" for number in range(4000)))
    lots = {
        f"L{number}": lot([(number + 1, {2 * number, 2 * number + 1})], name=f"L{number}")
        for number in range(2000)
    }
    found = weigh(Standings(faults, lots))

    assert (2000, 2000) == (found.lots, found.weighed)
    assert list(range(2000, 0, -1)) == [mend.proves_mg for mend in found.mends]


def test_a_single_lot_that_is_too_much_leaves_the_list_empty():
    """Nothing is guessed: the lot is counted as not weighed."""
    faults = unproven(*(f"entry {number:04}" for number in range(500)))
    entangled = lot([(10, set(range(number, 500))) for number in range(500)])
    more = lot([(10, set(range(500 - number))) for number in range(500)], name="L2")
    found = weigh(Standings(faults, {"L1": entangled, "L2": more}))

    assert found.weighed < found.lots == 2
