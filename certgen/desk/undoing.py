"""A change taken back at the desk: first what would become of the season, then that and nothing else."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.desk.visits import name_author
from certgen.exchange.editing.undoing import Undo, UndoRefusedError, plan_undo
from certgen.exchange.importing.trial import is_about_previous
from certgen.records.record_files.files import list_folder
from certgen.standards.season_reading import read_case
from certgen.whole_files import contained_path, read_ordinary

if TYPE_CHECKING:
    from certgen.desk.held_season import HeldSeason
    from certgen.exchange.editing.history import Change
    from certgen.records import ReadingError


@dataclass(frozen=True, slots=True)
class Preview:
    """What taking a change back would do. `seal` tells it from what it would do a moment later; `unread` are
    the entries that couldn't be read afterwards and can now.
    """

    undo: Undo
    seal: str
    unread: tuple[str, ...]


def preview_undo(held: HeldSeason, number: int) -> Preview:
    """What would become of the season; nothing is written. Raises `UndoRefusedError` and as `plan_undo`."""
    with held.lock:
        undo = plan_undo(held.folder, number)
        return Preview(undo, _seal(undo), _list_unread(held, undo))


def take_back(held: HeldSeason, number: int, seal: str = "") -> Change | None:
    """Takes a change back; None where it would do something else by now than what the `seal` was given for.

    Raises as `preview_undo`, and `ChangedMeanwhileError` where an editor writes the same file at this moment.
    """
    with held.lock:
        undo = plan_undo(held.folder, number)
        if seal and seal != _seal(undo):
            return None
        # Whoever brings a seal has seen what couldn't be read; a season that can't be read at all is no
        # season any more.
        _list_unread(held, undo)
        done = undo.carry_out(name_author())
        held.look()
        return done


def _seal(undo: Undo) -> str:
    """A digest of every file that would be written, and of what it would take the place of."""
    found = sha256()
    for name in sorted(undo.contents):
        data = undo.contents[name]
        told = f"{name}\0{undo.read.get(name, '')}\0{'' if data is None else sha256(data).hexdigest()}\0"
        found.update(told.encode())
    return found.hexdigest()[:32]


def _list_unread(held: HeldSeason, undo: Undo) -> tuple[str, ...]:
    """What couldn't be read of the season as it would be and can be now. Raises `UndoRefusedError` where all
    of it couldn't.
    """
    snapshot = held.look()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        contents = {file: read_ordinary(held.folder / file) for file in list_folder(held.folder).records}
        for file, data in {**contents, **undo.contents}.items():
            if data is not None:
                path = contained_path(place, file)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(data)
        after, errors = read_case(place)
    if after is None and not snapshot.broken:
        told = "; ".join(error.text() for error in errors[:3])
        raise UndoRefusedError(
            f"change {undo.change.number} can't be undone at the desk: without what it wrote the season"
            f" can't be read ({told}). If that is what you want, close the desk and run: certgen undo"
        )
    had = {_name(error) for error in (*snapshot.result.errors, *snapshot.broken)}
    return tuple(error.text() for error in errors if _name(error) not in had and not is_about_previous(error))


def _name(error: ReadingError) -> tuple[str, str]:
    return error.file, error.message
