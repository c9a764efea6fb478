"""Files that stand in a season's folder by mistake: another season's, and copies of its own.

Read as records they would repeat or contradict hundreds of others. They are told once, with the way out, and
set aside; like everything that isn't read they may speak against any lot until they are gone.
"""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final

from certgen.records.places import ReadingError
from certgen.records.record_files.files import EVIDENCE
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Mapping, MutableMapping
    from pathlib import Path

    from certgen.records.season import Source

_SEASON: Final = re.compile(r"^[\"']?season[\"']?[ \t]*:", re.MULTILINE)
_SEASON_FILES: Final = frozenset({"season.yaml", "season.yml"})
#: What file managers and people call a copy: `trees - Copy`, `trees (1)`, `Copy of trees`, `trees_old`.
_COPY: Final = re.compile(
    r"(?:(?:copy|kopie|copie|copia) (?:of|von|de) )?(?P<of>.+?)"
    r"(?:(?: ?- ?| |_|\.)(?:copy|kopie|copie|copia|backup|bak|old|orig|original|saved?)(?: ?\(?[0-9]+\)?)?"
    r"| ?\([0-9]+\)|~)*",
    re.IGNORECASE,
)
#: Folders in which people keep what they had before.
_KEPT: Final = re.compile(r"(?:copy|copies|kopie|backups?|bak|old|saved?|archive)\b", re.IGNORECASE)
#: A record's first field, where a list of them stands.
_FIRST_FIELD: Final = re.compile(r"^[ \t]*-[ \t]*\{?[ \t]*([a-z_]+):[ \t]*([^,}\n]+)", re.MULTILINE)


def find_several_seasons(folder: Path, sources: Mapping[str, Source]) -> str:
    """Why a folder is none of one season, in words; empty if it may be.

    So it is where seasons lie in folders of their own below it, or one does, with its evidence.
    """
    homes = dict.fromkeys(
        file.partition("/")[0] if "/" in file else ""
        for file, source in sources.items()
        if _is_seasons(source.text)
    )
    if "" in homes or not homes:
        return ""
    names = sorted(homes)
    first = (folder / names[0]).as_posix()
    if len(names) > 1:
        listed = f"{', '.join(names[:-1])} and {names[-1]}"
        return f"holds several seasons, in {listed}; name one of them: {first}"
    if (folder / names[0] / EVIDENCE).is_dir() and not (folder / EVIDENCE).is_dir():
        return f"is the folder around a season, and its evidence would not be found; name {first}"
    return ""


def set_strays_aside(sources: MutableMapping[str, Source], errors: list[ReadingError]) -> None:
    """Take out of the sources what belongs to another season or repeats a file, with an error for each."""
    _set_seasons_aside(sources, errors)
    _set_copies_aside(sources, errors)


def _set_seasons_aside(sources: MutableMapping[str, Source], errors: list[ReadingError]) -> None:
    """Whole folders that have a season's own file, inside a season that has its own at the top."""
    own = next((file for file in sorted(_SEASON_FILES) if file in sources), None)
    if own is None or not _is_seasons(sources[own].text):
        return
    homes = _list_homes(sources)
    outermost = {
        file: above for file in sources if (above := _find_outermost(PurePosixPath(file), homes)) is not None
    }
    for file in outermost:
        del sources[file]
    for home in sorted(set(outermost.values())):
        message = (
            f"begins another season inside this one, and nothing below {home}/ is read; move that folder "
            "out, beside this season's"
        )
        errors.append(ReadingError(homes[home], None, None, message))


def _list_homes(sources: Mapping[str, Source]) -> dict[str, str]:
    """The folders below this one that have a season's own file, each with that file."""
    return {
        PurePosixPath(file).parent.as_posix(): file
        for file in sources
        if "/" in file and PurePosixPath(file).name in _SEASON_FILES and _is_seasons(sources[file].text)
    }


def _find_outermost(file: PurePosixPath, homes: Container[str]) -> str | None:
    """Of the folders that a file lies in the outermost one of those given."""
    return next((one for above in reversed(file.parents) if (one := above.as_posix()) in homes), None)


def _set_copies_aside(sources: MutableMapping[str, Source], errors: list[ReadingError]) -> None:
    """Files that repeat another byte for byte, and such as are named as a copy and hold the same records."""
    by_bytes: dict[tuple[str, str], list[str]] = {}
    for file, source in sources.items():
        # Two seasons in folders of their own may begin alike.
        home = PurePosixPath(file).parent.as_posix() if _is_seasons(source.text) else ""
        by_bytes.setdefault((source.sha256, home), []).append(file)
    for alike in by_bytes.values():
        kept, *copies = sorted(alike, key=_plainness)
        if copies and (_FIRST_FIELD.search(sources[kept].text) or _is_seasons(sources[kept].text)):
            for file in copies:
                del sources[file]
                message = f"repeats {kept} word for word; take it out of the folder"
                errors.append(ReadingError(file, None, None, message))
    _set_older_aside(sources, errors)


def _set_older_aside(sources: MutableMapping[str, Source], errors: list[ReadingError]) -> None:
    """Files that are named as a copy of another, half of whose records or more that one holds too."""
    plain: list[str] = []
    named: list[str] = []
    for file in sorted(sources, key=_plainness):
        (named if _plainness(file)[0] else plain).append(file)
    originals = {PurePosixPath(file).stem.casefold(): file for file in reversed(plain)}
    numbers: dict[str, set[tuple[str, str]]] = {}
    for file in named:
        original = originals.get(_stem_of_original(file))
        if original is None:
            continue
        if original not in numbers:
            numbers[original] = _list_numbers(sources[original].text)
        here = _list_numbers(sources[file].text)
        shared = len(here & numbers[original])
        if here and 2 * shared >= len(here):
            del sources[file]
            message = (
                f"holds {shared} of the {len(numbers[original])} records of {original}, of which it seems to "
                "be a copy; copy over what only this file has, then take it out of the folder"
            )
            errors.append(ReadingError(file, None, None, message))


def _plainness(file: str) -> tuple[bool, int, int, str]:
    """Sorts a file before its copies."""
    path = PurePosixPath(file)
    named = _COPY.fullmatch(path.stem)
    is_copy = named is not None and named["of"] != path.stem
    kept = any(_KEPT.match(part) for part in path.parts[:-1])
    return is_copy or kept, len(path.parts), len(file), file


def _stem_of_original(file: str) -> str:
    """What a file would be called, without its ending, if its name didn't say that it is a copy."""
    stem = PurePosixPath(file).stem
    named = _COPY.fullmatch(stem)
    return (stem if named is None else named["of"]).casefold()


def _list_numbers(text: str) -> set[tuple[str, str]]:
    """The numbers with which a file's records begin, each with the name of its field."""
    keys = {table.key for table in load_tables().values() if table.key}
    return {(key, value.strip(" \t\"'\r")) for key, value in _FIRST_FIELD.findall(text) if key in keys}


def _is_seasons(text: str) -> bool:
    return "season" in text and _SEASON.search(text) is not None


def find_home(folder: Path, evidence: Iterable[str]) -> str:
    """Where the season's own file lies, in words, if it is in the wrong place or one looks from inside."""
    for file in sorted(evidence):
        if PurePosixPath(file).name in _SEASON_FILES:
            return f"{EVIDENCE}/{file} isn't read there; move it up, beside {EVIDENCE}/"
    try:
        outer = folder.resolve().parents[:2]
    except (OSError, RuntimeError):
        return ""
    for above in outer:
        if any((above / name).is_file() for name in _SEASON_FILES):
            return f"this folder seems to be a part of the season in {above.as_posix()}; name that one"
    return ""
