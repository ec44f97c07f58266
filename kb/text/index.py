"""The text index: documents in, all hits for a question out, best first.

What a word is stands in `words`, what it weighs in `documents`, how hits are ranked in `ranking`,
where the postings are kept in `files`. Only documents that exist count in the statistics, with
their exact lengths, so an index that was updated answers exactly as one that was made anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from pathlib import Path
from typing import Self

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.text.documents import Document, Kept, Weighed, occurrences, weigh
from kb.text.feedback import HITS, PARTS, telling_words
from kb.text.files import Files
from kb.text.folder import claim, clear, remove
from kb.text.lists import STOP_WORDS
from kb.text.postings import Numbers
from kb.text.question import Question
from kb.text.ranking import SCALE, Floats, impacts, length_penalties
from kb.text.words import stem

MOST_REMEMBERED = 1_000_000
"""So many postings, of the terms last asked for, are kept in memory between questions."""
_STOP_STEMS = frozenset(map(stem, STOP_WORDS))


class Scored(Struct, frozen=True):
    """A hit: the case's number and its score."""

    case: str
    score: float


class SearchTables(Struct, frozen=True):
    """The index as arrays; a place is one in `documents`, which stand in order.

    `lengths` and `weights` are in half units. There is a posting for each document that has a
    term: `of` is the place of the term in `terms`, `places` that of the document; they stand in the
    order of both. `words` are those of `TextIndex.words`.
    """

    documents: tuple[str, ...]
    lengths: Numbers
    terms: tuple[str, ...]
    of: Numbers
    places: Numbers
    weights: Numbers
    words: Mapping[str, int]
    kept: tuple[Kept, ...]


class TextIndex:
    """An index in a folder of its own. Open it with `open` or `fresh`; close it after use.

    Every method that reads or writes raises `IndexDamaged` where Whoosh stumbles.
    """

    def __init__(self, files: Files) -> None:
        self._files = files
        self._places: dict[str, int] | None = None
        self._spreads: dict[str, int] = {}
        self._remembered: dict[str, tuple[Numbers, Numbers]] = {}
        self._left = MOST_REMEMBERED
        self._look()

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open the index in `folder`; an empty one is made if there is none.

        Raises `IndexRefused` if the folder is not one that this program made for the same user,
        `IndexDamaged` if the index can't be read, and `OSError` if the folder can't be made.
        """
        claim(folder)
        return cls(Files(folder))

    @classmethod
    def fresh(cls, folder: Path) -> Self:
        """Throw away the index in `folder`, damaged or not, and open an empty one.

        Raises `IndexRefused`, and `OSError`.
        """
        clear(folder)
        return cls.open(folder)

    @staticmethod
    def remove(folder: Path) -> None:
        """Delete an index; what stays there is none of ours, and is refused later."""
        remove(folder)

    def refresh(self) -> None:
        """Turn to what is on disk now: another process may have written."""
        self._look()

    def close(self) -> None:
        """Let go of the files; the index can't be used after this."""
        self._files.close()

    @property
    def stamp(self) -> str | None:
        """What the last `update` or `rebuild` was stamped with; None if there was none."""
        return self._contents.stamp

    @property
    def document_count(self) -> int:
        """The number of cases in the index."""
        return self._count

    def update(
        self,
        changed: Iterable[Document | Weighed],
        removed: Iterable[str],
        stamp: str,
        progress: Callable[[int], None] | None = None,
    ) -> None:
        """Put in new and changed documents and take out `removed` cases, all at once or not at all.

        `progress` is told the number of documents done so far. Of two documents with the same
        case number the later one stays. Raises `IndexBusy`, `IndexDamaged` and `OSError`.
        """
        self._write(changed, frozenset(removed), stamp, progress, anew=False)

    def rebuild(
        self,
        documents: Iterable[Document | Weighed],
        stamp: str,
        progress: Callable[[int], None] | None = None,
    ) -> None:
        """Replace everything by `documents`, all at once or not at all. As `update` otherwise."""
        self._write(documents, frozenset(), stamp, progress, anew=True)

    def search(self, question: Question, allowed: Set[str] | None = None) -> list[Scored]:
        """All cases with any of the words and all of the phrases, best first.

        `allowed` keeps only these cases; it does not change a score. Ties stand in the order of
        case numbers.
        """
        return self.best(question, len(self._contents.cases), allowed)[1]

    def best(
        self,
        question: Question,
        limit: int,
        allowed: Set[str] | None = None,
        feedback: bool = False,
    ) -> tuple[int, list[Scored]]:
        """How many cases `search` finds, and the best `limit` of them.

        With `feedback`, words that the first hits share add to the scores. They find no other
        cases, and do not depend on `allowed`.
        """
        scores = self._scores(question, feedback)
        hits = np.flatnonzero(scores)
        cases = self._contents.cases
        if allowed is not None:
            hits = np.array([n for n in hits.tolist() if cases[n] in allowed], dtype=np.int64)
        first = self._first(scores, hits, limit)
        return len(hits), [Scored(cases[n] or "", int(scores[n]) / SCALE) for n in first]

    def words(self) -> Mapping[str, int]:
        """Every word of the documents, unstemmed, with the number of documents that have it.

        Stop words are left out.
        """
        return {word: n for word, n in self._files.words().items() if word not in STOP_WORDS}

    def texts(self, case: str) -> tuple[str, ...]:
        """The readable texts of a case, for a snippet; none if it is not in the index."""
        place = self._place(case)
        return () if place is None else self._files.texts(place)

    def about(self, case: str) -> bytes:
        """What was given with a case as `Document.about`; nothing if it is not in the index."""
        place = self._place(case)
        return b"" if place is None else self._files.about(place)

    def tables(self) -> SearchTables:
        """The index as plain tables, for a search that has no index at hand."""
        cases = self._contents.cases
        ordered = sorted(self._documents(), key=lambda number: cases[number] or "")
        place_of = np.full(len(cases), -1, dtype=np.int64)
        place_of[ordered] = np.arange(len(ordered))
        terms, of, numbers, weights = self._files.all_postings()
        places = place_of[numbers]
        order = np.lexsort((places, of))
        order = order[places[order] >= 0]
        return SearchTables(
            documents=tuple(cases[number] or "" for number in ordered),
            lengths=self._contents.halves[ordered],
            terms=tuple(terms),
            of=of[order],
            places=places[order],
            weights=weights[order],
            words=self.words(),
            kept=tuple(map(self._files.kept, ordered)),
        )

    def _write(
        self,
        documents: Iterable[Document | Weighed],
        removed: Set[str],
        stamp: str,
        progress: Callable[[int], None] | None,
        anew: bool,
    ) -> None:
        weighed = (d if isinstance(d, Weighed) else weigh(d) for d in documents)
        try:
            self._files.write(weighed, removed, stamp, progress, anew)
        finally:
            self._look()

    def _look(self) -> None:
        self._contents = self._files.look()
        self._places = None
        self._spreads.clear()
        self._forget()
        halves = self._contents.halves
        self._live = np.array([case is not None for case in self._contents.cases], dtype=bool)
        self._count = int(self._live.sum())
        self._penalties = length_penalties(halves, int(halves.sum()), self._count)

    def _place(self, case: str) -> int | None:
        if self._places is None:
            self._places = {name: at for at, name in enumerate(self._contents.cases) if name}
        return self._places.get(case)

    def _documents(self) -> Iterator[int]:
        return (number for number, case in enumerate(self._contents.cases) if case)

    def _forget(self) -> None:
        self._remembered.clear()
        self._left = MOST_REMEMBERED

    def _worths(self, term: str) -> tuple[Numbers, Numbers]:
        """The documents that have a term, and what it is worth to each."""
        found = self._remembered.get(term)
        if found is None:
            numbers, weights = self._files.postings(term)
            if self._contents.gone:
                live = self._live[numbers]
                numbers, weights = numbers[live], weights[live]
            found = numbers, impacts(weights, self._penalties[numbers], self._count)
            if self._left < len(numbers):
                self._forget()
            self._left -= len(numbers)
            self._remembered[term] = found
        return found

    def _scores(self, question: Question, feedback: bool) -> Numbers:
        """What the question is worth to each document, 0 if it is not found."""
        scores = np.zeros(len(self._contents.cases), dtype=np.int64)
        kept: NDArray[np.bool_] | None = None
        asked = 0
        for its_stem in question.word_stems:
            numbers, worths = self._worths(its_stem)
            scores[numbers] += worths
            asked += len(numbers) > 0
        for phrase in question.phrase_stems:
            numbers, weights = self._phrase(phrase)
            scores[numbers] += impacts(weights, self._penalties[numbers], self._count)
            asked += len(numbers) > 0
            having = np.zeros(len(scores), dtype=bool)
            having[numbers] = True
            kept = having if kept is None else kept & having
        if kept is not None:
            scores[~kept] = 0
        if feedback:
            self._feed_back(scores, asked)
        return scores

    def _first(self, scores: Numbers, hits: Numbers, limit: int) -> list[int]:
        """The best of the hits, best first."""
        if len(hits) > limit:  # ties with the last one stay: their case numbers decide
            enough = scores[hits]
            hits = hits[enough >= np.partition(enough, len(hits) - limit)[len(hits) - limit]]
        cases = self._contents.cases
        ranked = sorted(
            (-score, cases[number] or "", number)
            for score, number in zip(scores[hits].tolist(), hits.tolist(), strict=True)
        )
        return [number for _, _, number in ranked[:limit]]

    def _feed_back(self, scores: Numbers, asked: int) -> None:
        """Add what words that the first hits share are worth to each hit.

        Together they weigh as much as the `asked` words and phrases of the question.
        """
        hits = np.flatnonzero(scores)
        first = [
            (int(scores[n]), int(self._contents.halves[n]), self._files.main_terms(n))
            for n in self._first(scores, hits, HITS)
        ]
        more = np.zeros_like(scores)
        for term, share in telling_words(first, self._spread, self._count):
            numbers, worths = self._worths(term)
            more[numbers] += share * worths
        scores[hits] += asked * more[hits] // PARTS

    def _spread(self, term: str) -> int:
        """How many documents have a term; remembered, because likely terms come again and again."""
        if term not in self._spreads:
            gone = self._contents.gone
            found = len(self._worths(term)[0]) if gone else self._files.spread(term)
            self._spreads[term] = found
        return self._spreads[term]

    def _phrase(self, phrase: tuple[str, ...]) -> tuple[Numbers, Floats]:
        """The documents that have a phrase, and the summed weight of its occurrences in each.

        Documents with all its words are looked through; stop words are in no posting list.
        """
        candidates = np.flatnonzero(self._live)
        for its_stem in dict.fromkeys(phrase):
            if its_stem not in _STOP_STEMS:
                having = self._worths(its_stem)[0]
                candidates = np.intersect1d(candidates, having, assume_unique=True)
        weights = np.array(
            [occurrences(phrase, self._files.runs(number)) for number in candidates.tolist()]
        )
        found = np.flatnonzero(weights)
        return candidates[found], weights[found]
