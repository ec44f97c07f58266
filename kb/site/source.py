"""What the site needs to be handed, and what it hands back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from pathlib import Path
from typing import Protocol

from msgspec import Struct

from kb.notes.case import Case
from kb.notes.vocabulary import Vocabulary
from kb.values import Counts, Trail
from kb.values_history import Comebacks, WhileOpen
from kb.values_owner import OwnerSheet
from kb.values_readings import FamilyReadings
from kb.values_replay import Replay
from kb.values_weak import WeakPoints


class Cautions(Struct, frozen=True):
    """What to read before a step that can hurt, as plain text without markup.

    `access` and `topics` hold paragraphs in reading order, `hazards` one sentence each.
    """

    access: Mapping[str, tuple[str, ...]] = {}
    """`open` and `live` -> paragraphs"""
    hazards: Mapping[str, str] = {}
    """hazard key, as in `kb.notes.vocabulary.HAZARDS` -> sentence"""
    topics: Mapping[str, tuple[str, ...]] = {}
    """`valves`, `load`, `ramping-up`, `lifting` -> paragraphs"""


class SearchWords(Struct, frozen=True):
    """The text index as tables, so that the browser gives the order that the program gives.

    The score of a document is the sum of `weights[stem]` over the stems of the question;
    document lengths are already inside the weights. Ties go by case number.
    """

    documents: tuple[str, ...] = ()
    """case numbers; a document index is a place in here, from 0"""
    stems: Mapping[str, str] = {}
    """word -> stem, for every word of a document, in lower case without accents. A word is a run
    of letters and digits; words joined by a hyphen, dot or underscore (`2024-0117`) are in here
    whole and in parts. Words of keys that the book hides should not be in here."""
    weights: Mapping[str, Sequence[tuple[int, int]]] = {}
    """stem -> (document index, weight of at least 1)"""
    ignored: Collection[str] = ()
    """words that a question is read without"""


class BenchTables(Struct, frozen=True):
    """What the bench page ranks with; `docs/methods.md` says how.

    Findings are `symptom:<key>`, `absent:<key>` and `check:<key>`.
    """

    counts: Counts = Counts()
    minutes: Mapping[str, float] = {}
    """check -> hands-on minutes that it usually takes on this bench"""
    made: Mapping[str, Collection[str]] = {}
    """family -> checks that were ever made on it"""
    coming: Mapping[str, tuple[float, float]] = {}
    """symptom -> faults that came and went, and all of which it is known whether they did"""
    levels: Mapping[str, tuple[float, float]] = {}
    """`book`, `kind`, `line`, `family` -> theta and discount of that level of the prior"""
    weights: Mapping[str, float] = {}
    """finding -> its weight"""
    spreads: Mapping[str, float] = {}
    """finding -> how well the weight is known, as a standard deviation"""
    figures: Mapping[str, float] = {}
    """single numbers of the ranking and of the next checks, by name"""


class Source(Protocol):
    """A book as the site sees it."""

    @property
    def title(self) -> str:
        """The book's title."""

    @property
    def vocabulary(self) -> Vocabulary:
        """Families, symptoms, causes and checks."""

    @property
    def currency(self) -> str:
        """ISO 4217 code of the prices in the notes, empty where the book states none."""

    @property
    def hide(self) -> Sequence[str]:
        """Keys of the note format whose values are published nowhere."""

    @property
    def cautions(self) -> Cautions:
        """What to read before a step that can hurt."""

    @property
    def media_folder(self) -> Path | None:
        """The book's `media` folder, None where there is none."""

    def cases(self) -> Sequence[Case]:
        """Every case, in any order, with all its keys: the site leaves out what is hidden."""

    def trail(self, case_number: str) -> Sequence[Trail]:
        """How each fault of a case was found: one trail per fault, in the faults' order."""

    def weak_points(self, since: dt.date | None) -> WeakPoints:
        """What keeps failing in every family and line, and what became a weak point since then."""

    def comebacks(self, family: str) -> Comebacks:
        """Which repairs of a family or line came back, and how often each sort holds."""

    def readings(self, family: str) -> FamilyReadings:
        """What a healthy unit of a family reads, and what stood out."""

    def while_open(self, family: str) -> WhileOpen:
        """What else to look at while a unit of this family is open."""

    def replay(self) -> Replay:
        """How well every past fault would have been ranked on the day it came in."""

    def search_words(self) -> SearchWords:
        """The tables of the search box."""

    def bench_tables(self, published: Sequence[Case]) -> BenchTables:
        """The tables of the bench page, counted over these cases and no others."""

    def owner_sheets(self, published: Sequence[Case]) -> Callable[[Case], OwnerSheet]:
        """What makes the owner's sheet of one of these cases, and knows no others."""

    def family_writeup(self, family: str) -> str | None:
        """The Markdown of `families/<family>.md`, None where nobody wrote one."""


class SiteReport(Struct, frozen=True):
    """How many files a run wrote, found as they should be, and took away."""

    written: int
    unchanged: int
    removed: int
