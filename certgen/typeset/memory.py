"""What gives memory back while long documents are set, so that a process can set one chapter after another.

To end a process for each long chapter gave all of it back, and cost a third of a second each.
"""

from __future__ import annotations

import ctypes
import sys
from functools import cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import typst

#: What Typst laid out is gone after so many more files.
_KEPT: Final = 11
#: glibc's number for the size from which on a block is returned when it is freed, and that size in bytes.
_RETURNED_FROM: Final = -3
_LARGE: Final = 65_536


@cache
def return_large_blocks() -> None:
    """Have the system's allocator return each large block once it is freed.

    By itself glibc keeps ever larger ones for what comes next, and small ones are put into them: a process
    that set five long chapters held 250 MB more than before, and holds 165 MB so. Elsewhere nothing is done.
    """
    if sys.platform == "linux":
        choose = getattr(ctypes.CDLL(None), "mallopt", None)
        if choose is not None:
            choose(_RETURNED_FROM, _LARGE)


def forget_layouts(fonts: typst.Fonts) -> None:
    """Have Typst let go of what it laid out, which the next file may then use.

    It keeps that, 100 to 300 MB of a long chapter, until it has set ten more files: these say nothing.
    """
    import typst

    compiler = typst.Compiler(font_paths=fonts)
    for _ in range(_KEPT):
        compiler.compile(b" ", format="svg")
