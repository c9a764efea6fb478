"""The co-op's own control against what members' records show: each hole, and the day on which it is one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from certgen.coop.between.control import compare_control
from certgen.coop.between.kinds import KINDS
from certgen.coop.members.control import (
    Agreement,
    Certificate,
    Control,
    Inspection,
    InspectionFinding,
    Inspector,
    Request,
    Sanction,
    Training,
)
from certgen.coop.members.facts import Grams, LotFact, MemberSummary, Stated

if TYPE_CHECKING:
    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.members.member_list import Coop

COVERS = ("certgen.coop.between.disagreements",)
ON = date(2026, 11, 25)
Make = Callable[..., MemberSummary]
LAST, ENDED = date(2026, 12, 31), date(2026, 11, 24)
SOUND: dict[str, tuple[Any, ...]] = {
    "agreements": (Agreement("A", date(2020, 1, 1), "R. Alder", "a.txt"),),
    "certificates": (
        Certificate("A", "C-A", "valid", date(2026, 1, 1), LAST, ("papaya",), ("East",), paper="c.txt"),
    ),
    "inspectors": (
        Inspector("K. Nettle", declared=date(2026, 2, 1), declaration="d.txt",
                  training=(Training(date(2026, 2, 14), "two days", "t.txt"),)),
    ),
    "inspections": (Inspection("I-1", "A", date(2026, 5, 1), "K. Nettle", ("East",), "i.txt"),),
}  # fmt: skip
FILED = ("a.txt", "c.txt", "d.txt", "i.txt", "t.txt", "x.txt")


@pytest.fixture
def look(coop_of: Callable[..., Coop], summary: Make) -> Callable[..., list[Disagreement]]:
    """What a control that is sound but for a change lacks, of a member with papaya on the block East."""

    def find(on: date = ON, filed: tuple[str, ...] = FILED, **changes: Any) -> list[Disagreement]:
        coop = replace(coop_of("A"), control=Control(**{**SOUND, **changes}, filed=filed))
        lot = LotFact("L1", True, "Amber Kestrel", Grams(5), Grams(5), (), 1, 1, (), blocks=("East",))
        stated = Stated("Farm A", "CERT-A", "2026", ("us-nop",), crop="papaya", responsible="R. Alder")
        known = summary("A", stated=stated, blocks=("East",), lots=(lot,))
        return list(compare_control(coop, {"A": known}, on))

    return find


def test_a_sound_control_has_nothing_open(look: Callable[..., list[Disagreement]]) -> None:
    """Signed, certified, inspected by somebody fit, and all on file."""
    assert [] == look()


AGREEMENT, CERTIFICATE, INSPECTOR, INSPECTION = (one[0] for one in SOUND.values())
BY_ITSELF = replace(INSPECTION, by="r. alder")


@pytest.mark.parametrize(
    ("changes", "kind", "words"),
    [
        ({"agreements": ()}, "agreement-missing", "no agreement is written down"),
        ({"agreements": (replace(AGREEMENT, paper=""),)}, "agreement-missing", "no paper is named"),
        ({"agreements": (replace(AGREEMENT, signed_by="?"),)}, "agreement-missing", "nobody signed it"),
        ({"agreements": (replace(AGREEMENT, until=ENDED),)}, "agreement-missing", "ended on 24"),
        ({"agreements": (replace(AGREEMENT, signed=LAST),)}, "agreement-missing", "still to come"),
        ({"certificates": ()}, "certificate-not-shown", "no certificate is written down"),
        ({"certificates": (replace(CERTIFICATE, until=ENDED),)}, "certificate-not-shown", "was valid"),
        ({"certificates": (replace(CERTIFICATE, status="withdrawn"),)}, "certificate-not-shown", "withdrawn"),
        ({"certificates": (replace(CERTIFICATE, crops=("squash",)),)}, "certificate-scope", "covers squash"),
        ({"certificates": (replace(CERTIFICATE, blocks=("West",)),)}, "certificate-scope", "block East"),
        ({"inspections": ()}, "member-not-inspected", "no inspection is on file"),
        ({"inspections": (replace(INSPECTION, paper="gone.txt"),)}, "member-not-inspected", "gone.txt isn't"),
        ({"inspections": (replace(INSPECTION, date=date(2025, 11, 23)),)}, "member-not-inspected", "23 Nov"),
        ({"inspections": (replace(INSPECTION, blocks=("West",)),)}, "land-not-inspected", "names block East"),
        ({"inspections": (BY_ITSELF,)}, "inspector-unfit", "the member itself"),
        ({"inspectors": ()}, "inspector-unfit", "nobody of that name"),
        ({"inspectors": (replace(INSPECTOR, family=("A",)),)}, "inspector-unfit", "family's"),
        ({"inspectors": (replace(INSPECTOR, declared=None),)}, "inspector-unfit", "nothing was declared"),
        ({"inspectors": (replace(INSPECTOR, declaration=""),)}, "inspector-unfit", "no paper is named"),
        ({"inspectors": (replace(INSPECTOR, training=()),)}, "inspector-unfit", "no training"),
        (
            {"inspectors": (replace(INSPECTOR, training=(Training(date(2026, 5, 1), "x", "t.txt"),)),)},
            "inspector-unfit",
            "no training before that day",
        ),
        (
            {"inspectors": (replace(INSPECTOR, training=(Training(date(2026, 2, 14), "x"),)),)},
            "inspector-unfit",
            "no paper is named",
        ),
    ],
)  # fmt: skip
def test_what_is_missing_is_told(
    look: Callable[..., list[Disagreement]], changes: dict[str, Any], kind: str, words: str
) -> None:
    """One change of a sound control, one thing missing, told to the member too."""
    found = {one.kind: one for one in look(**changes)}
    assert kind in found
    assert set(found) <= {kind, "inspector-unfit", "land-not-inspected"}
    assert words in found[kind].message
    assert found[kind].tell("A")


def test_seed_outside_the_certificates_scope_is_reached(look: Callable[..., list[Disagreement]]) -> None:
    """Another crop takes all lots, other land the lots that grew on it."""
    (crop,) = look(certificates=(replace(CERTIFICATE, crops=("squash",)),))
    (land,) = look(certificates=(replace(CERTIFICATE, blocks=("West",)),))
    assert [("A", "")] == [(one.member, one.lot) for one in crop.reach]
    assert [("A", "L1")] == [(one.member, one.lot) for one in land.reach]
    assert "unproven" == KINDS[crop.kind].weight


@pytest.mark.parametrize(
    ("on", "closed", "paper", "expected"),
    [
        (date(2026, 6, 30), None, "", 0),
        (date(2026, 7, 1), None, "", 1),
        (date(2026, 7, 1), date(2026, 6, 20), "", 1),
        (date(2026, 7, 1), date(2026, 6, 20), "gone.txt", 1),
        (date(2026, 7, 1), date(2026, 6, 20), "x.txt", 0),
        (date(2026, 7, 1), date(2026, 7, 2), "x.txt", 1),
    ],
)
def test_a_finding_is_overdue_the_day_after_its_deadline(
    look: Callable[..., list[Disagreement]], on: date, closed: date | None, paper: str, expected: int
) -> None:
    """And closed only by a paper that is on file, from its day on."""
    finding = InspectionFinding("no log", date(2026, 6, 30), closed=closed, closed_with=paper)
    found = look(on, inspections=(replace(INSPECTION, findings=(finding,)),))
    assert ["finding-overdue"] * expected == [one.kind for one in found]


@pytest.mark.parametrize(
    ("on", "answered", "paper", "expected"),
    [
        (date(2026, 9, 30), None, "", 0),
        (date(2026, 10, 1), None, "", 1),
        (date(2026, 10, 1), date(2026, 9, 14), "", 1),
        (date(2026, 10, 1), date(2026, 9, 14), "x.txt", 0),
        (date(2026, 8, 1), None, "", 0),
    ],
)
def test_a_request_is_overdue_the_day_after_its_deadline(
    look: Callable[..., list[Disagreement]], on: date, answered: date | None, paper: str, expected: int
) -> None:
    """And answered only by a paper that is on file; what is asked later isn't asked yet."""
    one = Request("R-1", "A", date(2026, 9, 1), "a letter", date(2026, 9, 30), answered, paper)
    assert ["request-overdue"] * expected == [found.kind for found in look(on, requests=(one,))]


def test_a_measure_in_force_is_told(look: Callable[..., list[Disagreement]]) -> None:
    """From its first day until it is lifted; a warning stops nothing."""
    one = Sanction("S-1", "A", "suspended", date(2026, 8, 1), "why")
    assert [] == look(date(2026, 7, 31), sanctions=(one,))
    assert ["member-sanctioned"] == [found.kind for found in look(date(2026, 8, 1), sanctions=(one,))]
    assert [] == look(sanctions=(replace(one, measure="warning"),))
    assert [] == look(sanctions=(replace(one, lifted=date(2026, 9, 1), lifted_with="x.txt"),))
    (found,) = look(sanctions=(replace(one, lifted=date(2026, 9, 1)),))
    assert "said to be lifted, but no paper is named" in found.message


def test_the_office_signs_nothing_with_itself(coop_of: Callable[..., Coop], summary: Make) -> None:
    """Its certificate is asked for, and nothing else."""
    coop = coop_of("A")
    members = tuple(replace(one, office=True) for one in coop.members)
    found = compare_control(replace(coop, members=members, control=Control()), {"A": summary("A")}, ON)
    assert ["certificate-not-shown"] == [one.kind for one in found]


@pytest.mark.parametrize(
    ("certificate", "inspected", "expected"),
    [
        ("G-1", None, "gives no day of an inspection for A"),
        ("G-1", date(2025, 9, 30), "gives 30 September 2025 as the day of the last for A"),
        ("G-1", date(2025, 10, 1), ""),
        ("G-1", date(2026, 10, 2), ""),
        ("G-1", date(2026, 10, 3), "gives 3 October 2026 as the day of the last for A"),
        ("", None, ""),
    ],
)
def test_a_group_inspects_every_member_each_year(
    coop_of: Callable[..., Coop], summary: Make, certificate: str, inspected: date | None, expected: str
) -> None:
    """By its list, where it keeps no other records. A co-op without a certificate is asked for none."""
    coop = coop_of("A")
    members = tuple(replace(one, inspected=inspected) for one in coop.members)
    group = replace(coop, certificate=certificate, members=members)
    found = list(compare_control(group, {"A": summary("A")}, date(2026, 10, 2)))

    assert bool(expected) == bool(found)
    assert all(expected in one.message and "control" == one.weight for one in found)
