"""The values of the weak points: visits in; what stands out, and whether it comes more often, out.

Field names of the answers are the keys of the JSON contract (`docs/json.md`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from kb.values import Interval

FEWEST_FOR_TREND = 3
"""With fewer cases than this no order of years says anything."""


class FamilyVisits(Struct, frozen=True):
    """One family's visits for the weak points.

    `found` is cause -> year -> number of visits in which it was a root cause; `visits` is
    year -> finished visits; `comebacks` is cause -> visits whose repair came back. A visit counts
    in the same year for both. `brought_on` is cause -> what brought it on -> visits, as far as it
    was noted; a visit counts once, and if several things are noted, under one that is no mishap.
    `places` is cause -> for each visit that names one, where in the unit it was.
    """

    family: str
    label: str
    kind: str | None
    has: frozenset[str]
    visits: Mapping[int, int]
    found: Mapping[str, Mapping[int, int]]
    comebacks: Mapping[str, int] = {}
    brought_on: Mapping[str, Mapping[str, int]] = {}
    places: Mapping[str, Sequence[Sequence[str]]] = {}

    @property
    def total(self) -> int:
        """All finished visits."""
        return sum(self.visits.values())


class FamilyGroup(Struct, frozen=True):
    """Families that are asked about together: a `sort` of `line`, `maker` or `kind`."""

    key: str
    label: str
    sort: str
    families: frozenset[str]


class Change(Struct, frozen=True):
    """How often a cause came before a year, and how often from then on, given the intake.

    `before` and `after` are (visits with the cause, visits); the year halves the visits. `times` is
    the ratio of the two shares, with its 95 % interval; None where either half has no case.
    """

    since: int
    before: tuple[int, int]
    after: tuple[int, int]
    times: float | None = None
    interval: Interval | None = None


class Trend(Struct, frozen=True):
    """Whether a cause comes more often than before, given the intake: rising, falling or steady.

    `change` says by how much; None where it is steady.
    """

    direction: str
    p: float
    change: Change | None = None


class Place(Struct, frozen=True):
    """Where in the unit a cause sits: `agree` of the `named` visits that name a place say so."""

    at: str
    agree: int
    named: int


class WeakPoint(Struct, frozen=True):
    """One cause in one family against comparable units.

    `count` and `share` are of all cases, `own` of those that no mishap brought on (liquid,
    transport, an earlier repair, rough handling, misuse). `expected` is how large `own` would be if
    this family were like the comparable units, `ratio` the shrunk ratio of the two, `ratio_low` its
    5 % quantile. `comparable_count` of `comparable_cases` visits had the cause, mishaps left out;
    with `comparable_cases` 0 nothing is comparable, and `expected` equals `own`, `ratio` is 1 and
    `ratio_low` 0. `by_year` are the visits with the cause by year of receipt, `by_family` those of
    each family where the answer is of a line, a maker or a kind.
    """

    cause: str
    label: str
    count: int
    share: float
    share_interval: Interval
    expected: float
    ratio: float
    ratio_low: float
    flag: bool
    trend: Trend
    comebacks: int
    comparable_count: int
    comparable_cases: int
    brought_on: dict[str, int] = {}
    own: int = 0
    place: Place | None = None
    by_year: dict[int, int] = {}
    by_family: dict[str, int] = {}


class FamilyWeakPoints(Struct, frozen=True):
    """The causes found in one family, or in a line, a maker or a kind; most telling first.

    `sort` is `family`, `line`, `maker` or `kind`; `family` is the key (of a maker the name).
    `cases` are finished visits, `visits` the same by year of receipt, `members` the families of a
    group that were on the bench. `too_few` says that there are too few visits to go by.
    """

    family: str
    label: str
    cases: int
    causes: tuple[WeakPoint, ...]
    sort: str = "family"
    members: tuple[str, ...] = ()
    visits: dict[int, int] = {}
    too_few: bool = False


class NewWeakPoint(Struct, frozen=True):
    """A pair that is flagged now and was not by the book as it stood on a date.

    `sort` and `family` as in `FamilyWeakPoints`. `then_count` of `then_cases` visits had the cause
    then, and `then_low` was the lower bound of its ratio; None where it had not been found yet.
    """

    sort: str
    family: str
    family_label: str
    cases: int
    point: WeakPoint
    then_count: int
    then_cases: int
    then_low: float | None = None


class NewTrend(Struct, frozen=True):
    """A pair whose trend is rising now and was not by the book as it stood on a date.

    As `NewWeakPoint`; `then_trend` is None where the cause had not been found yet.
    """

    sort: str
    family: str
    family_label: str
    cases: int
    point: WeakPoint
    then_count: int
    then_cases: int
    then_trend: Trend | None = None


class WeakPoints(Struct, frozen=True):
    """Weak points of the families asked for, and of lines, makers and kinds as `groups`.

    `new` are the pairs that became flagged since the date `since`, where one was asked for, and
    `rising` those that have come more often since.
    """

    families: tuple[FamilyWeakPoints, ...]
    groups: tuple[FamilyWeakPoints, ...] = ()
    since: dt.date | None = None
    new: tuple[NewWeakPoint, ...] = ()
    rising: tuple[NewTrend, ...] = ()


def quietly_rising(
    families: Iterable[FamilyWeakPoints],
) -> tuple[list[tuple[FamilyWeakPoints, WeakPoint]], int]:
    """What comes more often in a family without standing out, the least likely by chance first.

    Beside them the number of pairs that were found often enough to be looked at for it.
    """
    looked_at = [(f, c) for f in families for c in f.causes if c.count >= FEWEST_FOR_TREND]
    rising = [(f, c) for f, c in looked_at if c.trend.direction == "rising" and not c.flag]
    rising.sort(key=lambda pair: (pair[1].trend.p, pair[0].family, pair[1].cause))
    return rising, len(looked_at)
