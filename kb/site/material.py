"""What the page makers work from: the book as it may be published, with its links and tallies."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from functools import cached_property

from msgspec import Struct

from kb.notes.case import Case
from kb.notes.vocabulary import HAZARDS, Vocabulary
from kb.site import withheld, wording
from kb.site.ledger import Ledger
from kb.site.markdown import Prose
from kb.site.media import Media
from kb.site.names import Link, Names
from kb.site.redaction import without
from kb.site.source import Cautions, Source, Study
from kb.values import Trail
from kb.values_chart import Chart
from kb.values_history import Comebacks, Drawer, WhileOpen
from kb.values_owner import OwnerSheet
from kb.values_readings import FamilyReadings
from kb.values_replay import Replay
from kb.values_weak import FamilyWeakPoints, NewTrend, NewWeakPoint

LISTED = 60
"""longer lists of cases are not read to their end, and make heavy pages"""


class CaseRow(Struct, frozen=True):
    """A case as a line of a list."""

    number: Link
    title: str
    family: Link
    received: dt.date
    state: str
    is_open: bool
    causes: tuple[Link, ...]
    complaint: str


class Listed(Struct, frozen=True):
    """The newest cases of a list, and how many more there are."""

    rows: list[CaseRow]
    more: int


class Caution(Struct, frozen=True):
    """A danger: its key, what it is called, and what to do about it."""

    key: str
    hazard: str
    text: str


class Material:
    """A source with what is hidden taken out, and everything that pages look up."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self.hide = tuple(source.hide)
        self.title = source.title
        self.currency = source.currency
        self.vocabulary: Vocabulary = source.vocabulary
        self.cautions: Cautions = source.cautions
        self.asked = source.asked
        published = [without(case, self.hide) for case in source.cases()]
        self._sheets = source.owner_sheets(published)
        self.ledger = Ledger(published, self.vocabulary)
        self.names = Names(self.vocabulary, published)
        self.media = Media(source.media_folder)
        self.prose = Prose(self.names, self.media)
        self.since = _year_before(self.newest_day)
        points = withheld.weak_points(source.weak_points(self.since), self.hide)
        self.weak_points: dict[str, FamilyWeakPoints] = {f.family: f for f in points.families}
        self.lines: dict[str, FamilyWeakPoints] = {
            group.family: group for group in points.groups if group.sort == "line"
        }
        self.new_weak_points: tuple[NewWeakPoint, ...] = points.new
        """the pairs that became weak points in the last year of the book"""
        self.new_trends: tuple[NewTrend, ...] = points.rising
        """the pairs that began to come more often in that year"""

    @property
    def newest_day(self) -> dt.date | None:
        """The last date in any note: how far the book goes."""
        days = (
            day
            for case in self.ledger.cases
            for day in (case.received, case.finished, case.returned)
            if day
        )
        return max(days, default=None)

    def common(self) -> object:
        """What every page may show, besides the cases: part of what each of them rests on."""
        shown = (self.title, self.currency, self.hide, self.vocabulary, self.cautions)
        return shown, self.media.stamp()

    def trails(self, number: str) -> tuple[Trail, ...]:
        """How each fault of a case was found, with what is hidden taken out."""
        trails = tuple(without(trail, self.hide) for trail in self._source.trail(number))
        if "checks" in self.hide:
            return tuple(Trail(at_intake=trail.at_intake, steps=()) for trail in trails)
        return trails

    @property
    def tells_how_good(self) -> bool:
        """Whether there is a page of how good the ranking has been."""
        return withheld.tells_how_good(self.hide)

    @property
    def replay_since(self) -> dt.date | None:
        """Since when the faults of the replay came in; None where all were asked."""
        return self._source.replay_since

    @cached_property
    def replay(self) -> Replay | None:
        """How good the ranking has been; None where the book hides what would show it."""
        return withheld.replay(self._source.replay(), self.hide) if self.tells_how_good else None

    @cached_property
    def charts(self) -> tuple[Chart, ...]:
        """The fault-finding charts, drawn from the cases as they are published."""
        return withheld.charts(self._source.fault_charts(self.ledger.cases), self.hide)

    @cached_property
    def study(self) -> Study:
        """Which faults can be studied, of the cases as they are published."""
        return self._source.study(self.ledger.cases)

    @cached_property
    def studied(self) -> frozenset[str]:
        """The numbers of the cases that can be studied."""
        return frozenset(one.case for one in self.study.cases)

    def comebacks(self, family: str) -> Comebacks | None:
        """Which repairs of a family or line came back."""
        return withheld.comebacks(self._source.comebacks(family), self.hide)

    def drawer(self, family: str | None = None) -> Drawer | None:
        """The spares of the last year's repairs; None where nothing may or can be told of them."""
        if family is None:
            return self._whole_drawer
        found = withheld.drawer(self._source.drawer(family), self.hide)
        return found if found and found.spares else None

    @cached_property
    def _whole_drawer(self) -> Drawer | None:
        found = withheld.drawer(self._source.drawer(None), self.hide)
        return found if found and found.spares else None

    def readings(self, family: str) -> FamilyReadings | None:
        """What a healthy unit of a family reads."""
        return withheld.readings(self._source.readings(family), self.hide)

    def while_open(self, family: str) -> WhileOpen | None:
        """What else to look at while a unit of a family is open."""
        return withheld.while_open(self._source.while_open(family), self.hide)

    def owner_sheet(self, case: Case) -> OwnerSheet:
        """A case, as it is published, told to the owner."""
        return self._sheets.of(case)

    def owner_checks(self, case: Case) -> object:
        """What the owner's sheet of a case takes from other cases."""
        return self._sheets.rests_on(case)

    def writeup(self, family: str) -> str | None:
        """The Markdown write-up of a family."""
        return self._source.family_writeup(family)

    def links(self, kind: str, keys: Iterable[str]) -> tuple[Link, ...]:
        """Links to the pages of some terms of one kind."""
        return tuple(self.names.term(kind, key) for key in keys)

    def row(self, case: Case) -> CaseRow:
        """A case as a line of a list."""
        return CaseRow(
            number=self.names.case(case.case),
            title=title_of(case),
            family=self.names.term("family", case.family),
            received=case.received,
            state=wording.state(case),
            is_open=case.is_open,
            causes=self.links("cause", case.root_causes),
            complaint=case.complaint,
        )

    def rows(self, cases: Iterable[Case]) -> list[CaseRow]:
        """Cases as a list."""
        return [self.row(case) for case in cases]

    def listed(self, cases: Sequence[Case]) -> Listed:
        """The first cases of a list, which has the newest first."""
        return Listed(self.rows(cases[:LISTED]), max(0, len(cases) - LISTED))

    def hazard_cautions(self, hazards: Iterable[str]) -> tuple[Caution, ...]:
        """The sentence for each hazard, in the standing order."""
        named = set(hazards)
        known = [hazard for hazard in HAZARDS if hazard in named]
        return tuple(
            Caution(h, wording.sentence(wording.words(h)), self.cautions.hazards.get(h, ""))
            for h in (*known, *sorted(named.difference(known)))
        )


def _year_before(day: dt.date | None) -> dt.date | None:
    if day is None or day.year == dt.MINYEAR:
        return None
    # The 29th of February has no fellow a year earlier.
    return day.replace(year=day.year - 1, day=min(day.day, 28) if day.month == 2 else day.day)


def title_of(case: Case) -> str:
    """What a case's page is called: its own title, and its number where there is none."""
    return case.title or f"Case {case.case}"
