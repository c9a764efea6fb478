"""A member's records as a folder that can be read, wherever they were handed in: and no way out of it."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from certgen.exchange.importing.archives import HostileFileError
from certgen.whole_files import PathError, contained_path

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
    if member.source == "folder":
        if not home.is_dir():
            raise MemberRefusedError(f"there is no folder '{member.path}'")
    elif not home.is_file():
        raise MemberRefusedError(f"there is no file '{member.path}'")
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
            from certgen.coop.members.unpacking import unpack

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
    plan.carry_out()
