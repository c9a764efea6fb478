"""What decides how a page comes out besides certgen's own code: the libraries that set it, and the faces."""

from __future__ import annotations

import ctypes
import hashlib
import zlib
from functools import cache
from importlib.metadata import version
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.pango import LIBRARIES, PangoMissingError, find_library, hold_pango

if TYPE_CHECKING:
    from collections.abc import Mapping

#: The packages that read templates, lay out pages, draw on them or write the file.
_PACKAGES: Final = (
    "cssselect2", "fonttools", "jinja2", "pikepdf", "pillow", "pydyf", "pypdfium2", "pyphen", "segno",
    "tinycss2", "tinyhtml5", "typst", "uharfbuzz", "weasyprint",
)  # fmt: skip


@cache
def list_engines() -> Mapping[str, str]:
    """By name the version of everything that sets pages here; of the faces a digest over their files.

    Where the system lacks Pango, its version is `missing`.
    """
    import pikepdf
    from PIL import features

    return {
        **{name: version(name) for name in _PACKAGES},
        "faces": _digest_faces(),
        "harfbuzz": _find_harfbuzz(),
        # Photos beside findings are unpacked and packed again.
        "jpeg": str(features.version("libjpeg_turbo") or features.version("jpg")),
        "pango": _find_pango(),
        "qpdf": pikepdf.__libqpdf_version__,
        # Another build of it packs the same bytes otherwise.
        "zlib": zlib.ZLIB_RUNTIME_VERSION,
    }


def _digest_faces() -> str:
    digest = hashlib.sha256()
    for face in (*faces.own_faces(), *faces.other_faces()):
        data = face.path.read_bytes()
        digest.update(f"{face.family}\0{face.weight}\0{face.italic}\0{len(data)}\0".encode() + data)
    return digest.hexdigest()[:16]


def _find_harfbuzz() -> str:
    library = find_library(LIBRARIES["harfbuzz"])
    if library is None:
        return "unknown"
    say = library.hb_version_string
    say.restype = ctypes.c_char_p
    return str(say().decode("ascii", "replace"))


def _find_pango() -> str:
    """Asked itself: to load WeasyPrint for it takes a process half a second."""
    found = find_library(LIBRARIES["pango"])
    if found is not None:
        return str(found.pango_version())
    try:
        hold_pango()
    except PangoMissingError:
        # What is set without it (a binder, a lot's card) can be made here all the same, and says so.
        return "missing"
    from weasyprint.text.ffi import pango

    return str(pango.pango_version())
