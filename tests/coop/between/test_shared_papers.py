"""Papers that two members go by: a report claimed twice, one letter for both, one photo, one book."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from certgen.coop.between.shared_papers import compare_evidence, compare_measures, compare_reports
from certgen.coop.between.transfers import Transfer
from certgen.coop.members.facts import (
    EvidenceFact,
    MeasuredFact,
    MemberSummary,
    MoveFact,
    ReportFact,
)

Make = Callable[..., MemberSummary]
REPORT = ReportFact("Bracken Ford", "BF-1", "trees", ("T1",), 1, ("S1",))
LETTER = EvidenceFact("d1", "letters/BF-1.pdf", "letters", "BF-1", "BF-1")


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


def test_a_laboratory_that_looks_like_another_is_asked_about(summary: Make) -> None:
    """A short name may be the same laboratory's or another's: nobody can tell from the books."""
    other = REPORT._replace(laboratory="Bracken Ford Diagnostics")
    found = compare_reports({"A": summary("A", reports=(REPORT,)), "B": summary("B", reports=(other,))})
    assert ["reports-look-alike"] == [one.kind for one in found]


@pytest.mark.parametrize(
    ("samples", "letter", "expected"),
    [
        (("R1",), LETTER, "report-covers-two"),
        (("R1",), LETTER._replace(unnamed=0), "report-covers-two"),
        # The same sample at both, another file, none, or a text that doesn't name the sample.
        (("s1",), LETTER, "report-claimed-twice"),
        (("R1",), LETTER._replace(digest="d2"), "report-claimed-twice"),
        (("R1",), None, "report-claimed-twice"),
        (("R1",), LETTER._replace(unnamed=1), "report-claimed-twice"),
        ((), LETTER, "report-claimed-twice"),
    ],
)
def test_one_letter_for_both_is_a_question(
    summary: Make, samples: tuple[str, ...], letter: EvidenceFact | None, expected: str
) -> None:
    """Both have it on file and claim samples of their own: then somebody has to read it."""
    theirs = REPORT._replace(about=("U1",), samples=samples)
    (found,) = compare_reports(
        {
            "A": summary("A", reports=(REPORT,), evidence=(LETTER,)),
            "B": summary("B", reports=(theirs,), evidence=(letter,) if letter else ()),
        }
    )
    assert expected == found.kind


def test_a_letter_without_a_list_is_read_by_somebody(summary: Make) -> None:
    """Its text names no sample of either, so nobody's is left out of it."""
    silent = LETTER._replace(unnamed=1)
    theirs = REPORT._replace(about=("U1",), samples=("R1",))
    (found,) = compare_reports(
        {
            "A": summary("A", reports=(REPORT,), evidence=(silent,)),
            "B": summary("B", reports=(theirs,), evidence=(silent,)),
        }
    )
    assert "report-covers-two" == found.kind


def _hold(summary: Make, table: str, other: str, *transfers: Transfer) -> list[str]:
    one = EvidenceFact("d1", "photo.jpg", table, "X1", lots=("L1",))
    two = EvidenceFact("d1", "img.jpg", other, "Y1", lots=("L2",))
    summaries = {"A": summary("A", evidence=(one,)), "B": summary("B", evidence=(two,))}
    return [found.kind for found in compare_evidence(summaries, transfers)]


def test_what_shows_own_work_shows_no_others(summary: Make) -> None:
    """A photo of a bag or a picking is of one member's; of a letter or a block both may speak."""
    assert ["paper-of-two"] == _hold(summary, "bagging", "harvests")
    assert ["paper-shared"] == _hold(summary, "blocks", "blocks")
    assert ["paper-shared"] == _hold(summary, "screening", "bagging")


def test_what_goes_with_goods_is_at_both(summary: Make) -> None:
    """Two members who deal with one another have papers in common."""
    move = MoveFact("M1", "2026-08-03", "L1", "sold", 4, "B", "", "")
    assert [] == _hold(summary, "season", "blocks", Transfer("A", "B", (move,), ()))


def test_a_letter_whose_report_both_claim_is_told_once(summary: Make) -> None:
    """The claims say more than the file does."""
    held = {key: summary(key, evidence=(LETTER,)) for key in "AB"}
    assert [] == list(compare_evidence(held, ()))


def test_a_book_that_is_anothers_is_asked_about(summary: Make) -> None:
    """Three tables and eight records alike, by whatever numbers; less may be chance."""
    tables = [MeasuredFact(name, "same", 3) for name in ("bagging", "harvests", "batches")]
    kinds = [
        [one.kind for one in compare_measures({key: summary(key, measured=tuple(some)) for key in "AB"})]
        for some in (tables, tables[:2], [one._replace(entries=2) for one in tables])
    ]
    assert [["books-alike"], [], []] == kinds


def test_one_changed_table_hides_no_copy(summary: Make) -> None:
    """Whoever changes a weight has changed one table of several."""
    names = ("screening", "bagging", "harvests", "batches")
    one = tuple(MeasuredFact(name, "same", 3) for name in names)
    other = (one[0]._replace(digest="changed"), *one[1:])
    found = list(compare_measures({"A": summary("A", measured=one), "B": summary("B", measured=other)}))
    assert [("A", "B")] == [each.members for each in found]
