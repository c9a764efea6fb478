"""What a submission sheet says of the leaves that went with it, laid into their records."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from certgen.records.joining.completion import complete_season
from certgen.records.joining.custody import condition_of, is_other_seal, list_broken, list_sheets

LEAVES = """\
screening:
- {sample: S1, tree: T1}
- {sample: S2, tree: T2}
- {sample: S3, tree: T3, condition: in order}
"""


def sheet(text: str, samples: str = "[S1 to S3]") -> str:
    """Leaves, and one sheet that went with them."""
    kind = "submission: SH-1, kind: to the laboratory"
    return LEAVES + f"submissions:\n- {{{kind}, samples: {samples}, {text}}}\n"


@pytest.fixture
def conditions(read: Callable):
    """The condition of each sample after all was laid in."""

    def find(text):
        season, errors = read(text)
        assert () == errors
        frame = complete_season(season).table("screening")
        return frame["condition"].astype(object).fillna("").tolist()

    return find


@pytest.mark.parametrize(
    ("says", "found"),
    [
        ("condition: in order", ["", "", "in order"]),
        ("condition: damaged", ["damaged"] * 3),
        ("bags: [{seal: '1', samples: [S2], condition: seal broken}]", ["", "seal broken", "in order"]),
        ("bags: [{seal: '1', samples: [S2 to S3], seal_on_receipt: '7'}]",
         ["", "seal broken", "seal broken"]),
        ("bags: [{seal: '1', samples: [S2], seal_on_receipt: ' 1'}]", ["", "", "in order"]),
        ("condition: damaged, bags: [{seal: '1', samples: [S2], condition: in order}]",
         ["damaged", "", "damaged"]),
        ("bags: [{seal: '1', seal_on_receipt: '7'}]", ["seal broken"] * 3),
        ("bags: [{seal: '1', samples: [S9], seal_on_receipt: '7'}]", ["", "", "in order"]),
        ("bags: [{seal: '1'}]", ["", "", "in order"]),
    ],
)  # fmt: skip
def test_a_sheet_speaks_against_samples_and_never_for_them(conditions, says, found):
    """A seal that is broken or another, or damage, beats the sample's own word; nothing makes one better."""
    assert found == conditions(sheet(says))


def test_the_worse_word_of_letter_and_sheet_counts(conditions):
    """Whichever of the two says it."""
    letter = "letters:\n- {letter: L1, samples: [S1 to S2], condition: %s}\n"

    assert ["damaged", "damaged", "damaged"] == conditions(sheet("condition: damaged") + letter % "in order")
    assert ["damaged", "damaged", "in order"] == conditions(sheet("condition: in order") + letter % "damaged")


def test_a_bag_that_a_sheet_does_not_list_is_heard_by_its_samples(read):
    """The samples of a broken bag are found though the sheet's own list leaves them out."""
    season, _ = read(sheet("bags: [{seal: '1', samples: [S2], condition: damaged}]", "[]"))

    assert {1: "damaged"} == list_broken(season)


@pytest.mark.parametrize(
    ("left", "came", "other"),
    [("QR 55", "qr55", False), ("55", "56", True), ("55", None, False), ("055", "55", True)],
)
def test_a_seal_is_another_by_its_signs(left, came, other):
    """Blanks and letter case aside; a nought in front is part of a number that is only read off."""
    assert other is is_other_seal({"seal": left, "seal_on_receipt": came})
    assert ("seal broken" if other else "in order") == condition_of(
        {"seal": left, "seal_on_receipt": came, "condition": "in order"}, "damaged"
    )


@pytest.mark.parametrize(
    ("bags", "seals"),
    [
        ("[{seal: '1'}]", {"S1": "1", "S2": "1", "S3": "1"}),
        ("[{bag: row 3, seal: '1', samples: [S2]}, {seal: '2'}]", {"S2": "row 3, 1"}),
        ("[]", {}),
    ],
)
def test_each_sample_has_its_sheet_and_the_seal_of_its_bag(read, bags, seals):
    """One bag that names no samples holds the whole sheet; of several nobody can say."""
    season, _ = read(sheet(f"bags: {bags}"))

    assert ({"S1": "SH-1", "S2": "SH-1", "S3": "SH-1"}, seals) == list_sheets(season)
