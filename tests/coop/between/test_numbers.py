"""Numbers that belong to one member only: lots, reports, certificates, whole folders."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from certgen.coop.between.numbers import (
    Directory,
    compare_lot_numbers,
    compare_papers,
    compare_reports,
)
from certgen.coop.between.transfers import find_transfers
from certgen.coop.members.facts import Grams, LotFact, MemberSummary, MoveFact, ReportFact, Stated

if TYPE_CHECKING:
    from certgen.coop.members.member_list import Coop

Make = Callable[..., MemberSummary]
LOT = LotFact("L1", True, "Amber Kestrel", Grams(1), Grams(1), (), 1, 1, ())
REPORT = ReportFact("Bracken Ford", "BF-1", "trees", ("T1",), 1)


def test_one_lot_number_at_two_members_is_named(coop_of: Callable[..., Coop], summary: Make) -> None:
    """Two members, one number, different seed."""
    coop = coop_of("A", "B", "C")
    summaries = {"A": summary("A", lots=(LOT,)), "B": summary("B", lots=(LOT,)), "C": summary("C")}
    (found,) = compare_lot_numbers(Directory(coop.members, summaries), ())
    assert ("lot-number-shared", ("A", "B")) == (found.kind, found.members)
    assert ("A:lots/L1", "B:lots/L1") == found.records


def test_seed_that_was_handed_on_may_keep_its_number(coop_of: Callable[..., Coop], summary: Make) -> None:
    """B had the lot from A and keeps a record of it under A's number: it is the same seed."""
    coop = coop_of("A", "B")
    moved = MoveFact("M1", "2026-08-03", "L1", "received", 1, "Farm A", "", "")
    summaries = {"A": summary("A", lots=(LOT,)), "B": summary("B", lots=(LOT,), moves=(moved,))}
    directory = Directory(coop.members, summaries)
    assert [] == list(compare_lot_numbers(directory, find_transfers(summaries, directory)))


def test_a_report_claimed_by_two_members_is_named(summary: Make) -> None:
    """One number of one laboratory for trees of two members; spelling doesn't matter."""
    other = REPORT._replace(laboratory="bracken  ford", about=("T9",))
    (found,) = compare_reports({"A": summary("A", reports=(REPORT,)), "B": summary("B", reports=(other,))})
    assert ("report-claimed-twice", ("A", "B")) == (found.kind, found.members)
    assert "A for tree T1 and B for tree T9" in found.message


def test_two_laboratories_may_use_one_number(summary: Make) -> None:
    """Numbers are each laboratory's own. One that isn't named may be any."""
    other = REPORT._replace(laboratory="Another Lab")
    assert [] == list(
        compare_reports({"A": summary("A", reports=(REPORT,)), "B": summary("B", reports=(other,))})
    )
    unnamed = REPORT._replace(laboratory="")
    assert 1 == len(
        list(compare_reports({"A": summary("A", reports=(REPORT,)), "B": summary("B", reports=(unnamed,))}))
    )


def test_papers_are_held_against_the_list(coop_of: Callable[..., Coop], summary: Make) -> None:
    """Another certificate than the list has, and a folder handed in twice."""
    coop = coop_of("A", "B", "C")
    wrong = Stated(operation="Farm A", certificate="CERT-X")
    summaries = {
        "A": summary("A", stated=wrong),
        "B": summary("B"),
        "C": summary("C", fingerprint="seal of B"),
    }
    found = {one.kind: one.members for one in compare_papers(coop.members, summaries, "")}
    assert {"certificate-differs": ("A",), "records-handed-in-twice": ("B", "C")} == found
    assert "certificate-differs" not in {
        one.kind for one in compare_papers(coop.members, summaries, "CERT-X")
    }
