"""The commands as one group for click: found by name and imported when called; wrong usage in plain words."""

from __future__ import annotations

import os
from importlib import import_module
from keyword import iskeyword
from typing import TYPE_CHECKING, Final

import click
from click.shell_completion import BashComplete, CompletionItem, FishComplete, ZshComplete, shell_complete

from certgen.cli import COMMANDS, INTERRUPTED, UNREADABLE

if TYPE_CHECKING:
    from collections.abc import Sequence

#: The variable by which a shell asks what could stand at the Tab key.
COMPLETION: Final = "_CERTGEN_COMPLETE"
SHELLS: Final = {"bash": BashComplete, "zsh": ZshComplete, "fish": FishComplete}


class _Commands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click's signature)
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        module = f"{cmd_name}_" if iskeyword(cmd_name) else cmd_name
        run: click.Command = import_module(f"certgen.cli.commands.{module}").run
        return run

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """The commands with their line in the list, without importing them."""
        return [
            *(
                CompletionItem(name, help=line)
                for name, line in COMMANDS.items()
                if name.startswith(incomplete)
            ),
            *click.Command.shell_complete(self, ctx, incomplete),
        ]


CERTGEN: Final = _Commands(
    "certgen", context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)


def call(name: str, arguments: Sequence[str]) -> int:
    """Runs one command and returns its exit code; says what is wrong with how it was typed."""
    try:
        with CERTGEN.make_context("certgen", [name, *arguments]) as context:
            code = CERTGEN.invoke(context)
            return code if isinstance(code, int) else 0
    except click.exceptions.Exit as end:
        return end.exit_code
    except click.Abort:
        return INTERRUPTED
    except click.UsageError as fault:
        click.echo(f"certgen {name}: {_word(fault)} `certgen {name} --help` lists what it takes.", err=True)
    except click.ClickException as fault:
        click.echo(f"certgen {name}: {fault.message}.", err=True)
    return UNREADABLE


def complete() -> int:
    """Answers a shell that asks what could stand at the Tab key."""
    return shell_complete(CERTGEN, {}, "certgen", COMPLETION, os.environ[COMPLETION])


def completion_script(shell: str) -> str:
    """What a shell has to read so that it asks."""
    return SHELLS[shell](CERTGEN, {}, "certgen", COMPLETION).source()


def _word(fault: click.UsageError) -> str:
    """What is wrong with how a command was typed, as a sentence."""
    match fault:
        case click.NoSuchOption():
            near = " or ".join(fault.possibilities or ())
            hint = f" Did you mean {near}?" if near else ""
            return f"there is no option {fault.option_name}.{hint}"
        case click.BadOptionUsage():
            return (
                f"{fault.option_name} {'takes no value' if _is_flag(fault) else 'needs a value behind it'}."
            )
        case click.MissingParameter():
            return f"{_name(fault)} is missing."
        case click.BadParameter():
            said = f"{_name(fault)}: {fault.message}"
        case _:
            said = fault.message
    return said if said.endswith(("?", ".")) else f"{said}."


def _name(fault: click.BadParameter) -> str:
    """The option or argument at fault, as it is typed."""
    if isinstance(fault.param, click.Argument):
        return fault.param.human_readable_name
    return str(fault.param_hint or (fault.param.opts[-1] if fault.param else ""))


def _is_flag(fault: click.BadOptionUsage) -> bool:
    """Whether the option at fault is one that is only there or not."""
    options = fault.ctx.command.params if fault.ctx else ()
    return any(isinstance(o, click.Option) and o.is_flag and fault.option_name in o.opts for o in options)
