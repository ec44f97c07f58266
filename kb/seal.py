"""A seal over the files of a cache: whoever changed one, it is noticed.

The seal holds the state of each file, as the file system tells it, and a checksum of its bytes. A
state that is not the sealed one, or a last comparison more than a day ago, has the bytes compared.
"""

from __future__ import annotations

import time
import zlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import msgspec
from msgspec import Struct

from kb import stash

NAME = "seal"
DAY_NS = 86_400 * 10**9
_UNSEALED = ("_WRITELOCK",)
_CHUNK = 1 << 20


class SealedFile(Struct, frozen=True, array_like=True):
    """`state` is size, dates of change of content and of anything, and the file's own number."""

    state: tuple[int, int, int, int]
    checksum: int


class _Seal(Struct, frozen=True, array_like=True):
    compared_ns: int
    files: dict[str, SealedFile]


def seal(cache: Path) -> None:
    """Seal the files as they are. Files whose state is the sealed one are not read again.

    Where one has gone there is no seal any more. Raises OSError.
    """
    before = _read(cache)
    known = before.files if before else {}
    files = {}
    try:
        for name in _names(cache):
            state = _state(cache / name)
            kept = known.get(name)
            if kept is None or kept.state != state:
                kept = SealedFile(state, _checksum(cache / name))
            files[name] = kept
    except FileNotFoundError:
        unseal(cache)
        return
    _write(cache, _Seal(before.compared_ns if before else time.time_ns(), files))


def looks_intact(cache: Path) -> bool:
    """Whether every file has the sealed state, and their bytes were compared within a day."""
    found = _read(cache)
    if found is None or not 0 <= time.time_ns() - found.compared_ns < DAY_NS:
        return False
    try:
        return all(_state(cache / name) == file.state for name, file in found.files.items())
    except OSError:
        return False


def is_intact(cache: Path) -> bool:
    """Compare the bytes of every file with the seal, and renew it where they are the sealed ones.

    Nobody may write meanwhile: hold the lock.
    """
    found = _read(cache)
    if found is None:
        return False
    files = {}
    try:
        for name, file in found.files.items():
            state = _state(cache / name)
            if state[0] != file.state[0] or _checksum(cache / name) != file.checksum:
                return False
            files[name] = SealedFile(state, file.checksum)
    except OSError:
        return False
    _write(cache, _Seal(time.time_ns(), files))
    return True


def _names(cache: Path) -> Iterator[str]:
    yield "book.db"
    for name in sorted(file.name for file in (cache / "text").iterdir()):
        if not name.endswith(_UNSEALED):
            yield f"text/{name}"


def _state(file: Path) -> tuple[int, int, int, int]:
    found = file.stat()
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


def _checksum(file: Path) -> int:
    total = 0
    with file.open("rb") as opened:
        while part := opened.read(_CHUNK):
            total = zlib.crc32(part, total)
    return total


def _read(cache: Path) -> _Seal | None:
    data = stash.take(cache / NAME)
    try:
        return msgspec.msgpack.decode(data, type=_Seal) if data is not None else None
    except msgspec.MsgspecError:
        return None


def _write(cache: Path, found: _Seal) -> None:
    stash.keep(cache / NAME, msgspec.msgpack.encode(found))


def unseal(cache: Path) -> None:
    """Take the seal away: what lies there is about to be thrown away."""
    with suppress(OSError):
        (cache / NAME).unlink()
