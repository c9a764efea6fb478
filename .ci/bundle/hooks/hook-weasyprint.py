"""What PyInstaller takes along of WeasyPrint: its data, and the system's libraries that it loads by name.

It stands in for the hook of PyInstaller's own collection, which searches by names that not every linker
takes, and goes on without the libraries where it fails. Here WeasyPrint itself loads them, and the process is
asked which files they are: without them there is no bundle.
"""

import re
import sys
from pathlib import Path

from PyInstaller.isolated import call
from PyInstaller.utils.hooks import collect_data_files

LIBRARIES = re.compile(
    r"(lib)?(gobject-2\.0|pango-1\.0|pangoft2-1\.0|harfbuzz(-subset|-vector)?|fontconfig)[.-]\D*\d"
)


def list_loaded() -> list[str]:
    """The files that a process has loaded which loaded WeasyPrint's libraries."""
    import sys

    from weasyprint.text import ffi  # noqa: F401 (loads them)

    if sys.platform == "darwin":
        import ctypes

        system = ctypes.CDLL(None)
        name, count = system["_dyld_get_image_name"], system["_dyld_image_count"]
        name.restype = ctypes.c_char_p
        return [name(number).decode() for number in range(count())]
    import psutil

    return [one.path for one in psutil.Process().memory_maps()]


def as_asked(file: Path) -> Path:
    """The file under the name by which it is asked for: `libpango-1.0.so.0`, a link to `….so.0.5000.12`."""
    if ".so" not in file.name:
        return file
    links = [
        one
        for one in file.parent.glob(f"{file.name.split('.so')[0]}.so.*")
        if one.resolve() == file.resolve()
    ]
    return min(links, key=lambda link: len(link.name))


packages = Path(sys.prefix).resolve()
found = {
    as_asked(Path(name))
    for name in call(list_loaded)
    if LIBRARIES.match(Path(name).name) and packages not in Path(name).resolve().parents
}
if not found:
    message = "WeasyPrint's libraries (Pango) are loaded, but not from files that a bundle could take along"
    raise SystemExit(message)
binaries = [(str(file), ".") for file in sorted(found)]
datas = collect_data_files("weasyprint")
