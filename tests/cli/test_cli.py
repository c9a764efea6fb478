from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from waiting import SECONDS

from certgen import __version__, cli

COVERS = ("certgen.cli.arguments", "certgen.cli.group")
GOLDEN = Path(__file__).parent / "golden"


def test_help_lists_every_command_and_the_exit_codes(capsys):
    """What a newcomer sees first."""
    assert 0 == cli.run(["--help"])

    shown = capsys.readouterr().out
    assert [] == [name for name in cli.COMMANDS if f"  {name}" not in shown]
    assert "Exit code" in shown


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_command_explains_itself_with_an_example(name, capsys):
    """`certgen COMMAND --help` and `certgen help COMMAND` say the same."""
    assert 0 == cli.run([name, "--help"])
    shown = capsys.readouterr().out
    assert 0 == cli.run(["help", name])

    assert shown == capsys.readouterr().out
    assert f"certgen {name}" in shown.replace("\n", " ")
    assert "Example" in shown


def test_version(capsys):
    """Version."""
    assert 0 == cli.run(["--version"])
    assert f"certgen {__version__}\n" == capsys.readouterr().out


def test_an_unknown_command_gets_a_hint(capsys):
    """A slip of the pen is answered with the nearest command."""
    assert 2 == cli.run(["chekc"])
    assert "Did you mean 'check'?" in capsys.readouterr().err


def test_help_loads_nothing_heavy():
    """Neither tables nor YAML nor the terminal's library are needed to list commands."""
    program = "import sys, certgen.cli as c; c.run(['--help']); print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", f"import json; {program}"], capture_output=True, text=True, check=True
    )
    loaded = set(json.loads(done.stdout.splitlines()[-1]))

    assert set() == loaded & {"pandas", "numpy", "yaml", "click", "rich", "weasyprint", "jsonschema"}


def test_a_failure_of_the_tool_is_told_without_a_traceback(capsys, monkeypatch):
    """One paragraph that says whose fault it is, exit code 3; with CERTGEN_DEBUG where it happened."""

    def fail(*_, **__):
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("certgen.examination.examine", fail)
    assert 3 == cli.run(["check", "."])

    shown = capsys.readouterr().err
    assert "ZeroDivisionError: by nothing" in shown
    assert "Traceback" not in shown

    monkeypatch.setenv("CERTGEN_DEBUG", "1")
    assert 3 == cli.run(["check", "."])
    assert "Traceback" in capsys.readouterr().err


def test_being_interrupted_says_nothing(monkeypatch, capsys):
    """Being interrupted says nothing."""

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("certgen.examination.examine", stop)

    assert 130 == cli.run(["check", "."])
    assert ("", "") == tuple(capsys.readouterr())


def test_wrong_usage_is_exit_code_two(capsys):
    """An option that isn't there, and a day that is none."""
    assert 2 == cli.run(["check", "--no-such-thing"])
    assert 2 == cli.run(["check", "--on", "31.10.2026"])
    assert "2026-10-31" in capsys.readouterr().err


def test_a_terminal_that_knows_few_letters_is_no_failure(tmp_path):
    """Arrows and narrow spaces become a sign where they can't be shown."""
    from certgen.rules.example_seasons import load_example

    folder = load_example("parent-unscreened", "bad").write(tmp_path)
    arguments = ["trace", str(folder), "L2", "--suppose", "tree:T3=positive", "--on", "2026-10-31"]
    done = subprocess.run(
        [sys.executable, "-m", "certgen", *arguments],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )

    assert (1, b"") == (done.returncode, done.stderr)
    assert b"lot L2  unproven  ?  rejected" in done.stdout


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (["check", "--nope"], "there is no option --nope."),
        (["check", "--on"], "--on needs a value behind it."),
        (["check", "--all=yes"], "--all takes no value."),
        (
            ["balance", "--by", "lots"],
            "--by: There is no 'lots'. Did you mean 'lot'? Choose one of: lot, variety, all.",
        ),
        (["trace", ".", "a", "b"], "'b' is one word too many; put a name with spaces in quotes."),
        (["sample", "--detect", "120 %"], "--detect: '120 %' is no percentage between 0 and 100."),
        (["check", "--on", "1/1/2026"], "--on: '1/1/2026' is no day. Write it as year-month-day"),
        (["check", "--on", "0001-01-01"], "--on: 0001-01-01 is out of reach. Give a day from 1900-01-01 to"),
        (["due", "--on", "9999-12-31"], "--on: 9999-12-31 is out of reach. Give a day from 1900-01-01 to"),
        (["check", "a", "b"], "'b' is one word too many; put a name with spaces in quotes."),
        (["import"], "SEASON is missing."),
        (["labels", "--each", "0"], "--each: it can't be below 1."),
        (["labels", "--each", "x"], "--each: write a whole number."),
        (["trace", "."], "ID: Say which number to follow: certgen trace . NUMBER."),
    ],
)
def test_a_slip_in_typing_is_one_plain_line(typed, told, capsys):
    """Wrong usage is said in a sentence that names the option and where help is; it ends with 2."""
    code = cli.run(typed)

    shown = capsys.readouterr().err
    assert 2 == code
    assert shown.startswith(f"certgen {typed[0]}: {told}")
    assert shown.endswith(f"`certgen {typed[0]} --help` lists what it takes.\n")
    assert 1 == shown.count("\n")


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_help_stays_as_it_was_read(name, golden, capsys, monkeypatch):
    """Each command's help, on a terminal as wide as help grows."""
    monkeypatch.setenv("COLUMNS", "100")
    cli.run([name, "--help"])

    golden(GOLDEN / f"help-{name}.txt", capsys.readouterr().out)


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_help_writes_arguments_as_readme_does(name, capsys):
    """The folder stands ahead of the options, and no type in angle brackets or braces is shown."""
    cli.run([name, "--help"])

    shown = capsys.readouterr().out
    assert shown.startswith(f"Usage: certgen {name} ")
    assert "[OPTIONS]\n" in shown
    assert " <" not in shown
    assert "{" not in shown


def _in_a_shell(root: Path, line: str) -> tuple[int, str]:
    """Runs a line in a shell, `certgen` being this one; gives the exit code and what was complained of."""
    line = line.replace("certgen", f"{shlex.quote(sys.executable)} -m certgen")
    environment = {**os.environ, "PYTHONPATH": str(root)}
    ran = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {line}"],
        check=False, cwd=root, env=environment, capture_output=True, text=True, timeout=SECONDS,
    )  # fmt: skip
    return ran.returncode, ran.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("certgen --version >&-", (0, "")),
        ("certgen rules >&-", (0, "")),
        ("certgen check example_season --on 2026-11-25 >&- 2>&- <&-", (1, "")),
        ("certgen rules | head -1 > /dev/null", (0, "")),
        ("certgen --version > /dev/full", (2, "certgen --version: No space left on device.\n")),
        ("certgen rules > /dev/full", (2, "certgen rules: No space left on device.\n")),
    ],
)
def test_output_that_goes_nowhere_is_no_failure_of_certgen(
    root: Path, line: str, expected: tuple[int, str]
) -> None:
    """A closed stream and a reader that has seen enough are quiet, a full disk is told."""
    assert expected == _in_a_shell(root, line)


def test_a_folder_that_is_gone_is_told(root: Path, tmp_path: Path) -> None:
    """Nothing can be found from there, and a file in it has no place."""
    gone = tmp_path / "gone"
    gone.mkdir()
    season = root / "example_season"
    line = f"cd {gone} && rmdir {gone} && certgen report {season} --html x.html --on 2026-11-25"
    assert (2, "certgen report: the folder you are in is gone; go to another one.\n") == _in_a_shell(
        root, line
    )
