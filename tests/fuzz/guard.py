"""A guard over the process: while it stands, nothing is written outside, run or asked of a network.

It listens to Python's audit events (PEP 578). What it forbids is noted and stopped with an exception
that no `except Exception` swallows.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGING = {
    "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate", "os.link", "os.symlink", "os.chmod",
    "os.chown", "os.utime", "os.setxattr", "shutil.rmtree", "shutil.move", "shutil.copyfile", "sqlite3.connect",
}  # fmt: skip
_FOLLOWING = {
    "open",
    "os.truncate",
    "os.chmod",
    "os.chown",
    "os.utime",
    "os.setxattr",
    "sqlite3.connect",
}
_FOLDER_AT = {"os.remove": 1, "os.rmdir": 1, "os.mkdir": 2, "os.rename": 2}
"""Where the folders stand that the names are relative to, as open files."""
_NEVER = (
    "subprocess.", "os.system", "os.exec", "os.posix_spawn", "os.spawn", "os.fork", "os.startfile",
    "socket.", "urllib.", "http.client.", "ftplib.", "smtplib.", "ctypes.dlopen", "webbrowser.", "pty.spawn",
)  # fmt: skip
_UNPICKLED = (
    "whoosh.",
    "builtins",
    "copyreg",
    "collections",
    "array",
    "numpy",
    "_codecs",
    "kb.text.",
)


class Trespass(BaseException):
    """Something was done that nothing in a book may bring about."""


class _Guard:
    writable: tuple[str, ...] = ()
    readable: tuple[str, ...] = ()
    stands = False
    seen: list[str]

    def hook(self, event: str, args: tuple[object, ...]) -> None:
        if not self.stands:
            return
        if event == "open":
            path, _, flags = args
            if isinstance(path, str | bytes | os.PathLike):
                writing = isinstance(flags, int) and bool(flags & _WRITING)
                if (
                    writing or Path(os.fsdecode(path)).is_absolute()
                ):  # else a folder that is being emptied
                    self._inside(event, path, self.writable if writing else self.readable)
        elif event in _CHANGING:
            paths = [path for path in args[:2] if isinstance(path, str | bytes | os.PathLike)]
            folders = [n for n in args[_FOLDER_AT.get(event, 9) :] if isinstance(n, int)]
            for path, folder in zip(paths, folders or [-1, -1], strict=False):
                inside = f"/proc/self/fd/{folder}" if folder >= 0 else ""
                self._inside(event, Path(inside, os.fsdecode(path)), self.writable)
        elif event == "pickle.find_class":
            if not str(args[0]).startswith(_UNPICKLED) or args[1] in (
                "eval",
                "exec",
                "getattr",
                "__import__",
            ):
                self._stop(f"unpickling {args[0]}.{args[1]}")
        elif event.startswith(_NEVER):
            self._stop(f"{event} {args!r}"[:300])

    def _inside(
        self, event: str, path: str | bytes | os.PathLike[str], places: tuple[str, ...]
    ) -> None:
        named = Path(os.fsdecode(path))
        # What takes away or moves a link does so with the link, not with what it leads to.
        real = os.path.realpath(named if event in _FOLLOWING else named.parent)
        if event not in _FOLLOWING:
            real += os.sep + named.name
        if not any(real == place or real.startswith(place + os.sep) for place in places):
            self._stop(f"{event} outside: {real}")

    def _stop(self, what: str) -> None:
        self.seen.append(what)
        raise Trespass(what)


_guard = _Guard()
_hooked = False


@cache
def _python() -> tuple[str, ...]:
    """Where Python, its libraries and the program itself lie."""
    top = Path(__file__).resolve().parents[2]
    places = (sys.prefix, sys.base_prefix, *sys.path[1:], str(top))
    return tuple({os.path.realpath(place) for place in places if place})


@contextmanager
def guarded(writable: Iterable[Path] = (), readable: Iterable[Path] = ()) -> Iterator[None]:
    """Only what is named may be written; only that, `readable` and Python itself may be read.

    Raises `Trespass` at the end too, if what was stopped was swallowed.
    """
    global _hooked
    if not _hooked:  # an audit hook can't be taken away again, so it is set once and switched
        sys.addaudithook(_guard.hook)
        _hooked = True
    _guard.writable = (*(os.path.realpath(p) for p in writable), os.devnull)
    _guard.readable = (*_guard.writable, *(os.path.realpath(p) for p in readable), *_python())
    _guard.seen = []
    bytecode, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    _guard.stands = True
    try:
        yield
    finally:
        _guard.stands = False
        sys.dont_write_bytecode = bytecode
    if _guard.seen:
        raise Trespass(_guard.seen[0])
