"""What Typst sets: the index, paper for the field, and texts that need more than letters side by side.

Data goes in as data, so that no name in the records can act as markup; only our own faces are used, never
the machine's. Texts must be fit to be set (`legibility.fit_to_set`): every file keeps to PDF/A, which allows
no letter without a shape.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from certgen.process_pool import ends_with_its_work
from certgen.resources import templates_dir
from certgen.typeset import faces
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, TYPE
from certgen.typeset.marks import CLIP
from certgen.typeset.memory import forget_layouts, return_large_blocks

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.typeset.design import Settings

#: 2000-01-01: what bears no date is set as of then, so that the same data gives the same bytes.
UNDATED: Final = 946_684_800
#: Data of more letters is set with so much memory that Typst shall not keep it.
_MUCH: Final = 100_000


class SettingError(RuntimeError):
    """The typesetter refused; the message says what it said."""


@cache
def _fonts() -> Any:
    import typst

    return_large_blocks()
    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(folder) for folder in faces.folders()],
    )


def design_of(settings: Settings) -> dict[str, Any]:
    """The figures of the design that a Typst template of a document's pages is given."""
    sheet = settings.sheet
    return {
        "title": settings.title,
        "language": settings.language,
        "sheet": {
            "width": sheet.width,
            "height": sheet.height,
            "top": sheet.top,
            "bottom": sheet.bottom,
            "left": sheet.left,
            "right": sheet.right,
            "column": sheet.column,
        },
        "type": {name: asdict(step) for name, step in TYPE.items()},
        "colour": dict(COLOURS),
        "rule": {"heavy": RULE_HEAVY, "normal": RULE, "hair": RULE_HAIR},
        "sans": list(faces.families(SANS)),
        "serif": list(faces.families(SERIF)),
        "clip": CLIP,
    }


def compile_typst(template: str, data: Mapping[str, Any], *, epoch: int, tagged: bool = True) -> bytes:
    """The PDF of a template out of `templates/` given its data.

    Tagged files follow PDF/A-3a and are checked against PDF/UA-1 as well, others follow PDF/A-3u.
    Raises `SettingError`.
    """
    import typst

    given = json.dumps(data, ensure_ascii=False)
    compiler = typst.Compiler(
        input=(templates_dir() / template).read_bytes(), font_paths=_fonts(), sys_inputs={"data": given}
    )
    try:
        pdf = compiler.compile(
            format="pdf",
            timestamp=epoch,
            pdf_tags=tagged,
            pdf_standards=["a-3a", "ua-1"] if tagged else ["a-3u"],
        )
    except typst.TypstError as fault:
        message = f"the page could not be set: {fault.message}"
        raise SettingError(message) from fault
    if len(given) > _MUCH and not ends_with_its_work():
        del compiler
        forget_layouts(_fonts())
    if not isinstance(pdf, bytes):
        message = f"{template} came out as {type(pdf).__name__}, not as a file"
        raise SettingError(message)
    return pdf
