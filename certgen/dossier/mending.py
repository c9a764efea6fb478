"""What is said of the list of what to do first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.rules.wording import count

if TYPE_CHECKING:
    from certgen.examination import Result


def say_unweighed(result: Result) -> str:
    """That some lots were left out of the list, in a sentence; nothing where none was."""
    if not result.unweighed:
        return ""
    return (
        "Too much hangs together here to weigh it all: what to do first for "
        f"{count(result.unweighed, 'lots')} was not weighed, and what is listed may prove more there. "
        "Do what is listed and check again."
    )
