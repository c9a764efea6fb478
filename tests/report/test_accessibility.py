"""The packet checked against an independent checker of PDF/UA-1 (ISO 14289-1).

`pdfua` (PyPI, MIT) decides that part of the Matterhorn Protocol's failure conditions that a program can see:
16 of 106 rules. It says nothing about the others, and a person with a screen reader has the last word.
"""

from __future__ import annotations

import pikepdf
import pytest
from pdfua import validate

COVERS = ("certgen.typeset.conformance", "certgen.typeset.structure")

#: Stumbles over arrays as pikepdf gives them; `test_headings_never_skip_a_level` looks at the same.
NOT_EVALUATED = {"UA-14-001"}


@pytest.fixture
def file(pdf_bytes, tmp_path):
    """The packet as a file."""
    path = tmp_path / "packet.pdf"
    path.write_bytes(pdf_bytes)
    return path


def test_the_packet_passes(file):
    """Chapters, drawn registers, index and all that was joined: no finding, and hardly a rule left out."""
    report = validate(str(file))

    assert () == report.findings
    assert {one.rule_id for one in report.skipped} <= NOT_EVALUATED


@pytest.mark.parametrize(
    ("key", "rule"),
    [
        ("/Lang", "UA-06-001"),
        ("/StructTreeRoot", "UA-01-005"),
        ("/MarkInfo", "UA-01-002"),
        ("/ViewerPreferences", "UA-07-002"),
        ("/Metadata", "UA-28-004"),
    ],
)
def test_the_checker_notices(file, key, rule):
    """The same checker finds what is taken away, so that its silence means something."""
    with pikepdf.open(file, allow_overwriting_input=True) as pdf:
        del pdf.Root[key]
        pdf.save(file)

    assert rule in {one.rule_id for one in validate(str(file)).findings}
