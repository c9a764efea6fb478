"""Places in a drawing that lead somewhere: links laid over the picture, since none inside it is one."""

from __future__ import annotations

from dataclasses import dataclass

from certgen.typeset.parts import Run


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in a drawing that leads somewhere; its edges are in hundredths of the drawing's."""

    href: str
    words: str
    left: str
    top: str
    width: str
    height: str

    @classmethod
    def of(
        cls, href: str, words: str, box: tuple[float, float, float, float], size: tuple[float, float]
    ) -> Spot:
        """The spot of a `box` (left, top, width, height) in a drawing of `size`, both in points."""
        whole = (*size, *size)
        left, top, width, height = (f"{100 * edge / of:.2f}%" for edge, of in zip(box, whole, strict=True))
        return cls(href, words, left, top, width, height)

    @property
    def address(self) -> str:
        """Where it leads, as a link's address."""
        return Run("", self.href).address
