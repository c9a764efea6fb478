"""History: every change of the season's files, by whom, what from and to; each can be taken back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import islice
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from certgen.desk.answering import RefusedError, address, go_to, own_path, say_shown
from certgen.desk.undoing import preview_undo, take_back
from certgen.exchange.editing.hand_edits import list_hand_edits, tell_hand_edit
from certgen.exchange.editing.history import (
    KEPT_BYTES,
    KEPT_DAYS,
    KEPT_LEAST,
    ChangedMeanwhileError,
    History,
    HistoryError,
    read_history,
)
from certgen.exchange.editing.undoing import UndoRefusedError
from certgen.records.nouns import noun
from certgen.records.tables import load_season_table, load_tables
from certgen.rules.wording import day
from certgen.whole_files import PathError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot
    from certgen.exchange.editing.differences import RecordChange
    from certgen.exchange.editing.hand_edits import HandEdit
    from certgen.exchange.editing.history import Change
    from certgen.exchange.editing.undoing import Content, Versions

#: So many changes stand on a page, so many records of each, so many fields of a record.
_SHOWN: Final = 30
_RECORDS: Final = 3
_FIELDS: Final = 4
#: Of a value, a list shows so many letters.
_LETTERS: Final = 120
#: Lines of two versions that are shown, and lines that are held against each other at most.
_LINES: Final = 400
_COMPARED: Final = 20_000


@dataclass(frozen=True, slots=True)
class ShownRecord:
    """A record of a change: what it is called, where it is seen if it is still there, and its fields with
    what each said before and after.
    """

    title: str
    address: str
    what: str
    fields: tuple[tuple[str, str | None, str | None], ...]
    more: int


@dataclass(frozen=True, slots=True)
class ShownChange:
    """A change as the list shows it. `by_hand` names the files that somebody had worked on before."""

    change: Change
    moment: str
    who: str
    says: str
    records: tuple[ShownRecord, ...]
    more: int
    undone_by: int
    by_hand: tuple[HandEdit, ...]


def show_history(desk: Desk, ask: Ask) -> Response:
    """The changes, the latest first, some on a page; chosen by words."""
    snapshot, history = desk.held.look(), _read(desk)
    words = ask.query.get("words", "").strip()
    chosen = [change for change in history.changes if _holds(change, words.casefold())]
    start = _read_start(ask)
    edits = list_hand_edits(desk.held.folder, history)
    undone = history.undone()
    query = {"words": words} if words else {}
    stop = min(start + _SHOWN, len(chosen))
    since = [] if start or words else [edit for edit in edits if not edit.before]
    return desk.show(
        "history",
        snapshot,
        page="history",
        changes=[_show(snapshot, one, undone, edits) for one in chosen[start:stop]],
        total=len(chosen),
        words=words,
        shown=say_shown(start, stop, len(chosen)),
        since=since,
        since_change=max((edit.after for edit in since), default=0),
        damaged=history.damaged,
        bounds=(KEPT_DAYS, KEPT_BYTES >> 30, KEPT_LEAST),
        later=address("history", **query, **{"from": str(stop)}) if stop < len(chosen) else "",
        earlier=address("history", **query, **{"from": str(max(0, start - _SHOWN))}) if start else "",
        said=ask.query,
    )


def _read_start(ask: Ask) -> int:
    """At which change a page begins, the latest being 0."""
    typed = ask.query.get("from", "")
    return int(typed) if re.fullmatch(r"[0-9]{1,7}", typed) else 0


def _read(desk: Desk) -> History:
    """The history as far as it can be read; a folder that can't be opened counts as damaged."""
    try:
        return read_history(desk.held.folder)
    except OSError as fault:
        return History((), (f"The history's folder can't be read: {fault.strerror or fault}",))


def _holds(change: Change, words: str) -> bool:
    """Whether a change tells of some words, in whatever case."""
    if not words:
        return True
    told = (
        change.command,
        change.person,
        change.says,
        str(change.number),
        *(file.path for file in change.files),
        *(f"{noun(one.table)} {one.record}" for one in change.records),
    )
    return any(words in text.casefold() for text in told)


def _show(
    snapshot: Snapshot,
    change: Change,
    undone: dict[int, int],
    edits: Sequence[HandEdit],
    *,
    whole: bool = False,
) -> ShownChange:
    records = change.records if whole else change.records[:_RECORDS]
    return ShownChange(
        change,
        _say_moment(change.at),
        _say_author(change),
        change.says if whole else _cut(change.says),
        tuple(_show_record(snapshot, one, whole=whole) for one in records),
        len(change.records) - len(records) + change.untold,
        undone.get(change.number, 0),
        tuple(edit for edit in edits if edit.before == change.number),
    )


def _say_moment(at: datetime) -> str:
    return f"{day(at.date())}, {at:%H:%M}"


def _say_author(change: Change) -> str:
    desk, _, device = change.command.partition(", ")
    where = (f"from {device}" if device else "at the desk") if desk == "certgen desk" else change.command
    return f"{change.person}, {where}" if change.person else where


def _show_record(snapshot: Snapshot, one: RecordChange, *, whole: bool) -> ShownRecord:
    table = load_season_table() if one.table == "season" else load_tables().get(one.table)
    titles = {column.name: column.field.title for column in table.columns} if table else {}
    shown = one.fields if whole else one.fields[:_FIELDS]
    known = one.table in load_tables() and one.record
    is_there = known and snapshot.season.row(one.table, one.record) is not None
    return ShownRecord(
        f"{noun(one.table)} {one.record}".strip(),
        address("record", one.table, one.record) if is_there else "",
        one.what,
        tuple(
            (
                titles.get(field.field) or field.field,
                _shorten(field.old, whole=whole),
                _shorten(field.new, whole=whole),
            )
            for field in shown
        ),
        len(one.fields) - len(shown),
    )


def _shorten(text: str | None, *, whole: bool) -> str | None:
    return text if whole or text is None else _cut(text)


def _cut(text: str) -> str:
    return text if len(text) <= _LETTERS else f"{text[:_LETTERS]}…"


def show_change(desk: Desk, ask: Ask) -> Response:
    """One change whole: every record and field, every file, and what a hand had changed before it."""
    snapshot, history = desk.held.look(), _read(desk)
    change = _find(history, ask)
    edits = [one for one in list_hand_edits(desk.held.folder, history) if one.before == change.number]
    return desk.show(
        "change",
        snapshot,
        page="history",
        one=_show(snapshot, change, history.undone(), edits, whole=True),
        hands=[
            (
                edit,
                [_show_record(snapshot, one, whole=True) for one in tell_hand_edit(desk.held.folder, edit)],
            )
            for edit in edits
        ],
        said=ask.query,
    )


def show_edits(desk: Desk, ask: Ask) -> Response:
    """What was changed by hand since the last change that is told, file by file."""
    snapshot, history = desk.held.look(), _read(desk)
    edits = [one for one in list_hand_edits(desk.held.folder, history) if not one.before]
    return desk.show(
        "hand_edits",
        snapshot,
        page="history",
        hands=[
            (
                edit,
                [_show_record(snapshot, one, whole=True) for one in tell_hand_edit(desk.held.folder, edit)],
            )
            for edit in edits
        ],
        said=ask.query,
    )


def _number(ask: Ask) -> int:
    typed = ask.path.get("number", "")
    if not re.fullmatch(r"[0-9]{1,9}", typed, re.ASCII):
        raise RefusedError(f"'{_cut(typed)}' is no change's number.")
    return int(typed)


def _find(history: History, ask: Ask) -> Change:
    number = _number(ask)
    change = history.find(number)
    if change is None:
        broken = any(f"{number:06}.json" in one for one in history.damaged)
        why = "its entry can't be read" if broken else "no such change is kept"
        raise RefusedError(f"There is no change {number} to be seen: {why}.")
    return change


def show_undo(desk: Desk, ask: Ask) -> Response:
    """What would become of the records if a change were taken back, with the button that does it."""
    return _show_undo(desk, ask, again=False)


def _show_undo(desk: Desk, ask: Ask, *, again: bool) -> Response:
    change = _find(_read(desk), ask)
    try:
        preview = preview_undo(desk.held, change.number)
    except (UndoRefusedError, HistoryError, PathError) as fault:
        return _refuse(desk, ask, change, fault)
    snapshot = desk.held.look()
    undo = preview.undo
    return desk.show(
        "undo",
        snapshot,
        status=409 if again else 200,
        page="history",
        again=again,
        one=_show(snapshot, change, {}, ()),
        files=[(name, data is None, name in undo.merged) for name, data in undo.contents.items()],
        records=[_show_record(snapshot, one, whole=True) for one in undo.records],
        lost=preview.unread,
        seal=preview.seal,
        back=ask.form.get("back", "") or ask.query.get("back", ""),
        said=ask.query,
    )


def send_undo(desk: Desk, ask: Ask) -> Response:
    """Takes a change back: what was shown, where the form says what that was, or at one press."""
    change = _find(_read(desk), ask)
    try:
        done = take_back(desk.held, change.number, ask.form.get("seal", ""))
    except ChangedMeanwhileError:
        done = None
    except (UndoRefusedError, HistoryError, PathError) as fault:
        return _refuse(desk, ask, change, fault)
    if done is None:
        return _show_undo(desk, ask, again=True)
    return go_to(_lead_back(ask.form.get("back", ""), undone=str(change.number), by=str(done.number)))


def _lead_back(back: str, **told: str) -> str:
    """A page of the desk's own, with what it is to tell; the history for any other address."""
    return f"{own_path(back, '/history')}?{urlencode(told)}"


def _refuse(desk: Desk, ask: Ask, change: Change, fault: Exception) -> Response:
    """Why a change can't be taken back, both versions beside each other, and the way out."""
    snapshot = desk.held.look()
    versions: Sequence[Versions] = fault.versions if isinstance(fault, UndoRefusedError) else ()
    later = sorted({number for one in versions for number in one.later}, reverse=True)
    text = str(fault)
    return desk.show(
        "undo_refused",
        snapshot,
        status=409,
        page="history",
        says=text[:1].upper() + text[1:],
        one=_show(snapshot, change, {}, ()),
        later=later,
        files=[(one.file, *_compare(one.left, one.there)) for one in versions],
        records=[record for record in _show(snapshot, change, {}, (), whole=True).records if record.address],
        said=ask.query,
    )


def _compare(left: Content, there: Content) -> tuple[str, list[tuple[str, str, str]]]:
    """What is said of two versions, and rows of lines: which sort, the one, the other."""
    if there is None:
        return "The file is gone; the change had left one there.", []
    if left is None:
        return "The file is there now; how the change left it isn't kept, or it left no file.", []
    try:
        one, other = (data.decode("utf-8").splitlines() for data in (left, there))
    except UnicodeDecodeError:
        return f"It held {len(left):,} bytes after the change, and holds {len(there):,} now.", []
    if len(one) + len(other) > _COMPARED:
        return f"It held {len(one):,} lines after the change, and holds {len(other):,} now.", []
    rows = list(islice(_pair_lines(one, other), _LINES + 1))
    more = f"Only the first {_LINES} lines are shown." if len(rows) > _LINES else ""
    return more, rows[:_LINES]


def _pair_lines(one: list[str], other: list[str]) -> Iterator[tuple[str, str, str]]:
    """The lines that differ, beside each other, with three that don't before and behind."""
    for number, group in enumerate(SequenceMatcher(None, one, other).get_grouped_opcodes(3)):
        if number:
            yield "gap", "…", "…"
        for kind, start, stop, first, last in group:
            left, right = one[start:stop], other[first:last]
            for at in range(max(len(left), len(right))):
                yield (
                    "same" if kind == "equal" else "other",
                    _cut(left[at]) if at < len(left) else "",
                    _cut(right[at]) if at < len(right) else "",
                )
