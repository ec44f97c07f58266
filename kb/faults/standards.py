"""What healthy units of a family read at each test point, and how far from it is unusual.

Healthy is a reading as left, in a unit as it left the maker, after a visit that ended well. Of each
unit only the newest visit speaks, so that a unit that came often is not the measure of all.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct

from kb.faults.mains import Following, following, near
from kb.faults.robust import FACTOR, FEWEST, LIMIT, deviation, limit, median, modified_z
from kb.faults.test_points import Point, Rated, point, usual
from kb.notes.case import Quantity
from kb.notes.units import in_base
from kb.values import Interval
from kb.values_readings import Taken

AS_FOUND, AS_LEFT = "as-found", "as-left"
LOW, USUAL, HIGH = "low", "usual", "high"
READINGS, NOMINAL, NOTHING = "readings", "nominal", "nothing"

METERS = 0.01
"""Two hand meters in order may differ by this part of a value: common practice, no source. No
healthy range is narrower, nor than one step of the readings as they were written."""

_BY_NUMBER = frozenset({"dB", "dBu", "°C"})
"""Units whose zero is no "nothing": low and high go by the number, elsewhere by size."""


class Scale(Struct, frozen=True):
    """A middle and a spread to hold a value against; beyond `limit` it is unusual."""

    centre: float
    spread: float
    limit: float

    @property
    def range(self) -> Interval:
        """From where to where a value is usual."""
        reach = self.limit * self.spread / FACTOR
        return self.centre - reach, self.centre + reach

    def score(self, value: float) -> float:
        """The modified z-score of a value."""
        return modified_z(value, self.centre, self.spread)


class Standard(Struct, frozen=True, kw_only=True):
    """What a point of a family should read. Values are in the base unit of its dimension.

    `scale` is at the book's mains voltage where the point follows the mains, `raw` is as read.
    Both are None where nothing can be said; `by` says what `scale` rests on.
    """

    at: str
    state: str | None
    unit: str
    base: str
    rated: Rated | None
    count: int = 0
    units: int = 0
    centre: float | None = None
    spread: float | None = None
    seen: Interval | None = None
    follows: Following = Following()
    by: str = NOTHING
    scale: Scale | None = None
    raw: Scale | None = None
    left_out: dict[str, int] = {}
    healthy: tuple[Taken, ...] = ()


class Judged(Struct, frozen=True):
    """How a reading compares: its score, `low`, `usual` or `high`, and what it was brought to.

    `low` and `high` go by size: -30 V is lower than -35 V.
    """

    score: float
    outcome: str
    brought_to: float | None = None


Standards = Mapping[Point, Standard]
"""the points of one family"""


def point_of(taken: Taken) -> Point:
    """The test point of a reading."""
    return point(taken.at, taken.state, taken.unit)


def standards(
    taken: Iterable[Taken], rated: Mapping[str, Mapping[Point, Rated]], mains: float
) -> dict[str, dict[Point, Standard]]:
    """Family -> point -> what it should read.

    Every point that was read, or that `rated` (family -> point -> what the vocabulary says) names,
    has one. `mains` is the nominal voltage in V.
    """
    groups: dict[str, dict[Point, list[Taken]]] = defaultdict(lambda: defaultdict(list))
    for one in taken:
        groups[one.family][point_of(one)].append(one)
    for family, points in rated.items():
        for where in points:
            groups[family][where]  # a point that nobody has read yet
    return {
        family: {
            where: _standard(where, readings, rated.get(family, {}).get(where), mains)
            for where, readings in points.items()
        }
        for family, points in groups.items()
    }


def judge(standard: Standard, value: float, mains: float | None, nominal: float) -> Judged | None:
    """Hold a value, in the base unit, read at these mains against the standard; all mains in V.

    None where nothing can be said: no standard, or mains too far off to compare. A value without
    mains at a point that follows them is held against the readings as they were read.
    """
    if mains is not None and not near(mains, nominal):
        return None
    brought = None
    if standard.follows.exponent and mains is not None:
        brought = standard.follows.brought(value, mains, nominal)
    scale = standard.raw if brought is None else standard.scale
    if scale is None:
        return None
    compared = value if brought is None else brought
    score = scale.score(compared)
    return Judged(score, _outcome(compared, score, scale, standard.base), brought)


def _outcome(value: float, score: float, scale: Scale, base: str) -> str:
    if abs(score) <= scale.limit:
        return USUAL
    if base in _BY_NUMBER:
        return HIGH if score > 0 else LOW
    return HIGH if abs(value) > max(map(abs, scale.range)) else LOW


def _standard(
    where: Point, readings: Sequence[Taken], rated: Rated | None, mains: float
) -> Standard:
    healthy, left_out = _healthy([r for r in readings if r.when == AS_LEFT], mains)
    values = [(_value(r), r.mains) for r in healthy]
    noted = [(value, at) for value, at in values if at is not None]
    follows = following([v for v, _ in noted], [m for _, m in noted], where.base)
    raw = [value for value, _ in values]
    used = raw
    if follows.exponent:
        used = [follows.brought(value, at, mains) for value, at in noted]
        if len(values) > len(noted):
            left_out["no mains noted"] = len(values) - len(noted)
    scale, by = _narrower(_scale(used, raw), rated)
    counted = [r for r in healthy if r.mains is not None] if follows.exponent else healthy
    written = rated or (readings[0] if readings else None)
    assert written is not None, "a point is read or rated"
    return Standard(
        at=rated.at if rated else usual(r.at for r in readings),
        state=rated.state if rated else usual(r.state or "" for r in readings) or None,
        unit=rated.unit if rated else usual(r.unit for r in readings),
        base=where.base,
        rated=rated,
        count=len(counted),
        units=len({r.serial or r.case for r in counted}),
        centre=median(used) if used else None,
        spread=deviation(used) if used else None,
        seen=(min(raw), max(raw)) if raw else None,
        follows=follows,
        by=by,
        scale=scale,
        raw=_narrower(_scale(raw, raw), rated)[0],
        left_out=left_out,
        healthy=tuple(healthy),
    )


def _healthy(left: Sequence[Taken], mains: float) -> tuple[list[Taken], dict[str, int]]:
    """The readings that count as healthy, oldest first, and why others don't."""
    why: Counter[str] = Counter()
    kept: dict[str, list[Taken]] = {}
    for one in sorted(left, key=lambda r: (r.received, r.case)):
        reason = _reason(one, mains)
        if reason:
            why[reason] += 1
            continue
        unit = one.serial or f"\0{one.case}"
        before = kept.setdefault(unit, [])
        if before and before[0].case != one.case:
            why["older visit of the same unit"] += len(before)
            before.clear()
        before.append(one)
    ordered = sorted((r for of_unit in kept.values() for r in of_unit), key=lambda r: r.case)
    return ordered, dict(sorted(why.items()))


def _reason(one: Taken, mains: float) -> str | None:
    if not one.finished:
        return "still on the bench"
    if not one.well:
        return "not repaired"
    if one.modified:
        return "modified unit"
    if one.mains is not None and not near(one.mains, mains):
        return "mains far off"
    return None


def _scale(values: Sequence[float], raw: Sequence[float]) -> Scale | None:
    """Middle and spread of enough readings; `raw` shows in which steps they were written."""
    if len(values) < FEWEST:
        return None
    centre, beyond = median(values), limit(len(values))
    narrowest = max(METERS * abs(centre), _step(raw)) * FACTOR / beyond
    spread = max(deviation(values), narrowest)
    return Scale(centre, spread, beyond) if spread > 0 else None


def _narrower(measured: Scale | None, rated: Rated | None) -> tuple[Scale | None, str]:
    """The scale to judge by, and what it rests on.

    The nominal value and its tolerance stand in for few readings: where there is no range of
    readings, or only one that is wider still around a middle that the tolerance allows.
    """
    if rated is None or rated.tolerance is None:
        return measured, READINGS if measured else NOTHING
    nominal = Scale(rated.value, rated.tolerance * FACTOR / LIMIT, LIMIT)
    low, high = nominal.range
    if measured is None:
        return nominal, NOMINAL
    wider = measured.range[1] - measured.range[0] > high - low
    return (nominal, NOMINAL) if wider and low <= measured.centre <= high else (measured, READINGS)


def _step(values: Sequence[float]) -> float:
    """The smallest difference between two readings as they were written; 0 if all are alike."""
    ordered = sorted({float(f"{value:.9g}") for value in values})
    steps = (b - a for a, b in pairwise(ordered))
    return min(steps, default=0.0)


def _value(reading: Taken) -> float:
    return in_base(Quantity(reading.value, reading.unit))[0]
