"""The update that a signature needs, and nothing besides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

if TYPE_CHECKING:
    from pyhanko.pdf_utils.extensions import DeveloperExtension

#: What ETSI has a PDF of the 1.x versions declare when it bears a PAdES signature.
PADES_EXTENSION = "/ESIC"


class SignatureWriter(IncrementalPdfFileWriter):
    """Appends to a PDF without touching its title, producer, dates, metadata or version."""

    def _update_meta(self) -> None:
        """Left out: a packet says itself who made it, and when."""

    def ensure_output_version(self, version: tuple[int, int]) -> None:
        """Left out: no reader needs a newer version to show the signature."""

    def register_extension(self, ext: DeveloperExtension) -> None:
        """Declare what PAdES asks for, and not which curve or hash the signature uses."""
        if ext.prefix_name == PADES_EXTENSION:
            super().register_extension(ext)
