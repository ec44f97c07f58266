"""Doing one piece of work after another with as many processes as pay.

Each process is a copy of this one, so that what has been read and counted need not be handed over.
Where the system has no such copies, or one of them dies, the caller does the work alone.
"""

from __future__ import annotations

import os
import signal
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from typing import Any, BinaryIO, TypeVar, cast

import msgspec
from msgspec import Struct

FEW = 600
"""Fewer pieces than this are done sooner than a second process is of use."""
MOST_PROCESSES = 4
_AT_ONCE = 40
_LENGTH = 4

Item = TypeVar("Item")
Result = TypeVar("Result", bound=Struct)


def done_by_many(
    items: Sequence[Item],
    work: Callable[[Item], Result],
    result: type[Result],
    in_copy: Callable[[int], None],
    meanwhile: Callable[[], None] = lambda: None,
    size: int | None = None,
) -> Iterator[tuple[int, Result]]:
    """Do `work` on every item; yields the place of each and what came of it, in any order.

    The work must be such that it can be done twice. `in_copy` is called first in each copy, with
    its number; `meanwhile` here, while the copies work. `size` is how many pieces they amount
    to, if some are large ones.
    """
    left = dict(enumerate(items))
    count = min(os.cpu_count() or 1, MOST_PROCESSES)
    copies: list[_Copy] = []
    if (len(items) if size is None else size) >= FEW and count > 1 and hasattr(os, "fork"):
        copies = _begun(items, work, in_copy, count)
    try:
        meanwhile()
        for copy in copies:
            for portion in copy.portions(list[tuple[int, result]]):  # type: ignore[valid-type]
                for place, made in portion:
                    del left[place]
                    yield place, made
    finally:
        for copy in copies:
            copy.end()
    for place, item in left.items():
        yield place, work(item)


def done_beside(
    work: Callable[[], Result], result: type[Result], size: int, meanwhile: Callable[[], None]
) -> Result:
    """Do one piece of work in a copy of this process, and `meanwhile` here.

    The work must be such that it can be done twice; `size` is how many pieces it amounts to.
    """

    def whole(_: None) -> Result:
        return work()

    copies: list[_Copy] = []
    if size >= FEW and (os.cpu_count() or 1) > 1 and hasattr(os, "fork"):
        copies = _begun([None], whole, lambda _: None, 1)
    try:
        meanwhile()
        for copy in copies:
            for portion in copy.portions(list[tuple[int, result]]):  # type: ignore[valid-type]
                for _, made in portion:
                    return cast(Result, made)
    finally:
        for copy in copies:
            copy.end()
    return work()


class _Copy:
    """A running copy, and what it has told so far."""

    def __init__(self, process: int, told: BinaryIO) -> None:
        self._process = process
        self._told = told
        self._received: list[bytes] = []
        self._news = threading.Condition()
        self._over = False
        # A pipe holds little: somebody has to listen while the caller does other work.
        self._listener = threading.Thread(target=self._listen, daemon=True)

    def listen(self) -> None:
        """Begin to take in what it tells."""
        self._listener.start()

    def portions(self, kind: Any) -> Iterator[Any]:
        """What it tells, portion by portion, until it has ended."""
        decode = msgspec.msgpack.Decoder(kind).decode
        taken = 0
        while True:
            with self._news:
                self._news.wait_for(lambda at=taken: len(self._received) > at or self._over)  # type: ignore[misc]
                fresh = self._received[taken:]
                if not fresh:
                    return
            taken += len(fresh)
            for data in fresh:
                try:
                    yield decode(data)
                except msgspec.MsgspecError:
                    return

    def end(self) -> None:
        """Stop it if it is still at work."""
        with suppress(OSError):
            os.kill(self._process, signal.SIGKILL)
        with suppress(OSError):
            os.waitpid(self._process, 0)
        self._listener.join(5)
        with suppress(OSError):
            self._told.close()

    def _listen(self) -> None:
        while True:
            length = self._told.read(_LENGTH)
            size = int.from_bytes(length, "big")
            data = self._told.read(size) if len(length) == _LENGTH else b""
            with self._news:
                if not data or len(data) < size:
                    self._over = True
                    self._news.notify()
                    return
                self._received.append(data)
                self._news.notify()


def _begun(
    items: Sequence[Item],
    work: Callable[[Item], Result],
    in_copy: Callable[[int], None],
    count: int,
) -> list[_Copy]:
    copies: list[_Copy] = []
    for number in range(count):
        reading, writing = os.pipe()
        try:
            with warnings.catch_warnings():
                # A library may have threads; none of them is used in the copy.
                warnings.simplefilter("ignore", DeprecationWarning)
                process = os.fork()
        except OSError:
            os.close(reading)
            os.close(writing)
            break
        if process == 0:
            _serve(items, work, in_copy, number, count, writing)
        os.close(writing)
        copies.append(_Copy(process, os.fdopen(reading, "rb")))
    for copy in copies:
        copy.listen()
    return copies


def _serve(
    items: Sequence[Item],
    work: Callable[[Item], Result],
    in_copy: Callable[[int], None],
    number: int,
    count: int,
    writing: int,
) -> None:
    """Do every `count`-th item and leave, without a last word of anybody's."""
    status = 1
    try:
        encode = msgspec.msgpack.encode
        in_copy(number)
        with os.fdopen(writing, "wb") as told:
            portion: list[tuple[int, Result]] = []
            for place in range(number, len(items), count):
                portion.append((place, work(items[place])))
                if len(portion) == _AT_ONCE or place + count >= len(items):
                    data = encode(portion)
                    told.write(len(data).to_bytes(_LENGTH, "big") + data)
                    told.flush()
                    portion = []
        status = 0
    finally:
        os._exit(status)
