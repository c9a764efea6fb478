"""A member's records as a folder that can be read, wherever they were handed in: and no way out of it.

A zip is unpacked to a folder: nothing leads out of it, nothing grows past what a season can hold.
"""

from __future__ import annotations

import stat
import tempfile
import unicodedata
import zipfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.exchange.editing.history import HISTORY
from certgen.exchange.importing.archives import RATIO, RATIO_FROM, HostileFileError
from certgen.records.record_files.files import EVIDENCE
from certgen.records.record_files.limits import FILE_BYTES, FOLDER_ENTRIES, SEASON_BYTES
from certgen.records.supplied import ATTACHED_BYTES
from certgen.whole_files import PathError, contained_path, name_type, write_all

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.coop.members.member_list import Member


class MemberRefusedError(Exception):
    """A member's records aren't opened; the messages say why, in words for the office."""

    def __init__(self, *messages: str) -> None:
        super().__init__("\n".join(messages))
        self.messages = messages


class Opened(NamedTuple):
    """Where a member's season lies, and the folder that nothing read for it may lie outside of."""

    season: Path
    within: Path


def find_home(coop: Path, member: Member) -> Path:
    """The member's folder or file as handed in. Raises `MemberRefusedError` if it isn't there."""
    try:
        home = contained_path(coop, member.path)
    except (PathError, OSError, RuntimeError) as fault:
        raise MemberRefusedError(str(fault)) from None
    is_such, what = (stat.S_ISDIR, "folder") if member.source == "folder" else (stat.S_ISREG, "file")
    try:
        mode = home.stat().st_mode
    except OSError:
        raise MemberRefusedError(f"there is no {what} '{member.path}'") from None
    if not is_such(mode):
        raise MemberRefusedError(f"'{member.path}' is {name_type(mode)}, not a {what}")
    return home.resolve()


@contextmanager
def open_member(home: Path, member: Member, scratch: Path | None = None) -> Iterator[Opened]:
    """The member's season as a folder, for as long as the block lasts.

    Archives and workbooks are laid out below `scratch` (None: the machine's own place for such things) and
    taken away again. Raises `MemberRefusedError`.
    """
    if member.source == "folder":
        yield _enter(home, member.season)
        return
    with tempfile.TemporaryDirectory(prefix="certgen-", dir=scratch) as name:
        folder = Path(name)
        if member.source == "archive":
            try:
                unpack(home, folder)
            except HostileFileError as fault:
                raise MemberRefusedError(str(fault)) from None
        else:
            _lay_out(home, folder)
        yield _enter(folder, member.season)


def _enter(folder: Path, season: str) -> Opened:
    if season:
        try:
            inside = contained_path(folder, season)
        except PathError as fault:
            raise MemberRefusedError(f"the season's folder: {fault}") from None
        if not inside.is_dir():
            raise MemberRefusedError(f"there is no folder '{season}' inside")
        return Opened(inside, folder)
    return Opened(_only_folder(folder), folder)


def _only_folder(folder: Path) -> Path:
    """Where everything lies in one folder, as zip programs pack it, that folder; else the folder itself."""
    inside = [path for path in folder.iterdir() if not path.name.startswith((".", "__"))]
    if len(inside) != 1 or inside[0].is_symlink() or not inside[0].is_dir() or inside[0].name == "evidence":
        return folder
    holds = {path.suffix for path in inside[0].iterdir()}
    return inside[0] if holds & {".yaml", ".yml"} else folder


def _lay_out(workbook: Path, folder: Path) -> None:
    """A workbook's records as a season's files below `folder`. Every faulty row is named."""
    from certgen.exchange.importing.opening import open_spreadsheet
    from certgen.exchange.importing.plan import plan_import

    try:
        sheets = open_spreadsheet(workbook)
        if sheets.guessed:
            asks = "import it with a map (`certgen import`) and hand the folder in"
            raise MemberRefusedError(f"the workbook isn't laid out as certgen lays one out; {asks}")
        plan = plan_import(folder, sheets.mapped, season_sheet=sheets.season)
    except (ValueError, OSError) as fault:
        raise MemberRefusedError(str(fault)) from None
    if plan.faults:
        raise MemberRefusedError(*(fault.text() for fault in plan.faults))
    write_all(plan.contents, home=folder)


_PIECE: Final = 1 << 20


def unpack(archive: Path, target: Path) -> None:
    """Write what a member's zip holds below `target`, an empty folder. Raises `HostileFileError`.

    What stood in the records before their changes is the member's own and stays in the zip.

    Of evidence an examination asks which files there are and whether anything is in them, so of each the
    first byte is laid down; what may be a supplier's packet is read, and laid down whole.
    """
    if archive.stat().st_size > SEASON_BYTES:
        raise HostileFileError(f"the archive is larger than {SEASON_BYTES // 2**20} MB; no season is")
    try:
        with zipfile.ZipFile(archive) as opened:
            entries = [entry for entry in opened.infolist() if not _is_history(entry)]
            _check(entries)
            left = SEASON_BYTES
            for entry in entries:
                left -= _write(opened, entry, target, left)
    except HostileFileError:
        raise
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as fault:
        raise HostileFileError("this is no zip that can be unpacked; pack the folder once more") from fault


def _is_history(entry: zipfile.ZipInfo) -> bool:
    return HISTORY in entry.filename.split("/")


def _check(entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > FOLDER_ENTRIES:
        raise HostileFileError(
            f"the archive holds {len(entries):,} files; no season has more than {FOLDER_ENTRIES:,}"
        )
    if sum(entry.file_size for entry in entries) > SEASON_BYTES:
        raise HostileFileError("the archive unpacks to more than a season can hold")
    # Some file systems take large and small letters, or two spellings of one letter, for the same name.
    names = [unicodedata.normalize("NFC", entry.filename.rstrip("/")).casefold() for entry in entries]
    if len(set(names)) != len(names):
        raise HostileFileError("the archive holds two files of one name")
    for entry in entries:
        _check_entry(entry)


def _check_entry(entry: zipfile.ZipInfo) -> None:
    name = ascii(entry.filename)
    if entry.orig_filename != entry.filename:
        raise HostileFileError(f"the archive holds {name}, whose name hides another")
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise HostileFileError(f"the archive holds {name}, which is a link or a device; pack files only")
    if entry.flag_bits & 1:
        raise HostileFileError("the archive is locked by a password; pack it without one")
    if entry.file_size > RATIO_FROM and entry.file_size > RATIO * max(entry.compress_size, 1):
        raise HostileFileError(
            f"the archive's {name} unpacks to far more than it says; it looks made to fill a machine"
        )


def _write(opened: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path, left: int) -> int:
    """Write one entry and give the bytes it took."""
    try:
        path = contained_path(target, entry.filename.rstrip("/"))
    except PathError as fault:
        raise HostileFileError(f"the archive holds a file that leads elsewhere: {fault}") from None
    if entry.is_dir():
        path.mkdir(parents=True, exist_ok=True)
        return 0
    path.parent.mkdir(parents=True, exist_ok=True)
    most = FILE_BYTES
    if EVIDENCE in path.relative_to(target).parts[:-1]:
        may_be_packet = path.suffix.lower() == ".pdf" and entry.file_size <= ATTACHED_BYTES
        if not may_be_packet:
            with opened.open(entry) as source:
                return path.write_bytes(source.read(1))
        most = ATTACHED_BYTES
    written = 0
    with opened.open(entry) as source, path.open("xb") as out:
        while piece := source.read(_PIECE):
            written += len(piece)
            if written > min(left, most, entry.file_size):
                raise HostileFileError(f"the archive's {entry.filename!a} is larger than it says or may be")
            out.write(piece)
    return written
