"""Does a test point follow the mains? Decided from its healthy readings, never from its name.

A rectified voltage goes up and down with the mains in proportion, a regulated one stays. So the
slope of log value on log mains is looked at: in proportion it is 1, regulated it is 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from msgspec import Struct

from kb.faults.robust import FEWEST, median, slope

FOLLOWS, DOES_NOT, NOT_KNOWN = "follows", "does-not-follow", "not-known"

MOST_OFF = 0.15
"""Readings at mains further off than this part of the nominal voltage are kept apart: a unit on a
lamp or a variable transformer, or from another country. A supply that is in order stays within a
tenth (IEC 60038); the rest is judgement."""

_ELECTRICAL = frozenset({"V", "A", "W", "VA"})
_STEEPEST = 3.0


class Following(Struct, frozen=True):
    """Whether a point follows the mains, and to which power of them; 0 unless it does."""

    verdict: str = NOT_KNOWN
    exponent: float = 0.0

    def brought(self, value: float, mains: float, nominal: float) -> float:
        """The value as it would be at nominal mains."""
        return value * float((nominal / mains) ** self.exponent)


def near(mains: float, nominal: float) -> bool:
    """Whether readings at these mains can be held against others."""
    return abs(mains - nominal) <= MOST_OFF * nominal


def following(values: Sequence[float], mains: Sequence[float], base: str) -> Following:
    """Decide from values in one base unit and the mains at which they were read, in V.

    A point follows if the 95 % interval of the slope (Theil and Sen) lies above 0 and bringing the
    values to one voltage makes them lie closer. It follows in proportion if the interval holds 1,
    else to the power of the slope. It does not follow if the interval lies below 1 and holds
    nothing that makes it follow. With fewer than five readings, mains that were always the same, a
    unit that is not electrical or values of both signs nothing is known.
    """
    signs = {value > 0 for value in values}
    if len(values) < FEWEST or base not in _ELECTRICAL or 0 in values or len(signs) != 1:
        return Following()
    found = slope([log(m) for m in mains], [log(abs(v)) for v in values])
    if found is None:
        return Following()
    steep, low, high = found
    if low > 0:
        follows = Following(FOLLOWS, 1.0 if low <= 1.0 <= high else min(steep, _STEEPEST))
        brought = [follows.brought(v, m, mains[0]) for v, m in zip(values, mains, strict=True)]
        if _width(brought) < _width(values):
            return follows
    return Following(DOES_NOT if high < 1.0 else NOT_KNOWN)


def _width(values: Sequence[float]) -> float:
    """The mean distance from the median, as a part of it."""
    centre = median(values)
    return sum(abs(v - centre) for v in values) / abs(centre)
