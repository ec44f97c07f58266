"""What the site is made from: a book as the `kb.site.Source` it asks for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from kb import cautions
from kb.bench_tables import bench_tables
from kb.errors import BenchbookError
from kb.faults.experience import Experience
from kb.faults.trail import follow
from kb.history import History
from kb.indexing import Index
from kb.learning import experience_in
from kb.measuring import Measured, measured, of_family
from kb.notes.case import Case, Fault
from kb.notes.folder import read_bytes
from kb.notes.frontmatter import decode
from kb.notes.problems import Log
from kb.notes.vocabulary import Vocabulary
from kb.owner_checks import habits
from kb.owner_sheets import OwnerSheets
from kb.replaying import kept_replay
from kb.resources import site_templates
from kb.site import (
    BenchTables,
    Cautions,
    HideError,
    SearchWords,
    SiteRefused,
    SiteReport,
    write_site,
)
from kb.store import reading
from kb.text import STOP_WORDS, Recogniser
from kb.values import Evidence, FaultRecord, Step, Trail
from kb.values_history import Comebacks, WhileOpen
from kb.values_owner import OwnerSheet
from kb.values_readings import FamilyReadings
from kb.values_replay import Replay
from kb.values_weak import WeakPoints
from kb.weak import weak_points

if TYPE_CHECKING:
    from kb.book import Book


def publish(book: Book, index: Index, folder: Path, cache: Path) -> SiteReport:
    """Write the site of a book; `cache` is its cache folder.

    Raises BenchbookError where the folder or `hide` forbids it.
    """
    progress = book.progress

    def told(done: int, total: int) -> None:
        if progress:
            progress("Writing pages", done, total)

    try:
        return write_site(BookSource(book, index, cache), folder, site_templates(), told)
    except (SiteRefused, HideError) as fault:
        raise BenchbookError(str(fault)) from fault


class BookSource:
    """A book as the site sees it. One reading of the database serves the whole build."""

    def __init__(self, book: Book, index: Index, cache: Path) -> None:
        self._book = book
        self._index = index
        self._cache = cache
        with index.store.reading() as connection:
            self._cases = reading.all_cases(connection)
            self._experience: Experience = experience_in(connection, book.vocabulary)[0]
            self._records = reading.fault_records(connection)
        self._by_number = {case.case: case for case in self._cases}

    @property
    def title(self) -> str:
        """The book's title."""
        return self._book.settings.title

    @property
    def vocabulary(self) -> Vocabulary:
        """The book's words."""
        return self._book.vocabulary

    @property
    def currency(self) -> str:
        """The currency of the prices."""
        return self._book.settings.currency

    @property
    def hide(self) -> Sequence[str]:
        """Keys that are never published."""
        return self._book.settings.hide

    @property
    def cautions(self) -> Cautions:
        """What to read before a step that can hurt."""
        return Cautions(
            access={**cautions.ACCESS}, hazards=cautions.HAZARDS, topics=cautions.TOPICS
        )

    @property
    def media_folder(self) -> Path | None:
        """The folder of photos and sound."""
        folder = self._book.folder / "media"
        return folder if folder.is_dir() and not folder.is_symlink() else None

    def cases(self) -> Sequence[Case]:
        """Every case, oldest first."""
        return self._cases

    def trail(self, case_number: str) -> Sequence[Trail]:
        """How each fault of a case was found, the case itself left out of the counts."""
        case = self._by_number[case_number]
        records = self._records[case_number]
        return [
            self._trail(case, fault, record if record.cause else None)
            for fault, record in zip(case.faults, records, strict=True)
        ]

    def _trail(self, case: Case, fault: Fault, record: FaultRecord | None) -> Trail:
        words = self.vocabulary
        named = self._recogniser(case.complaint)
        intake = Evidence(
            family=case.family,
            symptoms=fault.symptom or named.keys,
            absent=(),
            words=named.rest,
        )
        steps = []
        for made in fault.checks:
            term = words.checks[made.check]
            access = words.access_needed(made.check, case.family)
            inside = words.hazards_of(case.family) if access != "outside" else ()
            steps.append(
                Step(
                    check=made.check,
                    label=term.label,
                    outcome=made.outcome,
                    minutes=made.minutes,
                    at=made.at,
                    note=made.note,
                    access=access,
                    hazards=tuple(dict.fromkeys((*term.hazards, *inside))),
                    ruled_out=(),
                    leading=(),
                )
            )
        return follow(self._experience, record, intake, steps)

    @cached_property
    def _recogniser(self) -> Recogniser:
        return self._book.recogniser

    def weak_points(self, since: dt.date | None) -> WeakPoints:
        """What keeps failing in every family and line, and what became a weak point since then."""
        return weak_points(self._index, self.vocabulary, since=since)

    def comebacks(self, family: str) -> Comebacks:
        """Which repairs of a family or line came back, and how often each sort holds."""
        return self._history.comebacks(family, self._book.settings.comeback_days)

    def while_open(self, family: str) -> WhileOpen:
        """What else to look at while a unit of this family is open."""
        return self._history.while_open(family)

    def readings(self, family: str) -> FamilyReadings:
        """What a healthy unit of a family reads, and what stood out."""
        mains = self._book.settings.mains_voltage
        with self._index.store.reading() as connection:
            return of_family(connection, self._measured, self.vocabulary, family, mains)

    def replay(self) -> Replay:
        """How well every past fault would have been ranked on the day it came in."""
        return kept_replay(self._index, self.vocabulary, self._cache, self._book.progress)

    @cached_property
    def _history(self) -> History:
        return History(self._index, self.vocabulary)

    @cached_property
    def _measured(self) -> Measured:
        with self._index.store.reading() as connection:
            return measured(connection, self.vocabulary, self._book.settings.mains_voltage)

    def search_words(self) -> SearchWords:
        """The text index as tables for the search box."""
        tables = self._index.text.tables()
        return SearchWords(tables.documents, tables.stems, tables.weights, STOP_WORDS)

    def bench_tables(self, published: Sequence[Case]) -> BenchTables:
        """The tables of the bench page, counted over these cases and no others."""
        return bench_tables(published, self.vocabulary, self._experience.strengths)

    def owner_sheets(self, published: Sequence[Case]) -> Callable[[Case], OwnerSheet]:
        """What makes the owner's sheet of one of these cases."""
        words = self.vocabulary
        return OwnerSheets(self._book.settings, words, habits(published, words)).of

    def family_writeup(self, family: str) -> str | None:
        """The Markdown of a family's write-up."""
        path = f"families/{family}.md"
        try:
            data = read_bytes(self._book.folder, path)
        except OSError:
            return None
        return decode(data, Log(path))
