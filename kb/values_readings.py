"""The values of readings: what was measured, and what healthy units measure.

Field names of the answers are the keys of the JSON contract (`docs/json.md`). A value is in the
unit that stands beside it; mains are in V, dates ISO 8601.
"""

from __future__ import annotations

from msgspec import Struct

from kb.values import Interval


class Taken(Struct, frozen=True):
    """A reading of a visit, as noted, with what is needed to know whether it is a healthy one.

    `serial` is the unit's number, `unit` that of the value. `finished` says that the visit is over,
    `well` that it ended with a unit that worked.
    """

    case: str
    family: str
    serial: str | None
    received: str
    finished: bool
    well: bool
    modified: tuple[str, ...]
    at: str
    value: float
    unit: str
    when: str | None
    state: str | None
    mains: float | None


class Unusual(Struct, frozen=True):
    """A reading that stands out from healthy ones.

    `score` is the modified z-score, below 0 if the value lies below the median. `side` is `low` or
    `high`, by size. `brought_to` is the value brought to the book's mains voltage, where the point
    follows the mains and they were noted. `within_nominal` is None where no tolerance is known.
    """

    case: str
    value: float
    score: float
    when: str
    side: str
    mains: float | None = None
    brought_to: float | None = None
    within_nominal: bool | None = None
    causes: tuple[str, ...] = ()
    """root causes found in that visit; empty while nothing was found"""
    cause_labels: tuple[str, ...] = ()
    modified: tuple[str, ...] = ()
    """what of that unit was not as it left the maker; such a reading is no evidence"""
    noted: str = ""
    """the value as the note has it"""


class Pointer(Struct, frozen=True):
    """What an unusual reading pointed to, over all families of the book.

    Of the visits of this `cause` in which the point was read as found, `count` of `read` showed it
    on this `side`; of those of other causes `others` of `others_read`. A visit with several causes
    counts in part for each. `ratio` is the likelihood ratio against a cause of which nothing is
    known here, drawn towards 1 where visits are few.
    """

    side: str
    cause: str
    label: str
    count: float
    read: float
    others: float
    others_read: float
    ratio: float


class PointReadings(Struct, frozen=True):
    """What healthy units read at one test point in one state, and what stood out.

    `median`, `low` and `high` are at the book's mains voltage where the point follows the mains.
    Beyond `low` and `high` a reading is unusual; `by` says what they rest on: `readings`, or
    `nominal` where these are too few, or `nothing` (both are None then).
    """

    at: str
    when: str
    state: str | None
    unit: str
    count: int
    units: int
    median: float | None
    low: float | None
    high: float | None
    by: str
    nominal: float | None
    nominal_range: Interval | None
    spread: float | None
    """the median absolute deviation from the median"""
    limit: float
    """the score beyond which a reading is unusual: 3.5, or more where readings are few"""
    seen: Interval | None
    """the smallest and the largest healthy reading as they were written"""
    mains: str
    """`follows`, `does-not-follow` in proportion, or `not-known` (too few, too little variation)"""
    exponent: float
    """a point that follows reads (mains / nominal mains) to this power times as much"""
    raw: Interval | None
    """what `low` and `high` would be without regard to the mains"""
    left_out: dict[str, int]
    """why -> as-left readings that are not among the healthy ones"""
    unusual: tuple[Unusual, ...]
    pointers: tuple[Pointer, ...]


class FamilyReadings(Struct, frozen=True):
    """The test points of a family, in the order of their names."""

    family: str
    label: str
    mains: float
    points: tuple[PointReadings, ...]
    unsaid: int
    """readings of this family of which nobody wrote whether they are as found or as left"""
    families: tuple[str, ...]
    """the families of it, where it is a line"""
    cautions: tuple[str, ...]
