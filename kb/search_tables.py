"""The tables of the site's search: the text index, less what the cases keep to themselves.

The page ranks in the browser. Whatever it could be asked for can be read out of its tables, so a
word of a hidden value is in none of them: neither as a word, nor as one that a case has, nor where
it stands. Only how long a case is, and the mean of that, are those of the index.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.intake import document_of
from kb.notes.case import Case
from kb.notes.vocabulary import Vocabulary
from kb.site import NameOfSymptom, Pairs, SearchWords
from kb.taken_out import Gone, TakenOut
from kb.text import (
    Document,
    Kept,
    Name,
    SearchTables,
    TextIndex,
    plain_text,
    read_label,
    stem,
    taken_out,
    unpack_kept,
    weigh,
    word_lists,
)

Runs = Sequence[tuple[float, str]]
Numbers = NDArray[np.int64]
RUN_WEIGHTS = (6, 4, 3, 2, 1)
"""What the words of a stretch weigh, in half units, heaviest first."""
_GAP = "|"
"""Stands between two stretches; no word holds it."""
_Line = tuple[float, tuple[str, tuple[str, ...]], int]
"""weight, words and terms, and how many times it is gone"""


def search_words(
    text: TextIndex,
    cases: Mapping[str, Case],
    published: Sequence[Case],
    vocabulary: Vocabulary,
    names: Sequence[Name],
    memory: TakenOut | None = None,
) -> SearchWords:
    """The tables for these cases as they are published; `cases` are the same with all their keys.

    `memory` holds what was taken out of them before, and is brought up to date.

    Raises what `TextIndex.tables` raises.
    """
    tables = text.tables()
    memory = memory or TakenOut()
    shown = {case.case: case for case in published}
    place_of = {number: place for place, number in enumerate(tables.documents)}
    withheld = {
        place_of[number]: _withheld(
            case, shown[number], tables.kept[place_of[number]], vocabulary, memory
        )
        for number, case in cases.items()
        if case is not shown[number]
    }
    runs = [
        withheld[place].runs if place in withheld else kept.runs
        for place, kept in enumerate(tables.kept)
    ]
    spoken, bounds = _spoken(runs)
    return SearchWords(
        documents=tables.documents,
        lengths=tables.lengths,
        postings=_postings(tables, withheld),
        spoken=spoken,
        bounds=bounds,
        main=[_main(kept, withheld.get(place)) for place, kept in enumerate(tables.kept)],
        words=_words(tables, withheld),
        texts=[
            withheld[place].texts if place in withheld else kept.texts
            for place, kept in enumerate(tables.kept)
        ],
        lists=word_lists(),
        names=[NameOfSymptom(name.key, name.stems) for name in names],
    )


class _Withheld(Struct, frozen=True):
    """What a case keeps to itself, terms in half units and words; and runs and texts without it."""

    halves: Mapping[str, int]
    words: frozenset[str]
    runs: Runs
    texts: Sequence[str]


def _withheld(
    case: Case, published: Case, kept: Kept, vocabulary: Vocabulary, memory: TakenOut
) -> _Withheld:
    gone = memory.of(case.case)
    if gone is None:
        gone = _gone(document_of(case, vocabulary), document_of(published, vocabulary))
        memory.learn(case.case, gone)
    lines = None if gone.lines is None else [(w, read_label(line), n) for w, line, n in gone.lines]
    runs = None if lines is None else _cut(kept.runs, lines)
    if lines is None or runs is None:
        before = weigh(document_of(case, vocabulary))
        after = weigh(document_of(published, vocabulary))
        runs = unpack_kept(after.kept).runs
        halves = Counter(before.halves)
        halves.subtract(after.halves)
        said: Iterable[str] = (words for _, words in kept.runs)
    else:
        halves = Counter[str]()
        for weight, (_, terms), times in lines:
            for term in terms:
                halves[term] += times * int(2 * weight)
        said = [words for _, (words, _), _ in lines]
    left = f" {' '.join(words for _, words in runs)} "
    words = {word for line in said for word in line.split(" ") if f" {word} " not in left}
    texts = kept.texts if gone.texts is None else gone.texts
    return _Withheld(+halves, frozenset(words), runs, texts)


def _gone(whole: Document, left: Document) -> Gone:
    lines = taken_out(whole, left)
    return Gone(
        None if lines is None else [(weight, line, n) for (weight, line), n in lines.items()],
        None
        if left.shown == whole.shown
        else [text for text in map(plain_text, left.shown) if text],
    )


def _cut(runs: Runs, gone: Iterable[_Line]) -> Runs | None:
    """The runs without some lines, cut where each stood; None where that is not certain."""
    left = list(runs)
    for weight, (words, _), times in gone:
        if not words:
            continue
        wanted = f" {words} "
        found = [at for at, run in enumerate(left) if run[0] == weight and wanted in f" {run[1]} "]
        if times != 1 or len(found) != 1:
            return None
        before, *after = f" {left[found[0]][1]} ".split(wanted)
        if len(after) != 1:
            return None
        parts = [(weight, part.strip()) for part in (before, after[0])]
        left[found[0] : found[0] + 1] = [part for part in parts if part[1]]
    return left


def _postings(tables: SearchTables, withheld: Mapping[int, _Withheld]) -> Pairs:
    """The postings without what is withheld."""
    id_of = {term: place for place, term in enumerate(tables.terms)}
    weights = tables.weights.copy()
    less = [
        (id_of[term] << 32 | place, count)
        for place, own in withheld.items()
        for term, count in own.halves.items()
        if term in id_of
    ]
    if less:
        keys = tables.of << 32 | tables.places
        wanted = np.array([key for key, _ in less], dtype=np.int64)
        at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
        there = keys[at] == wanted
        np.subtract.at(weights, at[there], np.array([count for _, count in less])[there])
    left = weights > 0
    return Pairs.of(tables.terms, tables.of[left], tables.places[left], weights[left])


def _main(kept: Kept, withheld: _Withheld | None) -> Mapping[str, int]:
    if withheld is None:
        return kept.main
    less = {term: count - withheld.halves.get(term, 0) for term, count in kept.main.items()}
    return {term: count for term, count in less.items() if count > 0}


def _words(tables: SearchTables, withheld: Mapping[int, _Withheld]) -> Mapping[str, int]:
    """In how many cases each word stands, joined words among them."""
    words = Counter(tables.words)
    for own in withheld.values():
        words.subtract(word for word in own.words if word in tables.words)
    return +words


def _spoken(runs: Sequence[Runs]) -> tuple[Pairs, Sequence[Sequence[int]]]:
    """Where the stems stand: place of the document and position in it, by stem.

    The stretches stand in the order of their weights with a gap between two, so that a phrase runs
    over none. Of each document the positions at which a next smaller weight begins come along.
    """
    numbered = _StemNumbers()
    numbered[_GAP] = 0
    every = array("i")
    sizes: list[int] = []
    bounds: list[list[int]] = []
    for own in runs:
        size = len(every)
        begins: list[int] = []
        stretches: list[str] = []
        words = 0
        for weight in RUN_WEIGHTS:
            begins.append(words)
            for stretch in _of_weight(own, weight):
                words += stretch.count(" ") + 2
                stretches += (stretch, _GAP)
        if stretches:
            every.extend(map(numbered.__getitem__, " ".join(stretches).split(" ")))
        sizes.append(len(every) - size)
        bounds.append(begins[1:])
    of = np.frombuffer(every, dtype=np.int32).astype(np.int64)
    lengths = np.array(sizes, dtype=np.int64)
    places = np.repeat(np.arange(len(sizes), dtype=np.int64), lengths)
    positions = np.arange(len(of), dtype=np.int64) - np.repeat(
        np.cumsum(lengths) - lengths, lengths
    )
    stems = sorted(numbered.numbers)
    rank = np.zeros(len(stems) + 1, dtype=np.int32)
    for place, its_stem in enumerate(stems):
        rank[numbered.numbers[its_stem]] = place
    said = np.flatnonzero(of)
    ranks = rank[of[said]]
    order = np.argsort(ranks, kind="stable")
    at = said[order]
    return Pairs.of(stems, ranks[order].astype(np.int64), places[at], positions[at]), bounds


class _StemNumbers(dict[str, int]):
    """word -> the number of its stem, from 1, given out as they come."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    def __missing__(self, word: str) -> int:
        number = self[word] = self.numbers.setdefault(stem(word), len(self.numbers) + 1)
        return number


def _of_weight(runs: Runs, halves: int) -> Iterator[str]:
    return (words for weight, words in runs if int(2 * weight) == halves)
