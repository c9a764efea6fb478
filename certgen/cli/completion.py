"""`certgen completion`: lets the Tab key finish commands and options."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Annotated, Any, Final

import typer

from certgen.cli.arguments import choose

SHELLS: Final = ("bash", "zsh", "fish")


def run(
    shell: Annotated[str, typer.Argument(metavar="bash|zsh|fish", help="The shell you use.")] = "bash",
) -> int:
    """Print what lets your shell finish certgen's commands and options at the Tab key.

    Example:  certgen completion bash > ~/.local/share/bash-completion/completions/certgen
    """
    choose(shell, SHELLS, "SHELL")
    sys.stdout.write({"bash": _bash, "zsh": _zsh, "fish": _fish}[shell](list_options()))
    return 0


def list_options() -> dict[str, dict[str, tuple[str, tuple[str, ...]]]]:
    """Each command's long options, each with its help and the words it takes (none if any value will do)."""
    from certgen.cli import COMMANDS

    found: dict[str, dict[str, tuple[str, tuple[str, ...]]]] = {}
    for name, command in COMMANDS.items():
        app = typer.Typer(add_completion=False)
        app.command(name)(import_module(command.module).run)
        click: Any = typer.main.get_command(app)
        options = {}
        for parameter in click.params:
            long = [option for option in getattr(parameter, "opts", ()) if option.startswith("--")]
            if not long or getattr(parameter, "hidden", False):
                continue
            words = str(parameter.metavar or "")
            listed = tuple(words.split("|")) if "|" in words else ()
            options[long[0]] = (str(getattr(parameter, "help", "") or ""), listed)
        options["--help"] = ("Explain the command, with an example.", ())
        found[name] = options
    return found


def _bash(options: dict[str, dict[str, tuple[str, tuple[str, ...]]]]) -> str:
    cases = []
    for name, known in options.items():
        for option, (_, words) in known.items():
            if words:
                offer = f'COMPREPLY=($(compgen -W "{" ".join(words)}" -- "$word"))'
                cases.append(f'    "{name} {option}") {offer}; return ;;')
    lists = [f'    {name}) options="{" ".join(known)}" ;;' for name, known in options.items()]
    newline = "\n"
    return f"""# certgen: completion for bash
_certgen() {{
  local word="${{COMP_WORDS[COMP_CWORD]}}" before="${{COMP_WORDS[COMP_CWORD-1]}}"
  local command="${{COMP_WORDS[1]}}" options=""
  if [ "$COMP_CWORD" -eq 1 ]; then
    COMPREPLY=($(compgen -W "{" ".join(options)} --help --version" -- "$word")); return
  fi
  case "$command $before" in
{newline.join(cases)}
  esac
  case "$command" in
{newline.join(lists)}
  esac
  case "$word" in
    -*) COMPREPLY=($(compgen -W "$options" -- "$word")) ;;
    *) COMPREPLY=($(compgen -f -- "$word")) ;;
  esac
}}
complete -o filenames -F _certgen certgen
"""


def _zsh(options: dict[str, dict[str, tuple[str, tuple[str, ...]]]]) -> str:
    return "autoload -U +X bashcompinit && bashcompinit\n" + _bash(options)


def _fish(options: dict[str, dict[str, tuple[str, tuple[str, ...]]]]) -> str:
    from certgen.cli import COMMANDS

    lines = ["# certgen: completion for fish"]
    for name, known in options.items():
        lines.append(
            f"complete -c certgen -n __fish_use_subcommand -a {name} -d {_quote(COMMANDS[name].help)}"
        )
        for option, (explained, words) in known.items():
            takes = f" -xa {_quote(' '.join(words))}" if words else ""
            when = f"'__fish_seen_subcommand_from {name}'"
            lines.append(f"complete -c certgen -n {when} -l {option[2:]}{takes} -d {_quote(explained)}")
    return "\n".join(lines) + "\n"


def _quote(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
