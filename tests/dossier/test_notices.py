"""Seed that isn't traced and has left: who holds it, and what each of them is told."""

from __future__ import annotations

from datetime import date

from certgen.dossier.notices import draft_notices, list_suspect
from certgen.examination import examine_season

ON = date(2026, 10, 31)


def sold(seasons, *papers, **tables):
    """A sound line whose lot L1 of 8 g was sold under these papers, with other tables laid over, examined."""
    sales = [
        seasons.movement(
            f"M{at}", "L1", "sold", 2, 70 + at, party=f"Ash Farm {at}", status="organic",
            last_certified_operation=seasons.OPERATION, **({"document": paper} if paper else {}),
        )
        for at, paper in enumerate(papers, start=1)
    ]  # fmt: skip
    return examine_season(seasons.season_of(**{**seasons.one_line(), "movements": sales, **tables}), ON)


def test_traced_seed_needs_no_notice(seasons):
    """Nobody is written to about seed that the records bear out."""
    result = sold(seasons, "INV-1")

    assert "traced" == result.lots["L1"].standing
    assert ((), ()) == (list_suspect(result), draft_notices(result))


def test_every_delivery_of_doubtful_seed_is_listed(seasons):
    """To whom, how much, on which paper, by day; and what makes the lot doubtful, without the delivery."""
    result = sold(seasons, "INV-1", "INV-2", screening=[])
    suspect = list_suspect(result)

    assert [
        ("M1", "L1", 2_000, "Ash Farm 1", "INV-1", "unproven"),
        ("M2", "L1", 2_000, "Ash Farm 2", "INV-2", "unproven"),
    ] == [(one.movement, one.lot, one.weight_mg, one.party, one.document, one.standing) for one in suspect]
    numbered = [result.gaps[one.number - 1] for one in suspect]
    assert [("suspect-seed-left", "M1"), ("suspect-seed-left", "M2")] == [
        (gap.rule, gap.id) for gap in numbered
    ]
    (unscreened,) = [gap for gap in result.gaps if gap.rule == "parent-unscreened"]
    assert unscreened.message in suspect[0].why
    assert set() == {gap.message for gap in numbered} & set(suspect[0].why)


def test_each_party_reads_of_its_own_seed_and_the_certifier_of_all(seasons):
    """What the records say of the lot goes to the certifier, who decides."""
    result = sold(seasons, "INV-1", "INV-2", screening=[])
    first, second, certifier = draft_notices(result)

    assert ["Ash Farm 1", "Ash Farm 2", "Fernhollow Organic Certification"] == [
        one.party for one in (first, second, certifier)
    ]
    assert [["M1"], ["M2"], ["M1", "M2"]] == [
        [one.movement for one in notice.deliveries] for notice in (first, second, certifier)
    ]
    said = (
        "2\N{NO-BREAK SPACE}g of lot L1 (Amber Kestrel), delivered on 18 August 2026, document INV-1. "
        "The lot is unproven."
    )
    assert (said, f"{said} To Ash Farm 1.") == (first.lines[1], certifier.lines[1])
    assert not any("INV-1" in line for line in second.lines)
    assert set(list_suspect(result)[0].why) <= set(certifier.lines)


def test_a_delivery_without_a_paper_says_so(seasons):
    """The buyer can't look for a number that nobody wrote."""
    result = sold(seasons, "", screening=[])

    assert [""] == [one.document for one in list_suspect(result)]
    assert ", no document." in draft_notices(result)[0].lines[1]
