"""The `certgen` command: which commands there are, and what becomes of errors.

Each command is a module with a `run` function that typer reads, returning the exit code. A module is
imported when its command is called, so that help and a slip of the pen cost nothing.
"""

from __future__ import annotations

import inspect
import os
import re
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Any, Final, NamedTuple, NoReturn

from certgen import __version__


class Command(NamedTuple):
    """The module that holds a command's `run`, and its one line in the list."""

    module: str
    help: str


#: Every command, in the order in which a season needs them.
COMMANDS: Final = {
    "new": Command("certgen.cli.new", "Lay out a season folder to fill in"),
    "check": Command("certgen.cli.check", "Find what is missing or speaks against the claim"),
    "report": Command("certgen.cli.report", "Print the packet for the inspector"),
    "trace": Command("certgen.cli.trace", "Follow the line back and forward from any record"),
    "balance": Command("certgen.cli.balance", "Balance what came in against what went out and what is left"),
    "sample": Command("certgen.cli.sample", "Draw a spot check that anybody can draw again"),
    "due": Command("certgen.cli.due", "List what is cleared, what falls due and when"),
    "labels": Command("certgen.cli.labels", "Print bag tags, lot labels and sheets for the field"),
    "evidence": Command("certgen.cli.evidence", "List evidence that is missing or unnamed, or add a file"),
    "import": Command("certgen.cli.import_", "Take a workbook or CSV into the records"),
    "export": Command("certgen.cli.export", "Hand the records to another program"),
    "seal": Command("certgen.cli.seal", "Make a key that packets are sealed with"),
    "verify": Command("certgen.cli.verify", "Check that a packet is what was sealed"),
    "coop": Command("certgen.cli.coop", "Check many members and what must hold between them"),
    "rules": Command("certgen.cli.rules", "List the rules, or explain one"),
    "completion": Command("certgen.cli.completion", "Let the Tab key finish commands and options"),
}

#: What the numbers mean is part of the interface; see `certgen --help`.
CLEAN, GAPS, UNREADABLE, FAILED = 0, 1, 2, 3
_INTERRUPTED: Final = 130


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Runs the command and ends the process with its exit code."""
    sys.exit(run(sys.argv[1:] if arguments is None else arguments))


def run(arguments: Sequence[str]) -> int:
    """Runs one command and returns its exit code; never raises."""
    _show_what_can_be_shown()
    name, *rest = arguments or ["--help"]
    if name in {"--help", "-h", "help"} and not (name == "help" and rest):
        sys.stdout.write(_list_commands())
        return CLEAN
    if name in {"--version", "-V"}:
        sys.stdout.write(f"certgen {__version__}\n")
        return CLEAN
    if name == "help":
        name, rest = rest[0], ["--help"]
    if name not in COMMANDS:
        sys.stderr.write(_unknown(name))
        return UNREADABLE
    try:
        return _call(name, rest)
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        # The reader (`| head`) has seen enough. Python would complain once more while it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN
    except Exception as error:  # noqa: BLE001 (nobody is to be shown a traceback they didn't ask for)
        return _report(name, error)


def _call(name: str, arguments: list[str]) -> int:
    import typer

    app = typer.Typer(
        add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=False
    )
    module = import_module(COMMANDS[name].module)
    settings = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
    explained = _keep_example(module.run.__doc__ or "")
    app.command(name, help=explained, context_settings=settings)(module.run)
    command = typer.main.get_command(app)
    _name_plainly(command)
    try:
        code = command.main(args=arguments, prog_name=f"certgen {name}", standalone_mode=False)
    except typer.Abort:
        return _INTERRUPTED
    except _usage_error() as error:
        sys.stderr.write(
            f"certgen {name}: {_word_usage(error)} `certgen {name} --help` lists what it takes.\n"
        )
        return UNREADABLE
    return code if isinstance(code, int) else CLEAN


def _show_what_can_be_shown() -> None:
    """A terminal that knows few letters shows a sign for the others instead of failing at them."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _usage_error() -> type[Any]:
    """What wrong usage raises. Typer brings its own copy of click or shares one, by version: ask it."""
    import typer

    return next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")


def _name_plainly(command: Any) -> None:
    """Arguments as README writes them, ahead of the options: `[SEASON]`, not `{SEASON} <path>`."""
    pieces = []
    for one in command.params:
        if one.param_type_name != "argument" or one.hidden:
            continue
        name = one.metavar or one.name.upper()
        pieces.append(name if one.required or name.startswith("[") else f"[{name}]")
        one.get_help_record = lambda _ctx, name=name, text=one.help: (name, text)
    command.collect_usage_pieces = lambda _ctx: [*pieces, "[OPTIONS]"]


def _word_usage(error: Any) -> str:
    """What is wrong with how a command was typed, in a sentence; the library's own words made plain."""
    kind = type(error).__name__
    if kind == "NoSuchOption":
        near = " or ".join(error.possibilities or ())
        return f"there is no option {error.option_name}.{f' Did you mean {near}?' if near else ''}"
    told = str(error.format_message()).strip()
    for pattern, words in _USAGE_WORDS:
        told = re.sub(pattern, words, told)
    return told if told.endswith(("?", ".")) else f"{told}."


#: What typer says, and what is said instead.
_USAGE_WORDS: Final = (
    (r"^Invalid value for '?(\[?[\w.-]+(?:\] \w+)?)'?: ", r"\1: "),
    (r"^Missing argument '(.+)'\.?", r"\1 is missing."),
    (r"^Option '(.+)' requires an argument\.?", r"\1 needs a value behind it."),
    (
        r"^Got unexpected extra argument(?:s|\(s\))? \((.+)\)",
        r"'\1' is one word too many; put a name with spaces in quotes",
    ),
    (r"Input should be greater than or equal to ", "it can't be below "),
    (r"Input should be less than or equal to ", "it can't be above "),
    (r"Input should be a valid integer.*", "write a whole number"),
)


def _keep_example(explained: str) -> str:
    """A command's help with its example on lines of its own, never wrapped, so that it can be copied."""
    parts = []
    for part in inspect.cleandoc(explained).split("\n\n"):
        if part.startswith("Example:"):
            commands = " ".join(part.removeprefix("Example:").split()).split("; ")
            # \b keeps what follows as it stands.
            parts.append("\b\n" + "\n".join(["Example:", *(f"  {command}" for command in commands)]))
        else:
            parts.append(part)
    return "\n\n".join(parts)


def _report(name: str, error: Exception) -> int:
    """What went wrong in one paragraph, and the exit code that says whose fault it was."""
    if isinstance(error, OSError):
        where = f" ({error.filename})" if error.filename else ""
        sys.stderr.write(f"certgen {name}: {error.strerror or error}{where}.\n")
        return UNREADABLE
    if os.environ.get("CERTGEN_DEBUG"):
        import traceback

        traceback.print_exception(error)
    sys.stderr.write(
        f"certgen {name} failed: {type(error).__name__}: {error}. This is a fault of certgen, not of your "
        "records; nothing was changed. Please report it with this line and your version "
        f"({__version__}). With CERTGEN_DEBUG=1 in the environment it says where it happened.\n"
    )
    return FAILED


def _list_commands() -> str:
    width = max(map(len, COMMANDS))
    commands = "\n".join(f"  {name:<{width}}  {command.help}" for name, command in COMMANDS.items())
    return f"""certgen {__version__}: checks an organic papaya-seed season's records and prints its report.

Usage: certgen COMMAND [SEASON] [OPTIONS]

SEASON is the folder with the season's records; without it, the folder you are in.

Commands:
{commands}

`certgen COMMAND --help` explains a command, with an example.

Exit code: 0 nothing is missing, 1 something is missing or speaks against the claim,
2 something couldn't be read, 3 certgen itself failed.
"""


def _unknown(name: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, COMMANDS, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    return f"certgen knows no command '{name}'.{hint} `certgen --help` lists them.\n"
