from __future__ import annotations

import pytest

from certgen.lineage import Node
from certgen.records import Place
from certgen.rules import Finding, gathering
from certgen.rules.gathering import Causes


def reaching(number: int, *bags: str, **more: object) -> Finding:
    """What a round was found for, and the bags that it is about."""
    nodes = tuple(Node("bagging", bag) for bag in bags)
    return Finding(
        "rounds", f"R{number}", number, message=f"Round R{number}.", reaches=nodes,
        supply=f"who walked round R{number}", **more,
    )  # fmt: skip


def gathered(*findings: Finding) -> list[list[Finding]]:
    """The findings of each cause."""
    causes = Causes()
    for one in findings:
        causes.add(one)
    return list(causes)


def test_findings_stand_by_themselves_while_what_they_reach_is_little() -> None:
    """Those of one cause are one gap."""
    first, second, third = reaching(1, "B1", "B2"), reaching(2, "B2", "B3", cause=7), reaching(3, cause=7)

    assert [[first], [second, third]] == gathered(first, second, third)


def test_beyond_the_bound_they_are_told_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first says how many there are; together they reach all that each would."""
    monkeypatch.setattr(gathering, "MOST_LISTED", 3)
    first = reaching(1, "B1", "B2")
    (alone,), (told, other) = gathered(first, reaching(2, "B2", "B3"), reaching(3, "B3", "B4"))

    assert first == alone
    assert (
        "Round R2. So it is 1 more time, which is told here as one with it, since the records that each of"
        " them reaches would be too many to list."
    ) == told.message
    assert "who walked round R2, and 1 more like it" == told.supply
    assert {"B2", "B3", "B4"} == {node.id for node in told.reaches or ()}
    assert ("R3", ()) == (other.id, other.reaches)


def test_one_alone_beyond_the_bound_says_what_it_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """There is nothing that it is told together with."""
    monkeypatch.setattr(gathering, "MOST_LISTED", 1)
    only = reaching(1, "B1", "B2")

    assert [[only]] == gathered(only)


def test_one_record_each_is_never_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor is the same list again."""
    monkeypatch.setattr(gathering, "MOST_LISTED", 2)
    first = reaching(1, "B1", "B2")
    again = [first._replace(id=f"R{number}") for number in range(2, 5)]
    again = [*again, *(reaching(number, "B1") for number in range(5, 9))]

    assert [[one] for one in (first, *again)] == gathered(first, *again)


def test_a_list_of_lots_counts_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each lot holds each fault at it: thousands of recalls of thousands of lots would be a square."""
    monkeypatch.setattr(gathering, "MOST_LISTED", 2)
    lots = (Node("lots", "L1"), Node("lots", "L2"))
    found = gathered(*(reaching(number)._replace(reaches=lots) for number in range(3)))

    assert [["R0"], ["R1", "R2"]] == [[one.id for one in findings] for findings in found]
    assert [lots, lots] == [findings[0].reaches for findings in found]


def test_what_has_a_cause_stays_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is told together with what shares the cause, and with nothing else."""
    monkeypatch.setattr(gathering, "MOST_LISTED", 0)
    first, second = reaching(1, "B1", "B2", cause=7), reaching(2, "B3", "B4", cause=7)

    assert [[first, second]] == gathered(first, second)


@pytest.mark.parametrize("more", [{"weight": "advice"}, {"touches": "whole"}, {"clauses": ()}])
def test_what_counts_otherwise_is_told_apart(
    monkeypatch: pytest.MonkeyPatch, more: dict[str, object]
) -> None:
    """A finding that makes something else of a lot isn't hidden behind one that makes less of it."""
    monkeypatch.setattr(gathering, "MOST_LISTED", 0)
    one, other = reaching(1, "B1", "B2"), reaching(2, "B1", "B2", **more)

    assert [[one], [other]] == gathered(one, other)


def test_beyond_a_number_a_rule_tells_the_rest_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """It stands at each record that the others are at, and counts them all."""
    monkeypatch.setattr(gathering, "MOST_TOLD", 1)
    looks = [Finding("bagging", bag, row, message=f"{bag} was looked at.", supply="the right day")
             for row, bag in enumerate(["B1", "B2", "B2", "B3"])]  # fmt: skip
    looks[2] = looks[2]._replace(row=1)
    (alone,), (told, other) = gathered(*looks)

    assert looks[0] == alone
    assert (
        "B2 was looked at. So it is 2 more times, which are told here as one with it, as there are too many"
        " to list."
    ) == told.message
    assert "the right day, and 2 more like it" == told.supply
    assert ["B2", "B3"] == [told.id, other.id]


@pytest.mark.parametrize(
    "more", [{"reaches": (Node("lots", "L1"),)}, {"names": ("L1",)}, {"place": Place("notes.yaml", ())}]
)
def test_beyond_the_number_what_each_touches_is_kept(
    monkeypatch: pytest.MonkeyPatch, more: dict[str, object]
) -> None:
    """A second finding at a record may reach a lot that the first doesn't."""
    monkeypatch.setattr(gathering, "MOST_TOLD", 0)
    one = Finding("bagging", "B1", 1, message="B1 was looked at.")
    ((_, other),) = gathered(one, one._replace(**more))

    assert one._replace(**more) == other


@pytest.mark.parametrize(
    "more",
    [{"weight": "rejects"}, {"touches": "whole"}, {"take_out": (Node("lots", "L1"),)}, {"clauses": ()}],
)
def test_beyond_the_number_what_counts_otherwise_is_told_apart(
    monkeypatch: pytest.MonkeyPatch, more: dict[str, object]
) -> None:
    """Of two findings at one record the worse isn't left out for the other's sake."""
    monkeypatch.setattr(gathering, "MOST_TOLD", 0)
    one = Finding("bagging", "B1", 1, message="B1 was looked at.")

    assert [[one], [one._replace(**more)]] == gathered(one, one._replace(**more))


def test_what_is_told_as_one_begins_with_the_first_record(monkeypatch: pytest.MonkeyPatch) -> None:
    """A season's own records come before those of earlier ones, whatever was found first."""
    monkeypatch.setattr(gathering, "MOST_TOLD", 0)
    earlier, own = (Finding("bagging", bag, row, message=bag) for bag, row in (("B9", 9), ("B1", 1)))

    assert [["B1", "B9"]] == [[one.id for one in findings] for findings in gathered(earlier, own)]


def test_a_finding_that_quotes_pages_is_cut_and_says_so() -> None:
    """Each of thousands may quote one name of half a megabyte."""
    name = "x" * 500_000
    ((cut,),) = gathered(reaching(1)._replace(message=f"Before {name} behind.", supply=name))

    assert len(cut.message) < gathering.MOST_LETTERS + 100
    assert cut.message.startswith("Before x")
    assert cut.message.endswith("x behind.")
    assert " […, 496,015 letters left out, …] " in cut.message
    assert " […, 496,000 letters left out, …] " in (cut.supply or "")
