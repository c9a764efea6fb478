"""Pango and the libraries around it: they belong to the system, and no package brings them.

WeasyPrint loads them by name, prints a page of advice where it can't, and fails. Here it is asked beforehand
whether it could, and what is missing is told with the command that this system has for it.
"""

from __future__ import annotations

import ctypes
import io
import platform
import sys
from contextlib import redirect_stdout, suppress
from functools import cache
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

#: What WeasyPrint needs, by the names of Linux, macOS and Windows.
LIBRARIES: Final = {
    "gobject": ("libgobject-2.0.so.0", "libgobject-2.0.0.dylib", "libgobject-2.0-0.dll"),
    "pango": ("libpango-1.0.so.0", "libpango-1.0.0.dylib", "libpango-1.0-0.dll"),
    "pangoft2": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.0.dylib", "libpangoft2-1.0-0.dll"),
    "harfbuzz": ("libharfbuzz.so.0", "libharfbuzz.0.dylib", "libharfbuzz-0.dll"),
    "fontconfig": ("libfontconfig.so.1", "libfontconfig.1.dylib", "libfontconfig-1.dll"),
}
#: The command that brings them, by system. Debian's was tried; the others weren't, and it is said.
COMMANDS: Final = {
    "debian": "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0",
    "fedora": "sudo dnf install pango",
    "arch": "sudo pacman -S pango",
    "alpine": "sudo apk add pango fontconfig harfbuzz-subset",
    "macos": "brew install pango",
    "windows": "pacman -S mingw-w64-ucrt-x86_64-pango (in the window of MSYS2)",
}
_TRIED: Final = {"debian"}
#: What else it can be, where they are installed and yet not found.
_NOT_FOUND: Final = {
    "macos": "If it is installed: export DYLD_FALLBACK_LIBRARY_PATH=$(brew --prefix)/lib",
    "windows": "If it is installed elsewhere than in C:\\msys64: name the folder of its DLLs in"
    " WEASYPRINT_DLL_DIRECTORIES",
}
_WITHOUT: Final = (
    "Without it `certgen report SEASON --html binder.html` writes the same for a browser, and every command"
    " works but `report`, `coop --out` and `verify`"
)


class PangoMissingError(OSError):
    """Pages can't be set here: a library of the system is missing."""


def find_library(names: Iterable[str]) -> Any:
    """The first of these libraries that the system knows; None where it knows none."""
    for name in names:
        with suppress(OSError):
            return ctypes.CDLL(name)
    return None


@cache
def hold_pango() -> None:
    """Raises `PangoMissingError` where WeasyPrint would find no Pango, with the way out in its words."""
    missing = [name for name, files in LIBRARIES.items() if find_library(files) is None]
    if not missing:
        return
    # It knows further names and folders.
    try:
        with redirect_stdout(io.StringIO()):
            from weasyprint.text import ffi
    except OSError as fault:
        raise PangoMissingError(say_missing(missing, _name_system())) from fault
    _ = ffi


def say_missing(missing: Iterable[str], system: str) -> str:
    """What is missing, the command for it on `system` (a name in `COMMANDS`, or another), and what works
    without."""
    says = [f"the pages of a PDF are set with Pango, and this system lacks it ({', '.join(missing)})"]
    command = COMMANDS.get(system)
    if command is None:
        says.append("Install what your system calls Pango, with PangoFT2, HarfBuzz and Fontconfig")
    else:
        says.append(f"To install it: {command}" + ("" if system in _TRIED else " (not tried by us)"))
    if system in _NOT_FOUND:
        says.append(_NOT_FOUND[system])
    return ". ".join([*says, _WITHOUT])


def _name_system() -> str:
    """Which of the systems with a command of their own this is, or is like."""
    if sys.platform in {"darwin", "win32"}:
        return "macos" if sys.platform == "darwin" else "windows"
    try:
        release = platform.freedesktop_os_release()
    except OSError:
        return ""
    like = [release["ID"], *release.get("ID_LIKE", "").split()]
    return next((one for one in like if one in COMMANDS), "")
