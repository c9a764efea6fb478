"""What Typst sets: the index, labels, and texts in scripts that need a setter, in the packet's own faces."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from typing import TYPE_CHECKING, Any

from certgen.resources import templates_dir
from certgen.typeset import faces
from certgen.typeset.design import COLOURS, RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, SHEETS, TYPE

if TYPE_CHECKING:
    from collections.abc import Mapping


@cache
def _fonts() -> Any:
    import typst

    return typst.Fonts(
        include_system_fonts=not faces.other_faces(),
        include_embedded_fonts=False,
        font_paths=[str(folder) for folder in faces.folders()],
    )


def design_of(sheet_name: str, language: str, title: str) -> dict[str, Any]:
    """The figures of the design that every Typst template is given."""
    sheet = SHEETS[sheet_name]
    return {
        "title": title,
        "language": language,
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
    }


def compile_typst(template: str, data: Mapping[str, Any], *, epoch: int, tagged: bool = True) -> bytes:
    """The PDF of a Typst template given its data.

    Tagged files follow PDF/A-3a and are checked against PDF/UA-1 as well, others follow PDF/A-3u.
    """
    import typst

    def compose(text: str) -> Any:
        compiler = typst.Compiler(
            input=(templates_dir() / template).read_bytes(),
            font_paths=_fonts(),
            sys_inputs={"data": text},
        )
        return compiler.compile(
            format="pdf",
            timestamp=epoch,
            pdf_tags=tagged,
            pdf_standards=["a-3a", "ua-1"] if tagged else ["a-3u"],
        )

    told = json.dumps(data, ensure_ascii=False)
    try:
        pdf = compose(told)
    except typst.TypstError as error:
        # A page that keeps to a standard may hold no letter without a shape.
        if "could not be displayed" not in str(error):
            raise
        pdf = compose(faces.spell_out(told))
    if not isinstance(pdf, bytes):
        message = f"{template} came out as {type(pdf).__name__}, not as a file"
        raise TypeError(message)
    return pdf
