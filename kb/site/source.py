"""What the site needs to be handed, and what it hands back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Protocol, Self

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.notes.case import Case
from kb.notes.vocabulary import Vocabulary
from kb.site.looks_private import PrivateLooking
from kb.values import Counts, FaultRecord, Trail
from kb.values_chart import Chart
from kb.values_history import Comebacks, Drawer, WhileOpen
from kb.values_owner import OwnerSheet
from kb.values_readings import FamilyReadings
from kb.values_replay import Replay
from kb.values_weak import WeakPoints

Numbers = NDArray[np.int64]


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


class Pairs(Struct, frozen=True):
    """For each of some words, in order, a list of pairs: a place among the cases and a number.

    The pairs of `keys[i]` are those from `starts[i]` to `starts[i + 1]`.
    """

    keys: tuple[str, ...]
    starts: Numbers
    places: Numbers
    amounts: Numbers

    @classmethod
    def of(cls, words: Sequence[str], of: Numbers, places: Numbers, amounts: Numbers) -> Self:
        """Pairs in order, each with the place of its word in `words`; words without any go."""
        having, first = np.unique(of, return_index=True)
        keys = tuple(words[place] for place in having.tolist())
        return cls(keys, np.append(first, len(of)).astype(np.int64), places, amounts)


class NameOfSymptom(Struct, frozen=True):
    """One way to say a symptom: its stems, each with whether the name itself negates it."""

    key: str
    stems: Mapping[str, bool]


class SearchWords(Struct, frozen=True):
    """The text index as tables, so that the browser gives the order that the program gives.

    `docs/search.md` says how hits are ranked. A place is one in `documents`, from 0.
    """

    documents: tuple[str, ...]
    """case numbers, in order"""
    lengths: Numbers
    """how long each case is, in half units"""
    postings: Pairs
    """stem, or joined words as they are -> the cases that have it, and its weight in half units"""
    spoken: Pairs
    """stem -> the cases and the positions at which it stands"""
    bounds: Sequence[Sequence[int]]
    """of each case, the positions from which words weigh 2, 1.5, 1 and 0.5"""
    main: Sequence[Mapping[str, int]]
    """of each case the stems that weigh most, in half units"""
    words: Mapping[str, int]
    """word as written, folded -> in how many cases it stands"""
    texts: Sequence[Sequence[str]]
    """of each case what a snippet is cut from: complaint, note, notes of its checks"""
    lists: Mapping[str, Sequence[str]] = {}
    """what the language of questions knows besides"""
    names: Sequence[NameOfSymptom] = ()
    """the ways to say each symptom"""


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


class StudyCase(Struct, frozen=True):
    """A fault that can be studied: number of its case, its place among the faults from 0.

    `known` is how many of `Study.past` were finished before it came in; `themes` are keys of the
    collections it belongs to.
    """

    case: str
    fault: int
    known: int
    themes: tuple[str, ...] = ()


class Study(Struct, frozen=True):
    """The finished faults, the first finished first, and those to study, the newest first."""

    past: tuple[FaultRecord, ...] = ()
    cases: tuple[StudyCase, ...] = ()


class Sheets(Protocol):
    """What makes owner's sheets."""

    def of(self, case: Case) -> OwnerSheet:
        """The sheet of a case from which everything hidden has been taken out."""

    def rests_on(self, case: Case) -> object:
        """What the sheet takes from other cases: while it stays the same, the sheet does."""


class Source(Protocol):
    """A book as the site sees it."""

    @property
    def stamp(self) -> bytes:
        """Stands for all that the source can tell: the same stamp, the same site."""

    @property
    def asked(self) -> int | None:
        """Through how many of its faults a large book is asked on the pages of its cases."""

    @property
    def basis(self) -> object:
        """What the page of a case rests on besides the case, its own links and the templates."""

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
        """What keeps failing in every family and line, and what of that is new since then."""

    def comebacks(self, family: str) -> Comebacks:
        """Which repairs of a family or line came back, and how often each sort holds."""

    def drawer(self, family: str | None) -> Drawer:
        """The spares for most of the last year's repairs, of a family or line, or of all."""

    def readings(self, family: str) -> FamilyReadings:
        """What a healthy unit of a family reads, and what stood out."""

    def while_open(self, family: str) -> WhileOpen:
        """What else to look at while a unit of this family is open."""

    def replay(self) -> Replay:
        """How well past faults would have been ranked on the day each came in."""

    @property
    def replay_since(self) -> dt.date | None:
        """Since when the faults of the replay came in; None where all were asked."""

    def search_words(self, published: Sequence[Case]) -> SearchWords:
        """The tables of the search, without what these cases keep to themselves."""

    def bench_tables(self, published: Sequence[Case]) -> BenchTables:
        """The tables of the bench page, counted over these cases and no others."""

    def fault_charts(self, published: Sequence[Case]) -> Sequence[Chart]:
        """The fault-finding charts, drawn from these cases and no others."""

    def study(self, published: Sequence[Case]) -> Study:
        """Which faults can be studied and what was known before each, from these cases alone."""

    def owner_sheets(self, published: Sequence[Case]) -> Sheets:
        """What makes the owner's sheet of one of these cases, and knows no others."""

    def family_writeup(self, family: str) -> str | None:
        """The Markdown of `families/<family>.md`, None where nobody wrote one."""


class SiteReport(Struct, frozen=True):
    """How many files a run wrote, found as they should be, and took away."""

    written: int
    unchanged: int
    removed: int
    looks_private: tuple[PrivateLooking, ...] = ()
    """what is published though it looks like a telephone number or an address"""
