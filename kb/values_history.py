"""The values of a unit's history: visits in; comebacks, batches, spares, ages and repairs out.

Probabilities and shares are 0 to 1, `minutes` are minutes, days are calendar days, ages are years
of 365.25 days. Field names of the answers are the keys of the JSON contract (`docs/json.md`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from msgspec import Struct

from kb.values import Interval

# ---------------------------------------------------------------- what the statistics read


class PartFitted(Struct, frozen=True, gc=False):
    """A part as a note names it, with its batch where the note gives one."""

    part: str
    batch: str | None = None


class CheckTimed(Struct, frozen=True, gc=False):
    """A check that was made, with its hands-on minutes where they were noted."""

    check: str
    minutes: float | None = None


class FaultFound(Struct, frozen=True, gc=False):
    """One fault of a visit, as far as the history of units needs it."""

    symptom: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    checks: tuple[CheckTimed, ...] = ()
    root_cause: str | None = None
    at: str | None = None
    brought_on_by: str | None = None
    fix: tuple[str, ...] = ()
    parts: tuple[PartFitted, ...] = ()
    minutes: float | None = None

    @property
    def symptoms(self) -> frozenset[str]:
        """Every symptom noted at the counter or on the bench."""
        return frozenset((*self.symptom, *self.seen))


class Visit(Struct, frozen=True, gc=False):
    """One visit of a unit to the bench. A unit is known by its number within its family."""

    case: str
    family: str
    received: dt.date
    faults: tuple[FaultFound, ...]
    finished: dt.date | None = None
    closed_as: str | None = None
    unit: str | None = None
    built: str | None = None
    returned: dt.date | None = None
    comeback_of: str | None = None

    @property
    def out(self) -> dt.date | None:
        """The day from which the repair has to hold: back with the owner, else finished."""
        return self.returned or self.finished if self.finished else None

    @property
    def key(self) -> tuple[str, str] | None:
        """What tells one unit from another; None where the note gives no number."""
        return (self.family, " ".join(self.unit.split()).casefold()) if self.unit else None

    @property
    def repaired(self) -> bool:
        """True if the visit ended with a repair."""
        return self.finished is not None and self.closed_as in (None, "repaired")


# ---------------------------------------------------------------- comebacks


class Comeback(Struct, frozen=True):
    """A fault that came back: the repair, the visit that brought it back, and after how long.

    `how` is `named` (the later note says so), `same cause` or `same symptom`.
    """

    case: str
    back_as: str
    family: str
    unit: str | None
    causes: tuple[str, ...]
    days: int
    how: str


class Holding(Struct, frozen=True):
    """How often one sort of repair holds.

    `fixes` are all repairs of the sort and `came_back` those of them that came back; only the
    `followed` ones, out for at least the book's days, are judged: `held` of them did not come
    back. `share` is held / followed (None if nothing was followed yet), `interval` its Wilson
    interval at 95 %. The others are too young to judge.
    """

    cause: str | None
    label: str
    fix: str | None
    part: str | None
    batch: str | None
    fixes: int
    followed: int
    held: int
    came_back: int
    share: float | None
    interval: Interval


def worth_telling(sorts: Sequence[Holding]) -> list[Holding]:
    """Those of which any came back, in their order, and beside a fix the other fixes of its cause.

    Of other sorts there is nothing to say: what always held is the rule.
    """
    compared = {h.cause for h in sorts if h.came_back and h.fix is not None}
    return [h for h in sorts if h.came_back or (h.fix is not None and h.cause in compared)]


class HoldStep(Struct, frozen=True):
    """The share of repairs that still hold after so many days, younger ones counted in."""

    days: int
    at_risk: int
    share: float
    interval: Interval


class Comebacks(Struct, frozen=True):
    """What came back within `days` of going out, counted to `as_of`, the book's latest date.

    `overall` takes every repair together. The lists are worst first.
    """

    days: int
    as_of: dt.date | None
    overall: Holding
    course: tuple[HoldStep, ...]
    comebacks: tuple[Comeback, ...]
    causes: tuple[Holding, ...]
    fixes: tuple[Holding, ...]
    parts: tuple[Holding, ...]
    batches: tuple[Holding, ...]


# ---------------------------------------------------------------- batches


class Fitting(Struct, frozen=True):
    """One part of those asked for, in one unit.

    `carried` is True while no later visit of the unit ended it, None if the unit has no number and
    cannot be followed; `ended_by` is the case that did, `ended_how` `renewed` or `beyond-repair`.
    """

    case: str
    fitted: dt.date
    family: str
    unit: str | None
    part: str
    batch: str | None
    number: int
    at: str | None
    cause: str | None
    came_back_as: str | None
    came_back_days: int | None
    carried: bool | None
    ended_by: str | None
    ended_how: str | None


class BatchTrace(Struct, frozen=True):
    """Where parts went, and how each batch holds, worst first.

    Of the `fittings` those that are still carried, or may be, come first; the newest before others.
    """

    part: str
    batch: str | None
    as_of: dt.date | None
    parts: tuple[str, ...]
    """the names that the question met, as the notes write them"""
    fittings: tuple[Fitting, ...]
    batches: tuple[Holding, ...]


# ---------------------------------------------------------------- while it is open


class WorthLooking(Struct, frozen=True):
    """A cause worth a look while the unit is open.

    `count` of `visits` visits of this family had it, `comparable_count` of `comparable_visits` of
    units it leans on; `share` is the expected share of the unit's next visits, with a 95 %
    interval. `saved` are the minutes that looking now saves on average, `look` what the look
    itself takes. `free` says that nothing more has to come off for it.
    """

    cause: str
    label: str
    cover: str | None
    free: bool
    count: int
    visits: int
    comparable_count: int
    comparable_visits: int
    share: float
    interval: Interval
    finding: float
    look: float
    saved: float
    why: str
    confirm: str | None
    cautions: tuple[str, ...]


class WhileOpen(Struct, frozen=True):
    """What else to look at, most minutes saved first. `assumed` are the sentences it rests on."""

    family: str
    label: str
    doing: str | None
    off: str | None
    suggestions: tuple[WorthLooking, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]


# ---------------------------------------------------------------- the drawer


class Spare(Struct, frozen=True):
    """A part for the drawer: `repairs` that used it, `fitted` in all.

    `served` repairs have all their parts once this and those before it are in the drawer;
    `coverage` is their share of all repairs that used any part.
    """

    part: str
    repairs: int
    fitted: int
    served: int
    coverage: float
    causes: tuple[str, ...]
    families: tuple[str, ...]


class Drawer(Struct, frozen=True):
    """The spares of the repairs finished from `since` to `until`, in the order to buy them.

    `enough` is how many of them serve `aim` of the repairs.
    """

    since: dt.date | None
    until: dt.date | None
    families: tuple[str, ...]
    repairs: int
    without_parts: int
    aim: float
    enough: int
    spares: tuple[Spare, ...]


# ---------------------------------------------------------------- ages and repeated repairs


class AgeAtFailure(Struct, frozen=True):
    """How old units were, in years, when a cause was found.

    `known` of `count` visits could be dated, `renewed` of them from an earlier replacement instead
    of the year of making. The interval of the median is None with fewer than six known ages.
    """

    cause: str
    label: str
    count: int
    known: int
    renewed: int
    median: float | None
    interval: Interval | None
    youngest: float | None
    oldest: float | None


class RepairsByTime(Struct, frozen=True):
    """The mean number of further repairs per unit, so many years after it was first seen.

    `at_risk` units were followed that long.
    """

    years: float
    at_risk: int
    mean: float
    interval: Interval


class FamilyAges(Struct, frozen=True):
    """Ages at failure, and how repairs of a unit follow each other, in one family."""

    family: str
    label: str
    visits: int
    built_unknown: int
    causes: tuple[AgeAtFailure, ...]
    units: int
    seen_again: int
    without_number: int
    repairs: tuple[RepairsByTime, ...]


class Ages(Struct, frozen=True):
    """The families asked for, each by itself; followed to `as_of`, the book's latest date."""

    as_of: dt.date | None
    families: tuple[FamilyAges, ...]
