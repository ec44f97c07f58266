"""Test points: names that mean the same place, and units that can be compared."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

from msgspec import Struct

from kb.notes.case import Quantity
from kb.notes.units import UNITS, in_base
from kb.notes.vocabulary import Nominal

_GAPS = re.compile(r"[\s_:=\-\u2010-\u2015]+")


class Point(Struct, frozen=True, order=True):
    """A test point in a state, in one dimension: V never meets mA, nor dB either.

    `at` and `state` are folded, `base` is the base unit of the dimension.
    """

    at: str
    state: str
    base: str


class Rated(Struct, frozen=True):
    """What a point should read: value and tolerance in the base unit, and how it was written."""

    at: str
    state: str | None
    unit: str
    value: float
    tolerance: float | None


def folded(name: str) -> str:
    """A name with letter case, spaces and hyphens made alike: `V2  Anode` is `v2-anode`."""
    return _GAPS.sub("-", unicodedata.normalize("NFKC", name).casefold()).strip("-")


@lru_cache(maxsize=8192)  # a book names few points, and reads each of them often
def point(at: str, state: str | None, unit: str) -> Point:
    """The test point of a reading in this unit."""
    return Point(folded(at), folded(state or ""), UNITS[unit][0])


def rated(nominal: Iterable[Nominal]) -> dict[Point, Rated]:
    """Point -> what it should read; of several for one point the first holds.

    Given nearest first, a family's own value so comes before that of its line. A tolerance in per
    cent is one of the value, any other is absolute; one that is in neither is left out.
    """
    found: dict[Point, Rated] = {}
    for one in nominal:
        value, base = in_base(one.value)
        where = point(one.at, one.state, one.value.unit)
        found.setdefault(
            where,
            Rated(one.at, one.state, one.value.unit, value, _tolerance(one.tolerance, value, base)),
        )
    return found


def to_unit(value: float, unit: str) -> float:
    """A value in the base unit, in `unit`, without the dust of the conversion."""
    return float(f"{value / UNITS[unit][1]:.9g}")


def usual(spellings: Iterable[str]) -> str:
    """The commonest spelling; of several the first in the order of letters."""
    return min(Counter(spellings).items(), key=lambda item: (-item[1], item[0]))[0]


def _tolerance(tolerance: Quantity | None, value: float, base: str) -> float | None:
    if tolerance is None:
        return None
    amount, unit = in_base(tolerance)
    if unit == "%" and base != "%":
        amount = abs(value) * amount / 100.0
    elif unit != base:
        return None
    return abs(amount) or None
