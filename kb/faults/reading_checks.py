"""Readings as checks: what a low, usual or high reading told in the past.

A reading as found is held against healthy ones of its own family, so that "low at the first filter"
means the same in every family and can be counted over the whole book, in the shape of a check:
outcome -> cause -> faults.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from kb.faults.likelihood import check_rates, rate
from kb.faults.standards import AS_FOUND, HIGH, LOW, Judged, Standard, judge, point_of
from kb.faults.strengths import Strengths
from kb.faults.test_points import Point
from kb.notes.case import Quantity, Reading
from kb.notes.units import in_base
from kb.values_readings import Pointer, Taken

OfReadings = Mapping[str, Mapping[str, Mapping[str, float]]]
"""`reading:<at>[:<state>]` -> `low`, `usual` or `high` -> cause -> faults, as `Counts.checks`"""

PREFIX = "reading:"


def check_key(where: Point) -> str:
    """What a reading at this point is called among the checks.

    A key of the vocabulary has no colon, so the two can't be confused. Dimensions share a key: 20 V
    and 50 W at full power are low for the same reasons.
    """
    return f"{PREFIX}{where.at}" + (f":{where.state}" if where.state else "")


def as_checks(
    taken: Iterable[Taken],
    of_families: Mapping[str, Mapping[Point, Standard]],
    causes: Mapping[str, Mapping[str, float]],
    mains: float,
) -> dict[str, dict[str, dict[str, float]]]:
    """Count what the readings as found told, over finished visits with a known cause.

    `causes` is case -> cause -> how much of a fault it is. Of several readings of one point in a
    visit the one furthest off counts. Readings of modified units, and those that nothing can be
    held against, are no evidence. `mains` is the nominal voltage in V.
    """
    worst: dict[tuple[str, str], Judged] = {}
    for one in taken:
        if one.when != AS_FOUND or one.modified or not one.finished or one.case not in causes:
            continue
        where = point_of(one)
        standard = of_families.get(one.family, {}).get(where)
        value = in_base(Quantity(one.value, one.unit))[0]
        judged = judge(standard, value, one.mains, mains) if standard else None
        if judged is None:
            continue
        place = (one.case, check_key(where))
        if place not in worst or abs(judged.score) > abs(worst[place].score):
            worst[place] = judged
    counts: dict[str, dict[str, dict[str, float]]] = {}
    for (case, key), judged in sorted(worst.items(), key=lambda item: item[0]):
        row = counts.setdefault(key, {}).setdefault(judged.outcome, {})
        for cause, part in causes[case].items():
            row[cause] = row.get(cause, 0.0) + part
    return counts


def told_by(
    reading: Reading, of_family: Mapping[Point, Standard], mains: float
) -> tuple[Point, Standard | None, Judged | None]:
    """Where a reading of a unit on the bench belongs, and how it compares.

    The standard is None if its family has none for this point, state and dimension; the judgement
    is None too where nothing can be said. `mains` is the nominal voltage in V.
    """
    from kb.faults.test_points import point

    where = point(reading.at, reading.state, reading.value.unit)
    standard = of_family.get(where)
    if standard is None:
        return where, None, None
    at = in_base(reading.mains)[0] if reading.mains else None
    return where, standard, judge(standard, in_base(reading.value)[0], at, mains)


def pointers(
    where: Point, told: OfReadings, labels: Mapping[str, str], strength: float = Strengths().check
) -> tuple[Pointer, ...]:
    """What low and high readings at a point pointed to, the strongest first.

    The rates are shrunk as those of a check are, to the median over the causes in which the point
    was read (`kb.faults.likelihood.check_rates`); the ratio is against a cause of which nothing is
    known at this point.
    """
    outcomes = told.get(check_key(where), {})
    if not outcomes:
        return ()
    rates = check_rates(outcomes, strength)
    found = []
    for side in (LOW, HIGH):
        if side not in rates:
            continue
        here = rates[side]
        showed, read = sum(here.seen.values()), sum(here.made.values())
        for cause, count in here.seen.items():
            found.append(
                Pointer(
                    side=side,
                    cause=cause,
                    label=labels.get(cause, cause),
                    count=count,
                    read=here.made[cause],
                    others=showed - count,
                    others_read=read - here.made[cause],
                    ratio=rate(here.of(cause)) / here.typical,
                )
            )
    return tuple(sorted(found, key=lambda p: (-p.ratio, p.cause, p.side)))
