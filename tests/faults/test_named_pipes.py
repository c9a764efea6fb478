"""A pipe named where a file or a folder is asked for is refused by name, and never waited for.

Every argument and option of every command that takes a path is tried, so one that is added stands here too.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
from datetime import date

import click
import pikepdf
import pytest
from waiting import SECONDS

from certgen import cli
from certgen.cli.group import CERTGEN
from certgen.coop.members.access import MemberRefusedError, find_home
from certgen.coop.members.member_list import SOURCES, Member, read_coop
from certgen.exchange.signing.certificates import make_certificate

COVERS = ("certgen.cli.arguments", "certgen.cli.commands", "certgen.coop.members.access")
ON = ["--on", "2026-10-31"]
#: Paths that are typed among other words.
AMONG_WORDS = {("trace", "words"), ("recall", "words"), ("verify", "key")}
#: How each is given a pipe (P): S is a season, F and B sheets, R a packet, C a co-op, K a key.
GIVEN = {
    ("new", "folder"): ["P", "--operation", "Larkfold"],
    ("new", "after"): ["made", "--after", "P"],
    ("check", "season"): ["P"],
    ("report", "season"): ["P", "--out", "x.pdf"],
    ("report", "out"): ["S", "--out", "P.pdf"],
    ("report", "html"): ["S", "--html", "P.html"],
    ("report", "key"): ["S", "--key", "P"],
    ("report", "replaces"): ["S", "--replaces", "P", "--out", "x.pdf"],
    ("card", "season"): ["P", "L1", "--out", "x.pdf"],
    ("card", "out"): ["S", "L1", "--out", "P"],
    ("card", "packet"): ["S", "L1", "--packet", "P", "--out", "x.pdf"],
    ("card", "key"): ["S", "L1", "--key", "P", "--out", "x.pdf"],
    ("trace", "words"): ["P", "L1"],
    ("trace", "out"): ["S", "L1", "--format", "svg", "--out", "P"],
    ("balance", "season"): ["P"],
    ("sample", "season"): ["P", "--seed", "rain at noon", "--size", "1"],
    ("sample", "out"): ["S", "--of", "lots", "--seed", "rain at noon", "--detect", "5 %", "--out", "P"],
    ("due", "season"): ["P"],
    ("desk", "season"): ["P", "--no-browser"],
    ("plan", "season"): ["P"],
    ("labels", "season"): ["P"],
    ("labels", "out"): ["S", "--out", "P"],
    ("recall", "words"): ["P", "L1"],
    ("recall", "out"): ["S", "L1", "--out", "P"],
    ("visit", "season"): ["P"],
    ("visit", "out"): ["S", "--out", "P"],
    ("visit", "blank"): ["S", "--form", "P.yaml"],
    ("history", "season"): ["P"],
    ("undo", "season"): ["P"],
    ("evidence", "season"): ["P"],
    ("evidence", "files"): ["S", "--add", "P", "--to", "screening:S1"],
    ("import", "season"): ["P", "B", "--table", "bagging"],
    ("import", "file"): ["S", "P.csv"],
    ("import", "map_file"): ["S", "F", "--map", "P"],
    ("import", "save_map"): ["S", "F", "--save-map", "P"],
    ("export", "season"): ["P"],
    ("export", "out"): ["S", "--out", "P"],
    ("seal", "file"): ["P", "--key", "K"],
    ("seal", "key"): ["R", "--key", "P"],
    ("seal", "new_key"): ["--new-key", "P"],
    ("seal", "out"): ["R", "--key", "K", "--out", "P"],
    ("verify", "file"): ["P"],
    ("verify", "key"): ["R", "--key", "P"],
    ("verify", "trust"): ["R", "--trust", "P"],
    ("verify", "against"): ["R", "--against", "P"],
    ("coop", "folder"): ["P"],
    ("coop", "out"): ["C", "--out", "P"],
    ("coop", "letters"): ["C", "--letters", "P"],
    ("coop", "cache"): ["C", "--cache", "P"],
}


def path_parameters():
    """Every argument and option that takes a path, as command and name."""
    found = set(AMONG_WORDS)
    for name in cli.COMMANDS:
        command = CERTGEN.get_command(None, name)
        found |= {(name, one.name) for one in command.params if isinstance(one.type, click.Path)}
    return found


def run_apart(arguments):
    """Runs a command in a process that is killed if it waits: its exit code and what it said."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            signal.alarm(int(SECONDS))
            said = io.StringIO()
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                code = cli.run(arguments)
            with os.fdopen(writing, "wb") as told:
                told.write(said.getvalue().encode())
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as held:
        said = held.read().decode()
    _, status = os.waitpid(child, 0)
    assert not os.WIFSIGNALED(status), f"it waits for the pipe: {arguments}"
    return os.WEXITSTATUS(status), said


def test_every_path_is_tried():
    """An option that takes a path and isn't tried here fails."""
    assert path_parameters() == set(GIVEN)


@pytest.mark.parametrize(("command", "name"), sorted(GIVEN), ids=lambda part: part)
def test_a_pipe_is_refused_by_name(season, tmp_path, monkeypatch, root, command, name):
    """With exit code 2, in words, and the pipe stays."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "letters.csv").write_text("Sack,Plant\n1,T1\n", encoding="utf-8")
    (tmp_path / "bags.csv").write_text("bag,tree\nB9,T1\n", encoding="utf-8")
    stands_for = {
        "S": season,
        "F": tmp_path / "letters.csv",
        "B": tmp_path / "bags.csv",
        "C": root / "example_coop",
        "R": tmp_path / "r.pdf",
        "K": tmp_path / "key",
    }
    if "R" in GIVEN[command, name]:
        blank = pikepdf.new()
        blank.add_blank_page()
        blank.save(tmp_path / "r.pdf")
    if "K" in GIVEN[command, name]:
        make_certificate(tmp_path / "key")
    pipes, arguments = [], [command]
    for word in GIVEN[command, name]:
        if word.partition(".")[0] == "P":
            pipes.append(tmp_path / f"pipe{word[1:]}")
            os.mkfifo(pipes[-1])
            arguments.append(str(pipes[-1]))
        else:
            arguments.append(str(stands_for.get(word, word)))
    code, said = run_apart(arguments)
    assert (2, True) == (code, pipes[0].is_fifo()), said
    assert pipes[0].name in said
    assert "Traceback" not in said
    # What is no file of a key's is taken for its letters, and those it isn't either.
    assert ("names no key" if (command, name) == ("verify", "key") else "a pipe") in said


@pytest.mark.parametrize("source", SOURCES)
def test_a_member_that_is_a_pipe_is_refused_by_name(tmp_path, source):
    """In a co-op's list likewise, and so is a list that is a pipe."""
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(MemberRefusedError, match=r"'pipe' is a pipe, not a (file|folder)"):
        find_home(tmp_path, Member("A", "A", source, "pipe", "", date(2026, 1, 1)))


def test_a_list_of_members_that_is_a_pipe_is_refused(tmp_path):
    """Nobody waits for what a co-op's list might say."""
    os.mkfifo(tmp_path / "coop.yaml")
    coop, (error,) = read_coop(tmp_path)
    assert (None, "coop.yaml", True) == (coop, error.file, "not an ordinary file" in error.message)


@pytest.mark.parametrize("source", SOURCES)
def test_a_coop_goes_on_without_a_member_that_is_a_pipe(root, tmp_path, source):
    """The others are examined; the one is named."""
    coop = tmp_path / "coop"
    shutil.copytree(root / "example_coop", coop)
    os.mkfifo(coop / "members" / "pipe")
    listed = (coop / "coop.yaml").read_text(encoding="utf-8")
    member = f"  - member: PIPE\n    name: A pipe\n    {source}: members/pipe\n"
    (coop / "coop.yaml").write_text(
        f"{listed}\n{member}    certificate: QR-1\n    joined: 2020-01-01\n", encoding="utf-8"
    )
    code, said = run_apart(["coop", str(coop), "--no-cache", "--workers", "1", "--format", "json", *ON])
    members = json.loads(said[said.index("{") :])["members"]
    assert (2, "PIPE") == (code, members[-1]["member"])
    assert "'members/pipe' is a pipe" in json.dumps(members[-1])
