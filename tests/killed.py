"""Work in a process of its own that is killed at one of its steps."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable


def kill_at(step: int, work: Callable[[], object], *, call: str = "replace") -> bool:
    """Does the work in a fork that is killed before its `step`-th call of a method of `Path` (`replace`,
    `unlink`); whether it came so far.
    """
    child = os.fork()
    if child == 0:
        code = 9
        try:
            real, seen = getattr(Path, call), []

            def count(path: Path, *given: Any, **how: Any) -> Any:
                seen.append(path)
                if len(seen) == step:
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(path, *given, **how)

            setattr(Path, call, count)
            work()
            code = 0
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) or not os.WEXITSTATUS(status), "the work failed"
    return os.WIFSIGNALED(status)
