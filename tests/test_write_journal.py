"""A run killed between its files is finished or undone, and no stranger's note does harm."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
from pathlib import Path

import pytest
from killed import kill_at

from certgen import write_journal
from certgen.whole_files import is_record, write_all
from certgen.write_journal import JOURNAL, Journal, UnfinishedError, Waiting, digest, mend

NEW = {"a.yaml": b"new a", "below/b.yaml": b"new b", "c.yaml": b"new c"}
OLD = {"a.yaml": b"old a", "c.yaml": b"old c"}
STEPS = len(NEW)


def lay(folder, files):
    """Writes files below a folder as they are."""
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


def state(folder):
    """What lies below a folder: bytes of files, where links lead, and what else there is."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = str(path.readlink())
        elif path.is_file():
            found[name] = path.read_bytes()
        elif not path.is_dir():
            found[name] = "special"
    return found


def die_writing(folder, files, at, *, call="replace"):
    """Writes files in a process that is killed before its `at`-th rename, or before another call."""
    contents = {folder / name: data for name, data in files.items()}
    assert kill_at(at, lambda: write_all(contents, home=folder), call=call)


@pytest.fixture
def begun(tmp_path):
    """A folder with the old files."""
    lay(tmp_path, OLD)
    return tmp_path


@pytest.mark.parametrize("at", range(1, STEPS + 1))
def test_a_run_killed_between_renames_is_finished(begun, at):
    """Whichever file it had come to: all are new, no part and no note is left, and a sentence tells of it."""
    die_writing(begun, NEW, at)
    assert NEW != state(begun)

    said = mend(begun, is_record)
    assert f"Writing into {begun} was cut short; it is finished now: a.yaml, below/b.yaml, c.yaml." == said
    assert NEW == state(begun)
    assert "" == mend(begun, is_record)


def test_a_run_killed_after_the_last_rename_only_lacks_its_end(begun):
    """The note is taken away; the files are there."""
    die_writing(begun, NEW, 1, call="unlink")
    assert JOURNAL in state(begun)
    assert "finished" in mend(begun, is_record)
    assert NEW == state(begun)


@pytest.mark.parametrize("at", range(1, STEPS + 1))
def test_the_next_writing_finishes_the_one_before(begun, at):
    """Nobody has to read in between."""
    die_writing(begun, NEW, at)
    write_all({begun / "c.yaml": b"newer c", begun / "d.yaml": b"new d"}, home=begun)
    assert {**NEW, "c.yaml": b"newer c", "d.yaml": b"new d"} == state(begun)


def test_a_run_killed_before_its_note_is_whole_is_undone(begun):
    """Nothing had taken its place; a note without its end is no note."""
    die_writing(begun, NEW, 1)
    note = begun / JOURNAL
    for length in (0, 20, len(note.read_bytes()) - 1):
        whole = note.read_bytes()
        note.write_bytes(whole[:length])
        assert "it is undone, and all files are as they were" in mend(begun, is_record)
        assert OLD == {
            name: data for name, data in state(begun).items() if not name.rpartition("/")[2].startswith(".")
        }
        note.write_bytes(whole)


def part_of(folder, name):
    """The file that waits for a place."""
    path = folder / name
    (part,) = path.parent.glob(f".{path.name}.*.part")
    return part


def test_what_had_not_begun_is_undone_when_something_is_gone(begun):
    """A part that somebody removed: nothing was put in place yet, so nothing is."""
    die_writing(begun, NEW, 1)
    part_of(begun, "below/b.yaml").unlink()
    assert "it is undone" in mend(begun, is_record)
    assert OLD == state(begun)


def test_a_file_that_somebody_changed_since_is_not_written_over(begun):
    """Undone where nothing had begun: the person's own words stay."""
    die_writing(begun, NEW, 1)
    (begun / "c.yaml").write_bytes(b"mine")
    assert "it is undone" in mend(begun, is_record)
    assert {**OLD, "c.yaml": b"mine"} == state(begun)


@pytest.mark.parametrize(
    "harm",
    [
        lambda folder: (folder / "c.yaml").write_bytes(b"mine"),
        lambda folder: (folder / "c.yaml").unlink(),
        lambda folder: part_of(folder, "c.yaml").unlink(),
        lambda folder: part_of(folder, "c.yaml").write_bytes(b"other"),
    ],
)
def test_what_can_neither_be_finished_nor_undone_is_named(begun, harm):
    """One file is new and another can't be: both are named, nothing is touched, and the way out is told."""
    die_writing(begun, NEW, 2)
    harm(begun)
    before = state(begun)
    with pytest.raises(UnfinishedError, match=r"c\.yaml changed since.*New already: a\.yaml\..*then remove"):
        mend(begun, is_record)
    assert before == state(begun)


def test_a_run_at_work_is_waited_for(begun, monkeypatch):
    """Its note is locked: neither a reader nor another writer takes it for a killed run's."""
    monkeypatch.setattr(write_journal, "_PATIENCE", 0.2)
    (begun / ".a.yaml.abcd1234.part").write_bytes(b"new")
    journal = Journal.begin(
        begun, [Waiting("a.yaml", ".a.yaml.abcd1234.part", digest(b"new"), digest(b"old a"))]
    )
    for work in (mend, lambda folder, _: Journal.begin(folder, [])):
        with pytest.raises(UnfinishedError, match="another certgen command is writing into"):
            work(begun, is_record)
    assert b"old a" == (begun / "a.yaml").read_bytes()
    journal.close()
    assert "" == mend(begun, is_record)


def test_two_runs_at_once_leave_whole_sets(begun):
    """Whichever comes last, all files are of one run, and no note stays."""
    children = []
    for number in range(4):
        child = os.fork()
        if child == 0:
            for _ in range(5):
                with contextlib.suppress(UnfinishedError):
                    write_all({begun / name: b"%d" % number for name in NEW}, home=begun)
            os._exit(0)
        children.append(child)
    assert [0] * 4 == [os.waitpid(child, 0)[1] for child in children]
    found = state(begun)
    assert (set(NEW), 1) == (set(found), len(set(found.values())))


REMOVALS = 2


def die_removing(folder, at, call):
    """Takes two files away, a third is written, in a process that is killed on the way."""
    lay(folder, {"scan.pdf": b"a scan"})
    contents = {
        folder / ".kept" / "a": b"old a",
        folder / ".kept" / "scan": b"a scan",
        folder / "c.yaml": b"c",
    }
    removed = {folder / "a.yaml": folder / ".kept" / "a", folder / "scan.pdf": folder / ".kept" / "scan"}
    assert kill_at(at, lambda: write_all(contents, home=folder, removed=removed), call=call)


@pytest.mark.parametrize(
    ("at", "call"),
    [*((at, "replace") for at in range(1, STEPS + 1)), *((at, "unlink") for at in range(1, REMOVALS + 2))],
)
def test_taking_away_is_finished_as_well(begun, at, call):
    """Whether the copies had come to their places or not; evidence too, for it is kept."""
    die_removing(begun, at, call)
    assert "; it is finished now: c.yaml, a.yaml, scan.pdf." in mend(begun, is_record)
    assert {".kept/a": b"old a", ".kept/scan": b"a scan", "c.yaml": b"c"} == state(begun)


def test_what_is_kept_nowhere_is_not_taken_away(begun):
    """The copy is gone or another: the file stays, and what was done is named."""
    for harm in (lambda copy: copy.unlink(), lambda copy: copy.write_bytes(b"other")):
        die_removing(begun, 1, "unlink")
        harm(begun / ".kept" / "scan")
        with pytest.raises(UnfinishedError, match=r"scan\.pdf changed since"):
            mend(begun, is_record)
        assert b"a scan" == (begun / "scan.pdf").read_bytes()
        (begun / JOURNAL).unlink()
        lay(begun, OLD)


@pytest.mark.parametrize(
    "entry",
    [
        ["a.yaml", "a.yaml", "", digest(b"old a")],
        ["a.yaml", "../a", "", digest(b"old a")],
        ["a.yaml", "/etc/hosts", "", digest(b"old a")],
        ["../a.yaml", "c.yaml", "", digest(b"old a")],
        ["a.yaml", "c.yaml", "", ""],
        ["a.yaml", "", "", digest(b"old a")],
    ],
)
def test_a_strangers_note_takes_nothing_away(begun, entry):
    """Only what lies in the folder twice, and under names of the folder."""
    leave_note(begun, [entry])
    before = state(begun)
    with pytest.raises(UnfinishedError, match="it is no note of unfinished writing"):
        mend(begun, is_record)
    assert before == state(begun)


def test_what_may_not_give_way_stays(begun):
    """A note can't have anything replaced that the caller wouldn't."""
    lay(begun, {"signed.pdf": b"old", "x.yaml": b"old"})
    die_writing(begun, {"signed.pdf": b"new", "x.yaml": b"new"}, 1)
    assert "it is undone" in mend(begun, is_record)
    assert {**OLD, "signed.pdf": b"old", "x.yaml": b"old"} == state(begun)


def leave_note(folder, files, *, body=None):
    """Leaves a note as a killed run would, naming whatever it is told to."""
    data = json.dumps(files).encode() if body is None else body
    note = folder / JOURNAL
    note.write_bytes(b"certgen unfinished writing 1 " + digest(data).encode() + b"\n" + data)
    note.chmod(0o600)
    return note


PART = ".x.yaml.abcd1234.part"
EVIL = digest(b"evil")


@pytest.mark.parametrize(
    "entry",
    [
        ["../x.yaml", PART, EVIL, ""],
        ["below/../../x.yaml", PART, EVIL, ""],
        ["/x.yaml", PART, EVIL, ""],
        ["//x.yaml", PART, EVIL, ""],
        ["C:/x.yaml", PART, EVIL, ""],
        ["below\\x.yaml", PART, EVIL, ""],
        ["./x.yaml", PART, EVIL, ""],
        ["", PART, EVIL, ""],
        ["x.yaml\n", PART, EVIL, ""],
        ["x.yaml\0", PART, EVIL, ""],
        [JOURNAL, f".{JOURNAL}.abcd1234.part", EVIL, ""],
        ["away/x.yaml", PART, EVIL, ""],
        ["x.yaml", "evil.yaml", EVIL, ""],
        ["x.yaml", "../.x.yaml.abcd1234.part", EVIL, ""],
        ["x.yaml", "/x", EVIL, ""],
        ["x.yaml", ".y.yaml.abcd1234.part", EVIL, ""],
        ["x.yaml", PART, "?", ""],
        ["x.yaml", PART, "", ""],
        ["x.yaml", PART, EVIL, "?"],
        ["x.yaml", PART, EVIL],
        ["x.yaml", PART, EVIL, "", ""],
        ["x.yaml", PART, EVIL, None],
        [["x.yaml"], PART, EVIL, ""],
        "text",
        None,
    ],
)
def test_a_strangers_note_leads_nowhere(tmp_path, entry):
    """Names outside the folder, behind links or of another form than certgen's are refused as a whole."""
    home, outside = tmp_path / "home", tmp_path / "outside"
    lay(
        tmp_path,
        {"home/x.yaml.keep": b"", "outside/x.yaml": b"theirs", f"outside/{PART}": b"evil", PART: b"evil"},
    )
    lay(home, {PART: b"evil", "evil.yaml": b"evil", ".y.yaml.abcd1234.part": b"evil"})
    (home / "away").symlink_to(outside)
    leave_note(home, [["y.yaml", ".y.yaml.abcd1234.part", EVIL, ""], entry])
    before = state(tmp_path)
    with pytest.raises(
        UnfinishedError, match="it is no note of unfinished writing that certgen left for you"
    ):
        mend(home, is_record)
    assert before == state(tmp_path)


@pytest.mark.parametrize("body", [b"", b"{}", b"5", b"[" * 100_000, b"\xff", b'{"a": ["b"]}'])
def test_a_note_of_another_form_is_refused_or_nothing(tmp_path, body):
    """Whatever stands in it, it is never more than a refusal."""
    lay(tmp_path, {"a.yaml": b"old"})
    leave_note(tmp_path, (), body=body)
    with contextlib.suppress(UnfinishedError):
        mend(tmp_path, is_record)
    assert b"old" == (tmp_path / "a.yaml").read_bytes()


def test_a_name_twice_and_too_many_are_refused(tmp_path):
    """No run notes either."""
    entry = ["x.yaml", PART, EVIL, ""]
    many = [[f"{number}.yaml", f".{number}.yaml.abcd1234.part", EVIL, ""] for number in range(10_001)]
    for files in ([entry, entry], many):
        leave_note(tmp_path, files)
        with pytest.raises(UnfinishedError, match="names what no run would"):
            mend(tmp_path, is_record)


@pytest.mark.parametrize("what", ["link", "hard link", "pipe", "folder"])
def test_what_waits_must_be_an_ordinary_file_of_ones_own(tmp_path, what):
    """A link that waits for a record's place would bring a file of somebody's into the season."""
    home = tmp_path / "home"
    lay(tmp_path, {"home/x.yaml": b"old", "secret": b"evil"})
    part = home / PART
    {
        "link": lambda: part.symlink_to(tmp_path / "secret"),
        "hard link": lambda: part.hardlink_to(tmp_path / "secret"),
        "pipe": lambda: os.mkfifo(part),
        "folder": part.mkdir,
    }[what]()
    leave_note(home, [["x.yaml", PART, EVIL, digest(b"old")]])
    assert "it is undone" in mend(home, is_record)
    assert (b"old", b"evil", True) == (
        (home / "x.yaml").read_bytes(),
        (tmp_path / "secret").read_bytes(),
        os.path.lexists(part),
    )


@pytest.mark.parametrize("what", ["link", "pipe", "folder"])
def test_a_place_that_is_no_file_stays(tmp_path, what):
    """A link in a record's place is neither followed nor replaced."""
    home = tmp_path / "home"
    lay(tmp_path, {f"home/{PART}": b"evil", "aim": b"old"})
    place = home / "x.yaml"
    {
        "link": lambda: place.symlink_to(tmp_path / "aim"),
        "pipe": lambda: os.mkfifo(place),
        "folder": place.mkdir,
    }[what]()
    for old in ("", "?", digest(b"old")):
        lay(tmp_path, {f"home/{PART}": b"evil"})
        leave_note(home, [["x.yaml", PART, EVIL, old]])
        with contextlib.suppress(UnfinishedError):
            mend(home, lambda _: True)
        assert (b"old", False) == (
            (tmp_path / "aim").read_bytes(),
            place.is_file() and not place.is_symlink(),
        )


def test_a_huge_part_is_not_read(tmp_path):
    """A file full of holes costs nobody an hour."""
    lay(tmp_path, {"x.yaml": b"old"})
    with (tmp_path / PART).open("wb") as held:
        held.truncate(1 << 40)
    leave_note(tmp_path, [["x.yaml", PART, EVIL, digest(b"old")]])
    with pytest.raises(UnfinishedError, match="names what no run would"):
        mend(tmp_path, is_record)


@pytest.mark.parametrize("what", ["link", "pipe", "folder", "others may write", "another user's", "huge"])
def test_a_note_that_is_not_ones_own_is_not_believed(tmp_path, monkeypatch, what):
    """Nothing is done by it, and it is named."""
    lay(tmp_path, {"x.yaml": b"old", PART: b"evil", "elsewhere": b""})
    note = leave_note(tmp_path, [["x.yaml", PART, EVIL, digest(b"old")]])
    if what in {"link", "pipe", "folder"}:
        note.rename(tmp_path / "elsewhere")
        {"link": lambda: note.symlink_to("elsewhere"), "pipe": lambda: os.mkfifo(note), "folder": note.mkdir}[
            what
        ]()
    elif what == "others may write":
        note.chmod(0o620)
    elif what == "huge":
        os.truncate(note, 9 << 20)
    else:
        own = os.geteuid()
        monkeypatch.setattr("os.geteuid", lambda: own + 1)
    before = state(tmp_path)
    with pytest.raises(UnfinishedError, match=r"\.certgen-unfinished (is|names).*then remove it"):
        mend(tmp_path, is_record)
    assert before == state(tmp_path)


def test_a_folder_that_may_not_be_written_is_told_of(begun, monkeypatch):
    """The one who may write there is asked to; nothing is taken for done."""
    die_writing(begun, NEW, 2)

    def refuse(*_given):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(
        UnfinishedError, match=r"can't be mended from here: permission denied\. Run the command as"
    ):
        mend(begun, is_record)
    assert JOURNAL in state(begun)


def test_a_folder_that_is_none_holds_no_note(tmp_path):
    """Neither a missing folder nor a file has anything to mend."""
    (tmp_path / "file").write_bytes(b"")
    assert ["", ""] == [mend(tmp_path / name, is_record) for name in ("missing", "file")]


def test_a_system_without_locks_still_mends(begun, monkeypatch):
    """Some file systems know none."""

    def refuse(*_given):
        raise OSError(95, "Operation not supported")

    die_writing(begun, NEW, 2)
    monkeypatch.setattr(fcntl, "flock", refuse)
    assert "finished" in mend(begun, is_record)
    assert NEW == state(begun)
