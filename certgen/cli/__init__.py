"""The `certgen` command: which commands there are, and what becomes of errors.

Each command is a module in `commands/` with a click command named `run`, whose function returns the exit
code. It is imported when its command is called, and click with it, so that help costs nothing.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from types import FrameType
from typing import Final, NoReturn

from certgen import __version__

#: Every command with its one line in the list, in the order in which a season needs them.
COMMANDS: Final = {
    "new": "Lay out a season folder to fill in",
    "check": "Find what is missing or speaks against the claim",
    "report": "Print the packet for the inspector",
    "card": "Print a lot's card: one page for whoever buys it",
    "trace": "Follow the line back and forward from any record",
    "recall": "Follow seed that is called back: where each gram is, and whom to tell",
    "balance": "Balance what came in against what went out and what is left",
    "sample": "Draw a spot check that anybody can draw again",
    "visit": "Print an inspector's working papers, and the form for what she hands back",
    "plan": "Plan bags, leaf tests and parents, and tell what seed is left to sell",
    "due": "List what is cleared, what falls due and when",
    "desk": "Open the season in the browser of this machine: enter, look and mend",
    "labels": "Print bag tags, lot labels and sheets for the field",
    "history": "List what was changed in the records, by whom, what from and to",
    "undo": "Take a change of the records back",
    "evidence": "List evidence that is missing or unnamed, or add a file",
    "import": "Take a workbook or CSV into the records",
    "export": "Hand the records to another program",
    "seal": "Make a key of your own, or sign a packet with it",
    "verify": "Check that a packet follows from its records, and who signed it",
    "coop": "Check many members and what must hold between them",
    "rules": "List the rules, or explain one",
    "completion": "Let the Tab key finish commands and options",
}

#: What the numbers mean is part of the interface; see `certgen --help`.
CLEAN, GAPS, UNREADABLE, FAILED = 0, 1, 2, 3
INTERRUPTED: Final = 130
#: How long a signal waits that comes at a bad time, in seconds.
_MOMENT: Final = 0.01


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Runs the command and ends the process with its exit code.

    A process that is told to end (SIGTERM, or SIGHUP where its terminal is closed) leaves as if it had come
    to its end: half-written files go, copies of records in the temporary folder too, and its workers end.
    """
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # Whoever had it ignored (`nohup`) wants it so.
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, _end)
    sys.exit(run(sys.argv[1:] if arguments is None else arguments))


def _end(number: int, frame: FrameType | None) -> None:
    """Ends the process by way of everything that is to be put away; asked again, it is at it already."""
    if _is_beginning(frame):
        from threading import Timer

        Timer(_MOMENT, os.kill, (os.getpid(), number)).start()
        return
    signal.signal(number, signal.SIG_IGN)
    raise SystemExit(128 + number)


def _is_beginning(frame: FrameType | None) -> bool:
    """Whether a temporary folder or a worker is just coming to be: there, and noted by nobody yet."""
    while frame is not None:
        code = frame.f_code
        if code.co_filename.endswith("tempfile.py") or (
            code.co_name == "start" and code.co_filename.endswith("process.py")
        ):
            return True
        frame = frame.f_back
    return False


def run(arguments: Sequence[str]) -> int:
    """Runs one command and returns its exit code; never raises."""
    _open_what_is_closed()
    _show_what_can_be_shown()
    name = arguments[0] if arguments else "--help"
    try:
        code = _choose(arguments)
        # What is still held back fails here, where it can be told, and not while Python ends.
        sys.stdout.flush()
    except KeyboardInterrupt:
        code = INTERRUPTED
    except BrokenPipeError:
        # The reader (`| head`) has seen enough.
        code = CLEAN
    except Exception as error:  # noqa: BLE001 (nobody is to be shown a traceback they didn't ask for)
        code = _report(name, error)
    _let_go_of_output()
    return code


def _choose(arguments: Sequence[str]) -> int:
    if "_CERTGEN_COMPLETE" in os.environ:
        from certgen.cli.group import complete

        return complete()
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
        sys.stderr.write(_say_unknown(name))
        return UNREADABLE
    from certgen.cli.group import call

    return call(name, rest)


def _open_what_is_closed() -> None:
    """A stream that the caller closed leads nowhere; else the next file opened would take its place."""
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            place = os.open(os.devnull, os.O_RDONLY if number == 0 else os.O_WRONLY)
            if place != number:
                os.dup2(place, number)
                os.close(place)
            stream = open(number, "r" if number == 0 else "w", encoding="utf-8", closefd=False)  # noqa: SIM115
            setattr(sys, name, stream)


def _let_go_of_output() -> None:
    """What can't be written any more is dropped: Python would complain of it once more while it ends."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _show_what_can_be_shown() -> None:
    """A terminal that knows few letters shows a sign for the others instead of failing at them."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _report(name: str, error: Exception) -> int:
    """What went wrong in one paragraph, and the exit code that says whose fault it was."""
    if isinstance(error, FileNotFoundError) and not _is_somewhere():
        sys.stderr.write(f"certgen {name}: the folder you are in is gone; go to another one.\n")
        return UNREADABLE
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


def _is_somewhere() -> bool:
    try:
        Path.cwd()
    except FileNotFoundError:
        return False
    return True


def _list_commands() -> str:
    width = max(map(len, COMMANDS))
    commands = "\n".join(f"  {name:<{width}}  {line}" for name, line in COMMANDS.items())
    return f"""certgen {__version__}: checks an organic papaya-seed season's records and prints its report.

Usage: certgen COMMAND [SEASON] [OPTIONS]

SEASON is the folder with the season's records; without it, the folder you are in.

Commands:
{commands}

`certgen COMMAND --help` explains a command, with an example.

Exit code: 0 nothing is missing, 1 something is missing or speaks against the claim,
2 something couldn't be read, 3 certgen itself failed.
"""


def _say_unknown(name: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, COMMANDS, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    return f"certgen knows no command '{name}'.{hint} `certgen --help` lists them.\n"
