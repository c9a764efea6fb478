"""The final write: elements lose what says nothing in the joined file, and nothing else does."""

from __future__ import annotations

import pytest

from certgen.typeset.final_write import slim


@pytest.mark.parametrize(
    ("body", "slimmed"),
    [
        (
            b"<< /A << /Headers [ (656-1-0) (656-0-1) ] /O /Table >> /K 5 /S /TD /Type /StructElem >>",
            b"<< /K 5 /S /TD >>",
        ),
        (
            b"<< /A << /ColSpan 2 /Headers [ (1-1) ] /O /Table >> /K 0 /S /TD /Type /StructElem >>",
            b"<< /A << /ColSpan 2 /O /Table >> /K 0 /S /TD >>",
        ),
        (
            b"<< /A << /O /Table /Scope /Row >> /ID (656-0-0) /K 3 /S /TH /Type /StructElem >>",
            b"<< /A << /O /Table /Scope /Row >> /K 3 /S /TH >>",
        ),
        (
            b"<< /Alt (a /Headers [ (x) ] of an /ID (1) drawing) /S /Figure /Type /StructElem >>",
            b"<< /Alt (a /Headers [ (x) ] of an /ID (1) drawing) /S /Figure >>",
        ),
        (b"<< /Type /Font /ID (7) >>", b"<< /Type /Font /ID (7) >>"),
    ],
)
def test_elements_are_slimmed(body, slimmed):
    """Names of heading cells and optional types go; spans, scopes, words and other objects stay."""
    assert slimmed == slim(body)
