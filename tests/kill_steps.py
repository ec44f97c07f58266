"""Running a piece of work in a forked child that dies, or meets a full disk, at its k-th step.

A step is whatever changes something outside the process: opening a file for writing, making,
renaming or removing one, and each statement and commit of the database.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Engine

DIED = 9
FORKS = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork a process")

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_EVENTS = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate", "os.link"}


class _Counter:
    def __init__(self, at: int, die: bool) -> None:
        self.at, self.die, self.count = at, die, 0

    def step(self) -> None:
        self.count += 1
        if self.count == self.at:
            if self.die:
                os._exit(DIED)
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def audit(self, what: str, args: tuple[object, ...]) -> None:
        if what in _EVENTS or (what == "open" and isinstance(args[2], int) and args[2] & _WRITING):
            self.step()


def run(work: Callable[[], object], at: int = 0, die: bool = True) -> tuple[int, int]:
    """Do the work in a child that is stopped at step `at` (never, if 0).

    Returns how it ended (0 well, 1 with an error, DIED) and the number of steps it took.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        counter = _Counter(at, die)
        status = 1
        try:
            sys.stderr = sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115
            event.listen(Engine, "before_cursor_execute", lambda *_: counter.step())
            event.listen(Engine, "commit", lambda *_: counter.step())
            sys.addaudithook(counter.audit)
            work()
            status = 0
        except BaseException:
            status = 1
        finally:
            os.write(writing, str(counter.count).encode())
            os._exit(status)
    os.close(writing)
    _, ended = os.waitpid(child, 0)
    with os.fdopen(reading) as told:
        count = told.read()
    return os.waitstatus_to_exitcode(ended), int(count or 0)
