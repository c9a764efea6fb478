"""Check digits of unique identifiers: public registers' identifiers (three of other crops from memory)."""

from __future__ import annotations

import pytest

from certgen.figures.identifiers import check_digit, verify_identifier


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
