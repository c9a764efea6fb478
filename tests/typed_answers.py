"""Somebody who sits at a terminal and types what a command asks, on a pseudo-terminal of this machine."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

#: A prompt ends its line with a colon, behind the default if there is one.
_PROMPT = re.compile(r"(?:^|\n)([^\n]*: )\Z")
_LONG = 120


@dataclass(frozen=True)
class Sitting:
    """What came of it: the exit code, all that was shown, the questions, and how many keys were pressed."""

    code: int
    shown: str
    questions: list[str]
    keys: int


def sit_and_type(command: Sequence[str], folder: Path, answers: Sequence[tuple[str, str]]) -> Sitting:
    """Runs a command in a folder and answers each question: with the first of `answers` whose text is in it,
    else with Enter alone."""
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(folder)
        os.execvp(command[0], command)
    shown, waiting, questions, keys = "", "", [], 0
    while select.select([terminal], [], [], _LONG)[0]:
        piece = b""
        with contextlib.suppress(OSError):  # the other end is closed
            piece = os.read(terminal, 65_536)
        if not piece:
            break
        text = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", piece.decode(errors="replace")).replace("\r", "")
        shown, waiting = shown + text, waiting + text
        asked = _PROMPT.search(waiting)
        if asked:
            answer = next((given for wanted, given in answers if wanted in asked[1]), "")
            questions.append(asked[1].strip())
            keys += len(answer) + 1
            os.write(terminal, f"{answer}\n".encode())
            waiting = ""
    os.close(terminal)
    return Sitting(os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]), shown, questions, keys)
