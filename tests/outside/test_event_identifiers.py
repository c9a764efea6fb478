"""Check digits of unique identifiers: public registers' identifiers (three of other crops from memory)."""

from __future__ import annotations

import pytest

from certgen.figures.identifiers import check_digit, verify_identifier

COVERS = ("certgen.figures.identifiers",)


# isaaa.org events 227 and 228; the biosafety clearing-house record 106312; the other crops' from memory.
@pytest.mark.parametrize(
    "identifier",
    ["CUH-CP551-8", "CUH-CP631-7", "UFL-X17CP-9", "MON-ØØ6Ø3-6", "MON-ØØ81Ø-6", "SYN-BTØ11-1", "ACS-GMØØ5-3"],
)
def test_registered_identifiers(identifier):
    """The last digit is the check digit."""
    assert verify_identifier(identifier)


def test_the_corrected_identifier():
    """Older texts print UFL-X17CP-6; the record itself was corrected to 9."""
    assert not verify_identifier("UFL-X17CP-6")
    assert 9 == check_digit("UFL-X17CP")


# OECD unique identifier guidance: A counts 1 and so on to Z, which counts 26.
def test_every_letter_counts_its_place():
    """Seven As and one letter: seven and its place, added up digit by digit until one is left."""
    for place, letter in enumerate("ABCDEFGHIJKLMNOPQRSTUVWXYZ", start=1):
        total = 7 + place
        while total > 9:
            total = sum(int(figure) for figure in str(total))

        assert total == check_digit(f"AAA-AAAA{letter}")
