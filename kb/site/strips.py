"""Where the marks of a test point's strip stand, in per cent of its width."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator

from msgspec import Struct

from kb.values import Interval
from kb.values_readings import PointReadings

Span = tuple[str, str]
"""where a range begins, and how wide it is"""

_ROOM = 0.35
"""what is left free on both sides, as a share of what is drawn"""


class Odd(Struct, frozen=True):
    """A reading that stands out; `beyond` is `low` or `high` where it lies outside the drawing."""

    at: str
    beyond: str = ""


class Strip(Struct, frozen=True):
    """A test point on its scale: what it should read, what healthy units read, what stood out.

    `ends` are the values at the two ends of the scale, in the point's unit.
    """

    ends: tuple[float, float]
    tolerated: Span | None
    nominal: str | None
    usual: Span | None
    seen: tuple[str, str] | None
    median: str | None
    odd: tuple[Odd, ...]


def strip(point: PointReadings) -> Strip | None:
    """The marks of a point; None where there is neither a reading nor a nominal value.

    A reading far from all others is drawn as an arrow at the end, or it would squeeze the rest.
    """
    # As they were written they cannot be held against a range that is brought to one voltage.
    seen = None if point.exponent else point.seen
    known = list(_values(point, seen))
    if not known:
        return None
    low, high = min(known), max(known)
    width = high - low or abs(high) * 0.2 or 1.0
    compared = [u.value if u.brought_to is None else u.brought_to for u in point.unusual]
    near = [value for value in compared if low - width <= value <= high + width]
    low, high = _rounded(min([low, *near]), max([high, *near]), width * _ROOM)

    def at(value: float) -> str:
        return f"{(value - low) / (high - low) * 100:.2f}%"

    def span(ends: tuple[float, float]) -> Span:
        return at(ends[0]), f"{(ends[1] - ends[0]) / (high - low) * 100:.2f}%"

    usual = None
    # A range that is only the tolerance said again is drawn once.
    if point.low is not None and point.high is not None and point.by == "readings":
        usual = span((point.low, point.high))
    return Strip(
        ends=(low, high),
        tolerated=span(point.nominal_range) if point.nominal_range else None,
        nominal=None if point.nominal is None else at(point.nominal),
        usual=usual,
        seen=(at(seen[0]), at(seen[1])) if seen else None,
        median=None if point.median is None else at(point.median),
        # Readings that would lie on each other are drawn once.
        odd=tuple(
            {round(float(odd.at[:-1])): odd for odd in _odd(compared, low, high, at)}.values()
        ),
    )


def _values(point: PointReadings, seen: Interval | None) -> Iterator[float]:
    for pair in ((point.low, point.high), point.nominal_range, seen):
        yield from (value for value in pair or () if value is not None)
    yield from (value for value in (point.nominal, point.median) if value is not None)


def _odd(
    values: Iterable[float], low: float, high: float, at: Callable[[float], str]
) -> Iterator[Odd]:
    for value in values:
        if value < low:
            yield Odd("0%", "low")
        elif value > high:
            yield Odd("100%", "high")
        else:
            yield Odd(at(value))


def _rounded(low: float, high: float, room: float) -> tuple[float, float]:
    """The ends of a scale, moved out to figures that can be read."""
    tens = 10.0 ** math.floor(math.log10(room / 2))
    step = next(tens * part for part in (1, 2, 5, 10) if tens * part >= room / 2)
    ends = math.floor((low - room) / step) * step, math.ceil((high + room) / step) * step
    # Nothing here is measured below nought that is not negative already.
    begins = 0.0 if ends[0] < 0 <= low else ends[0]
    ends_at = 0.0 if ends[1] > 0 >= high else ends[1]
    return begins, ends_at
