"""A seal over the files of a cache: whoever changed one, it is noticed.

The seal holds the state of each file, as the file system tells it, and a checksum of its bytes. A
state that is not the sealed one, or a last comparison more than a day ago, has the bytes compared.
The checksum is one over those of the file's parts, so that several can be summed at once: most of
the cache is the database, and it is summed again after every change.
"""

from __future__ import annotations

import os
import time
import zlib
from array import array
from collections.abc import Iterator
from contextlib import suppress
from itertools import repeat
from pathlib import Path

import msgspec
from msgspec import Struct

from kb import stash

NAME = "seal"
DAY_NS = 86_400 * 10**9
_UNSEALED = ("_WRITELOCK",)
_PART = 1 << 20
_FEW = 4
"""So many parts are read sooner than a thread is begun."""
_MOST_AT_ONCE = 4


class SealedFile(Struct, frozen=True, array_like=True):
    """`state` is size, dates of change of content and of anything, and the file's own number."""

    state: tuple[int, int, int, int]
    checksum: int


class _Seal(Struct, frozen=True, array_like=True):
    compared_ns: int
    files: dict[str, SealedFile]
    part: int
    """length of the parts that were summed; a seal without it is of an earlier program"""


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
    _write(cache, _Seal(before.compared_ns if before else time.time_ns(), files, _PART))


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
    _write(cache, _Seal(time.time_ns(), files, _PART))
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
    starts = range(0, file.stat().st_size, _PART)
    if len(starts) <= _FEW:
        return zlib.crc32(_sums(file, starts).tobytes())
    from concurrent.futures import ThreadPoolExecutor  # nothing else here needs it

    hands = min(os.cpu_count() or 1, _MOST_AT_ONCE)
    each = -(-len(starts) // hands)
    shares = [starts[first : first + each] for first in range(0, len(starts), each)]
    with ThreadPoolExecutor(hands) as pool:
        sums = list(pool.map(_sums, repeat(file), shares))
    return zlib.crc32(b"".join(part.tobytes() for part in sums))


def _sums(file: Path, starts: range) -> array[int]:
    """The checksums of some neighbouring parts."""
    with file.open("rb") as opened:
        opened.seek(starts.start)
        return array("I", (zlib.crc32(opened.read(_PART)) for _ in starts))


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
