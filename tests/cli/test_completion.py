"""What the Tab key is told."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from certgen import cli
from certgen.cli.completion import list_options


def complete(script: str, *words: str) -> list[str]:
    """What bash offers for the last word."""
    quoted = " ".join(f"'{word}'" for word in words)
    asked = f"COMP_WORDS=({quoted}); COMP_CWORD={len(words) - 1}; _certgen"
    program = f"{script}\n{asked}; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    told = subprocess.run(["bash", "-c", program], capture_output=True, text=True, check=True)
    assert told.stderr == ""
    return told.stdout.split()


@pytest.fixture(scope="module")
def bash_script() -> str:
    """The script for bash, as a user gets it."""
    if shutil.which("bash") is None:
        pytest.skip("there is no bash here")
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert cli.run(["completion", "bash"]) == 0
    return out.getvalue()


def test_commands_are_finished(bash_script: str) -> None:
    """`certgen ch` becomes `certgen check`."""
    assert ["check"] == complete(bash_script, "certgen", "ch")


def test_options_are_finished(bash_script: str) -> None:
    """After a command its own options are offered."""
    assert ["--format"] == complete(bash_script, "certgen", "check", "--fo")


def test_words_of_an_option_are_finished(bash_script: str) -> None:
    """An option with a few words offers them."""
    assert ["csv"] == complete(bash_script, "certgen", "balance", "--format", "c")


def test_every_command_is_known() -> None:
    """No command is forgotten, and each explains its options."""
    options = list_options()

    assert list(cli.COMMANDS) == list(options)
    assert all(explained for known in options.values() for explained, _ in known.values())


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_get_a_script(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each shell's script names every command."""
    assert cli.run(["completion", shell]) == 0
    told = capsys.readouterr().out

    assert all(name in told for name in cli.COMMANDS)
