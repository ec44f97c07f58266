"""The drawing of what was said against what came true, in per cent of a square."""

from __future__ import annotations

import math
from collections.abc import Iterable

from msgspec import Struct

from kb.values_replay import CalibrationBin

TICKS = (0.0, 0.25, 0.5, 0.75, 1.0)
_SMALLEST, _LARGEST = 3.5, 9.0
"""radius of a dot, in pixels, for one statement and for a thousand or more"""


class Dot(Struct, frozen=True):
    """One bin: its place, its 95 % range, and a size that grows with how often it was said."""

    x: str
    y: str
    low: str
    high: str
    radius: str


def dots(bins: Iterable[CalibrationBin]) -> tuple[Dot, ...]:
    """A dot for each bin that was ever said; up is more often true."""
    return tuple(
        Dot(
            x=across(one.predicted),
            y=up(one.observed),
            low=up(one.observed_interval[0]),
            high=up(one.observed_interval[1]),
            radius=f"{_SMALLEST + (_LARGEST - _SMALLEST) * min(math.log10(one.count) / 3, 1):.1f}",
        )
        for one in bins
        if one.count
    )


def across(share: float) -> str:
    """The place of a probability from left to right."""
    return f"{100 * share:.2f}%"


def up(share: float) -> str:
    """The place of a share from top to bottom."""
    return f"{100 - 100 * share:.2f}%"
