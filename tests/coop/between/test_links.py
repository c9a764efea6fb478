"""Seed that members pool, buy and hand on, in small co-ops with real records: by gram, and why not."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from certgen.coop.papers.member_letters import write_letters

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult, LotLine

COVERS = ("certgen.coop.between.reasons", "certgen.coop.between.origins")
OFFICE = """\
season:
  operation:
    name: Farm OFF
    certificate: CERT-OFF
    certifier: Fernhollow Organic Certification
    address: 9 Well Street
    responsible: O. Reed
  label: "2026"
  from: 2025-11-01
  to: 2026-10-31
  crop: papaya
  standards: [us-nop]
lots:
  - lot: POOL-1
    variety: Amber Kestrel
    packed: 2026-09-02
    sources: [SOURCES]
    weight: 7 g
    status: organic
    containers: 2
    packaging: foil pouch
    container_use: new
    storage: cool room
    generation: 2
    label:
      lot: POOL-1
      status: organic
      variety: Amber Kestrel
      last_certified_operation: Farm OFF
      germination: 88 %
      tested: 2026-09-28
tests:
  - test: GP
    lot: POOL-1
    date: 2026-09-28
    kind: germination
    replicates: [44, 43, 45, 44]
    per_replicate: 50
    temperature: 20-30 C alternating
    substrate: sand
    counts: [15, 22]
    laboratory: Bracken Ford Plant Diagnostics
    report: BF-3390
movements:
MOVES
  - {movement: RC, date: 2026-10-01, lot: POOL-1, kind: counted, weight: 7 g}
"""
RESULT = "result: negative\n    reported: 2025-12-16\n    report: BF-B-2201\n  - sample: S2"
POOLED = "{lot: A-1, weight: 4 g}, {lot: B-1, weight: 3 g}"


def entry(
    name: str, lot: str, kind: str, grams: int, party: str, changes: str = "", day: str = "2026-08-25"
) -> str:
    """One line of a stock book, with the dispatch note of its lot."""
    return (
        f"  - {{movement: {name}, date: {day}, lot: {lot}, kind: {kind}, weight: {grams} g, party: {party}, "
        f"document: DN-{lot}, status: organic, last_certified_operation: Farm {lot[0]}{changes}}}\n"
    )


UNBOOKED = {"B": {"kind: transferred": "kind: sampled"}}
RECEIVED = entry("R1", "A-1", "received", 4, "Farm A") + entry("R2", "B-1", "received", 3, "Farm B")


@pytest.fixture
def pool(write_coop: Callable[..., Path], examine: Callable[..., CoopResult]) -> Callable[..., CoopResult]:
    """A co-op of A and B, who sent 4 and 3 g to an office that put them together, but for some changes."""

    def make(
        sources: str = POOLED,
        moves: str = RECEIVED,
        changes: Mapping[str, Mapping[str, str]] | None = None,
        office: Mapping[str, str] | None = None,
        more: tuple[str, ...] = (),
        coop: str = "",
    ) -> CoopResult:
        edits: dict[str, dict[str, str]] = {}
        for key, grams in (("A", 4), ("B", 3)):
            sent = entry("MT", f"{key}-1", "transferred", grams, "Farm OFF")
            edits[key] = {
                "Larkfold Seed Orchard": f"Farm {key}",
                "movements:\n": f"movements:\n{sent}",
                "weight: 10 g": f"weight: {10 - grams} g",
                **((changes or {}).get(key, {})),
            }
        for key in more:
            edits[key] = {"Larkfold Seed Orchard": f"Farm {key}", **((changes or {}).get(key, {}))}
        folder = write_coop("A", "B", *more, "OFF", changes=edits, coop=coop)
        text = OFFICE.replace("SOURCES", sources).replace("MOVES\n", moves)
        for old, new in (office or {}).items():
            assert old in text
            text = text.replace(old, new)
        (folder / "members" / "OFF" / "season.yaml").write_text(text)
        return examine(folder)

    return make


def pooled(result: CoopResult) -> LotLine:
    """The office's lot."""
    (line,) = result.members[-1].lots
    return line


def grams(line: LotLine) -> tuple[float, float, float]:
    """Traced, unproven and rejected grams."""
    return tuple(mass / 1000 for mass in line.standing[:3])  # type: ignore[return-value]


def test_a_pooled_lot_is_traced_by_its_parts(pool: Callable[..., CoopResult]) -> None:
    """All of it, to all parents at both members; the office's own records alone show nothing."""
    result = pool()
    line = pooled(result)
    assert () == result.disagreements
    assert (0, 7000) == (line.fact.own.traced_mg, line.standing.traced_mg)
    assert (4, 4, 0) == line.parents
    assert {"A:lots/A-1", "B:lots/B-1", "A:plantings/P1", "B:plantings/P1"} == set(line.back)
    assert "ready" == result.members[-1].readiness
    assert "7 g traced; 4 of 4 parents screened" in write_letters(result)["OFF.txt"].replace("\xa0", " ")


def test_a_part_that_is_not_traced_leaves_the_other_traced(pool: Callable[..., CoopResult]) -> None:
    """B's tree T1 has no result: 3 g are unproven, and both letters say of which lot, not of whose tree."""
    result = pool(changes={"B": {RESULT: "result: pending\n  - sample: S2"}})
    line = pooled(result)
    assert (4, 3, 0) == grams(line)
    assert (4, 3, 0) == line.parents
    letters = write_letters(result)
    office, supplier = (" ".join(letters[name].split()) for name in ("OFF.txt", "B.txt"))
    assert (
        "Your lot POOL-1 rests on lot B-1 of B, which is unproven there. There is nothing for you" in office
    )
    assert "screening" not in office
    assert "T1" not in office
    assert (
        "Your lot B-1 went to OFF, whose seed waits for it: what it lacks stands at your lots below."
        in supplier
    )
    assert line.reasons


def test_a_part_that_is_rejected_is_held(pool: Callable[..., CoopResult]) -> None:
    """Nothing mends a positive parent: those grams are rejected at the office too, which has to hold them."""
    result = pool(changes={"B": {"result: negative": "result: positive"}})
    assert (4, 0, 3) == grams(pooled(result))
    found = {one.kind: one for one in result.disagreements}
    assert "sell none of it" in found["origin-rejected"].tell("OFF")
    assert {"A": "ready", "B": "against the claim", "OFF": "against the claim"} == {
        view.member.key: view.readiness for view in result.members
    }


@pytest.mark.parametrize(
    ("moves", "office", "changes", "kind", "words"),
    [
        # B's own book says nothing of it.
        (RECEIVED, {}, UNBOOKED, "transfer-not-booked-out", "don't agree"),
        # Of 3 g that came 2 g arrived.
        (RECEIVED.replace("weight: 3 g", "weight: 2 g"), {}, {}, "transfer-differs", "don't agree"),
        # More was put in than came.
        (RECEIVED.replace("weight: 3 g", "weight: 1 g"), {}, {"B": {"3 g, party": "1 g, party"}},
         "origin-overdrawn", "records use 3 g"),
        # Of what was packed a part came later.
        (entry("R1", "A-1", "received", 4, "Farm A") + entry("R2", "B-1", "received", 1, "Farm B")
         + entry("R3", "B-1", "received", 2, "Farm B", day="2026-09-10"), {},
         {"B": {"movements:\n": "movements:\n" + entry("MT", "B-1", "transferred", 1, "Farm OFF")
                + entry("MU", "B-1", "transferred", 2, "Farm OFF", day="2026-09-10")}},
         "origin-overdrawn", "had 1 g of lot B-1"),
        # It was packed before it came.
        (RECEIVED.replace("B-1", "B-1").replace("2026-08-25, lot: B", "2026-09-10, lot: B"), {},
         {"B": {"2026-08-25, lot: B": "2026-09-10, lot: B"}}, "origin-differs", "before lot B-1 came"),
        # It left as conventional seed.
        (RECEIVED, {}, {"B": {"DN-B-1, status: organic": "DN-B-1, status: conventional"}}, "origin-differs",
         "as conventional"),
        # It was another variety.
        (RECEIVED, {}, {"B": {"Amber Kestrel": "Grey Heron"}}, "origin-differs", "is Grey Heron"),
        # No book shows it at all.
        (RECEIVED.replace("received, weight: 3 g, party: Farm B", "opening stock, weight: 3 g, party: x"),
         {}, UNBOOKED, None, ""),
    ],
)  # fmt: skip
def test_a_way_that_is_in_doubt_shows_nothing(
    pool: Callable[..., CoopResult],
    moves: str,
    office: Mapping[str, str],
    changes: Mapping[str, Mapping[str, str]],
    kind: str | None,
    words: str,
) -> None:
    """3 g are unproven, though every gram of B's lot is traced there; the letter says what to look at."""
    result = pool(moves=moves, office=office, changes=changes)
    line = pooled(result)
    assert 4 >= grams(line)[0]
    assert "traced" != line.standing.standing
    assert line.reasons
    if kind is not None:
        assert kind in {one.kind for one in result.disagreements}
        assert any(words in reason.replace("\xa0", " ") for reason in line.reasons), line.reasons
        assert [] == [one.kind for one in result.disagreements if not one.told]


def test_seed_bought_of_a_member_is_traced_through_its_season(pool: Callable[..., CoopResult]) -> None:
    """A lot with its supplier as the source, as bought seed is written: through the supplier's records."""
    result = pool(
        "{supplier: Farm A, certificate: CERT-A, supplier_lot: A-1, weight: 4 g}, "
        "{supplier: Farm B, certificate: CERT-B, supplier_lot: B-1, weight: 3 g}",
        "",
        changes={"B": {"result: negative": "result: positive"}},
        office={"packed: 2026-09-02": "packed: 2026-08-25"},
    )
    line = pooled(result)
    assert (4, 0, 3) == grams(line)
    assert 4 == line.parents.all


def test_seed_bought_elsewhere_stays_unproven_and_says_why(pool: Callable[..., CoopResult]) -> None:
    """Of a supplier who is no member nobody has the records: the letter asks for the supplier's report."""
    result = pool(
        "{lot: A-1, weight: 4 g}, {supplier: Tarrowmere Seed Exchange, certificate: C-9, weight: 3 g}",
        entry("R1", "A-1", "received", 4, "Farm A"),
        changes={"B": {"Farm OFF": "Quillmere Growers"}},
    )
    assert (4, 3, 0) == grams(pooled(result))
    assert "its own signed report on the lot" in " ".join(write_letters(result)["OFF.txt"].split())


@pytest.mark.parametrize("handed_on", [4, 5])
def test_a_lot_is_followed_through_whoever_handed_it_on(
    pool: Callable[..., CoopResult], handed_on: int
) -> None:
    """A sent its lot to H, who handed it on to the office under its number; not more than H had, though."""
    came = entry("HR", "A-1", "received", 4, "Farm A", day="2026-08-20")
    went = entry("HS", "A-1", "transferred", handed_on, "Farm OFF")
    result = pool(
        f"{{lot: A-1, weight: {handed_on} g}}, {{lot: B-1, weight: {7 - handed_on} g}}",
        entry("R1", "A-1", "received", handed_on, "Farm H") + entry("R2", "B-1", "received", 3, "Farm B"),
        changes={
            "A": {"2026-08-25, lot": "2026-08-20, lot", "Farm OFF": "Farm H"},
            "H": {"movements:\n": f"movements:\n{came}{went}"},
        },
        more=("H",),
    )
    line = pooled(result)
    if handed_on == 4:
        assert (7, 0, 0) == grams(line)
        assert "A:lots/A-1" in line.back
    else:
        assert (2, 5, 0) == grams(line)
        asked = [one for one in result.disagreements if one.kind == "origin-overdrawn"]
        assert {("H", "A"), ("OFF", "A")} == {one.members for one in asked}
        assert {"H's records use 5\xa0g of lot A-1, and 4\xa0g came."} == {one.message for one in asked}
        # Whose seed H handed on is no business of the office's.
        assert "Farm A" not in write_letters(result)["OFF.txt"]


def test_a_planting_without_any_movement_is_asked_about(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """B's trees are said to be of A's seed, and no book shows that any went there."""
    origin = "origin:\n      supplier: Tarrowmere Seed Exchange\n      certificate: C-0912"
    folder = write_coop("A", "B", changes={
        "A": {"2025-02-10": "2021-02-10"},
        "B": {origin: "origin: {lot: A-1, supplier: Farm A, certificate: CERT-A}",
              "2025-02-10": "2026-07-10"},
    })  # fmt: skip
    kinds = {one.kind: one for one in examine(folder).disagreements}
    assert "no stock book shows that lot A-1 went from A to you" in kinds["origin-not-moved"].tell(
        "B"
    ).replace("No stock", "no stock")
    assert "B" not in kinds["origin-not-moved"].tell("A").split()
