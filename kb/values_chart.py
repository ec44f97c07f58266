"""The values of the fault-finding charts: what to check, what that means, where it ends.

Probabilities are 0 to 1, times are hands-on minutes. Counts are past faults, each counted whole.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from kb.values import CheckOption, Interval

Made = tuple[tuple[str, str], ...]
"""(check, outcome) in the order they were made"""


class Limits(Struct, frozen=True):
    """How far a chart goes: judgement, no source; `docs/methods.md` says why so far."""

    faults: int = 4
    """past faults of the family with the symptom; with fewer there is no chart"""
    made: int = 5
    """past faults, of causes still in play, that had a check made; with fewer it is not drawn"""
    in_play: float = 0.02
    """a cause as likely as this is still in play"""
    way: int = 2
    """past faults of the book that came out so; with fewer the outcome has no way of its own"""
    came: int = 2
    """past faults with the symptom that went this way; with fewer it does not go on"""
    bits: float = 0.02
    """a check that is expected to tell less is not drawn"""
    clear: float = 0.8
    """a cause as likely as this is to be proved, not checked for"""
    checks: int = 3
    """checks on one way, besides those that must come first"""
    ends: int = 6
    """places where the chart ends: it is one page"""


class Passed(Struct, frozen=True):
    """Past faults with the symptom: those of the family, and those of the whole book with them."""

    here: int = 0
    book: int = 0

    def __add__(self, other: Passed) -> Passed:
        return Passed(self.here + other.here, self.book + other.book)


class Suspect(Struct, frozen=True):
    """A cause at a point of the chart; `found` are the faults that came there and had it."""

    cause: str
    probability: float
    interval: Interval
    found: Passed


class ChartStep(Struct, frozen=True):
    """A check on the chart. `minutes` is with opening the unit, where it `opens` on this path.

    `bits` is what it is expected to tell at this point; `first` says that it must come before
    anything else. `said` are sentences to read before it.
    """

    option: CheckOption
    minutes: float
    bits: float
    first: bool = False
    opens: bool = False
    said: tuple[str, ...] = ()


class Elsewhere(Struct, frozen=True):
    """Outcomes of a step that have no way of their own: too few past faults came out so."""

    outcomes: tuple[str, ...]
    chance: float
    came: Passed


class Point(Struct, frozen=True):
    """A point of the chart: what is known there, and the check to make or why it ends.

    `suspects` are the likeliest causes and `unseen` a cause that is not in the book, as the
    ranking gives them for the symptom and what was `made` on the way. `came` are the faults that
    went this way; of those `unmade` did not have the `step` made. `end` is None where there is a
    step, else `clear`, `thin`, `untold`, `held`, `page` or `alarm`, as `kb.faults.chart` says.
    """

    made: Made
    came: Passed
    suspects: tuple[Suspect, ...]
    unseen: float
    end: str | None = None
    step: ChartStep | None = None
    ways: tuple[Way, ...] = ()
    elsewhere: Elsewhere | None = None
    unmade: Passed = Passed()

    def points(self) -> Iterator[Point]:
        """This point and all beyond it, in reading order."""
        yield self
        for way in self.ways:
            yield from way.point.points()

    def ended(self) -> Iterator[Passed]:
        """The faults at every place where one leaves the chart; together all that came."""
        if self.step is None:
            yield self.came
            return
        yield self.unmade
        if self.elsewhere:
            yield self.elsewhere.came
        for way in self.ways:
            yield from way.point.ended()


class Way(Struct, frozen=True):
    """What it means if a check came out so: how likely that is, and where it leads."""

    outcome: str
    chance: float
    point: Point


class Chart(Struct, frozen=True):
    """The chart of a family and a symptom; `notes` are sentences on what it leaves out."""

    family: str
    symptom: str
    root: Point
    intermittent: bool = False
    notes: tuple[str, ...] = ()
    limits: Limits = Limits()
