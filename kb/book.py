"""`Book`: finds a book, its settings and its cache, and composes the layers below.

This is the one public door for Python users; the command line and the site use nothing else.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Sequence
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, TypeVar

from kb.cache import cache_folder, existing_folder
from kb.errors import BenchbookError, CacheError, CacheReadOnlyError, NoBookError, QuestionError
from kb.notes.case import Case
from kb.notes.problems import Problem
from kb.terms import did_you_mean, with_kinds
from kb.values import Diagnosis, IndexReport, SearchAnswer
from kb.values_weak import WeakPoints

if TYPE_CHECKING:
    from tempfile import TemporaryDirectory

    from kb.indexing import Index, Progress
    from kb.lexicon import Lexicon
    from kb.site import SiteReport
    from kb.text import Recogniser
    from kb.values_history import Ages, BatchTrace, Comebacks, Drawer, WhileOpen
    from kb.values_owner import OwnerSheet
    from kb.values_readings import FamilyReadings
    from kb.values_replay import Replay

T = TypeVar("T")


class Book:
    """A service book: search it, ask it, or write its site.

    Every method that reads brings the index up to date first. Errors that a person can mend are
    `kb.errors.BenchbookError`.
    """

    def __init__(self, folder: Path, cache: Path | None, lexicon: Lexicon, kept: bool) -> None:
        self.folder = folder
        self.settings = lexicon.settings
        self.vocabulary = lexicon.vocabulary
        self.vocabulary_problems = lexicon.problems
        self._lexicon = lexicon
        self._kept = kept
        self._cache_root = cache
        self._cache: Path | None = None
        self._opened: Index | None = None
        self._report: IndexReport | None = None
        self._for_once: TemporaryDirectory[str] | None = None
        self.remarks: tuple[str, ...] = ()
        self.progress: Progress | None = None

    @cached_property
    def recogniser(self) -> Recogniser:
        """What recognises the symptoms in a sentence."""
        return self._lexicon.recogniser()

    # ------------------------------------------------------------ opening

    @classmethod
    def open(
        cls, folder: str | os.PathLike[str], cache: str | os.PathLike[str] | None = None
    ) -> Book:
        """Open the book in `folder`, which holds a `book.yaml`; `cache` is where indexes are kept.

        Raises NoBookError where there is none.
        """
        path = Path(folder)
        if not (path / "book.yaml").is_file():
            found = (
                "book.yaml is no file" if (path / "book.yaml").exists() else "it has no book.yaml"
            )
            raise NoBookError(
                f"there is no book in '{path}': {found}",
                "name the folder of a book with --book DIR, or try: benchbook demo",
            )
        from kb.lexicon import read_lexicon  # whoever only asks for help needs no words

        root = Path(cache) if cache is not None else None
        lexicon, kept = read_lexicon(path, existing_folder(path, root))
        return cls(path, root, lexicon, kept)

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the index, and of a cache that was made for this once."""
        self._shut()
        if self._for_once is not None:
            self._for_once.cleanup()
            self._for_once = self._cache = None

    def _shut(self) -> None:
        if self._opened is not None:
            self._opened.close()
            self._opened = None

    # ------------------------------------------------------------ commands

    def check(self) -> tuple[Problem, ...]:
        """Every fault in the notes and the vocabulary, read afresh; needs no cache."""
        from kb.checking import check_notes

        notes = check_notes(self.folder, self.vocabulary, self.progress)
        return (*self.vocabulary_problems, *notes)

    def index(self, rebuild: bool = False) -> IndexReport:
        """Bring the database and the text index up to date with the notes."""
        return self._try(lambda: self._update(rebuild))

    def search(
        self,
        text: str,
        family: str | None = None,
        symptom: str | None = None,
        cause: str | None = None,
        since: dt.date | None = None,
        limit: int = 10,
    ) -> SearchAnswer:
        """Past cases that match the words and "quoted phrases" of `text`, best first.

        `family` may also be a line; `symptom` and `cause` take in what is a kind of them. Raises
        QuestionError for an unknown term or an empty question.
        """
        from kb.searching import Filters, search

        words = self.vocabulary
        filters = Filters(
            families=with_kinds("family", family, words.families),
            symptoms=with_kinds("symptom", symptom, words.symptoms),
            causes=with_kinds("cause", cause, words.causes),
            since=since,
        )
        if limit < 1:
            raise QuestionError("the limit must be at least 1")
        return self._answer(lambda index: search(index, self.recogniser, text, filters, limit))

    def case(self, number: str) -> Case:
        """The case of this number, letter case aside. Raises QuestionError if there is none."""
        from kb.store import reading

        number = number.encode("utf-8", "replace").decode()  # a shell may pass broken bytes

        def ask(index: Index) -> tuple[Case | None, list[str], str | None]:
            with index.store.reading() as connection:
                found = reading.find_case(connection, number)
                if found:
                    return found, [], None
                refused = reading.refused_note(connection, f"{number}.md")
                return None, reading.case_numbers(connection), refused

        case, numbers, refused = self._answer(ask)
        if case is None and refused:
            raise QuestionError(
                f"'{refused}' was left out because of a fault", "see: benchbook check"
            )
        if case is None:
            raise QuestionError(f"there is no case '{number}'", did_you_mean(number, numbers))
        return case

    def cases(self) -> list[Case]:
        """All cases, oldest first."""
        from kb.store import reading

        def ask(index: Index) -> list[Case]:
            with index.store.reading() as connection:
                return reading.all_cases(connection)

        return self._answer(ask)

    def diagnose(
        self,
        text: str = "",
        family: str | None = None,
        symptoms: Sequence[str] = (),
        absent: Sequence[str] = (),
        checks: Sequence[tuple[str, str]] = (),
        access: str = "outside",
        modified: Sequence[str] = (),
        readings: Sequence[str] = (),
        plan: bool = False,
    ) -> Diagnosis:
        """Likely causes of a complaint, and what to try next within the allowed access.

        `checks` are (check, outcome) pairs in the order they were made, `modified` is what of the
        unit is not as it left the maker, `readings` are as `first-filter=291 V @ 221 V, idle`;
        `plan` asks for a sequence of checks too. Raises QuestionError for an unknown term, an
        outcome that the check does not have, or a reading that is none.
        """
        from kb.diagnosing import Question, diagnose

        question = Question(
            text=text,
            family=family,
            symptoms=tuple(symptoms),
            absent=tuple(absent),
            checks=tuple(checks),
            access=access,
            modified=tuple(modified),
            readings=tuple(readings),
            plan=plan,
        )
        mains = self.settings.mains_voltage
        return self._answer(
            lambda index: diagnose(index, self.vocabulary, self.recogniser, question, mains)
        )

    def weak_points(self, name: str | None = None, since: dt.date | None = None) -> WeakPoints:
        """What keeps failing, against comparable units: in a family, a line, of a maker or a kind.

        Without a name in each. `since` asks what became a weak point since then. Raises
        QuestionError for a name that is none of these.
        """
        from kb.weak import weak_points

        cache = self._find_cache()
        return self._answer(lambda index: weak_points(index, self.vocabulary, name, since, cache))

    def replay(self, family: str | None = None, since: dt.date | None = None) -> Replay:
        """How well `diagnose` would have done on past faults, each on the day it came in.

        Of all faults, or of those of a family or line, or received since then. Raises
        QuestionError for an unknown family.
        """
        from kb.replaying import replay

        return self._answer(
            lambda index: replay(index, self.vocabulary, family, since, self.progress)
        )

    def comebacks(self, family: str | None = None) -> Comebacks:
        """Which repairs came back, and how often each sort holds; in a family, a line, or all.

        Raises QuestionError for an unknown family.
        """
        from kb.history import comebacks

        days = self.settings.comeback_days
        return self._answer(lambda index: comebacks(index, self.vocabulary, family, days))

    def batch(self, part: str, batch: str | None = None) -> BatchTrace:
        """Where these parts went, which repairs came back, and which units still carry them.

        Raises QuestionError if no note names such a part or batch.
        """
        from kb.history import batch as trace

        days = self.settings.comeback_days
        return self._answer(lambda index: trace(index, self.vocabulary, part, batch, days))

    def while_open(self, unit: str, doing: str | None = None) -> WhileOpen:
        """What else to look at while a unit is open: one of this family, or the one of this case.

        `doing` is the cause that is being put right. Raises QuestionError for what is unknown.
        """
        from kb.history import while_open

        return self._answer(lambda index: while_open(index, self.vocabulary, unit, doing))

    def drawer(self, families: Sequence[str] = ()) -> Drawer:
        """The spares that would have served most of the last year's repairs of these families."""
        from kb.history import drawer

        return self._answer(lambda index: drawer(index, self.vocabulary, families))

    def ages(self, family: str) -> Ages:
        """Ages at failure, and repairs of one unit over time, in a family or those of a line."""
        from kb.history import ages

        return self._answer(lambda index: ages(index, self.vocabulary, family))

    def readings(self, family: str) -> FamilyReadings:
        """What a healthy unit of a family reads at each test point, and what stood out.

        Raises QuestionError for an unknown family.
        """
        from kb.measuring import readings

        mains = self.settings.mains_voltage
        return self._answer(lambda index: readings(index, self.vocabulary, family, mains))

    def owner_sheet(self, number: str) -> OwnerSheet:
        """A case told to the owner in plain words, without what the book hides.

        Raises QuestionError if there is no such case, BenchbookError where `hide` forbids a sheet.
        """
        from kb.owner_sheets import owner_sheet

        case = self.case(number)
        return self._answer(lambda index: owner_sheet(index, self.vocabulary, self.settings, case))

    def owner_sheet_page(self, number: str, file: str | os.PathLike[str] | None = None) -> str:
        """The owner's sheet as an HTML document of its own, also written to `file` if one is named.

        Raises BenchbookError for a file that is there and is no owner's sheet.
        """
        from kb.owner_page import owner_page, write_owner_page

        page = owner_page(self.owner_sheet(number))
        if file is not None:
            self._keep_out(Path(file).parent, "owner's sheet")
            write_owner_page(page, Path(file))
        return page

    def write_site(self, folder: str | os.PathLike[str]) -> SiteReport:
        """Write the static site into `folder`, which is empty or already a site of this program.

        One site of a book is written at a time; a second run waits for the first.
        """
        from kb.indexing import locked
        from kb.publishing import publish

        self._keep_out(Path(folder), "site", self.folder)
        cache = self._find_cache()
        with locked(cache / "site.lock", "writing a site of this book"):
            return self._answer(lambda index: publish(self, index, Path(folder), cache))

    def _keep_out(self, folder: Path, what: str, *never: Path) -> None:
        """Refuse to write among what people wrote, in the cache, or in a folder that is `never`."""
        real, book = folder.resolve(), self.folder.resolve()
        own = (book / name for name in ("cases", "families", "media", "vocabulary"))
        closed = [*own, self._find_cache()]
        at_top = any(real == place.resolve() for place in never)
        if at_top or any(real == place or place in real.parents for place in closed):
            raise BenchbookError(
                f"'{folder}' belongs to the book or the cache: no {what} is written there",
                "name another folder",
            )

    def refused(self) -> int:
        """How many notes are left out of the index because of a fault, when it was last asked."""
        return (self._report or self.index()).refused

    # ------------------------------------------------------------ the index

    def _update(self, rebuild: bool = False) -> IndexReport:
        from kb.indexing import bring_up_to_date, open_index
        from kb.lexicon import BookSource, keep_lexicon

        cache = self._find_cache()
        if self._opened is None:
            self._opened = open_index(cache)
        words = self._lexicon
        source = BookSource(self.folder, words.vocabulary, words.names, words.vocabulary_digest)
        self._report = bring_up_to_date(source, self._opened, cache, rebuild, self.progress)
        if not self._kept:
            keep_lexicon(words, cache)
            self._kept = True
        return self._report

    def _find_cache(self) -> Path:
        """The cache folder; where none can be written, one that lives as long as this object."""
        if self._cache is None:
            try:
                self._cache = cache_folder(self.folder, self._cache_root)
            except CacheReadOnlyError as fault:
                from tempfile import TemporaryDirectory

                self._for_once = TemporaryDirectory(prefix="benchbook-")
                self._cache = cache_folder(self.folder, Path(self._for_once.name))
                once = f"{fault.message}: everything is read anew for this once; {fault.hint}"
                self.remarks = (once,)
        return self._cache

    def _answer(self, ask: Callable[[Index], T]) -> T:
        from kb.store.database import StoreMovedError

        def answer() -> T:
            while True:
                self._update()
                assert self._opened is not None
                try:
                    return ask(self._opened)
                except StoreMovedError:
                    pass  # somebody wrote in between: bring up to date, and ask again

        return self._try(answer)

    def _try(self, work: Callable[[], T]) -> T:
        """Do the work; a damaged index is thrown away, being derived, and made again."""
        from kb.indexing import look_again, throw_away
        from kb.store.database import StoreBusyError, StoreDamagedError
        from kb.text import IndexBusy, IndexDamaged

        remedies = [look_again, throw_away]
        while True:
            try:
                return work()
            except (StoreBusyError, IndexBusy) as fault:
                raise CacheError(
                    f"another program holds the index in '{self._cache}'",
                    "wait for it to end, then ask again",
                ) from fault
            except (StoreDamagedError, IndexDamaged) as fault:
                self._shut()
                if not remedies or self._cache is None:
                    raise BenchbookError(
                        f"the index in '{self._cache}' cannot be written: {fault}",
                        "delete that folder, or name another with --cache DIR",
                    ) from fault
                remedies.pop(0)(self._cache)


def find_book(start: Path) -> Path:
    """The folder `start` or its nearest parent with a `book.yaml`, else `BENCHBOOK`.

    Raises NoBookError where there is neither.
    """
    for folder in (start, *start.parents):
        if (folder / "book.yaml").is_file():
            return folder
    chosen = os.environ.get("BENCHBOOK")
    if chosen:
        return Path(chosen)
    raise NoBookError(
        f"there is no book in '{start}' or above it",
        "go to the folder of a book, name one with --book DIR, or try: benchbook demo",
    )
