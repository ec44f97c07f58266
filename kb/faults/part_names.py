"""What a note calls a part, told from how many of it were fitted."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from kb.values_history import FaultFound

_BEFORE = re.compile(r"(\d{1,3})\s*(?:×\s*|x\s+)(?=\S)", re.IGNORECASE)
_AFTER = re.compile(r",\s*(\d{1,3})\s+off\s*$", re.IGNORECASE)


class Named(NamedTuple):
    """A part: its name as written, a key that leaves out letter case and spacing, and how many."""

    name: str
    key: str
    number: int


@lru_cache(maxsize=4096)
def named(written: str) -> Named:
    """Read a part as a note writes it: `2 × BC549C type` and `BC549C type, 2 off` are two of one.

    Any other number belongs to the name: `4 crimp pins` may be a set of four, and `12 V regulator`
    is one regulator.
    """
    name, number = written.strip(), 1
    if before := _BEFORE.match(name):
        name, number = name[before.end() :], int(before[1])
    elif after := _AFTER.search(name):
        name, number = name[: after.start()], int(after[1])
    return Named(name, key(name), max(number, 1))


@lru_cache(maxsize=4096)
def key(name: str) -> str:
    """A name without regard to letter case and spacing."""
    return " ".join(name.split()).casefold()


def meant(faults: Iterable[FaultFound], asked: str) -> tuple[str, ...]:
    """The parts in these faults that a question means, in order, each once.

    Those that are called exactly so; if there are none, those whose name begins so; if there are
    none of these either, those that have every word of the question in their name.
    """
    known = {(n := named(p.part)).key: n.name for f in faults for p in f.parts}
    wanted = named(asked).key
    words = wanted.split()
    rules = (
        lambda k: k == wanted,
        lambda k: k.split()[: len(words)] == words,
        lambda k: set(words) <= set(k.split()),
    )
    for rule in rules:
        if found := sorted(name for k, name in known.items() if words and rule(k)):
            return tuple(found)
    return ()
