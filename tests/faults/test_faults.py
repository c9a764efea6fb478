"""A process that is killed, a full disk, a folder that may not be written, a file that changes while read.

Whatever happens, what stood there stands there whole, or the new stands there whole; and where a person can
still be told something, it is told in plain words with the right exit code.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from importlib import import_module
from pathlib import Path

import pikepdf
import pytest
from waiting import SECONDS

from certgen import cli, whole_files
from certgen.exchange.signing.certificates import load_signer, make_certificate
from certgen.exchange.signing.signature import read_signatures
from certgen.rules.example_seasons import load_example

COVERS = ("certgen.cli", "certgen.whole_files")
pytestmark = pytest.mark.all_cores
ON = ["--on", "2026-10-31"]
OLD = b"what stood there before\n"
CSV = "bag,tree,covered,flower,stage\nB9,T1,2026-01-13,hermaphrodite,closed bud\n"
#: Commands that need what stands there, or that make no file anew.
WITHIN = {"import", "evidence", "seal", "new key"}
#: Write points up to which each is tried.
MOST = 5
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT


@pytest.fixture(scope="module", autouse=True)
def loaded():
    """What the commands load stands in this process: most of those below are forks of it, some hundred."""
    for module in ("examination", "report.writing", "report.binder", "exchange.spreadsheets.workbook",
                   "exchange.interchange.check", "exchange.importing.plan", "rules.runner"):  # fmt: skip
        import_module(f"certgen.{module}")
    import_module("pandas")


class Points:
    """Counts the points at which a process touches files below a folder, and ends it at one of them.

    `kill_at` is the number of the point, or what is done there (`os.rename`).
    """

    def __init__(self, folder, kill_at=0):
        self.folder, self.kill_at, self.seen = str(folder), kill_at, 0

    def __call__(self, event, arguments):
        """Called by Python before each such step."""
        touched = event in {"os.rename", "os.remove", "os.mkdir", "os.chmod", "os.link"}
        touched |= event == "open" and len(arguments) > 2 and bool((arguments[2] or 0) & _WRITING)
        if touched and any(str(one).startswith(self.folder) for one in arguments[:2]):
            self.seen += 1
            if self.kill_at in (self.seen, event):
                os.kill(os.getpid(), signal.SIGKILL)


def prepare(kind="nothing", *given):
    """What is done to a process before its command runs; gives what counts its steps, if anything does."""
    if kind == "points":
        sys.addaudithook(points := Points(*given))
        return points
    if kind == "room":
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (given[0], given[0]))
    elif kind == "full disk":
        make = tempfile.mkstemp

        def make_full(**options):
            handle, beside = make(**options)
            os.close(handle)
            return os.open("/dev/full", os.O_WRONLY), beside

        whole_files.tempfile.mkstemp = make_full
    elif kind == "nobody" and os.geteuid() == 0:
        # What is imported while the command runs may lie where nobody else may read.
        import concurrent.futures.process  # noqa: F401
        import multiprocessing.popen_spawn_posix
        import multiprocessing.resource_tracker  # noqa: F401

        os.setgid(65534)
        os.setuid(65534)
    return None


def run_apart(arguments, *how):
    """Runs a command in a process of its own, prepared as `how` says: its exit code (None if it was killed),
    what it said, how many steps were counted.
    """
    # Typst keeps threads, and a fork of a process that has used it waits for them for ever.
    if arguments[0] == "labels" or (arguments[0] == "report" and "--out" in arguments):
        told = json.dumps([arguments, how], default=str)
        ran = subprocess.run(
            [sys.executable, __file__, told],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            text=True,
            check=False,
            timeout=SECONDS,
        )
        seen, said = json.loads(ran.stdout) if ran.stdout else (0, ran.stderr)
        return None if ran.returncode < 0 else ran.returncode, said, seen
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        signal.alarm(int(SECONDS))
        os.close(reading)
        code = 99
        try:
            code, report = run_here(arguments, how)
            os.write(writing, report.encode()[:60_000])
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as held:
        told = held.read()
    _, status = os.waitpid(child, 0)
    assert not os.WIFSIGNALED(status) or os.WTERMSIG(status) != signal.SIGALRM, "the command never ended"
    seen, said = json.loads(told) if told else (0, "")
    return None if os.WIFSIGNALED(status) else os.WEXITSTATUS(status), said, seen


def run_here(arguments, how):
    """Prepares this process and runs a command in it: its exit code, and as JSON the steps and its words."""
    points = prepare(*how)
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = cli.run(arguments)
    return code, json.dumps([points.seen if points else 0, said.getvalue()[-3000:]])


def commands(season, out):
    """Every command that writes: its arguments, and the file that must never be half."""
    (out / "bags.csv").write_text(CSV, encoding="utf-8")
    blank = pikepdf.new()
    blank.add_blank_page()
    blank.docinfo["/Producer"] = pikepdf.String("certgen 0.1.0")
    blank.save(out / "s.pdf", deterministic_id=True)
    (out / "scan.pdf").write_bytes(b"a scan")
    if not (out / "mine.p12").exists():
        make_certificate(out / "mine.p12")
    base = season / "base.yaml"
    export = ["export", str(season), *ON, "--force", "--format"]
    (season / "bagging.yaml").write_text("bagging:\n", encoding="utf-8")
    return {
        "export json": ([*export, "json", "--out", str(out / "x.json")], out / "x.json"),
        "export csv": ([*export, "csv", "--out", str(out / "x.zip")], out / "x.zip"),
        "new": (["new", str(out / "2027"), "--operation", "Larkfold", "--standard", "us-nop"], out / "new"),
        "import": (["import", str(season), str(out / "bags.csv"), "--table", "bagging"], base),
        "report html": (
            ["report", str(season), "--html", str(out / "r.html"), "--force", *ON],
            out / "r.html",
        ),
        "export xlsx": ([*export, "xlsx", "--out", str(out / "x.xlsx")], out / "x.xlsx"),
        "report pdf": (
            ["report", str(season), "--registers", "none", "--out", str(out / "r.pdf"), "--force", *ON],
            out / "r.pdf",
        ),
        "seal": (["seal", str(out / "s.pdf"), "--key", str(out / "mine.p12"), "--force"], out / "s.pdf"),
        "labels": (
            ["labels", str(season), "--kind", "calibration", "--out", str(out / "l.pdf"), "--force", *ON],
            out / "l.pdf",
        ),
        "evidence": (["evidence", str(season), "--add", str(out / "scan.pdf"), "--to", "screening:S1"], base),
        "new key": (["seal", "--new-key", str(out / "k.key")], out / "k.key"),
    }  # fmt: skip


def state(folder):
    """Every file below a folder that anybody would look at: path and bytes. Hidden ones are leavings."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    }


@pytest.mark.parametrize(
    "name",
    [
        "export json",
        "export csv",
        "export xlsx",
        "import",
        "report html",
        "new",
        "new key",
        "seal",
        "labels",
        "evidence",
    ],
)
def test_killed_at_every_write_point_a_file_is_old_or_new(season, tmp_path, name):
    """`kill -9` between any two steps of writing leaves no half of a file, and the command works again."""
    out = tmp_path / "out"
    out.mkdir()
    arguments, target = commands(season, out)[name]
    if name not in WITHIN and name != "new":
        target.write_bytes(OLD)
    start = tmp_path / "start"
    shutil.copytree(season, start / "season")
    shutil.copytree(out, start / "out")

    def begin(kill_at=0):
        for place in (season, out):
            shutil.rmtree(place)
            shutil.copytree(start / ("season" if place == season else "out"), place)
        return run_apart(arguments, "points", tmp_path, kill_at)

    before = state(season) | state(out)
    code, said, seen = begin()
    after = state(season) | state(out)
    assert (0, True) == (code, seen > 0), said
    assert before != after
    # The last steps are those at which a file takes its place; of the others some are enough.
    points = {seen - 1, seen} if name == "report html" else {1, seen // 2, seen - 2, seen - 1, seen}
    points -= {0}
    for point in sorted(points if seen > MOST else range(1, seen + 1)):
        assert begin(point)[0] is None
        now = state(season) | state(out)
        if name in {"new key", "seal"}:
            # Keys and signatures are others each time: what is there is whole.
            for path in out.glob("*.key"):
                assert load_signer(path)
            signed = (out / "s.pdf").read_bytes()
            assert signed == before["s.pdf"] or read_signatures(signed).signatures[0].holds
            continue
        assert all(data in (before.get(path), after.get(path)) for path, data in now.items())
        assert set(before) <= set(now) <= set(after)
    # With all leavings in place the command still does its work; `new` and a key overwrite nothing.
    assert run_apart(arguments)[0] in ({0, 2} if name.startswith("new") else {0})


def test_a_packet_killed_before_it_takes_its_place_leaves_the_old_one(season, tmp_path):
    """`kill -9` at the last step of a report: the old packet is whole, and only hidden leavings are new."""
    out = tmp_path / "out"
    out.mkdir()
    arguments, target = commands(season, out)["report pdf"]
    target.write_bytes(OLD)
    before = state(tmp_path)

    assert run_apart(arguments, "points", tmp_path, "os.rename")[0] is None
    # It had its second name already.
    assert before | {"out/r.before-1.pdf": OLD} == state(tmp_path)
    # What waited to take the place was whole.
    (left,) = out.glob(".r.pdf.*.part")
    with pikepdf.open(left) as packet:
        assert len(packet.pages) > 1


@pytest.mark.parametrize("name", ["export json", "export csv", "export xlsx", "import", "report html",
                                  "report pdf", "new key", "seal", "labels", "evidence"])  # fmt: skip
def test_a_full_disk_leaves_what_was_there_and_says_so(season, tmp_path, name):
    """No room for the file: nothing changes, no leavings, one plain line, exit code 2."""
    out = tmp_path / "out"
    out.mkdir()
    arguments, target = commands(season, out)[name]
    if name not in WITHIN:
        target.write_bytes(OLD)
    before = state(season) | state(out)
    hidden = sorted(out.rglob(".*")) + sorted(season.rglob(".*"))

    code, said, _ = run_apart(arguments, "room", 40 if name in WITHIN else 400)
    assert 2 == code, said
    assert before == state(season) | state(out)
    assert hidden == sorted(out.rglob(".*")) + sorted(season.rglob(".*"))


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
@pytest.mark.parametrize(
    "name", ["export json", "export xlsx", "import", "new key", "seal", "labels", "evidence"]
)
def test_no_space_left_is_said_of_the_file_that_was_asked_for(season, tmp_path, name):
    """The disk's own words for it, with the file's name and not that of the hidden one beside."""
    out = tmp_path / "out"
    out.mkdir()
    arguments, target = commands(season, out)[name]
    before = state(season) | state(out)
    code, said, _ = run_apart(arguments, "full disk")
    assert 2 == code, said
    assert "No space left on device" in said
    assert ".part" not in said
    if name != "evidence":
        assert target.name in said
    assert before == state(season) | state(out)
    assert [] == [*out.rglob(".*"), *season.rglob(".*")]


@pytest.fixture
def open_folder():
    """A folder that anybody may enter, for a process that has given up its rights."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


@pytest.mark.parametrize("name", ["export json", "import", "new key"])
def test_a_folder_that_may_not_be_written_is_told_in_words(open_folder, name):
    """Exit code 2, a line that names the file, nothing changed, and no traceback."""
    season = load_example("parent-unscreened", "good").write(open_folder)
    out = open_folder / "out"
    out.mkdir()
    arguments, _ = commands(season, out)[name]
    for path in (open_folder, *open_folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    before = state(open_folder)

    code, said, _ = run_apart(arguments, "nobody")
    assert 2 == code, said
    assert "Traceback" not in said
    for path in (open_folder, *open_folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)
    assert before == state(open_folder)


def test_said_in_one_plain_line(season, tmp_path):
    """What is told of a full disk names the file and ends there."""
    out = tmp_path / "out"
    out.mkdir()
    arguments, target = commands(season, out)["export json"]

    _, said, _ = run_apart(arguments, "room", 400)
    assert "Traceback" not in said
    assert target.name in said


@pytest.mark.usefixtures("files_at_work")
def test_a_file_that_changes_while_read_is_read_whole_or_refused(season, capsys):
    """Written over in place again and again: a check sees one state or the other, or says it can't read."""
    record = season / "base.yaml"
    one = record.read_bytes()
    two = one.replace(b"hedge on all four sides", b"a wall on all four sides, and a ditch on the east")

    def look():
        code = cli.run(["check", str(season), "--format", "json", *ON])
        shown = json.loads(capsys.readouterr().out)
        return code, [(gap["rule"], gap["line"]) for gap in shown.get("gaps", ())]

    expected = []
    for content in (one, two):
        record.write_bytes(content)
        expected.append(look())
    stop = threading.Event()

    def scribble():
        while not stop.is_set():
            for content in (one, two):
                with record.open("wb") as held:
                    held.write(content[:2000])
                    held.flush()
                    held.write(content[2000:])

    writer = threading.Thread(target=scribble)
    writer.start()
    try:
        for _ in range(6):
            code, gaps = look()
            assert (code, gaps) in expected or code == 2
    finally:
        stop.set()
        writer.join()


if __name__ == "__main__":
    exit_code, steps_and_words = run_here(*json.loads(sys.argv[1]))
    print(steps_and_words)  # noqa: T201 - for the process that asked
    sys.stdout.flush()
    # A command's own processes are gone; whatever else this one holds goes with it.
    os._exit(exit_code)
