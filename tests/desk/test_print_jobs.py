"""Papers are made in processes of their own, of which nothing is left."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_prints import STAGES, make, order, source
from waiting import SECONDS, wait_until

from certgen.desk.print_jobs import BusyError, PrintJob, PrintJobs
from certgen.limits import Limits


@pytest.fixture
def jobs() -> Iterator[PrintJobs]:
    """A desk's papers, with little memory for each."""
    held = PrintJobs(make, Limits(SECONDS, 200))
    yield held
    held.close()


def start(jobs: PrintJobs, folder: Path, slug: str = "tags", **chosen: str) -> PrintJob:
    """Asks for a paper of a kind."""
    return jobs.start(order(slug, **chosen), source(folder), "v")


def end(job: PrintJob) -> PrintJob:
    """The paper, once it is over."""
    wait_until(lambda: not job.is_going)
    return job


def is_there(pid: int) -> bool:
    """Whether a process runs; one that ended and that nobody asked after doesn't."""
    try:
        return "Z" != Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False


def test_a_paper_is_made_outside_the_season(jobs, tmp_path):
    """Its file lies elsewhere, with what its user has to know; the season's folder stays as it was."""
    job = end(start(jobs, tmp_path))

    assert ("ready", ("Look at it.",), 13) == (job.state, job.says, job.bytes)
    assert job.file is not None
    assert b"%PDF-1.7 made" == job.file.read_bytes()
    assert [] == list(tmp_path.iterdir())


CRASHED = "Its process ended before its work, most likely for want of memory. Nothing else was touched."
FAULT = (
    "certgen failed: KeyError: 'season'. This is a fault of certgen, not of your records. Please report it"
    " with this line."
)


@pytest.mark.parametrize(
    ("does", "state", "says"),
    [
        ("refuse", "refused", ("There is nothing to print.", "Look into season.")),
        ("fill the disk", "failed", ("No space left on device (made.pdf).",)),
        ("crash", "failed", (CRASHED,)),
        ("take memory", "failed", ("It needs more than the 200 MB of memory that it is given.",)),
        ("fail", "failed", (FAULT,)),
    ],
)
def test_what_goes_wrong_costs_only_that_paper(jobs, tmp_path, does, state, says):
    """It is said in words, there is no file, and the next one is made."""
    folder = tmp_path / "season"
    folder.mkdir()
    job = end(start(jobs, folder, at="Setting pages", does=does))
    next_one = end(start(jobs, folder))

    assert (state, says, None) == (job.state, job.says, job.file)
    assert "ready" == next_one.state


@pytest.mark.parametrize("stage", STAGES)
def test_it_is_cancelled_at_any_stage(jobs, tmp_path, stage):
    """The process ends, the paper has no file, and a second cancel changes nothing."""
    job = start(jobs, tmp_path, at=stage, does="wait")
    wait_until(lambda: job.stage == stage)
    process = job.process
    assert process is not None
    pid = process.pid
    jobs.cancel(job)
    jobs.cancel(job)
    wait_until(lambda: not is_there(pid))

    assert ("cancelled", None, ()) == (job.state, job.file, job.says)


def test_it_is_cancelled_before_its_process_has_begun(jobs, tmp_path):
    """At once after it was asked for, and while it waits."""
    told = [start(jobs, tmp_path, slug, at=STAGES[0], does="wait") for slug in "abc"]
    for job in reversed(told):
        jobs.cancel(job)

    assert ["cancelled"] * 3 == [job.state for job in told]
    assert 0 == told[2].seconds


def test_what_a_paper_s_process_started_ends_with_it(jobs, tmp_path, monkeypatch):
    """Pages are set by processes of its own; they don't run on, even where it waits for them."""
    monkeypatch.setattr("certgen.desk.print_jobs._GRACE", 0.2)
    job = start(jobs, tmp_path, at=STAGES[2], does="start another")
    wait_until((tmp_path / "pid").exists)
    pid = int((tmp_path / "pid").read_text())
    assert is_there(pid)
    jobs.cancel(job)
    wait_until(lambda: not is_there(pid))


def test_one_of_a_kind_is_made_at_a_time(jobs, tmp_path):
    """Pressed again it is the same one, a hundred times too; another choice has to wait for it."""
    job = start(jobs, tmp_path, at=STAGES[0], does="wait")
    again = [start(jobs, tmp_path, at=STAGES[0], does="wait") for _ in range(100)]

    assert {job} == set(again)
    with pytest.raises(BusyError, match="Tags: one is being made already"):
        start(jobs, tmp_path, each="4")
    assert [job] == jobs.list()


def test_two_are_made_and_the_others_wait(jobs, tmp_path):
    """Each begins when there is room; more than a few may not wait."""
    told = [start(jobs, tmp_path, slug, at=STAGES[0], does="wait") for slug in "abcdefgh"]
    states = [job.state for job in told]
    with pytest.raises(BusyError, match="8 papers"):
        start(jobs, tmp_path, "i")
    (tmp_path / "go").touch()

    assert ["running"] * 2 + ["waiting"] * 6 == states
    assert ["ready"] * 8 == [end(job).state for job in told]


def test_old_ones_are_dropped(jobs, tmp_path, monkeypatch):
    """The oldest first, with its file; foreign numbers name nothing."""
    monkeypatch.setattr("certgen.desk.print_jobs._KEPT", 2)
    told = [end(start(jobs, tmp_path)) for _ in range(4)]
    wait_until(lambda: len(jobs.list()) == 2)

    assert [4, 3] == [job.number for job in jobs.list()]
    assert [False, False, True, True] == [job.folder.exists() for job in told]
    for number in ("1", "99", "-1", "٤", "4 ", "4.0", "", "9" * 40, "../3"):
        assert jobs.find(number) is None
    assert told[3] is jobs.find("4")


def test_what_was_cancelled_while_it_waited_is_dropped_too(jobs, tmp_path):
    """Though nothing ends meanwhile: whoever presses and cancels all day fills no disk."""
    going = [start(jobs, tmp_path, slug, at=STAGES[0], does="wait") for slug in "ab"]
    for _ in range(30):
        jobs.cancel(start(jobs, tmp_path, "c"))

    assert ["running"] * 2 == [job.state for job in going]
    assert 14 == len(jobs.list())
    assert 14 == len(list(going[0].folder.parent.iterdir()))


def test_nothing_is_left_when_the_desk_ends(tmp_path):
    """What runs is ended, what waits never begins, files and folders go; then nothing can be begun."""
    jobs = PrintJobs(make)
    ready = end(start(jobs, tmp_path))
    told = [start(jobs, tmp_path, slug, at=STAGES[1], does="wait") for slug in "abc"]
    wait_until(lambda: told[0].stage == STAGES[1])
    process = told[0].process
    assert process is not None
    pid = process.pid
    jobs.close()
    jobs.close()

    assert not is_there(pid)
    assert ["cancelled"] * 3 == [job.state for job in told]
    assert not ready.folder.parent.exists()
    with pytest.raises(BusyError, match="closed"):
        start(jobs, tmp_path)


def test_a_file_that_somebody_took_away_is_none(jobs, tmp_path):
    """The system may sweep its temporary folder."""
    job = end(start(jobs, tmp_path))
    assert job.file is not None
    job.file.unlink()

    assert job.file is None
