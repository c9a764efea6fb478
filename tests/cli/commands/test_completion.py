"""What the Tab key is told."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from printed import offer

from certgen import cli


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (("certgen", "ch"), ["check"]),
        (("certgen", ""), list(cli.COMMANDS)),
        (("certgen", "check", "--form"), ["--format"]),
        (("certgen", "balance", "--format", "c"), ["csv"]),
        (("certgen", "balance", "--by", ""), ["lot", "variety", "all"]),
        (("certgen", "completion", "z"), ["zsh"]),
    ],
)
def test_commands_options_and_their_words_are_finished(
    words: tuple[str, ...],
    offered: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`certgen ch` becomes `certgen check`; after it come its options, and what an option takes."""
    assert offered == offer(*words, monkeypatch=monkeypatch, capsys=capsys)


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_commands_options_are_known(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No command is forgotten."""
    assert "--help" in offer("certgen", name, "--", monkeypatch=monkeypatch, capsys=capsys)


def test_bash_asks_certgen(tmp_path: Path) -> None:
    """The script for bash, as a user gets it, finishes a command."""
    if shutil.which("bash") is None:
        pytest.skip("there is no bash here")
    command = tmp_path / "certgen"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m certgen "$@"\n')
    command.chmod(0o755)
    typed = "COMP_WORDS=(certgen ch); COMP_CWORD=1; _certgen_completion certgen"
    program = f'eval "$(certgen completion bash)"; {typed}; printf "%s\\n" "${{COMPREPLY[@]}}"'
    environment = {**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", "-c", program], capture_output=True, text=True, check=True, env=environment
    )

    assert ("check\n", "") == (done.stdout, done.stderr)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_a_script(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each shell's script asks certgen in that shell's way."""
    assert 0 == cli.run(["completion", shell])

    assert f"_CERTGEN_COMPLETE={shell}_complete" in capsys.readouterr().out
