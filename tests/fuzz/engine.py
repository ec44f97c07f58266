"""Runs a target on many inputs and keeps the smallest of each kind that breaks a promise."""

from __future__ import annotations

import signal
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from random import Random
from types import FrameType

SLOW = 2.0
"""Seconds of computing that no input may take."""
HANGS = 5.0
"""After so many seconds an input is broken off."""


@dataclass(frozen=True)
class Target:
    """Something that reads what others wrote. `make` draws an input, `run` raises if it fails.

    `share` is its part of a long run, in thousandths; a costly target has a small one.
    """

    name: str
    make: Callable[[Random], bytes]
    run: Callable[[bytes, int], None]
    share: int


@dataclass
class Finding:
    """A kind of failure: the smallest input that showed it, and how often it came."""

    what: str
    data: bytes
    seed: int
    count: int = 1


@dataclass
class Tally:
    """What became of a run."""

    inputs: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    slowest_input: bytes = b""
    findings: dict[str, Finding] = field(default_factory=dict)

    def found(self, kind: str, what: str, data: bytes, seed: int) -> None:
        """Note a failure."""
        old = self.findings.get(kind)
        if old is None:
            self.findings[kind] = Finding(what, data, seed)
            return
        old.count += 1
        if len(data) < len(old.data):
            old.what, old.data, old.seed = what, data, seed

    def add(self, other: Tally) -> None:
        """Take in what another run of the same target showed."""
        self.inputs += other.inputs
        self.seconds += other.seconds
        if other.slowest > self.slowest:
            self.slowest, self.slowest_input = other.slowest, other.slowest_input
        for kind, one in other.findings.items():
            count = self.findings[kind].count if kind in self.findings else 0
            self.found(kind, one.what, one.data, one.seed)
            self.findings[kind].count = count + one.count


class Hang(BaseException):
    """An input was broken off because it took too long."""


@contextmanager
def broken_off(after: float = HANGS) -> Iterator[None]:
    """Break off whatever computes for longer than this, where the system can."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise Hang

    clocks = (  # what computes is timed by its own clock, what waits for ever by that on the wall
        (signal.SIGVTALRM, signal.ITIMER_VIRTUAL, after),
        (signal.SIGALRM, signal.ITIMER_REAL, 2 * after),
    )
    before = [signal.signal(which, stop) for which, _, _ in clocks]
    for _, timer, seconds in clocks:
        signal.setitimer(timer, seconds)
    try:
        yield
    finally:
        for _, timer, _ in clocks:
            signal.setitimer(timer, 0)
        for (which, _, _), handler in zip(clocks, before, strict=True):
            signal.signal(which, handler)


def run(target: Target, count: int, seed: int, until: float = float("inf")) -> Tally:
    """Try `count` inputs; input number i of a seed is always the same one."""
    tally = Tally()
    started = time.perf_counter()
    for number in range(count):
        if time.monotonic() > until:
            break
        one_seed = seed * 1_000_003 + number
        data = target.make(Random(one_seed))
        tally.inputs += 1
        _one(target, data, one_seed, tally)
    tally.seconds = time.perf_counter() - started
    return tally


def _one(target: Target, data: bytes, seed: int, tally: Tally) -> None:
    took = _timed(target, data, seed, tally)
    if took > SLOW:  # once more, since the first input also loads the libraries
        took = min(took, _timed(target, data, seed, tally))
    if took > tally.slowest:
        tally.slowest, tally.slowest_input = took, data
    if took > SLOW:
        tally.found("slow", f"took {took:.1f} s", data, seed)


def _timed(target: Target, data: bytes, seed: int, tally: Tally) -> float:
    began = time.process_time()
    fault = _fault(target, data, seed)
    if isinstance(fault, Hang):  # once more: the machine may have been asleep
        fault = _fault(target, data, seed)
    if fault is not None:
        tally.found(_kind(fault), _last_lines(fault), data, seed)
    return time.process_time() - began


def _fault(target: Target, data: bytes, seed: int) -> BaseException | None:
    try:
        with broken_off():
            target.run(data, seed)
    except KeyboardInterrupt:
        raise
    except BaseException as fault:
        return fault
    return None


def _kind(fault: BaseException) -> str:
    """Failures at one line of the program are of one kind."""
    frames = traceback.extract_tb(fault.__traceback__)
    inside = [f for f in frames if "/kb/" in f.filename.replace("\\", "/")] or frames
    last = inside[-1]
    place = "/".join(last.filename.replace("\\", "/").split("/")[-2:])
    return f"{type(fault).__name__} at {place}:{last.lineno}"


def _last_lines(fault: BaseException) -> str:
    return "".join(traceback.format_exception(fault)[-6:])[-1500:]
