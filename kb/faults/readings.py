"""What a healthy unit measures, what stood out from it, and what that pointed to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kb.faults.reading_checks import OfReadings, pointers
from kb.faults.robust import LIMIT
from kb.faults.standards import (
    AS_FOUND,
    AS_LEFT,
    USUAL,
    Scale,
    Standard,
    Standards,
    judge,
    point_of,
)
from kb.faults.test_points import Point, to_unit
from kb.notes.case import Quantity
from kb.notes.units import in_base
from kb.values import Interval
from kb.values_readings import PointReadings, Taken, Unusual

Causes = Mapping[str, Mapping[str, float]]
"""case -> root cause -> how much of a fault it is"""


def family_readings(
    of_family: Standards,
    taken: Sequence[Taken],
    causes: Causes,
    told: OfReadings,
    labels: Mapping[str, str],
    mains: float,
) -> tuple[PointReadings, ...]:
    """The points of one family by name and state.

    `taken` are the readings of this family, `told` what readings told in the whole book, `labels`
    cause -> what to call it, `mains` the nominal voltage in V.
    """
    found: dict[Point, list[Taken]] = {}
    for one in taken:
        if one.when == AS_FOUND and point_of(one) in of_family:
            found.setdefault(point_of(one), []).append(one)
    return tuple(
        _point(where, standard, found.get(where, ()), causes, told, labels, mains)
        for where, standard in sorted(of_family.items())
    )


def _point(
    where: Point,
    standard: Standard,
    found: Iterable[Taken],
    causes: Causes,
    told: OfReadings,
    labels: Mapping[str, str],
    mains: float,
) -> PointReadings:
    def shown(value: float) -> float:
        return to_unit(value, standard.unit)

    def both(scale: Scale | None) -> Interval | None:
        return (shown(scale.range[0]), shown(scale.range[1])) if scale else None

    rated = standard.rated
    usual = both(standard.scale)
    tolerated = None
    if rated and rated.tolerance:
        tolerated = rated.value - rated.tolerance, rated.value + rated.tolerance
    unusual = [
        entry
        for one in (*found, *standard.healthy)
        if (entry := _unusual(standard, one, tolerated, causes, labels, mains))
    ]
    unusual.sort(key=lambda u: (u.when != AS_FOUND, -abs(u.score), u.case, u.value))
    return PointReadings(
        at=standard.at,
        when=AS_LEFT,
        state=standard.state,
        unit=standard.unit,
        count=standard.count,
        units=standard.units,
        median=None if standard.centre is None else shown(standard.centre),
        low=usual[0] if usual else None,
        high=usual[1] if usual else None,
        by=standard.by,
        nominal=shown(rated.value) if rated else None,
        nominal_range=(shown(tolerated[0]), shown(tolerated[1])) if tolerated else None,
        spread=None if standard.spread is None else shown(standard.spread),
        limit=standard.scale.limit if standard.scale else LIMIT,
        seen=(shown(standard.seen[0]), shown(standard.seen[1])) if standard.seen else None,
        mains=standard.follows.verdict,
        exponent=standard.follows.exponent,
        raw=both(standard.raw),
        left_out=standard.left_out,
        unusual=tuple(unusual),
        pointers=pointers(where, told, labels),
    )


def _unusual(
    standard: Standard,
    one: Taken,
    tolerated: Interval | None,
    causes: Causes,
    labels: Mapping[str, str],
    mains: float,
) -> Unusual | None:
    """The entry of a reading that stands out; None if it doesn't, or nothing can be said."""
    value = in_base(Quantity(one.value, one.unit))[0]
    judged = judge(standard, value, one.mains, mains)
    if judged is None or judged.outcome == USUAL:
        return None
    compared = value if judged.brought_to is None else judged.brought_to
    found = tuple(causes.get(one.case, {}))
    return Unusual(
        case=one.case,
        value=to_unit(value, standard.unit),
        score=judged.score,
        when=one.when or "",
        side=judged.outcome,
        mains=one.mains,
        brought_to=None if judged.brought_to is None else to_unit(judged.brought_to, standard.unit),
        within_nominal=tolerated[0] <= compared <= tolerated[1] if tolerated else None,
        causes=found,
        cause_labels=tuple(labels.get(cause, cause) for cause in found),
        modified=one.modified,
        noted=str(Quantity(one.value, one.unit)),
    )
