"""Another reader of PDFs finds our signatures valid, and sees a changed byte as we do."""

from __future__ import annotations

import re
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest
from signed import issue_signer, new_signer, rsa_signer, small_pdf

from certgen.exchange.signing.signature import read_signatures, sign_bytes

if TYPE_CHECKING:
    from pathlib import Path

COVERS = ("certgen.exchange.signing.signature",)
pytestmark = pytest.mark.skipif(shutil.which("pdfsig") is None, reason="pdfsig (Poppler) is not here")


def ask(path: Path, pdf: bytes) -> list[tuple[str, str, str]]:
    """Of each signature, in Poppler's words: who signed, how much, and whether it is valid."""
    path.write_bytes(pdf)
    said = subprocess.run(
        ["pdfsig", "-nocert", str(path)], capture_output=True, text=True, check=False, timeout=60
    ).stdout
    words = (
        r"Signer Certificate Common Name: (.*)",
        r"((?:Total|Not total) document signed)",
        r"Signature Validation: (.*)",
    )
    return list(zip(*(re.findall(one, said) for one in words), strict=True))


@pytest.mark.parametrize("packed", [True, False])
def test_signatures_are_valid_for_another_reader(tmp_path: Path, packed: bool) -> None:
    """Own and issued certificates, ECDSA and RSA, one behind the other; the last signs all of it."""
    pdf = small_pdf(packed=packed)
    for signer in (new_signer("Grower"), issue_signer("Issued")[0], rsa_signer(pss=False)):
        pdf = sign_bytes(pdf, signer)
    valid = "Signature is Valid."

    assert [
        ("Grower", "Not total document signed", valid),
        ("Issued", "Not total document signed", valid),
        ("RSA Garden", "Total document signed", valid),
    ] == ask(tmp_path / "signed.pdf", pdf)


def test_both_readers_see_a_changed_byte(tmp_path: Path) -> None:
    """In the title that the packet bears."""
    pdf = small_pdf(packed=False)
    changed = sign_bytes(pdf, new_signer("Grower")).replace(b"A season's packet", b"A farmer's packet", 1)
    ((_, _, said),) = ask(tmp_path / "changed.pdf", changed)

    assert "Digest Mismatch." == said
    assert ["the signature does not fit the file's bytes"] == [
        one.fault for one in read_signatures(changed).signatures
    ]
