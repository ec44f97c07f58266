"""Whether two notes mean the same place in a unit, and the place that most of them agree on."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache

from kb.values_weak import Place

_DESIGNATOR = re.compile(r"\b([A-Z]{1,3})(\d{1,3})")
_RANGE = re.compile(r"\b([A-Z]{1,3})(\d{1,3})\s+to\s+([A-Z]{1,3})(\d{1,3})")
_LONGEST_RANGE = 50
_WORD = re.compile(r"[^\W\d_]{3,}")

FEWEST_AGREE = 2
ENOUGH_AGREE = 2 / 3


def same_place(one: str, other: str) -> bool:
    """Whether two places have a designator in common, or, if one has none, a word of three letters.

    "V4 to V7" stands for V4, V5, V6 and V7; "V2a" is taken for V2.
    """
    marks, others = _designators(one), _designators(other)
    if marks and others:
        return bool(marks & others)
    return bool(_words(one) & _words(other))


def agreed_place(visits: Sequence[Sequence[str]]) -> Place | None:
    """The place that at least two visits name, and two thirds of those that name one at all.

    Two visits agree if they say the same, letter case and spacing aside, or if the same designator
    stands in both: "R12" and "R12, anode of V2" agree on R12. Words are preferred to a designator
    on which as many agree. None where the notes don't agree.

    Args:
        visits: for each visit that names a place the places it names, one for each fault.
    """
    if len(visits) < FEWEST_AGREE:
        return None
    spelt: Counter[str] = Counter()
    folded: Counter[str] = Counter()
    marks: Counter[str] = Counter()
    for places, times in Counter(map(tuple, visits)).items():
        for into, named in zip((spelt, folded, marks), _named(places), strict=True):
            for one in named:
                into[one] += times
    needed = max(FEWEST_AGREE, ENOUGH_AGREE * len(visits))
    found = [(-n, 0, said) for said, n in folded.items() if n >= needed]
    found += [(-n, 1, mark) for mark, n in marks.items() if n >= needed]
    if not found:
        return None
    agree, by_mark, said = min(found)
    if not by_mark:
        same = ((-n, at) for at, n in spelt.items() if at.casefold() == said)
        said = min(same)[1]
    return Place(said, -agree, len(visits))


@lru_cache(maxsize=4096)
def _named(places: tuple[str, ...]) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """What a visit says: as it is spelt, letter case aside, and the designators in it."""
    spelt = frozenset(map(_plain, places))
    marks = frozenset(mark for at in places for mark in _designators(at))
    return spelt, frozenset(at.casefold() for at in spelt), marks


def _plain(at: str) -> str:
    return " ".join(at.split())


@lru_cache(maxsize=4096)
def _designators(at: str) -> frozenset[str]:
    found = {f"{letters}{int(number)}" for letters, number in _DESIGNATOR.findall(at)}
    for letters, first, also, last in _RANGE.findall(at):
        if letters == also and int(last) - int(first) <= _LONGEST_RANGE:
            found |= {f"{letters}{number}" for number in range(int(first), int(last) + 1)}
    return frozenset(found)


def _words(at: str) -> set[str]:
    return set(_WORD.findall(at.casefold()))
