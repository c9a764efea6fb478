"""`certgen completion`: lets the Tab key finish commands and options."""

from __future__ import annotations

import click

from certgen.cli.arguments import Word, argument, command


@command("certgen completion bash > ~/.local/share/bash-completion/completions/certgen")
@argument("shell", "bash|zsh|fish", "The shell you use.", type=Word(["bash", "zsh", "fish"]), default="bash")
def run(shell: str) -> int:
    """Print what lets your shell finish certgen's commands and options at the Tab key."""
    from certgen.cli.group import completion_script

    click.echo(completion_script(shell))
    return 0
