"""The text index: documents in, all hits for a question out, best first.

What a word is stands in `words`, what it weighs in `documents`, how hits are ranked in `ranking`,
where the postings are kept in `files`. Only documents that exist count in the statistics, with
their exact lengths, so an index that was updated answers exactly as one that was made anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from pathlib import Path
from typing import Self

from msgspec import Struct

from kb.text.documents import Document, occurrences
from kb.text.files import Files
from kb.text.folder import claim, clear
from kb.text.lists import STOP_WORDS
from kb.text.question import Question
from kb.text.ranking import DIGITS, add_scores, length_penalties
from kb.text.words import stem

SCALE = 10_000
_STOP_STEMS = frozenset(map(stem, STOP_WORDS))


class Scored(Struct, frozen=True):
    """A hit: the case's number and its score."""

    case: str
    score: float


class SearchTables(Struct, frozen=True):
    """Case numbers; word -> stem; stem -> (place in `documents`, whole weight of at least 1)."""

    documents: tuple[str, ...]
    stems: Mapping[str, str]
    weights: Mapping[str, tuple[tuple[int, int], ...]]


class TextIndex:
    """An index in a folder of its own. Open it with `open` or `fresh`; close it after use.

    Every method that reads or writes raises `IndexDamaged` where Whoosh stumbles.
    """

    def __init__(self, files: Files) -> None:
        self._files = files
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
        changed: Iterable[Document],
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
        documents: Iterable[Document],
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
        scores: dict[int, float] = {}
        kept: set[int] | None = None
        for its_stem in question.word_stems:
            add_scores(scores, self._files.postings(its_stem), self._count, self._penalties)
        for phrase in question.phrase_stems:
            found = self._phrase(phrase)
            add_scores(scores, found, self._count, self._penalties)
            kept = found.keys() & (found.keys() if kept is None else kept)
        hits = [
            Scored(case, round(score, DIGITS))
            for document, score in scores.items()
            if (kept is None or document in kept)
            and (case := self._contents.cases[document])
            and (allowed is None or case in allowed)
        ]
        return sorted(hits, key=lambda hit: (-hit.score, hit.case))

    def words(self) -> Mapping[str, int]:
        """Every word of the documents, unstemmed, with the number of documents that have it.

        Stop words are left out. Reads all documents: meant for the few searches that find nothing.
        """
        counts: Counter[str] = Counter()
        for document in self._documents():
            counts.update({word for _, run in self._files.runs(document) for word in run.split()})
        for word in STOP_WORDS:
            counts.pop(word, None)
        return counts

    def tables(self) -> SearchTables:
        """The index as plain tables, for a search that has no index at hand.

        A document's score for a question of single words is then the sum of its weights over the
        question's stems, `SCALE` times what `search` gives, each rounded to a whole number.
        """
        numbers = sorted(self._documents(), key=lambda n: self._contents.cases[n] or "")
        place = {number: at for at, number in enumerate(numbers)}
        stems = {word: stem(word) for word in self.words()}
        # Joined words (`2024-0117`, `high-esr`) are terms of their own, beside their parts.
        stems |= {term: term for term in self._files.terms() - set(stems.values())}
        stems = dict(sorted(stems.items()))
        weights: dict[str, tuple[tuple[int, int], ...]] = {}
        for its_stem in sorted(set(stems.values())):
            worth: dict[int, float] = {}
            add_scores(worth, self._files.postings(its_stem), self._count, self._penalties)
            found = sorted((place[n], max(1, round(SCALE * w))) for n, w in worth.items())
            if found:
                weights[its_stem] = tuple(found)
        documents = tuple(self._contents.cases[n] or "" for n in numbers)
        return SearchTables(documents, stems, weights)

    def _write(
        self,
        documents: Iterable[Document],
        removed: Set[str],
        stamp: str,
        progress: Callable[[int], None] | None,
        anew: bool,
    ) -> None:
        latest = {document.case: document for document in documents}
        try:
            self._files.write(latest, removed, stamp, progress, anew)
        finally:
            self._look()

    def _look(self) -> None:
        self._contents = self._files.look()
        self._count = sum(1 for _ in self._documents())
        halves = self._contents.halves
        self._penalties = length_penalties(halves, sum(halves), self._count)

    def _documents(self) -> Iterator[int]:
        return (number for number, case in enumerate(self._contents.cases) if case)

    def _phrase(self, phrase: tuple[str, ...]) -> dict[int, float]:
        """The documents that have a phrase, each with the summed weight of its occurrences.

        Documents with all its words are looked through; stop words are in no posting list.
        """
        candidates: Set[int] | None = None
        for its_stem in dict.fromkeys(phrase):
            if its_stem not in _STOP_STEMS:
                having = self._files.postings(its_stem).keys()
                candidates = having if candidates is None else candidates & having
        found = {}
        for document in self._documents() if candidates is None else sorted(candidates):
            weight = occurrences(phrase, self._files.runs(document))
            if weight:
                found[document] = weight
        return found
