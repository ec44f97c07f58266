"""What the site is made from: a book as the `kb.site.Source` it asks for."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from kb import cautions
from kb.bench_tables import Counted, counted, tables_of
from kb.charting import fault_charts
from kb.errors import BenchbookError
from kb.faults.strengths import Strengths
from kb.history import History
from kb.indexing import Index
from kb.learning import strengths_in
from kb.measuring import Measured, measured, of_family
from kb.notes.case import Case
from kb.notes.folder import read_bytes
from kb.notes.frontmatter import decode
from kb.notes.problems import Log
from kb.notes.vocabulary import Vocabulary
from kb.owner_checks import habits
from kb.owner_sheets import OwnerSheets
from kb.private_places import placed
from kb.replaying import ReplayForPages, kept_replay
from kb.resources import site_templates
from kb.search_tables import search_words
from kb.site import (
    BenchTables,
    Cautions,
    HideError,
    SearchWords,
    SiteRefused,
    SiteReport,
    Study,
    write_site,
)
from kb.site.kept import digest, folder_stamp
from kb.store import reading
from kb.store.writing import known_notes
from kb.studying import study
from kb.taken_out import TakenOut
from kb.trails import Trails
from kb.values import Trail
from kb.values_chart import Chart
from kb.values_history import Comebacks, Drawer, WhileOpen
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
        source = BookSource(book, index, cache)
        # Each folder has a memory of its own.
        place = hashlib.blake2b(str(folder.resolve()).encode(), digest_size=8).hexdigest()
        report = write_site(source, folder, site_templates(), told, cache / f"site-{place}")
    except (SiteRefused, HideError) as fault:
        raise BenchbookError(str(fault)) from fault
    if not report.looks_private:
        return report
    found = placed(book.folder, report.looks_private, book.settings.hide)
    return replace(report, looks_private=found)


class _Read(Struct, frozen=True):
    """The cases, how their causes were found, and what the ranking learned: of one moment.

    `notes` is case number -> digest of its note.
    """

    cases: Sequence[Case]
    notes: Mapping[str, str]
    trails: Trails
    strengths: Strengths


class BookSource:
    """A book as the site sees it; the database is read when something is first asked of it."""

    def __init__(self, book: Book, index: Index, cache: Path) -> None:
        self._book = book
        self._index = index
        self._cache = cache
        self._last: tuple[Sequence[Case], Counted] | None = None

    @property
    def stamp(self) -> bytes:
        """Stands for the notes as they were read, the words, the settings and the write-ups."""
        with self._index.store.reading() as connection:
            notes = [(path, note.digest) for path, note in known_notes(connection).items()]
        writeups = [self.family_writeup(key) for key in self.vocabulary.families]
        folder = self.media_folder
        media = sorted(folder.rglob("*")) if folder else []
        states = [(str(file), s.st_size, s.st_mtime_ns) for file in media if (s := file.lstat())]
        read = (notes, self._book.settings, self.vocabulary, writeups, states)
        return hashlib.blake2b(msgspec.msgpack.encode(read), digest_size=16).digest()

    @property
    def basis(self) -> object:
        """What the page of a case rests on besides the case: settings, and the faults asked."""
        return self._book.settings, self._read.trails.basis

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
        return self._read.cases

    def trail(self, case_number: str) -> Sequence[Trail]:
        """How each fault of a case was found, the case itself left out of the counts."""
        return self._read.trails.of(self._by_number[case_number])

    def weak_points(self, since: dt.date | None) -> WeakPoints:
        """What keeps failing in every family and line, and what became a weak point since then."""
        return weak_points(self._index, self.vocabulary, since=since, cache=self._cache)

    def comebacks(self, family: str) -> Comebacks:
        """Which repairs of a family or line came back, and how often each sort holds."""
        return self._history.comebacks(family, self._book.settings.comeback_days)

    def while_open(self, family: str) -> WhileOpen:
        """What else to look at while a unit of this family is open."""
        return self._history.while_open(family)

    def drawer(self, family: str | None) -> Drawer:
        """The spares for most of the last year's repairs, of a family or line, or of all."""
        return self._history.drawer([family] if family else [])

    def readings(self, family: str) -> FamilyReadings:
        """What a healthy unit of a family reads, and what stood out."""
        mains = self._book.settings.mains_voltage
        with self._index.store.reading() as connection:
            return of_family(connection, self._measured, self.vocabulary, family, mains)

    def replay(self) -> Replay:
        """How well past faults would have been ranked on the day each came in."""
        return self._replay.answer

    @property
    def replay_since(self) -> dt.date | None:
        """Since when the faults of the replay came in; None where all were asked."""
        return self._replay.since

    @cached_property
    def _replay(self) -> ReplayForPages:
        return kept_replay(self._index, self.vocabulary, self._cache, self._book.progress)

    @property
    def asked(self) -> int | None:
        """Through how many of its faults a large book is asked on the pages of its cases."""
        return self._read.trails.asked

    @cached_property
    def _read(self) -> _Read:
        with self._index.store.reading() as connection:
            cases = reading.all_cases(connection)
            known = known_notes(connection)
            return _Read(
                cases=cases,
                notes={c.case: known[c.path].digest for c in cases if c.path in known},
                trails=Trails(connection, self.vocabulary, self._book.recogniser),
                strengths=strengths_in(connection),
            )

    @cached_property
    def _by_number(self) -> dict[str, Case]:
        return {case.case: case for case in self._read.cases}

    @cached_property
    def _history(self) -> History:
        return History(self._index, self.vocabulary)

    @cached_property
    def _measured(self) -> Measured:
        with self._index.store.reading() as connection:
            return measured(connection, self.vocabulary, self._book.settings.mains_voltage)

    def search_words(self, published: Sequence[Case]) -> SearchWords:
        """The tables of the search, without what these cases keep to themselves."""
        names = self._book.recogniser.names
        rests_on = (folder_stamp(Path(__file__).parent, ["*.py"]), self.vocabulary, self.hide)
        memory = TakenOut(self._cache / "taken-out", digest(rests_on), self._read.notes)
        words = self.vocabulary
        found = search_words(self._index.text, self._by_number, published, words, names, memory)
        memory.keep()
        return found

    def bench_tables(self, published: Sequence[Case]) -> BenchTables:
        """The tables of the bench page, counted over these cases and no others."""
        return tables_of(self._counted(published), self.vocabulary, self._read.strengths)

    def fault_charts(self, published: Sequence[Case]) -> Sequence[Chart]:
        """The fault-finding charts, drawn from these cases and no others."""
        return fault_charts(self._counted(published), self.vocabulary, self._read.strengths)

    def _counted(self, published: Sequence[Case]) -> Counted:
        """The counts of these cases, which several answers rest on."""
        if self._last is None or self._last[0] is not published:
            self._last = published, counted(published, self.vocabulary)
        return self._last[1]

    def study(self, published: Sequence[Case]) -> Study:
        """Which faults can be studied and what was known before each, from these cases alone."""
        records = self._counted(published).records
        return study(published, records, self.vocabulary, self._read.strengths)

    def owner_sheets(self, published: Sequence[Case]) -> OwnerSheets:
        """What makes the owner's sheet of one of these cases."""
        words = self.vocabulary
        return OwnerSheets(self._book.settings, words, habits(published, words))

    def family_writeup(self, family: str) -> str | None:
        """The Markdown of a family's write-up."""
        path = f"families/{family}.md"
        try:
            data = read_bytes(self._book.folder, path)
        except OSError:
            return None
        return decode(data, Log(path))
